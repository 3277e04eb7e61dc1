"""The 64-bit code of an animal transponder (ISO 11784), how it is written, and the telegram it is sent in."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

from audit.models.checksum import check_word

__all__ = [
    "LARGEST_NATIONAL",
    "LARGEST_PRINTED_PREFIX",
    "IsoCode",
    "Telegram",
    "mirror",
    "read_decimal",
    "read_dot_hex",
    "read_hex16",
    "read_telegram",
    "read_word",
    "send_telegram",
]

_NATIONAL_BITS: Final = 38
LARGEST_NATIONAL: Final = (1 << _NATIONAL_BITS) - 1
#: Ten bits hold 0 to 1023, but only three digits are printed.
LARGEST_PRINTED_PREFIX: Final = 999

_WIDTHS: Final = {"retagging": 3, "user": 5, "reserved": 5, "prefix": 10, "national": _NATIONAL_BITS}
_SHIFTS: Final = {
    "animal": 63,
    "retagging": 60,
    "user": 55,
    "reserved": 50,
    "advanced": 49,
    "data_block": 48,
    "prefix": 38,
    "national": 0,
}
_PREFIX_DIGITS: Final = 3
_NATIONAL_DIGITS: Final = 12
_WORD_BITS: Final = 64

_DECIMAL = re.compile(r"[0-9]{15}")
_DOT_HEX = re.compile(r"([0-9A-F]{3})\.([0-9A-F]{10})")
_HEX16 = re.compile(r"[0-9A-F]{16}")


@dataclass(frozen=True, slots=True)
class IsoCode:
    """The fields of a 64-bit code word.

    Attributes
    ----------
    prefix : int
        Country or manufacturer code, 0 to 1023 (10 bits; 0 to 999 can be printed).
    national : int
        National identification code, 0 to 274,877,906,943 (38 bits).
    animal : bool
        On an animal.
    retagging : int
        How often the tag was replaced under the same number, 0 to 7.
    user : int
        User information, 0 to 31.
    reserved : int
        Five bits that are expected to be 0.
    advanced : bool
        Points to an advanced transponder.
    data_block : bool
        The trailer of the telegram holds data.

    Raises
    ------
    ValueError
        A field does not fit its bits.

    References
    ----------
    ISO 11784: bit 1 is the most significant and is sent last; bits 17-26 hold the country code, bits 27-64
    the national identification code.
    """

    prefix: int
    national: int
    animal: bool = True
    retagging: int = 0
    user: int = 0
    reserved: int = 0
    advanced: bool = False
    data_block: bool = False

    def __post_init__(self) -> None:
        """Refuse a field that does not fit its bits."""
        for name, width in _WIDTHS.items():
            value = getattr(self, name)
            if not 0 <= value < 1 << width:
                raise ValueError(f"{name} {value} does not fit {width} bits")

    @property
    def word(self) -> int:
        """The 64 bits as one number."""
        return sum(int(getattr(self, name)) << shift for name, shift in _SHIFTS.items())

    @property
    def decimal(self) -> str:
        """Fifteen digits: three of the prefix, twelve of the national code."""
        return f"{self.prefix:0{_PREFIX_DIGITS}d}{self.national:0{_NATIONAL_DIGITS}d}"

    @property
    def dot_hex(self) -> str:
        """Three hex digits, a dot, ten hex digits."""
        return f"{self.prefix:03X}.{self.national:010X}"

    @property
    def left(self) -> str:
        """Sixteen hex digits of the word, most significant first."""
        return f"{self.word:016X}"

    @property
    def right(self) -> str:
        """Sixteen hex digits in the order in which the bits are sent: the whole word mirrored."""
        return f"{mirror(self.word):016X}"

    @property
    def check(self) -> int:
        """The 16-bit check that is sent after the word."""
        return check_word(self.word)

    @property
    def plain(self) -> bool:
        """Whether no bit is set beside the animal bit, the data block bit and the number itself."""
        return not (self.retagging or self.user or self.reserved or self.advanced)


def mirror(word: int, bits: int = _WORD_BITS) -> int:
    """Reverse the order of the bits.

    Examples
    --------
    >>> f"{mirror(0x8000842098B29BA0):016X}"
    '05D94D1904210001'
    """
    return int(f"{word:0{bits}b}"[::-1], 2)


def read_word(word: int) -> IsoCode:
    """Split a 64-bit word into its fields.

    Examples
    --------
    >>> read_word(0x8000842098B29BA0).decimal
    '528140000795552'
    """

    def field(name: str) -> int:
        return word >> _SHIFTS[name] & (1 << _WIDTHS.get(name, 1)) - 1

    return IsoCode(
        prefix=field("prefix"),
        national=field("national"),
        animal=bool(field("animal")),
        retagging=field("retagging"),
        user=field("user"),
        reserved=field("reserved"),
        advanced=bool(field("advanced")),
        data_block=bool(field("data_block")),
    )


def read_decimal(text: str) -> IsoCode | None:
    """Read fifteen digits; None when the form is another or the number does not fit 38 bits.

    The digits do not tell the flags: an animal tag without extras is assumed.
    """
    if not _DECIMAL.fullmatch(text):
        return None
    national = int(text[_PREFIX_DIGITS:])
    return IsoCode(int(text[:_PREFIX_DIGITS]), national) if national <= LARGEST_NATIONAL else None


def read_dot_hex(text: str) -> IsoCode | None:
    """Read three hex digits, a dot and ten hex digits; None when it is not that or too large."""
    match = _DOT_HEX.fullmatch(text)
    if match is None:
        return None
    prefix, national = int(match[1], 16), int(match[2], 16)
    if prefix > LARGEST_PRINTED_PREFIX or national > LARGEST_NATIONAL:
        return None
    return IsoCode(prefix, national)


def read_hex16(text: str) -> tuple[tuple[str, IsoCode], ...]:
    """Read sixteen hex digits both ways and keep what makes sense.

    Returns
    -------
    tuple of (str, IsoCode)
        ``left`` (the word) and ``right`` (the order on air), as far as the reserved bits are 0 and the
        prefix is 1 to 999. Where both ways make sense, the one without retagging counter and other extras is
        kept; where that does not decide, both.

    Examples
    --------
    >>> [(way, code.decimal) for way, code in read_hex16("05D94D1904210001")]
    [('right', '528140000795552')]
    """
    if not _HEX16.fullmatch(text):
        return ()
    word = int(text, 16)
    ways = [("left", read_word(word)), ("right", read_word(mirror(word)))]
    sensible = [
        (way, code) for way, code in ways if not code.reserved and 0 < code.prefix <= LARGEST_PRINTED_PREFIX
    ]
    plain = [(way, code) for way, code in sensible if code.plain]
    return tuple(plain or sensible)


@dataclass(frozen=True, slots=True)
class Telegram:
    """What a tag sends: the code, and 24 further bits that the check does not cover."""

    code: IsoCode
    trailer: int = 0


_HEADER: Final = "00000000001"
_GROUP: Final = 8
_CHECK_BITS: Final = 16
_TRAILER_BITS: Final = 24
_TELEGRAM_BITS: Final = 128


def send_telegram(telegram: Telegram) -> int:
    """Write the 128 bits of a full-duplex telegram, first bit sent = most significant.

    Returns
    -------
    int
        Header of ten 0 and a 1; word, check and trailer lowest bit first; a 1 after every eight bits.

    References
    ----------
    ISO 11785:1996, full-duplex system (FDX-B): 11 + 13 x (8 + 1) = 128 bits.
    """
    word = telegram.code.word
    body = "".join(
        f"{value:0{bits}b}"[::-1]
        for value, bits in (
            (word, _WORD_BITS),
            (check_word(word), _CHECK_BITS),
            (telegram.trailer, _TRAILER_BITS),
        )
    )
    groups = (body[i : i + _GROUP] + "1" for i in range(0, len(body), _GROUP))
    return int(_HEADER + "".join(groups), 2)


def read_telegram(bits: int) -> Telegram:
    """Read the 128 bits of a full-duplex telegram.

    Raises
    ------
    ValueError
        Header, control bits or check do not hold.

    References
    ----------
    As for `send_telegram`.
    """
    text = f"{bits:0{_TELEGRAM_BITS}b}"
    if not text.startswith(_HEADER) or len(text) != _TELEGRAM_BITS:
        raise ValueError("the header is not ten 0 and a 1")
    rest = text[len(_HEADER) :]
    groups = [rest[i : i + _GROUP + 1] for i in range(0, len(rest), _GROUP + 1)]
    if any(group[-1] != "1" for group in groups):
        raise ValueError("a control bit is 0")
    body = "".join(group[:-1] for group in groups)
    word, check, trailer = (
        int(part[::-1], 2)
        for part in (
            body[:_WORD_BITS],
            body[_WORD_BITS : _WORD_BITS + _CHECK_BITS],
            body[_WORD_BITS + _CHECK_BITS :],
        )
    )
    if check != check_word(word):
        raise ValueError(f"the check is {check:04X}, it should be {check_word(word):04X}")
    return Telegram(read_word(word), trailer)
