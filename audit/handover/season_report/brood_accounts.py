"""Lay out what became of each brood: counted, ringed, tagged, met again; and the boxes without one."""

from __future__ import annotations

import re
from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING

import pandas as pd

from audit.declarations.species import species_index
from audit.handover.season_report.brood_account import BroodAccount, BroodAccounts, EmptyBox
from audit.rules.case import Case
from audit.rules.ringings import ringings_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from audit.declarations import Declarations
    from audit.season import Season

__all__ = ["brood_accounts", "in_order", "species_names"]

_COUNTS = ("eggs", "alive", "dead")
#: Species, box and year.
_Key = tuple[str, str, int]


@dataclass(frozen=True, slots=True)
class _Round:
    """The season as the accounts need it.

    Attributes
    ----------
    birds, visits : pandas.DataFrame
        Handlings and visits; missing texts are empty.
    last : mapping of str to Timestamp
        Last day on which each ring was met, wherever.
    tagged : frozenset of str or None
        Rings of birds with a tag; None without a column for it.
    has_ages : bool
        Whether any age was written.
    cleaned : mapping of (str, int) to str, or None
        Box and year -> day of the last cleaning after the last bird in the hand; None where none is ticked
        for want of a column.
    """

    birds: pd.DataFrame
    visits: pd.DataFrame
    last: Mapping[str, pd.Timestamp]
    tagged: frozenset[str] | None
    has_ages: bool
    cleaned: Mapping[tuple[str, int], str] | None

    def cleaning(self, box: str, year: int) -> str | None:
        """Day of the cleaning of a box."""
        return None if self.cleaned is None else self.cleaned.get((box, year), "")


def brood_accounts(season: Season, declared: Declarations) -> BroodAccounts:
    """Lay out what became of each brood; two broods of one species in one box and year share a line."""
    birds = _birds(season, declared)
    visits = _visits(season, birds)
    known = birds[birds["ring"] != ""]
    whole = _Round(
        birds,
        visits,
        {str(ring): day for ring, day in known.groupby("ring")["day"].max().items()},
        frozenset(known.loc[known["tag"] != "", "ring"]) if season.has("handlings", "tag") else None,
        bool((birds["age"] != "").any()),
        _cleanings(season, birds, visits),
    )
    keys = ["species", "box", "year"]
    handled = {_key(*key): rows for key, rows in birds.groupby(keys, sort=False)}
    visited = {_key(*key): rows for key, rows in visits.groupby(keys, sort=False)}
    made = [
        _account(whole, key, handled.get(key, birds.iloc[:0]), visited.get(key, visits.iloc[:0]))
        for key in dict.fromkeys([*handled, *visited])
    ]
    order = {name: place for place, name in enumerate(birds["species"].value_counts().index)}
    broods = [one for one in made if one.is_brood]
    broods.sort(
        key=lambda one: (order.get(one.species, len(order)), one.species, in_order(one.box), one.year)
    )
    return BroodAccounts(tuple(broods), tuple(_empty(whole, season, made)), whole.has_ages)


def _key(species: object, box: object, year: object) -> _Key:
    return str(species), str(box), int(str(year))


def in_order(box: str) -> tuple[bool, list[tuple[int, str]]]:
    """Let SL-9 stand before SL-10, and no box last.

    Examples
    --------
    >>> sorted(["SL-10", "", "SL-9"], key=in_order)
    ['SL-9', 'SL-10', '']
    """
    pieces = re.findall(r"[0-9]+|[^0-9]+", box)
    return not box, [(int(piece), "") if piece.isdecimal() else (-1, piece) for piece in pieces]


def species_names(season: Season, declared: Declarations) -> list[str]:
    """Name the species of each handling: the declared English name, or as typed; empty where missing."""
    frame = season.frame("handlings")
    if "species" not in frame.columns:
        kind = declared.species.get(str(declared.settings["season.species.default_species"].value))
        return [kind.english if kind else ""] * len(frame)
    index = species_index(declared.species)
    names = {}
    for text in frame["species"].dropna().unique():
        slug = index.resolve(text)
        names[text] = declared.species[slug].english if slug else str(text)
    return [names.get(text, "") for text in frame["species"]]


def _birds(season: Season, declared: Declarations) -> pd.DataFrame:
    """Rows of the handlings; ``first`` is a first ringing with a ring, of a bird that is not full-grown."""
    frame = season.frame("handlings")
    case = Case(season, declared, declared.rules["brood"])
    found = pd.DataFrame(
        {
            name: frame[name].fillna("").astype("str") if name in frame.columns else ""
            for name in ("box", "ring", "tag", "age")
        },
        index=frame.index,
    )
    found["day"] = frame["date"]
    found["year"] = frame["date"].dt.year.fillna(0).astype("int64")
    found["size"] = frame["brood_size"] if "brood_size" in frame.columns else pd.NA
    found["species"] = species_names(season, declared)
    young = found["age"].str.strip().isin([str(code) for code in case.limit("pullus_codes")])
    found["grown"] = (found["age"] != "") & ~young
    found["first"] = ringings_of(case).first & (found["ring"] != "") & ~found["grown"]
    return found


def _visits(season: Season, birds: pd.DataFrame) -> pd.DataFrame:
    """Rows of the visits, each with the species handled nearest in time in its box and year."""
    if not season.has("visits", "box", "date"):
        names = ("species", "box", "year", "day", *_COUNTS)
        return pd.DataFrame({name: pd.Series(dtype="object") for name in names})
    frame = season.frame("visits")
    frame = frame[frame["box"].notna() & frame["date"].notna()]
    handled: dict[tuple[str, int], list[tuple[pd.Timestamp, str]]] = defaultdict(list)
    known = birds[birds["day"].notna()]
    at = zip(known["box"], known["year"], strict=True)
    for place, day, name in zip(at, known["day"], known["species"], strict=True):
        handled[place].append((day, name))
    years = frame["date"].dt.year.astype("int64")
    kinds: list[str] = []
    for box, year, day in zip(frame["box"], years, frame["date"], strict=True):
        near = handled.get((str(box), int(year)), ())
        kinds.append(min((abs(seen - day), seen, name) for seen, name in near)[2] if near else "")
    counts = {name: frame[name] if name in frame.columns else pd.NA for name in _COUNTS}
    told = {"species": kinds, "box": frame["box"].astype("str"), "year": years, "day": frame["date"]}
    return pd.DataFrame({**told, **counts}, index=frame.index)


def _cleanings(
    season: Season, birds: pd.DataFrame, visits: pd.DataFrame
) -> dict[tuple[str, int], str] | None:
    if not season.has("visits", "box", "date", "cleaned"):
        return None
    ticked = season.frame("visits").loc[visits.index, "cleaned"].fillna(value=False).astype("bool")
    last = birds.groupby(["box", "year"])["day"].max().to_dict()
    found = {}
    for key, day in visits[ticked].groupby(["box", "year"])["day"].max().to_dict().items():
        handled = last.get(key)
        if handled is None or pd.isna(handled) or day > handled:
            found[key] = _iso(day)
    return found


def _account(whole: _Round, key: _Key, handled: pd.DataFrame, visited: pd.DataFrame) -> BroodAccount:
    species, box, year = key
    eggs, alive, dead = (_most(visited[name]) for name in _COUNTS)
    mine = handled[handled["first"]]
    first_day = mine["day"].min()
    rings = {str(ring): day for ring, day in mine.groupby("ring")["day"].min().items()}
    size = _usual(handled.loc[handled["day"].isin(mine["day"].dropna()), "size"])
    if size is None and len(mine):
        size = _most(visited.loc[visited["day"] == first_day, "alive"])
    with_life = visited.loc[visited[["eggs", "alive"]].fillna(0).sum(axis=1) > 0, "day"]
    seen = [day for day in (handled["day"].max(), with_life.max()) if pd.notna(day)]
    return BroodAccount(
        species=species,
        box=box,
        year=year,
        visits=len({*handled["day"].dropna(), *visited["day"].dropna()}),
        eggs=eggs,
        alive=alive,
        dead=dead,
        ringed=len(rings),
        ringed_on=_iso(first_day),
        size=size if len(mine) else None,
        tagged=None if whole.tagged is None else len(whole.tagged & rings.keys()),
        again=sum(bool(whole.last[ring] > day) for ring, day in rings.items()),
        grown=_heads(handled[handled["grown"]]) if whole.has_ages else None,
        last_seen=_iso(max(seen)) if seen else "",
        cleaned=whole.cleaning(box, year),
    )


def _empty(whole: _Round, season: Season, made: list[BroodAccount]) -> Iterator[EmptyBox]:
    """Boxes that held no brood in any year, those of the table of boxes included."""
    with_brood = {one.box for one in made if one.is_brood}
    names = {one.box for one in made if one.box}
    if season.has("boxes", "box"):
        names |= {str(box) for box in season.frame("boxes")["box"].dropna()}
    for box in sorted(names - with_brood, key=in_order):
        here = [one for one in made if one.box == box]
        days = [whole.cleaning(box, one.year) or "" for one in here]
        yield EmptyBox(
            box,
            sum(one.visits for one in here),
            sum(one.grown or 0 for one in here),
            None if whole.cleaned is None else max(days, default=""),
        )


def _heads(rows: pd.DataFrame) -> int:
    """Count birds: each ring once, a bird without one as a bird of its own."""
    return int(rows.loc[rows["ring"] != "", "ring"].nunique() + (rows["ring"] == "").sum())


def _most(counts: pd.Series) -> int | None:
    known = pd.to_numeric(counts, errors="coerce").dropna()
    return int(known.max()) if len(known) else None


def _usual(counts: pd.Series) -> int | None:
    """Return what most rows say; the larger one where as many say otherwise."""
    known = pd.to_numeric(counts, errors="coerce").dropna()
    return int(known.mode().max()) if len(known) else None


def _iso(day: object) -> str:
    return "" if pd.isna(day) else str(day)[:10]  # type: ignore[call-overload]
