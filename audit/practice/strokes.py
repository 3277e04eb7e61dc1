"""One wrong stroke in a text: what hand and eye do to a number or a code."""

from __future__ import annotations

import string
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["STROKES", "letter_for_digit", "pick", "wrong_digit"]


def pick(options: Sequence[str], rng: np.random.Generator) -> str:
    """Pick one of several texts; empty when there is none."""
    return options[int(rng.integers(len(options)))] if options else ""


def wrong_digit(text: str, rng: np.random.Generator, swaps: Floats | None = None) -> str:
    """Type one digit wrong.

    Parameters
    ----------
    text : str
        What was meant.
    rng : numpy.random.Generator
        Source of chance.
    swaps : ndarray, shape (10, 10), optional
        Probability of each typed digit (column) given the one meant (row); all wrong digits alike by default.

    Returns
    -------
    str
        The text with another digit in one place; empty where it holds no digit.

    Examples
    --------
    >>> import numpy as np
    >>> wrong_digit("SL-01", np.random.default_rng(1)) != "SL-01"
    True
    """
    places = _digits(text)
    if not places:
        return ""
    i = places[int(rng.integers(len(places)))]
    if swaps is None:
        digit = pick([digit for digit in string.digits if digit != text[i]], rng)
    else:
        digit = string.digits[int(rng.choice(len(string.digits), p=swaps[int(text[i])]))]
    return text[:i] + digit + text[i + 1 :]


def letter_for_digit(text: str, rng: np.random.Generator, letters: Mapping[str, str]) -> str:
    """Type a letter for a digit.

    Parameters
    ----------
    letters : mapping of str to str
        Letter -> digit that it is taken for.
    """
    options = [
        text[:i] + letter + text[i + 1 :]
        for i in _digits(text)
        for letter, digit in letters.items()
        if digit == text[i] and letter.isalpha() and letter.isupper()
    ]
    return pick(options, rng)


def _digits(text: str) -> list[int]:
    return [i for i, sign in enumerate(text) if sign in string.digits]


def _pairs(text: str, apart: int = 1) -> list[int]:
    """Places of digits that have another digit so many signs further on, with digits all between."""
    known = set(_digits(text))
    return [i for i in sorted(known) if all(i + step in known for step in range(1, apart + 1))]


def _neighbours(text: str, rng: np.random.Generator) -> str:
    options = [
        text[:i] + text[i + 1] + text[i] + text[i + 2 :] for i in _pairs(text) if text[i] != text[i + 1]
    ]
    return pick(options, rng)


def _dropped(text: str, rng: np.random.Generator) -> str:
    return pick([text[:i] + text[i + 1 :] for i in _digits(text)], rng)


def _doubled(text: str, rng: np.random.Generator) -> str:
    return pick([text[: i + 1] + text[i:] for i in _digits(text)], rng)


def _extra(text: str, rng: np.random.Generator) -> str:
    options = [
        text[:i] + digit + text[i:] for i in _digits(text) for digit in string.digits if digit != text[i]
    ]
    return pick(options, rng)


def _jump(text: str, rng: np.random.Generator) -> str:
    options = [
        text[:i] + text[i + 2] + text[i + 1] + text[i] + text[i + 2 + 1 :]
        for i in _pairs(text, 2)
        if text[i] != text[i + 2]
    ]
    return pick(options, rng)


def _twin(text: str, rng: np.random.Generator) -> str:
    options = [
        text[:i] + digit * 2 + text[i + 2 :]
        for i in _pairs(text)
        if text[i] == text[i + 1]
        for digit in string.digits
        if digit != text[i]
    ]
    return pick(options, rng)


def _jump_twin(text: str, rng: np.random.Generator) -> str:
    options = [
        text[:i] + digit + text[i + 1] + digit + text[i + 2 + 1 :]
        for i in _pairs(text, 2)
        if text[i] == text[i + 2]
        for digit in string.digits
        if digit not in (text[i], text[i + 1])
    ]
    return pick(options, rng)


def _phonetic(text: str, rng: np.random.Generator) -> str:
    """Hear thirteen for thirty, or the other way round."""
    options = []
    for i in _pairs(text):
        first, second = text[i], text[i + 1]
        if second == "0" and first not in "01":
            options.append(text[:i] + "1" + first + text[i + 2 :])
        elif first == "1" and second not in "01":
            options.append(text[:i] + second + "0" + text[i + 2 :])
    return pick(options, rng)


def _two_edits(text: str, rng: np.random.Generator) -> str:
    """Make two of the common strokes, one after the other."""
    strokes = (wrong_digit, _neighbours, _dropped, _doubled, _extra)
    for _ in range(2):
        text = strokes[int(rng.integers(len(strokes)))](text, rng)
    return text


#: Slips of the hand in one text: each gives the wrong text, empty where the text has no room for the slip.
#:
#: References: Verhoeff, J. (1969). Error detecting decimal codes. Mathematical Centre Tract 29: single
#: digits, neighbours, jumps (acb for bca), twins (aa for bb), jump twins (aca for bcb) and phonetic slips (a0
#: and 1a).
STROKES: Mapping[str, Callable[[str, np.random.Generator], str]] = {
    "digit": wrong_digit,
    "neighbours": _neighbours,
    "dropped": _dropped,
    "doubled": _doubled,
    "extra": _extra,
    "jump": _jump,
    "twin": _twin,
    "jump_twin": _jump_twin,
    "phonetic": _phonetic,
    "two_edits": _two_edits,
}
