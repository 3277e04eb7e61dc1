"""Wings of one bird at several visits: which of them, or which ring, does not belong."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from audit.models import growth
from audit.rules.case import At
from audit.rules.companions.tracks import follows_wings
from audit.rules.growth_accounts import meant_of, other_share
from audit.rules.plain import plain_text
from audit.rules.scatter import log_sum
from audit.rules.sizes import log_any

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from audit.declarations.species import Species
    from audit.findings import Finding
    from audit.rules.case import Case
    from audit.rules.lives import Kind, Lives
    from audit.rules.outlook import Outlook

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["wings_apart"]

#: Far below any log weight, and still finite, so that sums stay numbers.
_NEVER = -1 / float(np.finfo(np.float64).eps)


def wings_apart(case: Case, lives: Lives, kinds: Sequence[Kind], said: set[str]) -> Iterator[Finding]:
    """Find wings of one ring that cannot be those of one growing bird."""
    birds = lives.birds
    both = np.isfinite(birds.wing[lives.earlier]) & np.isfinite(birds.wing[lives.later])
    same = birds.slug[lives.earlier] == birds.slug[lives.later]
    apart = both & same & (lives.gap >= case.limit("least_gap"))
    for kind in kinds:
        pairs = np.flatnonzero(apart & (birds.slug[lives.earlier] == kind.species.slug))
        odd = pairs[_odd_wings(case, kind, lives, pairs)]
        for pair in odd:
            i, j = int(lives.earlier[pair]), int(lives.later[pair])
            ring = str(lives.ring.iloc[i])
            if ring in said:
                continue
            said.add(ring)
            finding = _judge_wings(case, lives, kind, (i, j))
            if finding is not None:
                yield finding


def _odd_wings(case: Case, kind: Kind, lives: Lives, pairs: Ints) -> NDArray[np.bool_]:
    """Which pairs of wings are worth a close look."""
    birds, species = lives.birds, kind.species
    i, j, gap = lives.earlier[pairs], lives.later[pairs], lives.gap[pairs]
    first, second = birds.wing[i], birds.wing[j]
    soft = species.number("pace.wing_shrinks_soft") or case.limit("shrinks_soft")
    nestlings = (birds.grown[i] == 0) & (birds.grown[j] == 0)
    adults = (birds.grown[i] == 1) & (birds.grown[j] == 1)
    shrinks = (second < first - soft) & ~adults
    changed = adults & (np.abs(second - first) > case.limit("adult_wing_change") * first)
    odd = shrinks | changed
    impossible = species.number("pace.wing_impossible")
    if impossible is not None:
        odd |= nestlings & (second - first > impossible * gap)
    curve = species.curves.get("wing_mm")
    if curve is not None and nestlings.any() and follows_wings(species):
        own = kind.sizes().company.effects.track_sd
        age = growth.age_of(curve, first) + gap
        off = np.abs(second - growth.mean(curve, np.minimum(age, curve.last_day)))
        odd |= nestlings & (off > case.limit("track_look") * own)
    return np.asarray(odd, dtype=bool)


def _judge_wings(case: Case, lives: Lives, kind: Kind, pair: tuple[int, int]) -> Finding | None:
    birds, species = lives.birds, kind.species
    i = pair[0]
    nestlings = all(birds.grown[row] == 0 for row in pair)
    if not nestlings or not follows_wings(species):
        return _blame_wings_plainly(case, lives, species, pair)
    places = kind.places
    met = [
        int(row)
        for row in lives.met(i)
        # under another species the row says nothing about this wing
        if int(row) in places and np.isfinite(birds.wing[row]) and birds.grown[row] == 0
    ]
    track = _Track(case, lives, kind.outlook(), [places[row] for row in met], met)
    weights = track.weigh()
    top = max(weights, key=lambda key: weights[key])
    total = float(np.logaddexp.reduce(list(weights.values())))
    share = {key: float(np.exp(value - total)) for key, value in weights.items()}
    if 1 - share["nothing"] < _growth_limit(case, "decisive") or top == "nothing":
        return None
    by_ring = sum(value for key, value in share.items() if key.startswith("ring"))
    if by_ring > 1 - share["nothing"] - by_ring:
        return _blame_ring(case, lives, pair, by_ring)
    rows = sorted(met, key=lambda row: -share.get(f"wing {row}", 0.0))
    wrong = sum(share[f"wing {row}"] for row in rows)
    named = rows[:1]
    if share[f"wing {rows[0]}"] < _growth_limit(case, "lead") * wrong:
        named = rows[:2]
    fixes = {row: track.fixes(row) for row in named}
    at = [
        At(
            lives.label(row),
            "wing_mm",
            suggested=fixes[row][0][0] if fixes[row][0][1] >= _growth_limit(case, "suggest_from") else "",
            p_error=share[f"wing {row}"],
            p_fix=fixes[row][0][1],
            others=[(value, part * share[f"wing {row}"]) for value, part in fixes[row]],
        )
        for row in named
    ]
    witnesses = [(lives.label(row), "wing_mm") for row in met if row not in named]
    outcome, says = _wing_story(case, lives, species, pair)
    ends = ""
    if len(named) > 1:
        ends = "; either may be wrong"
    elif at[0].suggested != "":
        ends = f"; {plain_text(at[0].suggested)} mm on {lives.day(named[0])} would fit"
    else:
        ends = f"; the wing of {lives.day(named[0])} is the likelier mistake"
    return case.blame(outcome, at, f"{says}{ends}.", witnesses)


def _growth_limit(case: Case, name: str) -> float:
    return float(case.declared.rules["growth"].limits[name].value)


def _wing_story(case: Case, lives: Lives, species: Species, pair: tuple[int, int]) -> tuple[str, str]:
    i, j = pair
    wing = lives.birds.wing
    gap = (lives.frame["date"].iloc[j] - lives.frame["date"].iloc[i]).days
    hard = species.number("pace.wing_shrinks_hard") or case.limit("shrinks_hard")
    grew = wing[j] - wing[i]
    span = f"from {plain_text(wing[i])} to {plain_text(wing[j])} mm in {gap} days"
    ring = f"ring {lives.ring.iloc[i]}"
    if grew < 0:
        outcome = "wing_shrinks" if grew < -hard else "wing_pace"
        return outcome, f"The wing of {ring} went {span}: wings do not become shorter"
    curve = species.curves.get("wing_mm")
    usual = ""
    if curve is not None and lives.birds.grown[i] == 0:
        age = float(growth.age_of(curve, wing[i]))
        expected = float(growth.mean(curve, min(age + gap, curve.last_day)))
        usual = f", where about {expected:.0f} mm is expected"
    return "wing_pace", f"The wing of {ring} went {span}, {grew / gap:.1f} mm a day{usual}"


def _blame_wings_plainly(case: Case, lives: Lives, species: Species, pair: tuple[int, int]) -> Finding | None:
    """Without a curve the two wings share the blame; a soft fall alone is no reason."""
    i, j = pair
    wing, grown = lives.birds.wing, lives.birds.grown
    hard = species.number("pace.wing_shrinks_hard") or case.limit("shrinks_hard")
    if grown[i] != 1 and -hard <= wing[j] - wing[i] < 0:
        return None
    outcome, says = _wing_story(case, lives, species, pair)
    half = case.rule.outcomes[outcome].p_error / 2
    return case.blame(
        outcome,
        [At(lives.label(row), "wing_mm", p_error=half) for row in pair],
        f"{says}; either may be wrong.",
    )


def _blame_ring(case: Case, lives: Lives, pair: tuple[int, int], p_error: float) -> Finding:
    i, j = pair
    wing = lives.birds.wing
    later = float(case.limit("later_ring"))
    return case.blame(
        "ring",
        [At(lives.label(j), "ring", p_error=p_error * later)],
        f"Ring {lives.ring.iloc[i]} has a wing of {plain_text(wing[i])} mm on {lives.day(i)} and of "
        f"{plain_text(wing[j])} mm on {lives.day(j)}{_other_tag(lives, pair)}: these are probably two birds, "
        f"and one ring was misread.",
        [(lives.label(i), "ring"), (lives.label(i), "wing_mm"), (lives.label(j), "wing_mm")],
    )


def _tags(lives: Lives, pair: tuple[int, int]) -> tuple[str, str]:
    if "tag" not in lives.frame.columns:
        return "", ""
    first, second = (lives.frame["tag"].iloc[row] for row in pair)
    return (
        "" if pd.isna(first) else str(first),
        "" if pd.isna(second) else str(second),
    )


def _other_tag(lives: Lives, pair: tuple[int, int]) -> str:
    first, second = _tags(lives, pair)
    return ", and another tag each time" if first and second and first != second else ""


@dataclass(frozen=True, slots=True)
class _Track:
    """One ring's wings as those of one nestling of unknown age, and what else may account for them."""

    case: Case
    lives: Lives
    outlook: Outlook
    places: Sequence[int]
    rows: Sequence[int]

    def _wing(self, values: Floats) -> Floats:
        return self.outlook.sizes.log_track(values)

    def _days(self) -> list[int]:
        dates = self.lives.frame["date"]
        return [(dates.iloc[row] - dates.iloc[self.rows[0]]).days for row in self.rows]

    def _back(self, at_meeting: Floats, k: int) -> Floats:
        """Move what is said of the age at meeting k to the age at the first meeting."""
        shift = round(self._days()[k] / self.outlook.sizes.grain.day_step)
        moved = np.full(at_meeting.shape, _NEVER)
        g = at_meeting.shape[-1]
        if shift < g:
            moved[..., : g - shift] = at_meeting[..., shift:]
        return moved

    def _context(self, k: int) -> Floats:
        """Take what mass, recorded age and siblings say of the age at meeting k, the wing left out."""
        here = np.array([self.places[k]])
        sizes, birds = self.outlook.sizes, self.outlook.birds
        company = sizes.company
        nest = self.outlook.place[self.places]
        own = nest[nest >= 0]
        expected = company.expect_without(int(nest[k]), own, own)
        said = sizes.log_recorded(birds.age[here], birds.age_sd[here])
        said = said + sizes.log_mass(birds.mass[here], expected)
        if k == 0:
            # what the siblings say of one visit they say of all
            said = said + sizes.log_company(expected)
        return np.asarray(said[0], dtype=np.float64)

    def _terms(self) -> list[tuple[Floats, Floats]]:
        wings = self.lives.birds.wing
        return [
            (self._back(self._context(k), k), self._back(self._wing(wings[row : row + 1])[0], k))
            for k, row in enumerate(self.rows)
        ]

    def weigh(self) -> dict[str, float]:
        """Log weight of nothing wrong, of each wing wrong, and of each ring wrong."""
        terms = self._terms()
        flat = float(np.log(len(self.outlook.sizes.days)))
        whole = sum((context + wing for context, wing in terms), np.zeros_like(terms[0][0]))
        weights = {"nothing": float(log_sum(whole[None, :])[0]) - flat}
        slip = float(np.log(_growth_limit(self.case, "slip")))
        for k, row in enumerate(self.rows):
            rest = sum(
                (context + (0 if m == k else wing) for m, (context, wing) in enumerate(terms)),
                np.zeros_like(whole),
            )
            weights[f"wing {row}"] = slip + float(np.logaddexp.reduce(self._slips(k, rest))) - flat
        ring_slip = self._ring_slip()
        for k, row in enumerate(self.rows):
            others = sum(
                (context + wing for m, (context, wing) in enumerate(terms) if m != k), np.zeros_like(whole)
            )
            alone = self._context(k) + self._wing(self.lives.birds.wing[row : row + 1])[0]
            apart = float(log_sum(others[None, :])[0] + log_sum(alone[None, :])[0]) - 2 * flat
            weights[f"ring {row}"] = float(np.log(ring_slip / len(self.rows))) + apart
        return weights

    def _slips(self, k: int, rest: Floats) -> Floats:
        """Log weights of each value that may have been meant at meeting k, the last one for any value."""
        value = float(self.lives.birds.wing[self.rows[k]])
        meant, shares = self._meant(value)
        wings = self._back(self._wing(meant), k)
        known = np.log(shares) + log_sum(wings + rest)
        anything = float(log_any(self.outlook.sizes, "wing_mm", np.array([value]))[0])
        other = np.log(other_share(self.case)) + anything + log_sum(rest[None, :])
        return np.concatenate([known, other])

    def _meant(self, value: float) -> tuple[Floats, Floats]:
        found = meant_of(self.case.declared.slips.channel(), value)
        return (
            np.array([one.meant for one in found], dtype=np.float64),
            np.array([one.chance for one in found]),
        )

    def _ring_slip(self) -> float:
        first, second = _tags(self.lives, (self.rows[0], self.rows[-1]))
        if first and second:
            name = "ring_slip_same_tag" if first == second else "ring_slip_other_tag"
            return float(self.case.limit(name))
        return float(self.case.limit("ring_slip"))

    def fixes(self, row: int) -> list[tuple[float, float]]:
        """Values that may be meant at a row, likeliest first, with their shares if this wing is wrong."""
        k = list(self.rows).index(row)
        terms = self._terms()
        rest = sum(
            (context + (0 if m == k else wing) for m, (context, wing) in enumerate(terms)),
            np.zeros_like(terms[0][0]),
        )
        slips = self._slips(k, rest)
        meant, _ = self._meant(float(self.lives.birds.wing[row]))
        shares = np.exp(slips - np.logaddexp.reduce(slips))
        order = np.argsort(-slips[:-1], kind="stable")
        return [(float(meant[k]), float(shares[k])) for k in order]
