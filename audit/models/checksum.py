"""The 16-bit check that travels with a transponder code."""

from __future__ import annotations

from typing import Final

__all__ = ["check_bytes", "check_word"]

#: x^16 + x^12 + x^5 + 1 with the lowest bit first.
_POLYNOMIAL: Final = 0x8408
_WORD_BYTES: Final = 8


def _row(byte: int) -> int:
    for _ in range(_WORD_BYTES):
        byte = (byte >> 1) ^ _POLYNOMIAL if byte & 1 else byte >> 1
    return byte


_TABLE: Final = tuple(_row(byte) for byte in range(256))


def check_bytes(data: bytes) -> int:
    """Compute the 16-bit check of bytes, lowest bit first.

    Parameters
    ----------
    data : bytes
        Bytes in the order in which they are sent.

    Returns
    -------
    int
        0 to 65535. Over data followed by its own check, low byte first, it is 0.

    References
    ----------
    ISO 11785:1996, error detection: polynomial x^16 + x^12 + x^5 + 1, start value 0, bits reflected;
    catalogued as CRC-16/KERMIT, check value of ``123456789`` = 2189 hex.

    Examples
    --------
    >>> f"{check_bytes(b'123456789'):04X}"
    '2189'
    """
    state = 0
    for byte in data:
        state = (state >> 8) ^ _TABLE[(state ^ byte) & 0xFF]
    return state


def check_word(word: int) -> int:
    """Compute the check of a 64-bit code word: its eight bytes, lowest first.

    Parameters
    ----------
    word : int
        0 to 2^64 - 1.

    References
    ----------
    ISO 11785:1996: the check covers the 64 bits of the code only, not the trailer.

    Examples
    --------
    >>> f"{check_word(0x8000F9C000000539):04X}"
    '1ED3'
    """
    return check_bytes(word.to_bytes(_WORD_BYTES, "little"))
