"""What is wrong with a tag as such."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.models.iso_code import LARGEST_NATIONAL
from audit.models.tag_text import TagReading, recognise

if TYPE_CHECKING:
    from audit.rules.case import Case
    from audit.rules.tag_book import TagBook, TagRow

__all__ = ["Fault", "fault_in", "readings_of"]

#: A tag of three and twelve digits.
_FIFTEEN_DIGITS = re.compile(r"([0-9]{3})([0-9]{12})")
_DIGITS = re.compile(r"[0-9]+")
#: Number of digits of the purely decimal ways of writing.
_DIGIT_LENGTHS = {
    "iso_decimal": (len("528140000795552"),),
    "em_10_digits": (len("0040856634"),),
    "em_8_digits": (len("07302202"),),
    "em_13_digits": (len("0004335823930"),),
    "em_14_digits": (len("00004335823930"),),
}


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong with a tag as such, and how it reads with letters mended."""

    outcome: str
    clause: str
    mended: str = ""
    p_fix: str = ""


def fault_in(case: Case, book: TagBook, row: TagRow, *, test_season: bool) -> Fault | None:
    """Say what is wrong with a tag whatever the others are; None when nothing is."""
    text = row.tag
    decimal = _FIFTEEN_DIGITS.fullmatch(text)
    zeros = int(case.limit("rounded_zeros"))
    if decimal and text.endswith("0" * zeros):
        return Fault("rounded", f"ends in {zeros} or more zeros: a spreadsheet has lost its last digits")
    if decimal and int(decimal[2]) > LARGEST_NATIONAL:
        return Fault(
            "impossible_number",
            f"cannot exist: its last twelve digits may be at most {LARGEST_NATIONAL}",
        )
    readings = readings_of(book, text)
    lengths = _lengths(book)
    if _DIGITS.fullmatch(text) and lengths and len(text) not in lengths:
        usual = f"where the others have {lengths[0]}"
        if len(text) + 1 in lengths:
            zero = f"0{text}"
            known = zero in book.stock | book.read or zero[:3] in _prefixes(book, row.key)
            return Fault(
                "digit_lost",
                f"has {len(text)} digits {usual}: one is missing",
                zero if known and _sensible(case, zero) else "",
                "p_fix_zero",
            )
        if len(text) - 1 in lengths:
            return Fault("digit_too_many", f"has {len(text)} digits {usual}: one is too many")
    if not readings:
        return _formless(case, book, text)
    iso = readings[0].iso
    if iso is not None and len({reading.key for reading in readings}) == 1:
        slug = case.declared.tags.prefix_class(iso.prefix)
        if slug == "senseless":
            return Fault(
                "senseless_prefix", f"begins with {iso.prefix:03d}, which is neither a country nor a maker"
            )
        if not case.declared.tags.on_bird(iso.prefix) and not test_season:
            return Fault("test_tag", f"begins with {iso.prefix:03d}, the test range, which no bird may carry")
    return None


def readings_of(book: TagBook, text: str) -> tuple[TagReading, ...]:
    """Read a tag in the season's own way of writing, else in every way that fits."""
    readings = recognise(text)
    return tuple(reading for reading in readings if reading.slug == book.habit) or readings


def _lengths(book: TagBook) -> tuple[int, ...]:
    """Length of the season's tags where they are nothing but digits."""
    return _DIGIT_LENGTHS.get(book.habit or "", ())


def _prefixes(book: TagBook, but: str) -> set[str]:
    return {key[:3] for key in {*book.rings_of, *book.stock} if key != but and _FIFTEEN_DIGITS.fullmatch(key)}


def _sensible(case: Case, text: str) -> bool:
    readings = recognise(text)
    return bool(readings) and all(
        reading.iso is None or case.declared.tags.prefix_class(reading.iso.prefix) != "senseless"
        for reading in readings
    )


def _formless(case: Case, book: TagBook, text: str) -> Fault:
    """Judge a text that is no tag in any known form: perhaps a letter stands for a digit."""
    decimal_season = bool(_lengths(book))
    for family in ("decimal", "hex"):
        if book.habit and decimal_season != (family == "decimal"):
            continue
        digits = case.declared.tags.digit_for_letter.get(family, {})
        mended = "".join(digits.get(letter, letter) for letter in text)
        if mended == text:
            continue
        fits = [reading.slug for reading in recognise(mended)]
        if book.habit in fits if book.habit else fits:
            letters = "".join(dict.fromkeys(a for a, b in zip(text, mended, strict=True) if a != b))
            said = " and ".join(letters)
            stands = "stands for a digit" if len(letters) == 1 else "stand for digits"
            return Fault("letter_in_code", f"is no number: {said} {stands}", mended, "p_fix_letter")
    if decimal_season and not _DIGITS.fullmatch(text) and len(text) in _lengths(book):
        return Fault("letter_in_code", "holds a sign that is no digit")
    usual = case.declared.tags.formats.get(book.habit or "")
    others = f"; the others have {usual.title}" if usual else ""
    return Fault("no_known_form", f"is no tag number in any known form{others}")
