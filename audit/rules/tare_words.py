"""Sentences about gross, bag and net that do not agree."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.models.written_number import typed_unit
from audit.rules.plain import plain_text

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["BAG", "BAG_SLIPS", "GROSS", "HOW", "MASS_NAMES", "NET", "broken_words", "sum_says"]

MASS_NAMES = ("gross", "bag", "net")
GROSS, BAG, NET = range(len(MASS_NAMES))

BAG_SLIPS = {
    "not_subtracted": "the bag was not subtracted",
    "subtracted_twice": "the bag was subtracted twice",
    "added": "the bag was added instead of subtracted",
}

HOW = {
    "digit": "one digit is wrong",
    "neighbours": "two neighbouring digits are exchanged",
    "dropped": "a digit is missing",
    "extra": "there is a digit too many",
    "jump": "two digits are mixed up",
    "twin": "two digits are mixed up",
    "jump_twin": "two digits are mixed up",
    "phonetic": "two digits are mixed up",
    "copied": "it repeats the row above",
}


def broken_words(
    typed: Floats, best: str, cells: list[int], kinds: list[str], implied: Floats
) -> tuple[str, str]:
    """Say why the sum of one bird does not come out.

    Parameters
    ----------
    typed, implied : numpy.ndarray, shape (3,)
        Gross, bag and net as typed, and what each would be by the other two, g.
    best : str
        The likeliest cause, of `CAUSES`.
    cells : list of int
        Which are blamed, the likeliest first.
    kinds : list of str
        The likeliest slip in each of the three.

    Returns
    -------
    tuple of str
        Outcome of the rule, and the sentence.
    """
    says = sum_says(typed)
    gross, bag, net = (plain_text(value) for value in typed)
    if best in BAG_SLIPS:
        return best, f"{says}: {BAG_SLIPS[best]}."
    if best == "gross_net_exchanged":
        return (
            "exchanged",
            f"Gross {gross} g and bag {bag} g add up to net {net} g: gross and net are exchanged.",
        )
    if best == "gross_bag_exchanged":
        return "exchanged", f"Bag {bag} g less gross {gross} g is net {net} g: gross and bag are exchanged."
    if best == "bird_kilograms":
        return "unit", f"Gross {gross} and net {net} look like kilograms beside a bag of {bag} g."
    first = cells[0]
    value = plain_text(implied[first])
    name, kind = MASS_NAMES[first], kinds[first]
    if len(cells) > 1:
        options = [f"{MASS_NAMES[cell]} {plain_text(implied[cell])} g" for cell in cells if implied[cell] > 0]
        return "arithmetic", f"{says}: it would be right with {' or '.join(options)}."
    if kind == "tenfold":
        return "decimal", f"{says}: the decimal point of {name} slipped, {value} g would be right."
    if kind == "kilograms":
        return "unit", f"{says}: {name} looks like kilograms, {value} g would be right."
    how = f" ({HOW[kind]})" if kind in HOW else ""
    if implied[first] < 0 or (implied[first] == 0 and first != BAG):
        return "arithmetic", f"{says}: {name} is wrong."
    return "arithmetic", f"{says}: {name} was probably meant to be {value} g{how}."


def sum_says(typed: Floats) -> str:
    """Say that a sum does not come out: ``Gross 395 g less bag 22 g is 373 g, but net says 395 g``."""
    gross, bag, net = (plain_text(value) for value in typed)
    unit = typed_unit(*(np.array([value]) for value in typed))[0]
    difference = plain_text(round((typed[GROSS] - typed[BAG]) / unit) * unit)
    return f"Gross {gross} g less bag {bag} g is {difference} g, but net says {net} g"
