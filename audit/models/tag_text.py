"""What kind of tag code a text is, and one comparable key for all ways of writing the same tag."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Final, Literal

from audit.models.em_code import ALL_BITS, PRINTED, EmCode, read_frame
from audit.models.iso_code import IsoCode, read_decimal, read_dot_hex, read_hex16, read_telegram

if TYPE_CHECKING:
    from collections.abc import Iterable

__all__ = ["TagReading", "bits_lost", "canonical", "comparable", "complete", "recognise", "write"]

_DECIMAL_LENGTH: Final = 15
_WORD_LENGTH: Final = 16
_TELEGRAM_LENGTH: Final = 32
_PRINTED: Final = {printed.slug: printed for printed in PRINTED}


@dataclass(frozen=True, slots=True)
class TagReading:
    """One way in which a text can be understood as a tag code.

    Attributes
    ----------
    slug : str
        Name of the format.
    family : {'iso', 'em'}
        Which kind of tag.
    iso : IsoCode or None
        The code, for an ISO tag.
    value, known : int
        For a 125 kHz tag: the 40 bits, and the mask of those that the text tells.
    """

    slug: str
    family: Literal["iso", "em"]
    iso: IsoCode | None = None
    value: int = 0
    known: int = ALL_BITS

    @property
    def key(self) -> str | None:
        """Fifteen digits for an ISO tag, ten hex digits for a 125 kHz tag, None where bits are lost."""
        if self.iso is not None:
            return self.iso.decimal
        return f"{self.value:010X}" if self.known == ALL_BITS else None


@lru_cache(maxsize=1 << 16)
def recognise(text: str) -> tuple[TagReading, ...]:
    """List the ways in which a text can be understood as a tag code.

    Parameters
    ----------
    text : str
        Upper-case, without blanks.

    Returns
    -------
    tuple of TagReading
        Empty when the text has no known form; several when the form does not decide: ten digits may be
        ten hex digits or the low 32 bits in decimal. Fifteen digits beyond 38 bits are no code.

    Examples
    --------
    >>> [reading.slug for reading in recognise("0040856634")]
    ['em_hex', 'em_10_digits']
    """
    length = len(text)
    if length == _DECIMAL_LENGTH and text.isascii() and text.isdigit():
        code = read_decimal(text)
        return (TagReading("iso_decimal", "iso", code),) if code else ()
    found: list[TagReading] = []
    dotted = read_dot_hex(text)
    if dotted:
        found.append(TagReading("iso_dot_hex", "iso", dotted))
    if length == _WORD_LENGTH:
        frame = _frame(text)
        # Fourteen parity bits that hold are stronger than a code word with a retagging counter and more.
        found += frame
        found += [
            TagReading(f"iso_hex_{way}", "iso", code)
            for way, code in read_hex16(text)
            if code.plain or not frame
        ]
    elif length == _TELEGRAM_LENGTH:
        found += _telegram(text)
    for printed in PRINTED:
        value = printed.read(text)
        if value is not None:
            found.append(TagReading(printed.slug, "em", value=value, known=printed.known))
    return tuple(found)


def _frame(text: str) -> list[TagReading]:
    try:
        return [TagReading("em_frame", "em", value=read_frame(int(text, 16)).value)]
    except ValueError:
        return []


def _telegram(text: str) -> list[TagReading]:
    try:
        return [TagReading("iso_telegram", "iso", read_telegram(int(text, 16)).code)]
    except ValueError:
        return []


def _preferred(text: str, prefer: str | None) -> tuple[TagReading, ...]:
    readings = recognise(text)
    return tuple(reading for reading in readings if reading.slug == prefer) or readings


@lru_cache(maxsize=1 << 16)
def canonical(text: str, prefer: str | None = None) -> str | None:
    """Give one key for all ways of writing the same tag.

    Parameters
    ----------
    text : str
        Upper-case, without blanks.
    prefer : str, optional
        Format that decides where the form alone does not, such as the one most used in a season.

    Returns
    -------
    str or None
        Fifteen digits for an ISO tag, ten hex digits for a 125 kHz tag; None when the text has no known form,
        has two meanings, or does not tell the whole code.

    Examples
    --------
    >>> canonical("210.2098B29BA0"), canonical("0004335823930"), canonical("111,27706")
    ('528140000795552', '01026F6C3A', None)
    """
    readings = _preferred(text, prefer)
    keys = {reading.key for reading in readings}
    return keys.pop() if len(keys) == 1 else None


def comparable(text: str, prefer: str | None = None) -> str:
    """Give a key for comparing tags inside one season: the canonical one, or the text itself."""
    return canonical(text, prefer) or text


def bits_lost(slug: str) -> int:
    """Count the bits of a 125 kHz code that a way of writing it does not tell.

    Examples
    --------
    >>> bits_lost("em_10_digits"), bits_lost("em_3_comma_5")
    (8, 16)
    """
    printed = _PRINTED.get(slug)
    return (ALL_BITS & ~printed.known).bit_count() if printed else 0


def complete(texts: Iterable[str], known: Iterable[str], prefer: str | None = None) -> dict[str, str]:
    """Complete short prints from known tags.

    Parameters
    ----------
    texts : iterable of str
        Texts that may be short prints.
    known : iterable of str
        Known tags in any writing; those that do not tell the whole code are passed over.
    prefer : str, optional
        As for `canonical`.

    Returns
    -------
    dict of str to str
        Text to the canonical key of the only known tag that agrees with it; texts with none or several are
        missing.

    Examples
    --------
    >>> complete(["111,27706"], ["01026F6C3A", "4B00423C15"])
    {'111,27706': '01026F6C3A'}
    """
    whole = {
        int(key, 16): key for other in known if (key := canonical(other)) and _PRINTED["em_hex"].read(key)
    }
    filed: dict[int, dict[int, set[str]]] = {}
    found = {}
    for text in texts:
        keys: set[str] = set()
        for reading in _preferred(text, prefer):
            if reading.family != "em" or reading.known == ALL_BITS:
                continue
            if reading.known not in filed:
                by_part = filed[reading.known] = {}
                for value, key in whole.items():
                    by_part.setdefault(value & reading.known, set()).add(key)
            keys |= filed[reading.known].get(reading.value, set())
        if len(keys) == 1:
            found[text] = keys.pop()
    return found


def write(key: str, slug: str) -> str | None:
    """Write a canonical key in another format; None when that format is of the other family or unknown.

    Examples
    --------
    >>> write("528140000795552", "iso_hex_left"), write("01026F6C3A", "em_10_digits")
    ('8000842098B29BA0', '0040856634')
    """
    code = read_decimal(key)
    if code is not None:
        forms = {
            "iso_decimal": code.decimal,
            "iso_dot_hex": code.dot_hex,
            "iso_hex_left": code.left,
            "iso_hex_right": code.right,
        }
        return forms.get(slug)
    value = _PRINTED["em_hex"].read(key)
    if value is None:
        return None
    if slug == "em_mirrored":
        return EmCode(value).mirrored
    if slug == "em_frame":
        return f"{EmCode(value).frame:016X}"
    printed = _PRINTED.get(slug)
    return printed.write(value) if printed else None
