"""Pictures of balances: a piece of a spring balance with its pointer, and a display with its digits."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.charts.palette import BAND, GRID, INK, LINE, PAPER, QUIET

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.practice.weighing_drill.balance import Balance

__all__ = ["PITCH", "display_picture", "left_out_picture", "scale_ends", "spring_picture"]

#: From one mark of a spring balance to the next, in units of the picture.
PITCH = 9.0
_TOP = 46.0
_LEFT = 62.0
_WIDE = 62.0
_FULL = 190
_TINY = 1e-9
#: Numbers of the scale that are seen above and below the pointer.
_AROUND = 1.5
#: Segments that are lit for each digit: top, upper and lower right, bottom, lower and upper left, middle.
_LIT = dict(
    zip(
        "0123456789",
        ("abcdef", "bc", "abged", "abgcd", "fgbc", "afgcd", "afgedc", "abc", "abcdefg", "abcdfg"),
        strict=True,
    )
)
_HIGH, _BROAD, _THICK = 56.0, 30.0, 6.0


def scale_ends(grams: float, balance: Balance) -> tuple[float, float]:
    """Return the first and last gram of the piece of the scale that is seen about a load."""
    half = _AROUND * balance.number
    low = min(max(0.0, grams - half), max(0.0, balance.most - 2 * half))
    return low, min(balance.most, low + 2 * half)


def spring_picture(grams: float, balance: Balance, told: str) -> str:
    """Draw a piece of a hanging spring balance, nought above, with its pointer.

    Parameters
    ----------
    grams : float
        Where the pointer stands.
    told : str
        Safe text that says what is seen, without the reading.

    Returns
    -------
    str
        SVG. The pointer has the class ``pointer``; each numbered mark carries its number in ``data-g``.
    """
    low, high = scale_ends(grams, balance)
    pointer, bottom = _place(grams, low, balance), _place(high, low, balance)
    tall, right = bottom + 40, _LEFT + _WIDE
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" viewBox="0 0 {_FULL} {tall:.0f}" '
        f'width="{_FULL}" height="{tall:.0f}"><title>{told}</title>'
        f'<text x="{_LEFT + _WIDE / 2:g}" y="16" font-size="13" text-anchor="middle" fill="{QUIET}">'
        f"balance up to {balance.most:g} g</text>"
        f'<rect x="{_LEFT:g}" y="{_TOP - 16:g}" width="{_WIDE:g}" height="{bottom - _TOP + 32:.2f}" '
        f'fill="{PAPER}" stroke="{INK}" stroke-width="2"/>'
        f"{''.join(_torn(bottom + 16, ends=(low > 0, high < balance.most)))}"
        f"{''.join(_marks(low, high, balance))}"
        f'<path class="pointer" d="M{_LEFT + 2:g} {pointer:.3f}H{right - 2:g}" stroke="{INK}" '
        'stroke-width="1.8"/>'
        f'<path d="M{_LEFT - 14:g} {pointer - 5:.3f}l12 5l-12 5z" fill="{LINE}" stroke="{INK}"/></svg>'
    )


def _place(grams: float, low: float, balance: Balance) -> float:
    """Return how far down a load stands in the picture."""
    return _TOP + (grams - low) / balance.mark * PITCH


def _torn(bottom: float, *, ends: tuple[bool, bool]) -> Iterator[str]:
    """Show with a broken line where the tube goes on."""
    for y, goes_on in zip((_TOP - 16, bottom), ends, strict=True):
        if goes_on:
            line = f"M{_LEFT - 4:g} {y:.2f}l10 -5" + "l10 10l10 -10" * 3
            yield f'<path d="{line}" fill="none" stroke="{PAPER}" stroke-width="7"/>'
            yield f'<path d="{line}" fill="none" stroke="{QUIET}"/>'


def _marks(low: float, high: float, balance: Balance) -> Iterator[str]:
    each = round(balance.number / balance.mark)
    first, last = int(np.ceil(low / balance.mark - _TINY)), int(high / balance.mark + _TINY)
    for step in range(first, last + 1):
        grams = step * balance.mark
        place = _place(grams, low, balance)
        is_number, is_half = step % each == 0, step % each == each // 2
        long = 24 if is_number else 18 if is_half else 12
        x = _LEFT + _WIDE
        mark = f' data-g="{grams:g}"' if is_number else ""
        yield (
            f'<path class="mark"{mark} d="M{x:g} {place:.3f}h-{long}" stroke="{INK}" '
            f'stroke-width="{1.6 if is_number else 1}"/>'
        )
        if is_number:
            yield f'<text x="{x + 8:g}" y="{place + 5:.2f}" font-size="15" fill="{INK}">{grams:g}</text>'


def display_picture(text: str, told: str, *, tared: bool = False) -> str:
    """Draw a display with digits of seven segments.

    Parameters
    ----------
    text : str
        Digits, and one point at most.
    told : str
        Safe text that says what is seen, without the reading.
    tared : bool
        Whether the lamp burns that tells that the balance was set to nought with something on it.

    Returns
    -------
    str
        SVG. Lit segments have the class ``lit``, each digit is a group of the class ``digit``.
    """
    places, x = [], 92.0
    for sign in reversed(text):
        if sign == ".":
            places.append(f'<circle class="point" cx="{x + 40:g}" cy="{66 + _HIGH:g}" r="3.6" fill="{INK}"/>')
            continue
        places.append(f'<g class="digit" transform="translate({x:g} 66)">{"".join(_digit(sign))}</g>')
        x -= 42
    shift = max(0.0, -x - 16)
    wide = 190 + shift
    lamp = (
        f'<text x="24" y="48" font-size="12" font-weight="bold" fill="{INK}">TARE</text>'
        f'<rect x="18" y="34" width="44" height="19" fill="none" stroke="{INK}"/>'
        if tared
        else ""
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" viewBox="0 0 {wide:g} 150" width="{wide:g}" '
        f'height="150"><title>{told}</title>'
        f'<text x="{wide / 2:g}" y="16" font-size="13" text-anchor="middle" fill="{QUIET}">'
        "balance with a display</text>"
        f'<rect x="4" y="26" width="{wide - 8:g}" height="114" rx="6" fill="{GRID}" stroke="{INK}" '
        f'stroke-width="2"/>{lamp}<g transform="translate({30 + shift:g} 0)">{"".join(places)}</g>'
        f'<text x="{wide - 22:g}" y="{66 + _HIGH:g}" font-size="16" fill="{INK}">g</text></svg>'
    )


def left_out_picture(told: str) -> str:
    """Draw an empty frame where nothing was weighed."""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" viewBox="0 0 {_FULL} 150" width="{_FULL}" '
        f'height="150"><title>{told}</title><rect x="4" y="26" width="{_FULL - 8}" height="114" rx="6" '
        f'fill="none" stroke="{QUIET}" stroke-dasharray="6 5"/><text x="{_FULL / 2:g}" y="90" font-size="15" '
        f'text-anchor="middle" fill="{INK}">not weighed</text></svg>'
    )


def _digit(sign: str) -> Iterator[str]:
    half, t = _HIGH / 2, _THICK
    bars = {
        "a": (t / 2, 0, _BROAD - t, t),
        "b": (_BROAD - t / 2, t / 2, t, half - t),
        "c": (_BROAD - t / 2, half + t / 2, t, half - t),
        "d": (t / 2, _HIGH - t / 2, _BROAD - t, t),
        "e": (-t / 2, half + t / 2, t, half - t),
        "f": (-t / 2, t / 2, t, half - t),
        "g": (t / 2, half - t / 2, _BROAD - t, t),
    }
    for name, (left, top, wide, high) in bars.items():
        lit = name in _LIT[sign]
        look = f'class="lit" fill="{INK}"' if lit else f'class="dark" fill="{BAND}" opacity="0.35"'
        yield f'<rect data-bar="{name}" {look} x="{left:g}" y="{top:g}" width="{wide:g}" height="{high:g}"/>'
