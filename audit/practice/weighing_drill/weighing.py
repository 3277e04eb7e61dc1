"""One weighing of the drill: what the bird and its bag weigh, and on which balances that is seen."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from audit.practice.weighing_drill.balance import Balance

__all__ = ["CELLS", "DRILL", "WAYS", "Weighing"]

#: Name of the drill.
DRILL = "weighing"
#: What is written of each weighing.
CELLS = ("gross", "bag", "net")
#: Ways of weighing: both on springs, both on a display, bird on a spring and bag on a display, display tared,
#: gross and bag written down already, bag not weighed, bag not weighed and the display tared.
WAYS = ("spring", "display", "mixed", "tared", "written", "no_bag", "tared_no_bag")


@dataclass(frozen=True, slots=True)
class Weighing:
    """One weighing.

    Attributes
    ----------
    way : str
        One of `WAYS`.
    gross, bag : float
        Bird in its bag, and empty bag, in grams: where the pointers stand.
    gross_on, bag_on : Balance
        On which they are seen. A tared display shows the bird alone.
    """

    way: str
    gross: float
    bag: float
    gross_on: Balance
    bag_on: Balance

    @property
    def net(self) -> float:
        """The bird alone, in grams."""
        return round(self.gross - self.bag, 6)

    @property
    def is_tared(self) -> bool:
        """Whether the balance was set to nought with the empty bag on it."""
        return self.way in {"tared", "tared_no_bag"}

    @property
    def known(self) -> tuple[str, ...]:
        """Cells that can be known: without the bag's mass only what the balance shows."""
        return {"no_bag": ("gross",), "tared_no_bag": ("net",)}.get(self.way, CELLS)

    @property
    def is_drawn(self) -> bool:
        """Whether balances are seen; else the masses are written down."""
        return self.way != "written"

    @property
    def shown(self) -> float:
        """What the balance shows with bird and bag on it, in grams."""
        return self.net if self.is_tared else self.gross

    def true(self, cell: str) -> float:
        """Return what should be written in a cell, in grams."""
        return {"gross": self.gross, "bag": self.bag, "net": self.net}[cell]

    def near(self, cell: str) -> float:
        """Return how far off a right reading may be, in grams; of net that of both readings together."""
        apart = {"gross": self.gross_on.near, "bag": self.bag_on.near}
        return apart[cell] if cell in apart else sum(apart.values())
