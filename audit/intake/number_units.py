"""Units that stand on a number, and degrees with minutes and seconds."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.intake.words import Words, fold

if TYPE_CHECKING:
    from audit.declarations.tables import FieldDeclaration

__all__ = ["NumberUnits", "number_units"]

_WITH_UNIT = re.compile(r"(.*\d[.,]?) ?([^\d\s.,+*/()-].*)")
_INNER_UNIT = re.compile(r"(?<=\d) ?([^\W\d_]+)")
_COMPASS = re.compile(r"([NSEWnsew]) ?(\d.*)")
_DEGREES = re.compile(
    r"(?P<sign>-?)(?P<deg>\d+) ?° ?(?P<min>\d+(?:[.,]\d+)?) ?['′’] ?"
    r"(?:(?P<sec>\d+(?:[.,]\d+)?) ?(?:\"|″|''|”) ?)?(?P<side>[NSEWnsew]?)"
)
#: Unit of latitude and longitude.
_POSITION = "degree"
#: Sixty minutes in a degree, sixty seconds in a minute: an identity.
_SIXTY = 60


@dataclass(frozen=True, slots=True)
class NumberUnits:
    """Units of one column.

    Attributes
    ----------
    unit : str
        Unit of the column's values.
    scale : float
        How many units one of the column's own units is: 10 for a header that says cm over a field in mm.
    factors : dict of str to float
        Unit words that fit, with their factor.
    strangers : dict of str to str
        Unit words of other quantities, with the name of the unit.
    """

    unit: str
    scale: float
    factors: dict[str, float]
    strangers: dict[str, str]

    def apart(self, text: str) -> tuple[str, str] | None:
        """Part a text into a number and the folded word behind it; None where there is no word."""
        if self.unit == _POSITION and (compass := _COMPASS.fullmatch(text)):
            text = f"{compass[2]} {compass[1]}"
        match = _WITH_UNIT.fullmatch(text)
        return None if match is None else (match[1], fold(match[2]).rstrip(". "))

    def without_own(self, text: str) -> str:
        """Drop the column's own unit wherever it stands in a sum."""
        return _INNER_UNIT.sub(self._drop_own, text)

    def _drop_own(self, match: re.Match[str]) -> str:
        own = self.factors.get(fold(match[1]))
        return "" if own == self.scale else match[0]

    def degrees(self, text: str) -> float | None:
        """Read degrees, minutes and seconds as degrees, where the column holds positions."""
        match = _DEGREES.fullmatch(text) if self.unit == _POSITION else None
        if match is None:
            return None
        minutes, seconds = (float((match[name] or "0").replace(",", ".")) for name in ("min", "sec"))
        if minutes >= _SIXTY or seconds >= _SIXTY:
            return None
        value = int(match["deg"]) + (minutes + seconds / _SIXTY) / _SIXTY
        south = bool(match["sign"]) or match["side"].upper() in ("S", "W")
        return -value if south else value


def number_units(field: FieldDeclaration, words: Words, scale: float) -> NumberUnits:
    """Build the units of one column from the words of ``reading.yaml``."""
    factors: dict[str, float] = {}
    strangers: dict[str, str] = {}
    units = words.below("units")
    for key, listed in units.items():
        name, _, last = key.partition(".")
        if last != "words":
            continue
        factor = units.get(f"{name}.{field.unit}")
        for word in listed:
            if factor is not None:
                factors.setdefault(fold(str(word)), float(factor))
            elif f"{name}.{_POSITION}" not in units:
                # an S behind a mass is rather a 5 than the south
                strangers.setdefault(fold(str(word)), name)
    return NumberUnits(field.unit, scale, factors, strangers)
