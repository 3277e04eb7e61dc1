"""The verdict on one bird's measures: which cell is blamed, and the sentence that says why."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from audit.models import growth
from audit.models.written_number import step_of
from audit.rules.case import At
from audit.rules.moves import accounted_for, moved_remarks
from audit.rules.plain import plain_text
from audit.rules.scatter import log_sum
from audit.rules.species_text import as_written

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from audit.findings import Finding
    from audit.rules.bird_accounts import Account
    from audit.rules.case import Case
    from audit.rules.outlook import Outlook

    Floats = NDArray[np.float64]

__all__ = ["expectation", "judge"]

#: One sign of the exchange code, perhaps with the mark of juvenile plumage; anything else is a word.
_CODE = re.compile(r"[0-9A-Za-z][Jj]?")


def judge(
    case: Case, outlook: Outlook, row: int, accounts: list[Account], far: Mapping[str, float]
) -> Finding | None:
    """Blame the cell that is most probably wrong; None when it is likelier that nothing is.

    Parameters
    ----------
    far : mapping of str to float
        Distance in standard deviations of a wing or mass so far off that it is worth a remark in any case.
    """
    weights = np.array([account.log_weight for account in accounts])
    shares = np.exp(weights - log_sum(weights[None, :])[0])
    by_cause: dict[str, float] = {}
    for account, share in zip(accounts, shares, strict=True):
        by_cause[account.cause] = by_cause.get(account.cause, 0.0) + float(share)
    wrong = 1 - by_cause.pop("nothing")
    verdict = _Verdict(case, outlook, row, accounts, shares, by_cause)
    if wrong < case.limit("decisive"):
        return verdict.remark(far)
    ranked = sorted(by_cause, key=lambda cause: -by_cause[cause])
    best = ranked[0]
    if by_cause[best] >= case.limit("lead") * wrong:
        return verdict.blame_one(best)
    if best == "place":
        # a note about the box leaves open that one of the measures is wrong instead
        return verdict.blame_one(best)
    named = [cause for cause in ranked if cause != "place" and by_cause[cause] >= case.limit("share_from")]
    return verdict.blame_several(named[:2]) if len(named) > 1 else verdict.blame_one(best)


def expectation(case: Case, outlook: Outlook, row: int, column: str) -> str:
    """Say what is usual for a bird: ``a barn owl with a wing of 205 mm weighs about 357 g (287 to 427 g)``.

    Parameters
    ----------
    row : int
        Which bird of the outlook.
    column : {'wing_mm', 'mass_g'}
    """
    return _Verdict(case, outlook, row, [], np.array([]), {}).unlike(column)


@dataclass(frozen=True, slots=True)
class _Verdict:
    """Puts the weighed accounts of one row into a finding."""

    case: Case
    outlook: Outlook
    row: int
    accounts: list[Account]
    shares: Floats
    by_cause: dict[str, float]

    @property
    def label(self) -> str:
        return str(self.outlook.birds.labels[self.row])

    @property
    def bird(self) -> str:
        return self.outlook.sizes.species.english

    def blame_one(self, cause: str) -> Finding:
        best = self._best(cause)
        outcome = self._outcome(cause, best)
        return self.case.blame(
            outcome, self._cells(cause), self._says(cause, outcome, best), self._witnesses(cause)
        )

    def blame_several(self, causes: list[str]) -> Finding:
        cells: dict[str, At] = {}
        for cause in causes:
            for at in self._cells(cause):
                cells.setdefault(at.field, at)
        witnesses = [at for at in self._witnesses(causes[0]) if at[1] not in cells]
        fields = " or ".join(_SPOKEN.get(name, name) for name in cells)
        column = "wing_mm" if "wing" in causes and "mass" not in causes else "mass_g"
        return self.case.blame(
            "unclear",
            list(cells.values()),
            f"{self._measures()} do not go together: {self.unlike(column)}; either {fields} is wrong.",
            witnesses,
        )

    def remark(self, far: Mapping[str, float]) -> Finding | None:
        """Remark on the wing or mass that lies farthest off, though it may well be right."""
        # what a wrong value of another day, or hunger, explains well is no reason to look again
        far = {cause: z for cause, z in far.items() if self._chance(cause) >= self.case.limit("remark_from")}
        if not far:
            return None
        cause = max(far, key=self._chance)
        column, field = ("wing_mm", "wing_mm") if cause == "wing" else ("mass_g", "net_g")
        if cause == "mass":
            field = str(self.outlook.birds.mass_field[self.row])
        side = "above" if far[cause] > 0 else "below"
        return self.case.blame(
            "unusual",
            [At(self.label, field, p_error=self._chance(cause))],
            f"{self._typed(cause)} is {abs(far[cause]):.1f} standard deviations {side} what is expected: "
            f"{self.unlike(column)}; look again, though it may be right.",
            [(self.label, name) for name in self._present()[:2] if name != field],
        )

    def _chance(self, cause: str) -> float:
        return self.by_cause.get(cause, 0.0)

    def _typed(self, cause: str) -> str:
        value = plain_text(self._value(cause))
        return f"Wing {value} mm" if cause == "wing" else f"{self._mass_name.capitalize()} {value} g"

    def _best(self, cause: str) -> tuple[Account, float]:
        """Likeliest account of a cause, and its share within the cause."""
        inside = [
            (account, float(share))
            for account, share in zip(self.accounts, self.shares, strict=True)
            if account.cause == cause
        ]
        account, share = max(inside, key=lambda pair: pair[1])
        total = sum(share for _, share in inside)
        return account, share / total if total > 0 else 0.0

    def _outcome(self, cause: str, best: tuple[Account, float]) -> str:
        account, share = best
        if cause in ("wing", "mass") and account.kind == "tenfold" and share >= self.case.limit("lead"):
            typed = self._value("wing" if cause == "wing" else "mass")
            if cause == "wing" and float(account.meant) > typed and step_of(typed) < 1:
                return "centimetres"
            return "tenfold"
        if cause == "mass":
            young = self.outlook.birds.grown[self.row] == 0
            return "mass_for_wing" if young and np.isfinite(self._value("wing")) else "mass"
        return {
            "wing": "wing",
            "exchanged": "columns_exchanged",
            "both": "both",
            "age": "age_days",
            "code": "age_code",
            "place": "stranger_said" if moved_remarks(self.case, [self.label]) else "stranger",
            "species": "species",
            "sex": "sex",
        }[cause]

    def _value(self, cause: str) -> float:
        birds = self.outlook.birds
        return float((birds.wing if cause == "wing" else birds.mass)[self.row])

    def _cells(self, cause: str) -> list[At]:
        birds, row = self.outlook.birds, self.row
        p_error = self.by_cause[cause]
        account, share = self._best(cause)
        mass_field = str(birds.mass_field[row])

        def at(field: str, suggested: object = "", others: Sequence[tuple[object, float]] = ()) -> At:
            if plain_text(suggested) and share >= self.case.limit("suggest_from"):
                return At(self.label, field, suggested, p_error, share, others)
            return At(self.label, field, p_error=p_error, others=others)

        if cause == "wing":
            return [at("wing_mm", account.meant, self._others(cause))]
        if cause == "mass":
            return self._mass_cells(mass_field, account, at)
        if cause == "exchanged":
            return [at("wing_mm", self._value("mass")), at(mass_field, self._value("wing"))]
        if cause == "both":
            return [at("wing_mm"), at(mass_field)]
        if cause == "age":
            return [at(str(birds.age_field[row]))]
        if cause == "code":
            nestling_code = str(self.case.limit("pullus_codes")[0])
            return [at("age", nestling_code if birds.grown[row] == 1 else "")]
        if cause == "place":
            # what a remark accounts for is as sure as its outcome says
            return [At(self.label, "box") if moved_remarks(self.case, [self.label]) else at("box")]
        if cause == "species":
            slug = str(account.meant)
            others = [(as_written(self.case, str(other)), p) for other, p in self._others(cause)]
            return [at("species", as_written(self.case, slug), others)]
        return [at("sex", account.meant)]

    def _others(self, cause: str) -> list[tuple[object, float]]:
        """Give all values that the accounts of a cause name, with their probabilities."""
        return [
            (account.meant, float(share))
            for account, share in zip(self.accounts, self.shares, strict=True)
            if account.cause == cause and account.meant is not None
        ]

    def _mass_cells(self, mass_field: str, account: Account, at: Any) -> list[At]:  # noqa: ANN401 - a closure
        bag = 0.0
        if self.case.season.has("handlings", "bag_g"):
            typed = self.case.frame("handlings").loc[[self.label], "bag_g"]
            bag = float(typed.to_numpy(dtype=np.float64)[0])
        if mass_field == "net_g":
            cells = [at("net_g", account.meant)]
            if self.outlook.birds.balanced[self.row]:
                # net was worked out from gross, so both carry the slip
                cells.append(at("gross_g", float(account.meant) + bag))
            return cells
        return [at("gross_g", float(account.meant) + bag)]

    def _present(self) -> list[str]:
        frame = self.case.frame("handlings")
        names = ["wing_mm", str(self.outlook.birds.mass_field[self.row]), "species", "age", "sex", "age_days"]
        at = frame.index.get_loc(self.label)
        return [name for name in names if name in frame.columns and not frame[name].array.isna()[at]]

    def _witnesses(self, cause: str) -> list[tuple[str, str]]:
        blamed = {at.field for at in self._cells(cause)}
        return [(self.label, name) for name in self._present()[:2] if name not in blamed]

    # --- words ----------------------------------------------------------------------------------------

    def _measures(self) -> str:
        parts = []
        if np.isfinite(self._value("wing")):
            parts.append(f"wing {plain_text(self._value('wing'))} mm")
        if np.isfinite(self._value("mass")):
            parts.append(f"{self._mass_name} {plain_text(self._value('mass'))} g")
        text = " and ".join(parts)
        return text[:1].upper() + text[1:]

    @property
    def _mass_name(self) -> str:
        return "net" if self.outlook.birds.mass_field[self.row] == "net_g" else "gross less bag"

    def _usual(self, column: str) -> str:
        """Say which sizes are usual for this bird: ``about 357 g (287 to 427 g)``."""
        unit = "mm" if column == "wing_mm" else "g"
        found = self._usual_range(column)
        if found is None:
            return ""
        centre, low, high = found
        digits = 0 if centre > _TELL_DECIMALS_BELOW else 1
        return f"about {centre:.{digits}f} {unit} ({low:.{digits}f} to {high:.{digits}f} {unit})"

    def _usual_range(self, column: str) -> tuple[float, float, float] | None:
        """Centre, and two standard deviations to either side."""
        outlook, row = self.outlook, self.row
        sizes, birds = outlook.sizes, outlook.birds
        if birds.grown[row] == 1:
            size = sizes.adult_range(str(birds.sex[row]), column)
            if size is None:
                return None
            room = float(np.exp(2 * size[1]))
            return size[0], size[0] / room, size[0] * room
        if column not in sizes.species.curves and sizes.follows:
            return None
        # the ages that everything but this measure points to
        here = np.array([row])
        expected = outlook.most_likely(row)
        logs = expected.log_wing if column == "wing_mm" else expected.log_mass
        if np.isfinite(logs[0]) and not sizes.follows:
            sd = (expected.log_wing_sd if column == "wing_mm" else expected.log_mass_sd)[0]
            room = float(np.exp(2 * sd))
            middle = float(np.exp(logs[0]))
            return middle, middle / room, middle * room
        if column not in sizes.species.curves:
            return None
        places = outlook.log_ages(here, expected)[0]
        if column == "mass_g":
            places = places + sizes.log_wing(birds.wing[here], expected)[0]
        else:
            places = places + sizes.log_mass(birds.mass[here], expected, birds.age[here])[0]
        chance = np.exp(places - places.max())
        chance = chance / chance.sum()
        means, within = sizes.usual(column, float(expected.shift[0]), float(expected.left[0]))
        centre = float(chance @ means)
        sd = float(np.sqrt(chance @ (within**2 + (means - centre) ** 2)))
        return centre, max(centre - 2 * sd, 0.0), centre + 2 * sd

    def _context(self, column: str) -> str:
        """Name what the expectation of a measure rests on: ``a barn owl with a wing of 205 mm``."""
        birds, row = self.outlook.birds, self.row
        if birds.grown[row] == 1:
            sex = {"M": "male ", "F": "female "}.get(str(birds.sex[row]), "")
            return f"a full-grown {sex}{self.bird}"
        parts = []
        if column == "mass_g" and np.isfinite(birds.wing[row]):
            parts.append(f"with a wing of {plain_text(birds.wing[row])} mm")
        if column == "wing_mm" and np.isfinite(birds.mass[row]):
            parts.append(f"of {plain_text(birds.mass[row])} g")
        if np.isfinite(birds.age[row]):
            parts.append(f"aged {plain_text(birds.age[row])} days")
        expected = self.outlook.most_likely(row)
        others = ["its other visits"] if expected.own[0] > 0 else []
        if expected.told[0] > expected.own[0]:
            others.append("siblings" if others else "these siblings")
        if others:
            parts.append(f"beside {' and '.join(others)}")
        return " ".join([_one(self.bird), *parts])

    def unlike(self, column: str) -> str:
        usual = self._usual(column)
        if not usual:
            return f"that does not suit {self._context(column)}"
        verb = "measures" if column == "wing_mm" else "weighs"
        return f"{self._context(column)} {verb} {usual}"

    def _says(self, cause: str, outcome: str, best: tuple[Account, float]) -> str:
        account, share = best
        meant = plain_text(account.meant)
        wing, mass = plain_text(self._value("wing")), plain_text(self._value("mass"))
        bird, both = _one(self.bird), self._measures()
        column, unit = ("wing_mm", "mm") if cause == "wing" else ("mass_g", "g")
        typed = self._typed(cause)
        if outcome == "centimetres":
            return f"Wing {wing} was typed in centimetres: {self.unlike(column)}; {meant} mm fits."
        if outcome == "tenfold":
            wrong = "small" if float(account.meant) > self._value(cause) else "large"
            return f"{typed} is ten times too {wrong}: {self.unlike(column)}; {meant} {unit} fits."
        if outcome == "columns_exchanged":
            right = f"wing {mass} mm and {self._mass_name} {wing} g fit {bird}"
            return f"{both} stand in each other's column: {right}."
        if outcome in ("wing", "mass", "mass_for_wing"):
            offered = meant and share >= self.case.limit("suggest_from")
            tail = f"; {meant} {unit} would fit" if offered else ""
            return f"{typed} is unlikely: {self.unlike(column)}{tail}."
        if outcome == "both":
            return f"{both} are both far from anything known of {bird}."
        if outcome == "age_days":
            return self._says_age()
        if outcome == "age_code":
            return self._says_code()
        if outcome in ("stranger", "stranger_said"):
            remarks = moved_remarks(self.case, [self.label])
            asked = "check wing, box and date, or note that it was fostered"
            asked = accounted_for(remarks[0]) if remarks else asked
            return f"{both}: this {self.bird} is of another age than the others of its box; {asked}."
        if outcome == "sex":
            sex, other = ("male", "female") if account.meant == "F" else ("female", "male")
            return f"{both} are those of a {other} {self.bird}, but the sex says {sex}."
        return f"{both} fit {_one(self.case.declared.species[meant].english)}, not {bird}."

    def _says_age(self) -> str:
        birds, row = self.outlook.birds, self.row
        curve = self.outlook.sizes.species.curves.get("wing_mm")
        recorded = plain_text(birds.age[row])
        if birds.age_field[row] == "hatch_date":
            stated = f"the hatching date makes this bird {recorded} days old"
        else:
            stated = f"the age says {recorded} days"
        if curve is not None and np.isfinite(birds.wing[row]):
            days = float(growth.age_of(curve, birds.wing[row]))
            own = f"{_one(self.bird)} of about {days:.0f} days"
            return f"{self._measures()} are those of {own}, but {stated}."
        return f"{self._measures()} do not suit {_one(self.bird)}: {stated}."

    def _says_code(self) -> str:
        code = str(self.case.frame("handlings").loc[[self.label], "age"].iloc[0])
        stage, other = ("a nestling", "full-grown")
        if self.outlook.birds.grown[self.row] == 0:
            stage, other = "a full-grown bird", "a nestling"
        if not _CODE.fullmatch(code.strip()):
            return f"{self._measures()} are those of {stage}, but age '{code}' is not the code of one."
        return f"{self._measures()} are those of {stage}, but age code {code} says {other}."


def _one(name: str) -> str:
    return f"{'an' if name[0] in 'aeiou' else 'a'} {name}"


#: Means below this are told to a tenth.
_TELL_DECIMALS_BELOW = 100

_SPOKEN = {
    "wing_mm": "the wing",
    "net_g": "the net mass",
    "gross_g": "the gross mass",
    "age": "the age code",
    "age_days": "the age",
    "hatch_date": "the hatching date",
    "species": "the species",
    "sex": "the sex",
}
