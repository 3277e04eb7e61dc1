"""Codes: rings, tags, box labels; and what spreadsheets do to them."""

from __future__ import annotations

import datetime as dt
import math
import re
import unicodedata
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

from audit.intake.answer import MISSING, Answer, day_or_moment, quoted
from audit.intake.words import Words, fold, tidy

if TYPE_CHECKING:
    from collections.abc import Iterable

    from audit.declarations.tables import FieldDeclaration

__all__ = ["CodeReader", "clean_code", "code_reader"]

DAMAGED = "damaged_code"
RESTORED = "restored_code"

_TEXT_SIGNS = "'’‘`´ʼ"
_BLANKS_AND_SIGNS = re.compile(rf"[\s{_TEXT_SIGNS}]+")
_GROUPED = re.compile(r"\d{1,3}(?:([.,'’ ])\d{3})(?:\1\d{3})+(?:[.,]0+)?")
_DECIMALS = re.compile(r"(\d+)[.,](0+)")
_POWER = re.compile(r"([+-]?)(\d)(?:[.,](\d+))?E([+-]?)(\d+)")
_INFINITE = frozenset({"INF", "-INF", "+INF", "INFINITY", "-INFINITY", "∞"})
_SHOWN_ZEROS = re.compile(r'(?:"([^"]*)"|((?:\\.|[A-Z-])*))(0+)(?:;.*)?')


def clean_code(text: str) -> str:
    """Drop blanks, invisible signs and apostrophes; use capitals and plain hyphens.

    Examples
    --------
    >>> clean_code(" '528 140000795552 "), clean_code("sl–01")
    ('528140000795552', 'SL-01')
    """
    if text.isascii():
        return _BLANKS_AND_SIGNS.sub("", text).upper()
    plain = unicodedata.normalize("NFKC", tidy(text))
    return _BLANKS_AND_SIGNS.sub("", plain).upper()


@lru_cache(maxsize=1)
def _countries() -> frozenset[str]:
    """Three-digit country codes of ISO 3166-1."""
    import pycountry

    return frozenset(country.numeric for country in pycountry.countries)


@dataclass(frozen=True, slots=True)
class CodeReader:
    """Reads the cells of one column of codes.

    Attributes
    ----------
    is_tag : bool
        The column holds tag numbers: their forms are known, so lost noughts and letters can be judged.
    prefixes : frozenset of str
        First digits of the whole tag numbers in this column: what a damaged one may have been.
    """

    is_tag: bool
    prefixes: frozenset[str]
    missing: frozenset[str]
    broken: frozenset[str]
    after: tuple[str, ...]
    after_upper: tuple[str, ...]
    letters: dict[str, str]
    lost_zeros: int
    shown_as_power_from: int
    kept_digits: int
    longest_code: int
    tag_digits: int
    prefix_digits: int
    largest_number: int
    tag_form: re.Pattern[str]
    decimal_tag: re.Pattern[str]
    parted: re.Pattern[str]
    plain: re.Pattern[str]

    def read(self, value: object, number_format: str = "") -> Answer:
        """Read one cell as stored."""
        if value is None:
            return MISSING
        if isinstance(value, str):
            return self.read_text(value)
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            return self._strange(value)
        return self._number(value, number_format)

    def read_text(self, text: str) -> Answer:
        """Read one cell of text."""
        if self.plain.fullmatch(text):
            return Answer(text)
        bare = tidy(text)
        word = fold(bare)
        if not word or word in self.missing:
            return MISSING
        if word in self.broken:
            return self._damaged(bare, "is what a spreadsheet shows where it could not compute")
        code = clean_code(bare)
        if not code:
            return MISSING
        # thousands marks may be apostrophes, so they are looked for before apostrophes go
        if _GROUPED.fullmatch(bare) and not bare.replace(" ", "").isdigit():
            head = _DECIMALS.sub(r"\1", bare) if bare[-1] == "0" and _has_decimals(bare) else bare
            digits = "".join(sign for sign in head if sign.isdigit())
            return self._restored(bare, digits, "its thousands marks")
        if (decimals := _DECIMALS.fullmatch(code)) and not (self.is_tag and self.tag_form.fullmatch(code)):
            return self._restored(bare, decimals[1], f"the '.{decimals[2]}' that a spreadsheet put behind it")
        if code in _INFINITE:
            return self._overflowed(bare)
        if power := _POWER.fullmatch(code):
            answer = self._power(bare, power)
            if answer is not None:
                return answer
        if self.is_tag and self.decimal_tag.fullmatch(code):
            whole = re.split(r"[.,]", code)[0]
            meant = whole.rjust(self.prefix_digits, "0") + code[len(whole) :]
            return self._damaged(bare, "has lost its leading noughts in a spreadsheet", meant)
        if self.is_tag and (parted := self.parted.fullmatch(code)):
            digits = "".join(sign for sign in parted[0] if sign.isdigit())
            code = digits if len(digits) == self.tag_digits else code
        answer = self._digits(bare, code)
        if answer is not None:
            return answer
        if bare[:1] in _TEXT_SIGNS and bare[1:].strip():
            return self._restored(bare, code, "the apostrophe in front of it")
        return self._marked(bare, code) or self._with_letters(bare, code) or Answer(code)

    def _number(self, value: float, number_format: str) -> Answer:
        if math.isnan(value):
            return MISSING
        if math.isinf(value):
            return self._overflowed(str(value))
        if not float(value).is_integer():
            return self._damaged(f"{value:.15g}", "is a decimal number where a code should stand")
        text = str(int(value))
        if len(text) > _LONGEST_WHOLE:
            return self._overflowed(f"{float(value):.6g}")
        if len(text.lstrip("-")) > self.kept_digits and int(float(text)) == int(text):
            return self._damaged(
                text,
                f"is kept as a number of {len(text.lstrip('-'))} digits, but a spreadsheet keeps only "
                f"the first {self.kept_digits}",
            )
        shown = _as_shown(text, number_format)
        if shown != text:
            return Answer(
                clean_code(shown),
                RESTORED,
                f"{quoted(text)} is kept as a number and only its format shows {shown}; it was read as shown",
                clean_code(shown),
            )
        return self._digits(text, text) or Answer(text)

    def _strange(self, value: object) -> Answer:
        if isinstance(value, bool):
            return self._damaged("TRUE" if value else "FALSE", "is yes or no where a code should stand")
        typed = day_or_moment(value) if isinstance(value, (dt.date, dt.time)) else str(value)
        return self._damaged(typed, "is what a spreadsheet made of a code that looks like a date or a time")

    def _digits(self, typed: str, code: str) -> Answer | None:
        """Judge a code of digits only."""
        if not (code.isascii() and code.isdigit()):
            return None
        if len(code) >= self.shown_as_power_from and code.endswith("0" * self.lost_zeros):
            zeros = len(code) - len(code.rstrip("0"))
            return self._damaged(
                typed, f"ends in {zeros} noughts, as a spreadsheet leaves a code that it shortened"
            )
        if not self.is_tag or len(code) != self.tag_digits - 1:
            return None
        padded = "0" + code
        if not self._fits(padded):
            return None
        return self._restored(typed, padded, "a leading nought that a spreadsheet drops", put_back=True)

    def _fits(self, padded: str) -> bool:
        """Whether a nought in front gives a real country, and no other digit is likelier to be missing."""
        prefix, number = padded[: self.prefix_digits], padded[self.prefix_digits :]
        if prefix not in _countries() or int(number) > self.largest_number:
            return False
        begun = padded[1 : self.prefix_digits]
        one_lost = {
            other
            for other in self.prefixes
            if any(other[:i] + other[i + 1 :] == begun for i in range(len(other)))
        }
        return not one_lost - {prefix}

    def _power(self, typed: str, power: re.Match[str]) -> Answer | None:
        sign, first, decimals, exponent_sign, exponent = power.groups()
        if decimals is None and not exponent_sign:
            return None  # 1E5 may be a code in hexadecimal, as typed
        if exponent_sign != "-" and sign != "-" and len(exponent) <= _EXPONENT_DIGITS:
            size, decimals = int(exponent), decimals or ""
            if size + 1 >= _OVERFLOW_DIGITS:
                return self._overflowed(typed)
            whole = first + decimals.ljust(size, "0")
            if self.shown_as_power_from <= size + 1 <= self.longest_code and not decimals[size:].strip("0"):
                if len(decimals) >= size:
                    digits = whole[: size + 1]
                    if not digits.endswith("0" * self.lost_zeros) and len(digits) <= self.kept_digits:
                        return self._restored(typed, digits, "its power of ten")
                one_short = len(decimals) == size - 1 and size + 1 <= self.kept_digits
                return self._damaged(
                    typed,
                    f"is what a spreadsheet shows of a code of {size + 1} digits; the last ones are gone",
                    whole if one_short else "",
                )
        return self._damaged(
            typed, "is a code with an E between digits, which a spreadsheet took for a power of ten"
        )

    def _overflowed(self, typed: str) -> Answer:
        return self._damaged(
            typed,
            "is what is left of a code with an E between digits, taken for a number too large to be kept",
        )

    def _marked(self, typed: str, code: str) -> Answer | None:
        """Take a mark of doubt away."""
        if len(code) > _LONGEST_CODE:
            return None
        bracketed = code.startswith("(") and code.endswith(")")
        # most codes end with no mark at all
        marks = () if bracketed or not code.endswith(self.after_upper) else self.after
        for mark in marks:
            if mark.isalnum() or not code.endswith(mark.upper()) or len(code) == len(mark):
                continue
            inner = self.read_text(code[: -len(mark)])
            return self._doubtful(typed, inner)
        if bracketed and code != "()":
            return self._doubtful(typed, self.read_text(code[1:-1]))
        if code.startswith(("?", "~")) and len(code) > 1:
            return self._doubtful(typed, self.read_text(code[1:]))
        return None

    @staticmethod
    def _doubtful(typed: str, inner: Answer) -> Answer:
        if inner.value is None or inner.kind not in ("", RESTORED):
            return inner
        shown = str(inner.value)
        return Answer(
            inner.value,
            "uncertain_mark",
            f"{quoted(typed)} was read as {shown}; its mark of doubt is kept as typed only",
            shown,
        )

    def _with_letters(self, typed: str, code: str) -> Answer | None:
        """Put digits for letters where only that gives a tag number. Rings keep their letters."""
        if not self.is_tag or self.tag_form.fullmatch(code):
            return None
        wrong = [
            sign for sign in code if sign.isalpha() and (sign not in "ABCDEF" or len(code) == self.tag_digits)
        ]
        if not wrong or any(letter not in self.letters for letter in wrong):
            return None
        if sum(sign.isdigit() for sign in code) < len(wrong):
            return None
        changed = {letter: self.letters[letter] for letter in dict.fromkeys(wrong)}
        meant = "".join(changed.get(sign, sign) for sign in code)
        if not self.tag_form.fullmatch(meant):
            return None
        swaps = " and ".join(f"the letter {letter} for {digit}" for letter, digit in changed.items())
        return Answer(meant, "letter_in_code", f"{quoted(typed)} has {swaps}; it was read as {meant}", meant)

    def _restored(self, typed: str, code: str, what: str, *, put_back: bool = False) -> Answer:
        inner = None if put_back else self._digits(code, code)
        if inner is not None and inner.kind == DAMAGED:
            return Answer(None, DAMAGED, f"{quoted(typed)} {inner.remark.partition(' ')[2]}", inner.shown)
        if inner is not None:
            code = str(inner.value)
            what += " and a leading nought that a spreadsheet drops"
            put_back = True
        how = "with" if put_back and inner is None else "without"
        remark = f"{quoted(typed)} was read as {code}, {how} {what}"
        if inner is not None:
            remark = f"{quoted(typed)} was read as {code}, after undoing what a spreadsheet did to it"
        return Answer(code, RESTORED, remark, code)

    def _damaged(self, typed: str, what: str, meant: str = "") -> Answer:
        source = "the reader's download or the notebook" if self.is_tag else "the notebook"
        return Answer(
            None, DAMAGED, f"{quoted(typed)} {what}; take it from {source}, into a cell of text", meant
        )


#: Whole numbers longer than this have overflowed; the largest float has 309 digits.
_LONGEST_WHOLE = 300
_OVERFLOW_DIGITS = 300
#: The largest power of ten of a float is 308.
_EXPONENT_DIGITS = 3
#: Longer texts are sentences, not codes.
_LONGEST_CODE = 60


def _has_decimals(text: str) -> bool:
    """Whether the last mark is another one than the first: 985,121,004,515,220.00."""
    marks = [sign for sign in text if not sign.isalnum()]
    return marks[-1] != marks[0]


def _as_shown(digits: str, number_format: str) -> str:
    """Write a whole number as its format shows it, where the format is a text and noughts only.

    Examples
    --------
    >>> _as_shown("40000012345678", "000000000000000"), _as_shown("7", '"SL-"00'), _as_shown("7", "0.00")
    ('040000012345678', 'SL-07', '7')
    """
    match = _SHOWN_ZEROS.fullmatch(number_format)
    if match is None or digits.startswith("-"):
        return digits
    front = match[1] if match[1] is not None else (match[2] or "").replace("\\", "")
    return front + digits.rjust(len(match[3]), "0")


def code_reader(field: FieldDeclaration, words: Words, texts: Iterable[str] = ()) -> CodeReader:
    """Build the reader of one column of codes.

    Parameters
    ----------
    texts : iterable of str
        The cells of the column: whole tag numbers among them show what a damaged one may have been.
    """
    tag_digits, prefix_digits = (
        int(words.setting("codes.tag_digits")),
        int(words.setting("codes.prefix_digits")),
    )
    is_tag = field.name == "tag"
    prefixes = {
        text[:prefix_digits]
        for text in texts
        if len(text) == tag_digits and text.isascii() and text.isdigit()
    }
    missing = words.listed("missing.any")
    if field.name in words.listed("missing.code_fields"):
        missing |= words.listed("missing.codes")
    return CodeReader(
        is_tag=is_tag,
        prefixes=frozenset(prefixes) if is_tag else frozenset(),
        missing=missing,
        broken=words.listed("spreadsheet_errors"),
        after=(after := words.marks("uncertain.after")),
        after_upper=tuple(mark.upper() for mark in after),
        letters=words.digits_for_letters(),
        lost_zeros=int(words.setting("codes.lost_zeros")),
        shown_as_power_from=int(words.setting("codes.shown_as_power_from")),
        kept_digits=int(words.setting("codes.kept_digits")),
        longest_code=int(words.setting("codes.longest_code")),
        tag_digits=tag_digits,
        prefix_digits=prefix_digits,
        largest_number=int(words.setting("codes.largest_number")),
        tag_form=re.compile("|".join(f"(?:{form})" for form in words.setting("codes.tag_forms"))),
        decimal_tag=re.compile(words.setting("codes.decimal_tag")),
        # 999-104190069180 and 999.104190069180: the maker's or country's digits set off
        parted=re.compile(
            rf"\d{{{prefix_digits}}}(?:[-./_]\d{{{tag_digits - prefix_digits}}}|(?:[-_/]\d+)+)"
        ),
        # everything else is looked at: powers of ten, noughts at the end, fourteen digits, letters
        plain=re.compile(
            rf"\d{{{tag_digits}}}(?<!{'0' * int(words.setting('codes.lost_zeros'))})"
            if is_tag
            else r"[A-Z]{1,4}-?\d{1,8}"
        ),
    )
