"""Masses as they come about: gross less bag is net, and gross masses compare only in the same bag."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite
from typing import TYPE_CHECKING

import numpy as np

from audit.models.written_number import typed_unit
from audit.review.wording import counted

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from audit.practice.measuring.taken import Taken

__all__ = ["Weighed", "bags_told", "in_other_bags", "sums_told", "weighed_in"]

_NET, _GROSS = "net_g", "gross_g"
_SHOWN = 5
#: Share of a unit that is nothing but rounding of the arithmetic.
_ROUNDING = 1e-6


@dataclass(frozen=True, slots=True)
class Weighed:
    """One weighing.

    Attributes
    ----------
    gross, bag : float
        Of bird and bag, and of the bag, g.
    """

    gross: float
    bag: float

    @property
    def net(self) -> float:
        """What the bird weighs by them."""
        return self.gross - self.bag

    def gives(self, net: float) -> bool:
        """Whether a net mass is gross less bag, up to one unit of the coarsest scale."""
        unit = float(typed_unit(np.array([self.gross, self.bag, net])).max())
        return abs(net - self.net) <= unit * (1 + _ROUNDING)


def weighed_in(gross: object, bag: object) -> Weighed | None:
    """Take gross and bag of one row together; None where one of them is missing."""
    if isinstance(gross, int | float) and isinstance(bag, int | float) and isfinite(gross - bag):
        return Weighed(float(gross), float(bag))
    return None


def sums_told(taken: Sequence[Taken]) -> Iterator[str]:
    """Tell of net masses that are not gross less bag; of many only the first, and how many there are."""
    off = [
        (one, one.weighed)
        for one in taken
        if one.field == _NET and one.weighed is not None and not one.weighed.gives(one.value)
    ]
    for one, mass in off[:_SHOWN]:
        why = ", as the gross mass: was the bag not subtracted?" if one.value == mass.gross else "."
        sum_ = f"{mass.gross:g} g less {mass.bag:g} g is {mass.net:g} g"
        yield f"{one.place}: {sum_}, but the net mass there is {one.value:g} g{why}"
    if len(off) > _SHOWN:
        left = len(off) - _SHOWN
        yield f"{counted(left, 'more net mass is', 'more net masses are')} not gross less bag."


def in_other_bags(taken: Sequence[Taken], most: float) -> bool:
    """Whether any bird was weighed in bags that differ by more than usual, so that gross masses do, too.

    Parameters
    ----------
    most : float
        Usual difference of two weighings of one bag, g.
    """
    bags: dict[tuple[str, str], list[float]] = {}
    for one in taken:
        if one.field == _GROSS and one.weighed is not None:
            bags.setdefault((one.bird, one.day), []).append(one.weighed.bag)
    return any(max(masses) - min(masses) > most for masses in bags.values())


def bags_told(most: float, *, nets: bool) -> str:
    """Say what follows from bags that differ.

    Parameters
    ----------
    nets : bool
        Whether net masses stand beside them.
    """
    begin = f"Bags of one bird differ by more than {most:g} g, and its gross masses by as much"
    if nets:
        return f"{begin}: gross masses are left out of what follows, net masses are not."
    return f"{begin}: write net masses beside them, which can be compared."
