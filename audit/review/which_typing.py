"""Which of two typings of one cell is right: neither person's text is the default.

Three accounts compete: the first typing is right and the hand slipped in the second, the other way round, or
the hand slipped in both. Each weighs as the slip is likely, and as what the audit of each typing, on its own
sheet, says of the text that would be right.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Mapping

    from audit.declarations import Declarations
    from audit.findings import Report
    from audit.models.keying import Channel

__all__ = ["Blames", "Typed", "Weighed", "Weigher"]

_RATES = ("ring", "tag")
#: A value is never quite sure to be wrong or right.
_ROOM = 1e-4


@dataclass(frozen=True, slots=True)
class Typed:
    """One text of a cell as the channel takes it.

    Attributes
    ----------
    meaning : str
        What it means; empty for an empty cell.
    value : str, float or None
        A code in capitals, or a number; None where the channel does not know this kind of cell.
    above : str, float or None
        The same of the row above.
    blamed : float or None
        Probability, by the audit of this typing, that the cell is wrong; None where it says nothing.
    """

    meaning: str
    value: str | float | None = None
    above: str | float | None = None
    blamed: float | None = None


@dataclass(frozen=True, slots=True)
class Weighed:
    """Probabilities that the first text, the second, or neither is right; together 1."""

    first: float
    second: float
    neither: float


@dataclass(frozen=True, slots=True)
class Blames:
    """Cells that the audit of one typing blames above a note, with the probability that they are wrong."""

    cells: Mapping[tuple[str, str], float]
    rows: Mapping[str, frozenset[str]] = field(default_factory=dict)

    @classmethod
    def of(cls, report: Report) -> Blames:
        """Collect them; the surest finding on a cell counts."""
        cells: dict[tuple[str, str], float] = {}
        rows: dict[str, set[str]] = {}
        for finding in report.above_notes:
            for suspect in finding.suspects:
                at = suspect.cell.label, suspect.cell.field
                cells[at] = max(cells.get(at, 0.0), suspect.p_error)
                rows.setdefault(at[0], set()).add(at[1])
        return cls(cells, {label: frozenset(fields) for label, fields in rows.items()})

    def at(self, label: str, name: str) -> float | None:
        """Probability that a cell is wrong; None where nothing is said of it."""
        return self.cells.get((label, name))


class Weigher:
    """Weighs two texts of one cell."""

    def __init__(self, declared: Declarations) -> None:
        self._channel: Channel = declared.slips.channel()
        self._rates = {name: declared.slips.share(f"rates.{name}") for name in (*_RATES, "field")}
        limits = declared.settings
        self._left_out, self._filled_in, self._word, self._silent, self._least = (
            float(limits[f"double_entry.weigh.{name}"].value)
            for name in ("left_out", "filled_in", "word", "silent", "least_chance")
        )

    def rate(self, name: str) -> float:
        """Return the rate of slips of a column."""
        return self._rates.get(name, self._rates["field"])

    def weigh(self, name: str, first: Typed, second: Typed) -> Weighed:
        """Weigh both texts of a cell.

        Parameters
        ----------
        name : str
            Canonical column.
        first, second : Typed
            With different meanings.

        Returns
        -------
        Weighed
            The channel gives how likely each text is, were the other one meant; the audit of each typing how
            much likelier the season as typed there is with its text right than with it wrong (its odds,
            posterior by prior). An audit that says nothing speaks for its text a little.
        """
        rate = self.rate(name)
        base = (1 - rate) / rate
        one = self._chance(second, first) * self._support(first, base)
        other = self._chance(first, second) * self._support(second, base)
        neither = rate * self._both_slipped(first, second)
        total = one + other + neither
        return Weighed(one / total, other / total, neither / total)

    def _support(self, typed: Typed, base: float) -> float:
        if typed.blamed is None:
            return 1 / (1 - self._silent)
        wrong = min(max(typed.blamed, _ROOM), 1 - _ROOM)
        return (1 - wrong) / wrong / base

    def _chance(self, typed: Typed, meant: Typed) -> float:
        """Chance of what stands in a cell, were the other text meant and had the hand slipped there."""
        if not typed.meaning:
            return self._left_out
        if not meant.meaning:
            return self._filled_in
        if typed.value is None or meant.value is None or type(typed.value) is not type(meant.value):
            return self._word
        above = typed.above if type(typed.above) is type(typed.value) else None
        # no text is out of reach of some slip
        return max(
            float(np.exp(self._channel.log_chance(typed.value, meant.value, above=above))), self._least
        )

    def _both_slipped(self, first: Typed, second: Typed) -> float:
        """Chance of both texts, summed over what may have been meant that is one slip from either."""
        one, other = first.value, second.value
        if one is None or other is None or type(one) is not type(other):
            return self._word**2
        if isinstance(one, float) and min(one, float(other)) < 0:
            return self._word**2
        known = {source.meant: source.chance for source in self._channel.sources(one)}
        shared = sum(
            known[source.meant] * source.chance
            for source in self._channel.sources(other)
            if source.meant in known
        )
        return max(shared, self._least**2)
