"""Slips of masses and wings: in units, in reading the balance and in working out the net."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.practice.strokes import STROKES
from audit.rules.plain import plain_text

if TYPE_CHECKING:
    from collections.abc import Callable

    from audit.practice.hand import Hand, Make, Typed

__all__ = ["carried", "last_visit", "off_by_ten", "whole_row", "worked_out"]

#: Ten times too large, ten times too small, kilograms.
_SCALES = (10, 1 / 10, 1 / 1000)


def worked_out(formula: Callable[[dict[str, float], Hand], float], *columns: str) -> Make:
    """Type another number, worked out from the numbers of the row."""

    def make(hand: Hand, i: int, field: str) -> tuple[Typed, ...]:
        numbers = {name: hand.sheet.number(i, name) for name in (field, *columns)}
        known = {name: number for name, number in numbers.items() if number is not None}
        if len(known) < len(numbers):
            return ()
        wrong = _tidy(formula({**known, "": known[field]}, hand))
        return ((i, field, wrong),) if wrong else ()

    return make


def off_by_ten(numbers: dict[str, float], hand: Hand) -> float:
    """Lose or gain a ten or a hundred in a number."""
    step = 10 if hand.rng.integers(2) else 100
    return numbers[""] + (step if hand.rng.integers(2) else -step)


def whole_row(hand: Hand, i: int, field: str) -> tuple[Typed, ...]:
    """Read a balance with another unit, or another scale of it, for the whole weighing."""
    times = _SCALES[int(hand.rng.integers(len(_SCALES)))]
    numbers = {name: hand.sheet.number(i, name) for name in (field, "bag_g", "net_g")}
    scaled = tuple((i, name, _tidy(number * times)) for name, number in numbers.items() if number is not None)
    return scaled if len(scaled) == len(numbers) and all(text for _, _, text in scaled) else ()


def last_visit(hand: Hand, i: int, field: str) -> tuple[Typed, ...]:
    """Copy the bird's last visit."""
    earlier = hand.sheet.last_visit(i)
    return () if earlier is None else ((i, field, hand.sheet.text(earlier, field)),)


def carried(hand: Hand, i: int, field: str) -> tuple[Typed, ...]:
    """Misread the balance, and work out the net from what was read."""
    bag = hand.sheet.number(i, "bag_g")
    stroke = STROKES["digit" if hand.rng.integers(2) else "neighbours"]
    wrong = stroke(hand.sheet.text(i, field), hand.rng)
    if bag is None or not wrong or not hand.sheet.text(i, "net_g"):
        return ()
    net = _tidy(float(wrong) - bag)
    return ((i, field, plain_text(float(wrong))), (i, "net_g", net)) if net else ()


def _tidy(number: float) -> str:
    """Write a number to the ten-thousandth; nobody types a mass or length below nought."""
    return plain_text(round(number, 4)) if number > 0 else ""
