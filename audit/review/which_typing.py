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
    from collections.abc import Iterable, Mapping

    from audit.declarations import Declarations
    from audit.findings import Report
    from audit.models.keying import Channel

__all__ = ["Blame", "Blames", "Typed", "Weighed", "Weigher", "surest"]

_RATES = ("ring", "tag")
#: A value is never quite sure to be wrong or right.
_ROOM = 1e-4


@dataclass(frozen=True, slots=True)
class Blame:
    """What the audit of one typing says against a cell.

    Attributes
    ----------
    p_error : float
        Probability that it is wrong.
    suggested : str
        What was probably meant; empty where nothing is named.
    p_fix : float
        Probability of that.
    """

    p_error: float
    suggested: str = ""
    p_fix: float = 0.0


@dataclass(frozen=True, slots=True)
class Blames:
    """Cells that the audit of one typing blames above a note.

    Attributes
    ----------
    cells : mapping of (label, field) to Blame
        The surest finding on each cell.
    rows : mapping of str to frozenset of str
        Blamed columns by row label.
    """

    cells: Mapping[tuple[str, str], Blame]
    rows: Mapping[str, frozenset[str]] = field(default_factory=dict)

    @classmethod
    def of(cls, report: Report) -> Blames:
        """Collect them."""
        cells: dict[tuple[str, str], Blame] = {}
        rows: dict[str, set[str]] = {}
        for finding in report.above_notes:
            for suspect in finding.suspects:
                at = suspect.cell.label, suspect.cell.field
                blame = Blame(suspect.p_error, suspect.suggested, suspect.p_fix or 0.0)
                cells[at] = surest([cells.get(at), blame]) or blame
                rows.setdefault(at[0], set()).add(at[1])
        return cls(cells, {label: frozenset(fields) for label, fields in rows.items()})

    def at(self, label: str, name: str) -> Blame | None:
        """Return what is said against a cell; None where nothing is."""
        return self.cells.get((label, name))


def surest(blames: Iterable[Blame | None]) -> Blame | None:
    """Return the surest of some; None where there is none."""
    return max((blame for blame in blames if blame), key=lambda one: one.p_error, default=None)


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
    blame : Blame or None
        What the audit of this typing says against it.
    suggested : str, float or None
        What that audit suggests, as `value` is written.
    """

    meaning: str
    value: str | float | None = None
    above: str | float | None = None
    blame: Blame | None = None
    suggested: str | float | None = None


@dataclass(frozen=True, slots=True)
class Weighed:
    """Probabilities that the first text, the second, or neither is right; together 1.

    Attributes
    ----------
    third : str
        What was meant where neither is right, if both audits name it.
    """

    first: float
    second: float
    neither: float
    third: str = ""


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
        neither, third = self._neither(first, second)
        total = one + other + rate * neither
        return Weighed(one / total, other / total, rate * neither / total, third)

    def _support(self, typed: Typed, base: float) -> float:
        if typed.blame is None:
            return 1 / (1 - self._silent)
        wrong = min(max(typed.blame.p_error, _ROOM), 1 - _ROOM)
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

    def _neither(self, first: Typed, second: Typed) -> tuple[float, str]:
        """Weigh that the hand slipped in both typings, as a multiple of the rate, and name what was meant.

        Where both audits suggest the same third text, that it was meant weighs by Bayes' theorem as the
        chance of the one typing's text, were it meant, times its probability in the audit of the other.
        """
        third = first.suggested
        if third is not None and third == second.suggested and third not in (first.value, second.value):
            meant = Typed(str(third), third)
            ways = [
                self._chance(typed, meant) * told.blame.p_fix
                for typed, told in ((second, first), (first, second))
                if told.blame
            ]
            return sum(ways) / len(ways), first.blame.suggested if first.blame else ""
        return self._both_slipped(first, second), ""

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
