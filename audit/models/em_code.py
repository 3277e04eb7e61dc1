"""The 40-bit code of a read-only 125 kHz tag, the many ways it is printed, and the frame it is sent in."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Callable

__all__ = ["ALL_BITS", "PRINTED", "EmCode", "Printed", "read_frame"]

_CODE_BITS: Final = 40
ALL_BITS: Final = (1 << _CODE_BITS) - 1
_LOW_32: Final = 0xFFFFFFFF
_LOW_24: Final = 0xFFFFFF
_LOW_16: Final = 0xFFFF
_LOW_8: Final = 0xFF
_VERSION: Final = 32

_HEADER: Final = "1" * 9
_ROWS: Final = 10
_ROW_BITS: Final = 4
_FRAME_BITS: Final = 64


@dataclass(frozen=True, slots=True)
class EmCode:
    """The 40 bits of a read-only tag: 8 bits of version or customer, 32 bits of number.

    Raises
    ------
    ValueError
        The number does not fit 40 bits.

    References
    ----------
    Layout and parity of EM4100-type tags as in open decoders and makers' manuals: nine 1, ten rows of four
    bits with even parity, four bits of even column parity, a 0.
    """

    value: int

    def __post_init__(self) -> None:
        """Refuse a number that does not fit."""
        if not 0 <= self.value <= ALL_BITS:
            raise ValueError(f"{self.value} does not fit {_CODE_BITS} bits")

    @property
    def hex(self) -> str:
        """Ten hex digits: the whole code."""
        return f"{self.value:010X}"

    @property
    def mirrored(self) -> str:
        """Ten hex digits with the bits of every byte reversed, as some readers print them."""
        return "".join(f"{int(f'{byte:08b}'[::-1], 2):02X}" for byte in self.value.to_bytes(5, "big"))

    @property
    def frame(self) -> int:
        """The 64 bits as sent: header, rows with parity, column parity, stop bit."""
        digits = [int(digit, 16) for digit in self.hex]
        rows = "".join(f"{digit:04b}{digit.bit_count() & 1}" for digit in digits)
        columns = 0
        for digit in digits:
            columns ^= digit
        return int(f"{_HEADER}{rows}{columns:04b}0", 2)


def read_frame(frame: int) -> EmCode:
    """Read the 64 bits of a frame.

    Raises
    ------
    ValueError
        Header, stop bit, or the parity of a row or a column does not hold.

    References
    ----------
    As for `EmCode`. Every change of one or two bits is seen; a random frame passes about once in 16,000.
    """
    text = f"{frame:0{_FRAME_BITS}b}"
    if len(text) != _FRAME_BITS or not text.startswith(_HEADER):
        raise ValueError("the header is not nine 1")
    if text[-1] != "0":
        raise ValueError("the stop bit is not 0")
    body = text[len(_HEADER) : -1]
    width = _ROW_BITS + 1
    columns = int(body[_ROWS * width :], 2)
    value = 0
    for number in range(_ROWS):
        row = body[number * width : (number + 1) * width]
        if row.count("1") % 2:
            raise ValueError(f"the parity of row {number + 1} does not hold")
        digit = int(row[:_ROW_BITS], 2)
        columns ^= digit
        value = value << _ROW_BITS | digit
    if columns:
        raise ValueError("the parity of a column does not hold")
    return EmCode(value)


@dataclass(frozen=True, slots=True)
class Printed:
    """One way in which the 40 bits are printed.

    Attributes
    ----------
    slug : str
        Name of the format in the declarations.
    known : int
        Mask of the bits that the print tells; the others are lost.
    write : callable
        40 bits to text.
    read : callable
        Text to bits (those outside `known` are 0), or None when the form is another or the number
        too large.
    """

    slug: str
    known: int
    write: Callable[[int], str]
    read: Callable[[str], int | None]


def _digits(slug: str, known: int, width: int) -> Printed:
    form = re.compile(rf"[0-9]{{{width}}}")

    def write(value: int) -> str:
        return f"{value & known:0{width}d}"

    def read(text: str) -> int | None:
        if not form.fullmatch(text):
            return None
        number = int(text)
        return number if number <= known else None

    return Printed(slug, known, write, read)


def _two_numbers(slug: str, mark: str, shift: int, high: int, width: int) -> Printed:
    """Print some bits above bit 16 and the lowest 16 bits as two decimal numbers with a mark between."""
    form = re.compile(rf"([0-9]{{{width}}}){re.escape(mark)}([0-9]{{5}})")

    def write(value: int) -> str:
        return f"{value >> shift & high:0{width}d}{mark}{value & _LOW_16:05d}"

    def read(text: str) -> int | None:
        match = form.fullmatch(text)
        if match is None:
            return None
        above, below = int(match[1]), int(match[2])
        return above << shift | below if above <= high and below <= _LOW_16 else None

    return Printed(slug, high << shift | _LOW_16, write, read)


def _ten_hex() -> Printed:
    form = re.compile(r"[0-9A-F]{10}")
    return Printed(
        "em_hex",
        ALL_BITS,
        lambda value: f"{value:010X}",
        lambda text: int(text, 16) if form.fullmatch(text) else None,
    )


#: Byte-wise mirrored hex is missing here: its form cannot be told from plain hex.
PRINTED: Final[tuple[Printed, ...]] = (
    _ten_hex(),
    _digits("em_13_digits", ALL_BITS, 13),
    _digits("em_14_digits", ALL_BITS, 14),
    _digits("em_10_digits", _LOW_32, 10),
    _digits("em_8_digits", _LOW_24, 8),
    _two_numbers("em_3_comma_5", ",", 16, _LOW_8, 3),
    _two_numbers("em_5_comma_5", ",", 16, _LOW_16, 5),
    _two_numbers("em_3_dot_5", ".", _VERSION, _LOW_8, 3),
)
