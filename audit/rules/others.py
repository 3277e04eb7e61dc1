"""What else may have been meant in a blamed cell, beside the value suggested."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.rules.plain import plain_text

if TYPE_CHECKING:
    from collections.abc import Iterable

__all__ = ["others_of"]


def others_of(
    candidates: Iterable[tuple[object, float]],
    *,
    suggested: str,
    typed: str,
    room: float,
    least: float,
    most: int,
) -> tuple[tuple[str, float], ...]:
    """Choose the values worth naming beside a suggestion.

    Parameters
    ----------
    candidates : iterable of (value, probability)
        Values that may have been meant; the same value may come more than once, and then its parts add up.
    suggested, typed : str
        What is suggested, and the text in the cell: neither is among the others.
    room : float
        What the others may make together: the probability that the cell is wrong less that of the suggestion.
        Where they make more, all are made smaller by the same factor.
    least : float
        Smallest probability that is named.
    most : int
        How many are named.

    Returns
    -------
    tuple of (str, float)
        Likeliest first.

    Examples
    --------
    >>> told = [(355.0, 0.12), (373.0, 0.8), (375.0, 0.01)]
    >>> others_of(told, suggested="373", typed="395", room=0.19, least=0.02, most=3)
    (('355', 0.12),)
    """
    chances: dict[str, float] = {}
    for value, chance in candidates:
        text = plain_text(value)
        chances[text] = chances.get(text, 0.0) + float(chance)
    known = {"", _bare(suggested), _bare(typed)}
    ranked = [(text, chance) for text, chance in chances.items() if _bare(text) not in known]
    ranked.sort(key=lambda one: (-one[1], one[0]))
    total = sum(chance for _, chance in ranked)
    if room <= 0 or not total > 0:
        return ()
    shrunk = min(1.0, room / total)
    return tuple((text, chance * shrunk) for text, chance in ranked[:most] if chance * shrunk >= least)


def _bare(text: str) -> str:
    """One form for texts that say the same, such as ``20,50`` and ``20.5``."""
    text = text.strip().casefold()
    number = text.replace(",", ".", 1)
    if "." in number and number.replace(".", "", 1).removeprefix("-").isdigit():
        return plain_text(round(float(number), 2))
    return text
