"""Many tags of sixteen hex digits at once: the fifteen digits of those that can be read in one way only."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Final

import numpy as np

from audit.models.iso_code import LARGEST_PRINTED_PREFIX

if TYPE_CHECKING:
    from collections.abc import Sequence

__all__ = ["decimals_of"]

_HEX16 = re.compile(r"[0-9A-F]{16}")
_DIGITS: Final = 16
_NATIONAL: Final = np.uint64((1 << 38) - 1)
_PREFIX_AT, _PREFIX = np.uint64(38), np.uint64((1 << 10) - 1)
_ONE_DIGITS: Final = 12
#: Retagging counter, user information, reserved bits, advanced: none of them is set in a plain word.
_MORE: Final = np.uint64((1 << 63) - (1 << 49))
#: A printed 125 kHz frame begins with nine 1.
_FRAME: Final = np.uint64(((1 << 9) - 1) << 55)
#: Each byte with its bits the other way round.
_TURNED: Final = np.packbits(np.unpackbits(np.arange(256, dtype=np.uint8)).reshape(-1, 8)[:, ::-1])


def decimals_of(texts: Sequence[str]) -> dict[str, str]:
    """Give the fifteen digits of tags that are written as sixteen hex digits.

    Parameters
    ----------
    texts : sequence of str
        Upper-case, without blanks; of any form.

    Returns
    -------
    dict of str to str
        Text to digits, of the texts that are a plain word (no bit set beside animal, data block and number)
        either as it stands or in the order of sending, and in one of the two alone. All others are missing:
        `audit.models.tag_text` tells what they may be.

    References
    ----------
    ISO 11784, as in `audit.models.iso_code`.

    Examples
    --------
    >>> decimals_of(["8000842098B29BA0", "05D94D1904210001", "111,27706"])
    {'8000842098B29BA0': '528140000795552', '05D94D1904210001': '528140000795552'}
    """
    hexed = [text for text in texts if len(text) == _DIGITS and _HEX16.fullmatch(text)]
    if not hexed:
        return {}
    raw = np.frombuffer(bytes.fromhex("".join(hexed)), dtype=np.uint8).reshape(-1, 8)
    left = _words(raw)
    right = _words(_TURNED[raw[:, ::-1]])
    here, there = _plain(left), _plain(right)
    sure = (here ^ there) & ((left & _FRAME) != _FRAME)
    words = np.where(here, left, right)[sure]
    prefixes = ((words >> _PREFIX_AT) & _PREFIX).tolist()
    numbers = (words & _NATIONAL).tolist()
    known = (text for text, one in zip(hexed, sure.tolist(), strict=True) if one)
    return {
        text: f"{prefix:03d}{number:0{_ONE_DIGITS}d}"
        for text, prefix, number in zip(known, prefixes, numbers, strict=True)
    }


def _words(raw: np.ndarray) -> np.ndarray:
    words: np.ndarray = np.ascontiguousarray(raw).view(">u8").reshape(-1).astype(np.uint64)
    return words


def _plain(words: np.ndarray) -> np.ndarray:
    prefix = (words >> _PREFIX_AT) & _PREFIX
    plain: np.ndarray = ((words & _MORE) == 0) & (prefix > 0) & (prefix <= LARGEST_PRINTED_PREFIX)
    return plain
