"""Balances of the drill: what each carries, and how far its marks lie apart."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.refusal import Refusal

if TYPE_CHECKING:
    from audit.declarations import Declarations

__all__ = ["Balance", "display_for", "spring_for", "springs_of"]


@dataclass(frozen=True, slots=True)
class Balance:
    """A balance.

    Attributes
    ----------
    most : float
        What it carries, in grams; infinite for a display.
    mark : float
        From one mark to the next, or the worth of the last digit, in grams.
    number : float
        From one number of the scale to the next, in grams; 0 for a display, which has no scale.
    near : float
        How far off a right reading may be, in grams; 0 for a display.
    """

    most: float
    mark: float
    number: float = 0.0
    near: float = 0.0

    @property
    def is_spring(self) -> bool:
        """Whether a pointer stands on a scale; else digits stand on a display."""
        return self.number > 0

    @property
    def decimals(self) -> int:
        """Decimals of its numbers."""
        return 0 if float(self.mark).is_integer() else 1

    def text(self, grams: float) -> str:
        """Write a mass as it is read off this balance."""
        return f"{grams:.{self.decimals}f}"


def springs_of(declared: Declarations) -> tuple[Balance, ...]:
    """List the declared spring balances, the smallest first.

    Raises
    ------
    audit.refusal.Refusal
        Not each of them has its mark.
    """
    most, marks = (declared.settings[f"practice.weighing.springs.{name}"].value for name in ("most", "mark"))
    if not isinstance(most, list) or not isinstance(marks, list) or len(most) != len(marks) or not most:
        raise Refusal(
            "The spring balances of the drill cannot be made out.",
            where="practice.yaml, weighing.springs",
            cure="Give 'most' and 'mark' one number for each balance.",
        )
    each = float(declared.settings["practice.weighing.springs.marks_per_number"].value)
    near = float(declared.settings["practice.weighing.near"].value)
    return tuple(
        Balance(float(load), float(mark), float(mark) * each, float(mark) * near)
        for load, mark in sorted(zip(most, marks, strict=True))
    )


def spring_for(grams: float, declared: Declarations) -> Balance:
    """Take the smallest spring balance that carries a load.

    Raises
    ------
    audit.refusal.Refusal
        None does.
    """
    for balance in springs_of(declared):
        if grams <= balance.most:
            return balance
    raise Refusal(
        f"No declared spring balance carries {grams:.0f} g.",
        where="practice.yaml, weighing.springs.most",
        cure="Declare a larger one, with its mark.",
    )


def display_for(heaviest: float, declared: Declarations) -> Balance:
    """Take the balance with a display for birds of a size, in grams."""
    number = {
        name: float(declared.settings[f"practice.weighing.display.{name}"].value)
        for name in ("fine_below", "fine", "coarse")
    }
    return Balance(float("inf"), number["fine" if heaviest < number["fine_below"] else "coarse"])
