"""Does each bird grow and age as birds do between visits? First what cannot change, then wings and masses."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.rules.case import At, Case
from audit.rules.columns import texts_of_rows
from audit.rules.heeded import BIRDS, together
from audit.rules.history_masses import masses_apart
from audit.rules.history_wings import wings_apart
from audit.rules.lives import kinds_of, lives_of
from audit.rules.rule import Rule
from audit.rules.species_text import as_written

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from numpy.typing import NDArray

    from audit.declarations.species import Species
    from audit.findings import Finding, NotRun
    from audit.rules.birds import Birds
    from audit.rules.lives import Lives

    Ints = NDArray[np.int64]

__all__ = ["RULE"]


def check(case: Case) -> Iterator[Finding | NotRun]:
    """Compare the meetings of each ring with each other."""
    lives = lives_of(case)
    if not len(lives.order):
        return
    said: set[str] = set()
    for part in (_dead_then_alive, _two_species, _two_sexes, _nestling_too_long, _ages_apart):
        yield from part(case, lives, said)
    kinds = tuple(kinds_of(case, lives))
    yield from wings_apart(case, lives, kinds, said)
    yield from masses_apart(case, lives, kinds, said)


def _dead_then_alive(case: Case, lives: Lives, said: set[str]) -> Iterator[Finding]:
    if "condition" not in lives.frame.columns:
        return
    words = {str(word).casefold() for word in case.limit("dead_words")}
    dead = lives.frame["condition"].fillna("").astype("str").str.strip().str.casefold().isin(words).to_numpy()
    odd = (lives.gap >= 1) & dead[lives.earlier] & ~dead[lives.later]
    for i, j in zip(lives.earlier[odd], lives.later[odd], strict=True):
        ring = str(lives.ring.iloc[i])
        if ring in said:
            continue
        said.add(ring)
        yield case.blame(
            "alive_after_dead",
            [At(lives.label(j), "ring"), At(lives.label(i), "condition")],
            f"Ring {ring} was on a dead bird on {lives.day(i)} and on a live one on {lives.day(j)}: "
            f"either the later ring or the earlier condition is wrong.",
            [(lives.label(i), "ring"), (lives.label(j), "date")],
        )


def _two_species(case: Case, lives: Lives, said: set[str]) -> Iterator[Finding]:
    if "species" not in lives.frame.columns:
        return
    slug = lives.birds.slug
    for i, j in _changes(lives, slug):
        ring = str(lives.ring.iloc[i])
        if ring in said:
            continue
        said.add(ring)
        met = lives.met(i)
        alone = [row for row in met if _odd_one_out(slug, met, row) or _unlike_boxmates(lives.birds, row)]
        names = " and ".join(_english(case.declared.species, str(slug[row])) for row in (i, j))
        says = f"Ring {ring} stands on two species, {names}"
        if len(alone) == 1:
            row = alone[0]
            better = next(str(slug[other]) for other in met if slug[other] not in ("", slug[row]))
            yield case.blame(
                "species",
                [
                    At(
                        lives.label(row),
                        "species",
                        suggested=as_written(case, better),
                        p_error=_surer(case, "species"),
                        p_fix=_surer(case, "species"),
                    )
                ],
                f"{says}: on {lives.day(row)} it stands alone.",
                [(lives.label(other), "species") for other in met if other != row],
            )
        else:
            yield case.blame(
                "species",
                [
                    At(lives.label(row), "ring" if _has_boxmates(lives.birds, row) else "species")
                    for row in (i, j)
                ],
                f"{says}, on {lives.day(i)} and {lives.day(j)}: a ring was misread or a species is wrong.",
            )


def _two_sexes(case: Case, lives: Lives, said: set[str]) -> Iterator[Finding]:
    sex = lives.birds.sex
    for i, j in _changes(lives, sex):
        ring = str(lives.ring.iloc[i])
        if ring in said:
            continue
        said.add(ring)
        met = lives.met(i)
        alone = [row for row in met if _odd_one_out(sex, met, row)]
        rows = alone if len(alone) == 1 else [i, j]
        meant = {"M": "F", "F": "M"}
        p_error = 1 - case.rule.outcomes["sex"].p_error / 2 if len(alone) == 1 else None
        yield case.blame(
            "sex",
            [
                At(
                    lives.label(row),
                    "sex",
                    suggested=meant[str(sex[row])],
                    p_error=p_error,
                    p_fix=1.0,
                )
                for row in rows
            ],
            f"Ring {ring} is {sex[i]} on {lives.day(i)} but {sex[j]} on {lives.day(j)}.",
            [(lives.label(row), "sex") for row in met if row not in rows and sex[row]],
        )


def _changes(lives: Lives, value: NDArray[np.object_]) -> Iterator[tuple[int, int]]:
    """Pairs of meetings between which a value changes that is known at both."""
    known = lives.order[value[lives.order] != ""]
    rings = lives.ring.to_numpy()[known]
    same = rings[1:] == rings[:-1]
    differ = value[known[1:]] != value[known[:-1]]
    for k in np.flatnonzero(same & differ):
        yield int(known[k]), int(known[k + 1])


def _odd_one_out(value: NDArray[np.object_], met: Ints, row: int) -> bool:
    """Whether a value stands alone against at least two others that agree."""
    others = [value[other] for other in met if other != row and value[other] != ""]
    return len(others) > 1 and len(set(others)) == 1 and others[0] != value[row] != ""


def _has_boxmates(birds: Birds, row: int) -> bool:
    return bool(((birds.visit == birds.visit[row]) & (np.arange(len(birds.visit)) != row)).any())


def _unlike_boxmates(birds: Birds, row: int) -> bool:
    """Whether the bird has no company of its own species, though its ring says it may be another."""
    return not _has_boxmates(birds, row)


def _english(species: Mapping[str, Species], slug: str) -> str:
    return species[slug].english if slug in species else slug


def _ages_apart(case: Case, lives: Lives, said: set[str]) -> Iterator[Finding]:
    """Age codes must leave a year of hatching that fits all of them."""
    if "age" not in lives.frame.columns:
        return
    spans = {}
    for word in case.limit("hatched"):
        key, earliest, latest = str(word).split(":")
        spans[key] = (int(earliest), int(latest))
    code = [str(text).strip().upper().rstrip("J") for text in texts_of_rows(case, "age").tolist()]
    never = np.nan, np.nan
    year = lives.frame["date"].dt.year.to_numpy(dtype=np.float64, na_value=np.nan)
    first, last = year + np.array([spans.get(one, never) for one in code], dtype=np.float64).T
    earlier, later, grown = lives.earlier, lives.later, lives.birds.grown
    again = (lives.gap >= 1) & (grown[later] == 0) & (grown[earlier] == 1)
    apart = (first[earlier] > last[later]) | (first[later] > last[earlier])
    for k in np.flatnonzero(apart | again):
        i, j, young_again = earlier[k], later[k], again[k]
        ring = str(lives.ring.iloc[i])
        # a brood may be in the nest over New Year
        if ring in said or _in_one_nest(case, lives, int(k)):
            continue
        said.add(ring)
        rows = _misfits_of_code(case, lives, (int(i), int(j)))
        p_error = _surer(case, "age_code") if len(rows) == 1 else None
        why = "a full-grown bird does not become a nestling" if young_again else "both cannot be true"
        yield case.blame(
            "age_code",
            [At(lives.label(row), "age", p_error=p_error) for row in rows],
            f"Ring {ring} has age code {code[i]} on {lives.day(i)} and {code[j]} on {lives.day(j)}: {why}.",
            [(lives.label(row), "age") for row in (i, j) if row not in rows],
        )


def _in_one_nest(case: Case, lives: Lives, k: int) -> bool:
    """Whether a bird was a nestling at both of two meetings, and a stay in the nest may span them."""
    i, j = lives.earlier[k], lives.later[k]
    species = case.declared.species.get(str(lives.birds.slug[i]))
    oldest = None if species is None else species.number("nestling.oldest_day")
    young = lives.birds.grown[i] == 0 and lives.birds.grown[j] == 0
    return bool(young and oldest is not None and lives.gap[k] <= oldest)


def _surer(case: Case, outcome: str) -> float:
    """Probability for one cell where something else than the two cells decides between them."""
    return 1 - case.rule.outcomes[outcome].p_error / 2


def _misfits_of_code(case: Case, lives: Lives, rows: tuple[int, int]) -> list[int]:
    """Of two rows whose age codes contradict each other, those whose code does not fit their wing."""
    birds = lives.birds
    bad = []
    for row in rows:
        species = case.declared.species.get(str(birds.slug[row]))
        adult = None if species is None else species.adult.get(("", "wing_mm"))
        if adult is None or not np.isfinite(birds.wing[row]) or np.isnan(birds.grown[row]):
            continue
        small = birds.wing[row] < adult.low - adult.sd
        if birds.grown[row] == 1 and small:
            bad.append(row)
    # a nestling's wing may be as long as an adult's, so only a short wing decides
    other = [row for row in rows if row not in bad]
    if not bad:
        short = [
            row
            for row in rows
            if birds.grown[row] == 0 and np.isfinite(birds.wing[row]) and _is_short(case, birds, row)
        ]
        bad = [row for row in rows if row not in short] if len(short) == 1 else []
    return bad if len(bad) == 1 and other else list(rows)


def _is_short(case: Case, birds: Birds, row: int) -> bool:
    species = case.declared.species.get(str(birds.slug[row]))
    adult = None if species is None else species.adult.get(("", "wing_mm"))
    return adult is not None and bool(birds.wing[row] < adult.low - adult.sd)


def _nestling_too_long(case: Case, lives: Lives, said: set[str]) -> Iterator[Finding]:
    pullus = lives.birds.grown == 0
    young = pullus[lives.earlier] & pullus[lives.later]
    for i, j, gap in zip(lives.earlier[young], lives.later[young], lives.gap[young], strict=True):
        species = case.declared.species.get(str(lives.birds.slug[i]))
        oldest = None if species is None else species.number("nestling.oldest_day")
        if oldest is None or species is None or gap <= oldest:
            continue
        ring = str(lives.ring.iloc[i])
        if ring in said:
            continue
        said.add(ring)
        other_year = lives.frame["date"].iloc[i].year != lives.frame["date"].iloc[j].year
        field, spoken = ("age", "age code") if other_year else ("ring", "ring")
        yield case.blame(
            "nestling_too_long",
            [At(lives.label(int(j)), field)],
            f"Ring {ring} is on a nestling on {lives.day(int(i))} and again {gap:.0f} days later: a "
            f"{species.english} has long left the box by then; the later {spoken} is the likelier mistake.",
            [(lives.label(int(i)), "ring"), (lives.label(int(i)), "date"), (lives.label(int(j)), "date")],
        )


RULE = Rule(
    slug="history",
    needs={"handlings": ("date", "ring")},
    check=check,
    heeds=together(BIRDS, {"handlings": ("condition",)}),
)
