"""What happened where a written mass is not what the balance showed: the slips of the hand at a balance.

The kinds are those by which the audit explains the masses of a handling, and a few that only a picture of a
balance can tell.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.practice.weighing_drill.weighing import CELLS

if TYPE_CHECKING:
    from collections.abc import Mapping

    from audit.practice.weighing_drill.balance import Balance
    from audit.practice.weighing_drill.weighing import Weighing

__all__ = ["ASK", "RIGHT", "Verdict", "class_weighing", "number_in"]

#: Outcomes that are no slip: as it should be, a right sum of a wrong reading, left open what nobody weighed.
RIGHT = ("right", "carried", "open")
#: What is written where a mass cannot be known.
ASK = "?"

_NUMBER = re.compile(r"(\d{1,7})(?:[.,](\d{1,3}))?\s*g?")
_TINY = 1e-6
_STEPS = (1, 10, 100)
_SCALES = (("tenfold", 10.0), ("tenfold", 0.1), ("kilograms", 0.001))


@dataclass(frozen=True, slots=True)
class Verdict:
    """What came of one cell.

    Attributes
    ----------
    cell : str
        ``gross``, ``bag`` or ``net``.
    written : str
    kind : str
        ``right``, ``carried`` or the kind of slip.
    also : str
        Another kind that accounts for it as well; empty where there is none.
    """

    cell: str
    written: str
    kind: str
    also: str = ""

    @property
    def is_right(self) -> bool:
        """Whether it is no slip."""
        return self.kind in RIGHT


def number_in(text: str) -> float | None:
    """Read a mass as a person writes it, with point or comma and with or without its unit; else None."""
    found = _NUMBER.fullmatch(text.strip())
    return None if found is None else float(f"{found[1]}.{found[2] or 0}")


def class_weighing(weighing: Weighing, written: Mapping[str, str]) -> tuple[Verdict, ...]:
    """Class what was written of one weighing.

    Parameters
    ----------
    written : mapping of str to str
        Text by cell, ``gross``, ``bag`` and ``net``; a cell that is not there was left empty.

    Returns
    -------
    tuple of Verdict
        One for each cell, in their order.
    """
    texts = {cell: written.get(cell, "").strip() for cell in CELLS}
    values = {cell: number_in(text) for cell, text in texts.items()}
    exchanged = _exchanged(weighing, values)
    gross, bag = values["gross"], values["bag"]
    if exchanged == ("gross", "bag"):
        # in each other's place, and yet subtracted the right way round
        gross, bag = bag, gross
    found: list[Verdict] = []
    for cell in CELLS:
        value = values[cell]
        if cell not in weighing.known:
            kinds = _unknown_kinds(weighing, cell, texts[cell], value)
        elif texts[cell] == ASK:
            kinds = ["asked"]
        elif value is None:
            kinds = ["missing" if not texts[cell] else "not_a_number"]
        elif cell in exchanged:
            kinds = ["exchanged"]
        elif cell == "net" and _is_right_after_all(weighing, value, found):
            kinds = ["right"]
        elif weighing.known == ("net",):
            kinds = ["right"] if abs(value - weighing.net) < _TINY else _of_digits(value, [weighing.net])
            kinds = kinds or ["unknown"]
        elif cell == "net":
            kinds = _net_kinds(weighing, value, gross, bag)
        else:
            kinds = _reading_kinds(weighing, cell, value)
        found.append(Verdict(cell, texts[cell], *kinds[:2]))
    return tuple(found)


def _unknown_kinds(weighing: Weighing, cell: str, text: str, value: float | None) -> list[str]:
    """Class what was written of a mass that cannot be known, since the bag was not weighed."""
    if text in ("", ASK):
        return ["open"]
    if value is None:
        return ["not_a_number"]
    if cell == "gross" and abs(value - weighing.shown) < _TINY:
        return ["tare_unseen"]
    if cell == "net" and abs(value - weighing.gross) <= weighing.near("gross") + _TINY:
        return ["not_subtracted"]
    return ["guessed"]


def _is_right_after_all(weighing: Weighing, value: float, readings: list[Verdict]) -> bool:
    """Tell whether net is right though a reading was written wrongly."""
    slipped = any(not one.is_right for one in readings)
    return slipped and abs(value - weighing.net) <= weighing.near("net") + _TINY


def _exchanged(weighing: Weighing, values: Mapping[str, float | None]) -> tuple[str, ...]:
    """Find the two cells that hold what belongs in each other."""
    if weighing.known != CELLS:
        return ()
    for one, other in (("gross", "bag"), ("gross", "net"), ("bag", "net")):
        first, second = values[one], values[other]
        if first is None or second is None or abs(first - second) < _TINY:
            continue
        crossed = abs(first - weighing.true(other)) <= weighing.near(other) + _TINY and (
            abs(second - weighing.true(one)) <= weighing.near(one) + _TINY
        )
        straight = abs(first - weighing.true(one)) <= weighing.near(one) + _TINY
        if crossed and not straight:
            return one, other
    return ()


def _reading_kinds(weighing: Weighing, cell: str, value: float) -> list[str]:
    balance = weighing.gross_on if cell == "gross" else weighing.bag_on
    true = weighing.true(cell)
    if abs(value - true) <= weighing.near(cell) + _TINY:
        return ["right"]
    if cell == "gross" and weighing.is_tared and abs(value - weighing.shown) < _TINY:
        return ["tare_unseen"]
    kinds = []
    if balance.is_spring:
        kinds += _off_the_scale(balance, true, value)
    kinds += _of_digits(value, _could_be_read(balance, true))
    return kinds or ["unknown"]


def _off_the_scale(balance: Balance, true: float, value: float) -> list[str]:
    """Misread a scale by a mark, by a number, or with the worth of another balance's marks."""
    off, kinds = abs(value - true), []
    if off <= balance.mark + balance.near + _TINY:
        kinds.append("by_a_mark")
    if abs(off - balance.number) <= balance.near + _TINY:
        kinds.append("by_a_number")
    below = true // balance.number * balance.number
    marks = (true - below) / balance.mark
    worths = (0.5, 1.0, 2.0, 5.0, 10.0)
    if any(
        abs(value - below - round(marks) * worth) < _TINY for worth in worths if worth != balance.mark
    ) and round(marks):
        kinds.append("wrong_scale")
    return kinds


def _could_be_read(balance: Balance, true: float) -> list[float]:
    """List what a careful person may have read: whole grams, or tenths on a fine balance."""
    step = 1.0 if balance.decimals == 0 else 0.1
    reach = int(balance.near / step + _TINY)
    return [round(true + step * far, 6) for far in range(-reach, reach + 1)]


def _of_digits(value: float, meant: list[float]) -> list[str]:
    """Slip in writing what was meant: two digits exchanged, one wrong, a point moved, kilograms."""
    kinds = []
    for kind, times in _SCALES:
        if any(abs(value - one * times) < _TINY * 1000 * times for one in meant) and kind not in kinds:
            kinds.append(kind)
    text = f"{value:g}"
    for one in meant:
        other = f"{one:g}"
        if len(text) != len(other):
            continue
        apart = [place for place, (a, b) in enumerate(zip(text, other, strict=True)) if a != b]
        if _are_turned(text, other, apart):
            kinds.append("neighbours")
        elif len(apart) == 1:
            kinds.append("digit")
    order = ("tenfold", "kilograms", "neighbours", "digit")
    return [kind for kind in order if kind in kinds]


def _are_turned(text: str, other: str, apart: list[int]) -> bool:
    """Tell whether two texts differ by two signs that have changed places."""
    return len(apart) == len("ab") and [text[place] for place in apart] == [
        other[place] for place in apart[::-1]
    ]


def _net_kinds(weighing: Weighing, value: float, gross: float | None, bag: float | None) -> list[str]:
    """Class a net by the person's own gross and bag, where they are there, else by the true ones."""
    own_gross = weighing.gross if gross is None else gross
    own_bag = weighing.bag if bag is None else bag
    own = round(own_gross - own_bag, 6)
    room = weighing.near("net") if gross is None or bag is None else 0.0
    if weighing.is_tared:
        if abs(value - weighing.net) < _TINY:
            return ["right"]
        if abs(value - (weighing.shown - own_bag)) < _TINY:
            return ["subtracted_twice"]
    if abs(value - own) <= room + _TINY:
        return ["right" if abs(own - weighing.net) <= weighing.near("net") + _TINY else "carried"]
    for kind, result in (
        ("not_subtracted", own_gross),
        ("subtracted_twice", own_gross - 2 * own_bag),
        ("added", own_gross + own_bag),
    ):
        if abs(value - result) <= room + _TINY:
            return [kind]
    unit = 1.0 if weighing.gross_on.decimals == weighing.bag_on.decimals == 0 else 0.1
    kinds = ["borrow"] if any(abs(abs(value - own) - step * unit) < _TINY for step in _STEPS) else []
    return [*kinds, *_of_digits(value, [own])] or ["sum_wrong"]
