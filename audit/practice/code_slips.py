"""Slips of a code, and of any other cell that is typed sign by sign or taken from another cell."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from audit.practice.strokes import STROKES, letter_for_digit, wrong_digit

if TYPE_CHECKING:
    from audit.practice.hand import Hand, Make, Typed

__all__ = [
    "above",
    "digit",
    "exchanged",
    "letter",
    "nought_lost",
    "power",
    "rounded",
    "series",
    "sibling",
    "slid",
    "stroke",
]


def stroke(name: str) -> Make:
    """Make one wrong stroke, by its name in `STROKES`."""

    def make(hand: Hand, i: int, field: str) -> tuple[Typed, ...]:
        return ((i, field, STROKES[name](hand.sheet.text(i, field), hand.rng)),)

    return make


def digit(hand: Hand, i: int, field: str) -> tuple[Typed, ...]:
    """Type one digit wrong."""
    return ((i, field, wrong_digit(hand.sheet.text(i, field), hand.rng, hand.swaps)),)


def letter(hand: Hand, i: int, field: str) -> tuple[Typed, ...]:
    """Type a letter for a digit."""
    return ((i, field, letter_for_digit(hand.sheet.text(i, field), hand.rng, hand.letters)),)


def above(hand: Hand, i: int, field: str) -> tuple[Typed, ...]:
    """Copy the row above."""
    above = hand.sheet.above(i)
    return () if above is None else ((i, field, hand.sheet.text(above, field)),)


def series(hand: Hand, i: int, field: str) -> tuple[Typed, ...]:
    """Draw the code of a row down over the rest of the visit, so that the spreadsheet counts on."""
    below = [k for k in hand.sheet.visit(i) if k > i]
    rows = [k for step, k in enumerate(below, 1) if k == i + step and hand.sheet.text(k, field)]
    first = re.fullmatch(r"(.*?)(\d+)", hand.sheet.text(i, field))
    if first is None or not rows:
        return ()
    front, digits = first.groups()
    counted = ((k, f"{front}{int(digits) + step:0{len(digits)}d}") for step, k in enumerate(rows, 1))
    return tuple((k, field, text) for k, text in counted if text != hand.sheet.text(k, field))


def sibling(hand: Hand, i: int, field: str) -> tuple[Typed, ...]:
    """Exchange two birds of one visit."""
    others = [k for k in hand.sheet.visit(i) if k != i and hand.sheet.text(k, field)]
    if not others:
        return ()
    other = others[int(hand.rng.integers(len(others)))]
    return (i, field, hand.sheet.text(other, field)), (other, field, hand.sheet.text(i, field))


def slid(hand: Hand, i: int, field: str) -> tuple[Typed, ...]:
    """Move the codes of a visit by one row; the odd one lands in the free cell."""
    rows = [k for k in hand.sheet.visit(i) if hand.sheet.text(k, field)]
    if len(rows) <= 2:  # noqa: PLR2004 - two codes that change places are another kind
        return ()
    turned = [*rows[1:], rows[0]] if hand.rng.integers(2) else [rows[-1], *rows[:-1]]
    return tuple((k, field, hand.sheet.text(other, field)) for k, other in zip(rows, turned, strict=True))


def exchanged(other: str) -> Make:
    """Exchange two columns of a row."""

    def make(hand: Hand, i: int, field: str) -> tuple[Typed, ...]:
        return (i, field, hand.sheet.text(i, other)), (i, other, hand.sheet.text(i, field))

    return make


def nought_lost(hand: Hand, i: int, field: str) -> tuple[Typed, ...]:
    """Drop leading noughts, as a spreadsheet does."""
    text = hand.sheet.text(i, field)
    return ((i, field, text.lstrip("0")),) if text.isdigit() else ()


def rounded(hand: Hand, i: int, field: str) -> tuple[Typed, ...]:
    """Round the last digits away, as a spreadsheet does."""
    text = hand.sheet.text(i, field)
    return ((i, field, f"{float(_as_power(text)):.0f}"),) if text.isdigit() else ()


def power(hand: Hand, i: int, field: str) -> tuple[Typed, ...]:
    """Turn a code into a power of ten, as a spreadsheet does."""
    text = hand.sheet.text(i, field)
    return ((i, field, _as_power(text)),) if text.isdigit() else ()


def _as_power(digits: str) -> str:
    """Write a long number as a narrow column of a spreadsheet shows it: ``9.99104E+14``."""
    return f"{int(digits):.5E}"
