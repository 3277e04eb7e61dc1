"""What is said of one bird's measures: the sentences of the rule `growth`, and what is usual."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.intake.wording import with_article
from audit.models import growth
from audit.rules.moves import accounted_for, moved_remarks
from audit.rules.plain import plain_text

if TYPE_CHECKING:
    from audit.rules.bird_accounts import Account
    from audit.rules.case import Case
    from audit.rules.outlook import Outlook

__all__ = ["GrowthWords", "expectation"]

#: One sign of the exchange code, perhaps with the mark of juvenile plumage; anything else is a word.
_CODE = re.compile(r"[0-9A-Za-z][Jj]?")
#: Means below this are told to a tenth.
_TELL_DECIMALS_BELOW = 100


def expectation(case: Case, outlook: Outlook, row: int, column: str) -> str:
    """Say what is usual for a bird: ``a barn owl with a wing of 205 mm weighs about 357 g (287 to 427 g)``.

    Parameters
    ----------
    row : int
        Which bird of the outlook.
    column : {'wing_mm', 'mass_g'}
    """
    return GrowthWords(case, outlook, row).unlike(column)


@dataclass(frozen=True, slots=True)
class GrowthWords:
    """Words for one row of an outlook.

    Attributes
    ----------
    case : Case
    outlook : Outlook
    row : int
        Which bird of the outlook.
    """

    case: Case
    outlook: Outlook
    row: int

    @property
    def label(self) -> str:
        """Label of the row."""
        return str(self.outlook.birds.labels[self.row])

    @property
    def bird(self) -> str:
        """Name of the species."""
        return self.outlook.sizes.species.english

    def value(self, cause: str) -> float:
        """Wing or mass as read: that of the cause ``wing``, or of any other."""
        birds = self.outlook.birds
        return float((birds.wing if cause == "wing" else birds.mass)[self.row])

    def typed(self, cause: str) -> str:
        """Name a measure with its value: ``Wing 205 mm``, ``Net 357 g``."""
        value = plain_text(self.value(cause))
        return f"Wing {value} mm" if cause == "wing" else f"{self.mass_name.capitalize()} {value} g"

    def measures(self) -> str:
        """Name all measures that the row has: ``Wing 205 mm and net 357 g``."""
        parts = []
        if np.isfinite(self.value("wing")):
            parts.append(f"wing {plain_text(self.value('wing'))} mm")
        if np.isfinite(self.value("mass")):
            parts.append(f"{self.mass_name} {plain_text(self.value('mass'))} g")
        text = " and ".join(parts)
        return text[:1].upper() + text[1:]

    @property
    def mass_name(self) -> str:
        """Say which mass is meant."""
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
        return " ".join([with_article(self.bird), *parts])

    def unlike(self, column: str) -> str:
        """Say what is usual for the bird, as `expectation` does, or that nothing is known."""
        usual = self._usual(column)
        if not usual:
            return f"that does not suit {self._context(column)}"
        verb = "measures" if column == "wing_mm" else "weighs"
        return f"{self._context(column)} {verb} {usual}"

    def says(self, cause: str, outcome: str, best: tuple[Account, float]) -> str:
        """Say what is wrong, in one sentence.

        Parameters
        ----------
        cause, outcome : str
            What accounts for the measures, and under which outcome of the rule it is told.
        best : tuple of Account and float
            The likeliest account of this cause, and its share within the cause.
        """
        account, share = best
        meant = plain_text(account.meant)
        wing, mass = plain_text(self.value("wing")), plain_text(self.value("mass"))
        bird, both = with_article(self.bird), self.measures()
        column, unit = ("wing_mm", "mm") if cause == "wing" else ("mass_g", "g")
        typed = self.typed(cause)
        if outcome == "centimetres":
            return f"Wing {wing} was typed in centimetres: {self.unlike(column)}; {meant} mm fits."
        if outcome == "tenfold":
            wrong = "small" if float(account.meant) > self.value(cause) else "large"
            return f"{typed} is ten times too {wrong}: {self.unlike(column)}; {meant} {unit} fits."
        if outcome == "columns_exchanged":
            right = f"wing {mass} mm and {self.mass_name} {wing} g fit {bird}"
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
        return f"{both} fit {with_article(self.case.declared.species[meant].english)}, not {bird}."

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
            own = f"{with_article(self.bird)} of about {days:.0f} days"
            return f"{self.measures()} are those of {own}, but {stated}."
        return f"{self.measures()} do not suit {with_article(self.bird)}: {stated}."

    def _says_code(self) -> str:
        code = str(self.case.frame("handlings").loc[[self.label], "age"].iloc[0])
        stage, other = ("a nestling", "full-grown")
        if self.outlook.birds.grown[self.row] == 0:
            stage, other = "a full-grown bird", "a nestling"
        if not _CODE.fullmatch(code.strip()):
            return f"{self.measures()} are those of {stage}, but age '{code}' is not the code of one."
        return f"{self.measures()} are those of {stage}, but age code {code} says {other}."
