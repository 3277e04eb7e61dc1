"""Slips of the hand in short codes: which texts are one slip apart."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator

__all__ = [
    "RARE_KINDS",
    "SlipIndex",
    "edits_between",
    "forerunners",
    "one_slip_apart",
    "pattern_of",
    "rare_slip",
    "spoken_alike",
]

#: Slips of two characters that are still one movement of eye or hand.
RARE_KINDS: tuple[str, ...] = ("jump", "twin", "jump_twin", "phonetic")


def one_slip_apart(meant: str, typed: str) -> str:
    """Name the single slip that turns one text into another.

    Parameters
    ----------
    meant : str
        What stood on the ring, tag or box.
    typed : str
        What was typed.

    Returns
    -------
    str
        ``changed`` (one character for another), ``exchanged`` (two neighbours), ``dropped`` (one
        character too few), ``doubled`` (one character typed twice), ``added`` (one other character too
        many); empty when the texts are equal or more than one slip apart.

    References
    ----------
    Damerau, F. J. (1964). A technique for computer detection and correction of spelling errors.
    Communications of the ACM 7(3), 171-176: the four kinds of single slip; here in the restricted form.

    Examples
    --------
    >>> one_slip_apart("SV01236", "SV01263"), one_slip_apart("SV01236", "SV0126"), one_slip_apart("A1", "B2")
    ('exchanged', 'dropped', '')
    """
    longer = len(typed) - len(meant)
    if abs(longer) > 1 or meant == typed:
        return ""
    shared = min(len(meant), len(typed))
    i = 0
    while i < shared and meant[i] == typed[i]:
        i += 1
    if longer == 1:
        if meant[i:] != typed[i + 1 :]:
            return ""
        return "doubled" if i > 0 and typed[i] == typed[i - 1] else "added"
    if longer == -1:
        return "dropped" if meant[i + 1 :] == typed[i:] else ""
    if meant[i + 1 :] == typed[i + 1 :]:
        return "changed"
    turned = meant[i + 1 : i + 2] + meant[i : i + 1] + meant[i + 2 :]
    return "exchanged" if turned == typed[i:] else ""


def rare_slip(meant: str, typed: str) -> str:
    """Name a rarer slip of two characters, one of `RARE_KINDS`; empty when it is none.

    They are ``jump`` (acb for bca), ``twin`` (aa for bb), ``jump_twin`` (aca for bcb), ``phonetic`` (a0, 1a).

    References
    ----------
    Verhoeff, J. (1969). Error detecting decimal codes. Mathematical Centre Tract 29: jump transpositions,
    twin and phonetic errors are each 0.5 to 1.5 % of the errors in decimal codes, jump twins below 1 %.

    Examples
    --------
    >>> rare_slip("SV01236", "SV03216"), rare_slip("SV01133", "SV01144"), rare_slip("SV01236", "SV01263")
    ('jump', 'twin', '')
    >>> rare_slip("SV01313", "SV01414"), rare_slip("SV01330", "SV01313")
    ('jump_twin', 'phonetic')
    """
    if len(meant) != len(typed):
        return ""
    apart = [i for i, (m, t) in enumerate(zip(meant, typed, strict=True)) if m != t]
    if len(apart) != len("ab"):
        return ""
    i, j = apart
    kind = pattern_of(meant[i] + meant[j], typed[i] + typed[j], j - i)
    return kind if kind in RARE_KINDS else ""


def pattern_of(meant: str, typed: str, step: int) -> str:
    """Name the slip that turns two characters, `step` places apart, into two others; empty where it is none.

    Examples
    --------
    >>> pattern_of("36", "63", 1), pattern_of("36", "63", 2), pattern_of("33", "44", 2)
    ('neighbours', 'jump', 'jump_twin')
    """
    if step > len("ab"):
        return ""
    if typed == meant[::-1]:
        return "neighbours" if step == 1 else "jump"
    if meant[0] == meant[1] and typed[0] == typed[1]:
        return "twin" if step == 1 else "jump_twin"
    return "phonetic" if step == 1 and spoken_alike(meant, typed) else ""


def spoken_alike(one: str, other: str) -> bool:
    """Whether two pairs of digits are a ten and its teen.

    Examples
    --------
    >>> spoken_alike("30", "13"), spoken_alike("15", "50"), spoken_alike("10", "11")
    (True, True, False)
    """
    tens, teen = sorted((one, other), key=lambda pair: pair[0] == "1")
    return tens[0] in "23456789" and tens[1] == "0" and teen == f"1{tens[0]}"


def forerunners(typed: str, signs: str) -> set[str]:
    """List the codes that one slip of the hand may have turned into what was typed.

    Parameters
    ----------
    typed : str
        What was typed.
    signs : str
        Signs of which such codes are made.

    Returns
    -------
    set of str
        Without what was typed: one sign changed, lost or added, two neighbours exchanged, and the rarer slips
        of `rare_slip`.

    Examples
    --------
    >>> sorted(forerunners("12", "12")), "30" in forerunners("13", "0123456789")
    (['1', '11', '112', '121', '122', '2', '20', '21', '212', '22'], True)
    """
    n = len(typed)
    found = {typed[:i] + sign + typed[i:] for i in range(n + 1) for sign in signs}
    for i in range(n):
        found |= {typed[:i] + sign + typed[i + 1 :] for sign in signs}
        found.add(typed[:i] + typed[i + 1 :])
    for step in (1, 2):
        for i in range(n - step):
            j = i + step
            found.add(typed[:i] + typed[j] + typed[i + 1 : j] + typed[i] + typed[j + 1 :])
            if typed[i] == typed[j]:
                found |= {typed[:i] + sign + typed[i + 1 : j] + sign + typed[j + 1 :] for sign in signs}
    for i in range(n - 1):
        pair = typed[i : i + 2]
        found |= {
            typed[:i] + other + typed[i + 2 :]
            for other in (f"{pair[1]}0", f"1{pair[0]}")
            if spoken_alike(other, pair)
        }
    return found - {typed}


def edits_between(one: str, other: str, most: int) -> int:
    """Count the signs to change, take away or put in, and neighbours to exchange, from one text to another.

    Parameters
    ----------
    most : int
        Larger counts are given as ``most + 1``.

    References
    ----------
    Damerau, F. J. (1964), as for `one_slip_apart`; the table is of Wagner, R. A. & Fischer, M. J. (1974).
    The string-to-string correction problem. Journal of the ACM 21(1), 168-173.

    Examples
    --------
    >>> edits_between("12345", "1345", 2), edits_between("12345", "21354", 2), edits_between("1", "2345", 2)
    (1, 2, 3)
    """
    if abs(len(one) - len(other)) > most:
        return most + 1
    beyond = most + 1
    last: list[int] = []
    before: list[int] = []
    row = [min(j, beyond) for j in range(len(other) + 1)]
    for i, sign in enumerate(one, 1):
        last, before, row = before, row, [beyond] * (len(other) + 1)
        row[0] = min(i, beyond)
        # cells further from the diagonal cost too much
        for j in range(max(1, i - most), min(len(other), i + most) + 1):
            cost = before[j - 1] if sign == other[j - 1] else 1 + min(before[j], row[j - 1], before[j - 1])
            if i > 1 and j > 1 and sign == other[j - 2] and one[i - 2] == other[j - 1]:
                cost = min(cost, last[j - 2] + 1)
            row[j] = cost
        if min(row) >= beyond:
            return beyond
    return min(row[-1], beyond)


@dataclass(frozen=True, slots=True)
class SlipIndex:
    """Known texts, filed so that those one slip away from any text are found without reading them all.

    Parameters
    ----------
    texts : collection of str
        The known texts.

    Notes
    -----
    Every known text is filed under each form that lacks one of its characters. Two texts one slip apart share
    such a form, or one is such a form of the other; the candidates are then checked with `one_slip_apart`.
    """

    texts: Collection[str]
    _filed: dict[str, tuple[str, ...]] = field(default_factory=dict, init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """File the known texts."""
        filed: dict[str, list[str]] = {}
        for text in dict.fromkeys(self.texts):
            for form in _forms(text):
                filed.setdefault(form, []).append(text)
        for form, texts in filed.items():
            self._filed[form] = tuple(texts)

    def near(self, text: str) -> list[str]:
        """List the known texts one slip away from a text, sorted; the text itself is never among them."""
        found = {known for form in _forms(text) for known in self._filed.get(form, ())}
        return sorted(known for known in found if one_slip_apart(known, text))


def _forms(text: str) -> Iterator[str]:
    yield text
    yield from _shortened(text)


def _shortened(text: str) -> Iterable[str]:
    # a set: taking either of two equal neighbours away gives the same form
    return {text[:i] + text[i + 1 :] for i in range(len(text))}
