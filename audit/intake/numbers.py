"""Numbers as people type them: decimal commas, thousands marks, units stuck on, sums, marks of doubt."""

from __future__ import annotations

import datetime as dt
import math
import re
import unicodedata
from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.intake.answer import MISSING, UNREADABLE, Answer, plainly, quoted
from audit.intake.arithmetic import work_out
from audit.intake.words import Words, fold, tidy

if TYPE_CHECKING:
    from collections.abc import Iterable

    from audit.declarations.tables import FieldDeclaration

__all__ = ["LARGEST_WHOLE", "NumberReader", "decimal_marks", "number_reader"]

_SIGNED = re.compile(r"([+-]?) ?(.+)")
_ONE_MARK = re.compile(r"(\d*)([.,])(\d+)")
_GROUPED = re.compile(r"(\d{1,3})(?:([.,'’ ])\d{3})(?:\2\d{3})*(?:([.,])(\d+))?")
_MARKED = re.compile(r"[+-]?\d*([.,])(\d+)")
_VULGAR = re.compile(r"(\d*) ?([¼½¾⅐-⅞])")
_MIXED = re.compile(r"(\d+) (\d+)/(\d+)")
_SPREAD = re.compile(r"(.+?) ?(?:±|\+/-|\+-) ?[\d.,]+")
_BRACKETED = re.compile(r"\((.+)\)|\[(.+)\]")
_WITH_UNIT = re.compile(r"(.*\d[.,]?) ?([^\d\s.,+*/()-].*)")
_INNER_UNIT = re.compile(r"(?<=\d) ?([^\W\d_]+)")
_ISO_DAY = re.compile(r"(\d{4})-(\d\d)-(\d\d)(?: 00:00(?::00)?)?")
_NAMED_DAY = re.compile(r"(\d{1,2})[ .-]{0,2}([^\W\d_]+)\.?(?:[ .-]{0,2}\d{2,4})?")
_SOME_DAY = re.compile(r"\d{1,2}([-/.])\d{1,2}\1(?:\d{2}|\d{4})")
_RANGE = re.compile(r"\d+(?:[.,]\d+)? ?- ?\d+(?:[.,]\d+)?")
_LONE = re.compile(r"(?<![\w.,])\d+(?:[.,]\d+)?(?![\w.,])")
_REPEATED = re.compile(r"[.,]+(?=[.,])")
_COMPASS = re.compile(r"([NSEWnsew]) ?(\d.*)")
_DEGREES = re.compile(
    r"(?P<sign>-?)(?P<deg>\d+) ?° ?(?P<min>\d+(?:[.,]\d+)?) ?['′’] ?"
    r"(?:(?P<sec>\d+(?:[.,]\d+)?) ?(?:\"|″|''|”) ?)?(?P<side>[NSEWnsew]?)"
)
#: The largest whole number up to which every one is kept exactly in floating point.
LARGEST_WHOLE = 2**53
#: Unit of latitude and longitude.
_POSITION = "degree"
#: Digits in a group of thousands.
_GROUP = 3
#: Sixty minutes in a degree, sixty seconds in a minute: an identity.
_SIXTY = 60
#: A mark within a mark, as in ``~(205?)``; deeper nesting is no number.
_DEEPEST = 3


def decimal_marks(texts: Iterable[str]) -> frozenset[str]:
    """Say which marks are surely decimal marks in a column: followed by other than three digits.

    Examples
    --------
    >>> sorted(decimal_marks(["20,5", "1.234"]))
    [',']
    """
    found = set()
    for text in texts:
        match = _MARKED.fullmatch(text.strip())
        if match and len(match[2]) != _GROUP:
            found.add(match[1])
    return frozenset(found)


@dataclass(frozen=True, slots=True)
class _Plain:
    """A plain number; `other` is the second way to read it where nothing decides."""

    value: float
    other: float | None = None


@dataclass(frozen=True, slots=True)
class NumberReader:
    """Reads the cells of one column of numbers.

    Attributes
    ----------
    unit : str
        Unit of the column's values.
    scale : float
        How many units one of the column's own units is: 10 for a header that says cm over a field in mm.
    whole : bool
        Only whole numbers make sense.
    marks : frozenset of str
        Marks that are surely decimal in this column.
    factors : mapping of str to float
        Unit words that fit, with their factor.
    strangers : mapping of str to str
        Unit words of other quantities, with the name of the unit.
    """

    unit: str
    scale: float
    whole: bool
    minimum: float | None
    maximum: float | None
    marks: frozenset[str]
    factors: dict[str, float]
    strangers: dict[str, str]
    missing: frozenset[str]
    nought: frozenset[str]
    broken: frozenset[str]
    before: tuple[str, ...]
    after: tuple[str, ...]
    letters: dict[str, str]
    longest_sum: int
    months: dict[str, int]
    oldest_year: int
    epoch: dt.date

    def read(self, value: object) -> Answer:
        """Read one cell as stored: a number, text, a date that should be a number."""
        if value is None:
            return MISSING
        if isinstance(value, bool):
            word = "TRUE" if value else "FALSE"
            return Answer(
                None, UNREADABLE, f"'{word}' is yes or no, but this column holds numbers; retype the cell"
            )
        if isinstance(value, (int, float)):
            return self._stored(float(value))
        if isinstance(value, str):
            return self.read_text(value)
        return self._clothed(value)

    def read_text(self, text: str) -> Answer:
        """Read one cell of text."""
        bare = tidy(text).lstrip("'’ ")
        word = fold(bare)
        if self.whole and word in self.nought:
            return Answer(0.0)
        if not word or word in self.missing:
            return MISSING
        if word in self.broken:
            return Answer(
                None,
                UNREADABLE,
                f"{quoted(bare)} is what a spreadsheet shows where it could not compute; type the number",
            )
        body = bare.removeprefix("=").strip()
        if self._plain(body) is None:
            body = bare
        return self._shown_date(bare) or self._understand(bare, body, 0)

    def work_out(self, text: str) -> float | None:
        """Compute a sum of plain numbers, in the column's own unit; None when it is none."""
        return work_out(text, self._number, self.longest_sum)

    def summed(self, typed: str, value: float) -> Answer:
        """Answer for a cell that holds a sum."""
        return self._checked(typed, value * self.scale, "arithmetic", f"{quoted(typed)} was worked out as")

    def _stored(self, number: float) -> Answer:
        if math.isnan(number):
            return MISSING
        if abs(number) > LARGEST_WHOLE:
            return Answer(None, UNREADABLE, "the number is too large to be kept; retype the cell")
        return self._checked(plainly(number), number * self.scale)

    def _clothed(self, value: object) -> Answer:
        """Read a date, time or duration that stands where a number should."""
        if not isinstance(value, dt.date):
            return Answer(
                None,
                UNREADABLE,
                f"{quoted(str(value))} is a time, but this column holds numbers; retype the cell",
            )
        day = value.date() if isinstance(value, dt.datetime) else value
        midnight = not isinstance(value, dt.datetime) or value.time() == dt.time()
        if midnight and day.year < self.oldest_year:
            # a cell formatted as a date shows 373 as a day in January 1901
            number = (day - self.epoch).days
            return Answer(
                None,
                UNREADABLE,
                f"{day.isoformat()} is the number {number} with the format of a date; set the cell to the "
                "format 'number'",
                plainly(number * self.scale),
            )
        by_points = midnight and not self.whole and day.day > 1
        return self._no_date(day.isoformat(), f"{day.day}.{day.month}" if by_points else "")

    def _shown_date(self, text: str) -> Answer | None:
        """Read what is left of a number after a spreadsheet took it for a date and saved it as shown."""
        if match := _ISO_DAY.fullmatch(text):
            try:
                return self._clothed(dt.date(*map(int, match.groups())))
            except ValueError:
                return None
        if match := _NAMED_DAY.fullmatch(text):
            day, month = int(match[1]), self.months.get(fold(match[2]))
            # 1 May may have been 1.5, or a month and a year
            meant = f"{day}.{month}" if day > 1 and not self.whole else ""
            if month is not None:
                return self._no_date(quoted(text), meant)
        return self._no_date(quoted(text), "") if _SOME_DAY.fullmatch(text) else None

    def _no_date(self, typed: str, meant: str) -> Answer:
        why = f"what a spreadsheet makes of {meant}" if meant else "a date"
        return Answer(
            None,
            UNREADABLE,
            f"{typed} is {why}, but this column holds numbers; "
            "set the cell to the format 'number' and retype it",
            plainly(float(f"{float(meant) * self.scale:.12g}")) if meant else "",
        )

    def _understand(self, typed: str, text: str, depth: int) -> Answer:
        plain = self._plain(text)
        if plain is not None:
            if plain.other is not None:
                value = plainly(plain.value * self.scale)
                return self._checked(
                    typed,
                    plain.value * self.scale,
                    "decimal_mark",
                    f"{quoted(typed)} was read as {value}, not as {plainly(plain.other * self.scale)}, since "
                    "nothing in the column shows what its mark means",
                    whole_remark=True,
                )
            return self._checked(typed, plain.value * self.scale)
        if depth < _DEEPEST:
            inner = self._unmarked(text)
            if inner is not None:
                return self._doubtful(typed, self._understand(typed, inner, depth + 1))
        return (
            self._position(typed, text)
            or self._with_unit(typed, text)
            or self._sum(typed, text)
            or self._with_letters(typed, text)
            or self._lost(typed, text)
        )

    def _checked(
        self, typed: str, value: float, kind: str = "", remark: str = "", *, whole_remark: bool = False
    ) -> Answer:
        if not abs(value) <= LARGEST_WHOLE:
            return Answer(None, UNREADABLE, f"{quoted(typed)} is too large to be kept; retype the cell")
        # 0.373 kg is 373 g, not 372.99999999999994 g
        value = float(f"{value:.12g}")
        if self.whole and not value.is_integer():
            return Answer(
                None,
                UNREADABLE,
                f"{quoted(typed)} is no whole number, but this column counts; type a whole number",
            )
        if not kind:
            return Answer(value)
        shown = plainly(value)
        if not whole_remark:
            remark = f"{remark} {shown} {self.unit}".rstrip()
        return Answer(value, kind, remark, shown)

    def _doubtful(self, typed: str, inner: Answer) -> Answer:
        if inner.value is None or inner.kind.startswith("letter"):
            return inner
        shown = plainly(float(str(inner.value)))
        unit = f" {self.unit}" if self.unit else ""
        return Answer(
            inner.value,
            "uncertain_mark",
            f"{quoted(typed)} was read as {shown}{unit}; its mark of doubt or limit is kept as typed only",
            shown,
        )

    def _number(self, text: str) -> float | None:
        plain = self._plain(text)
        return None if plain is None else plain.value

    def _plain(self, text: str) -> _Plain | None:
        """Read a plain number in the column's own unit."""
        match = _SIGNED.fullmatch(text)
        if match is None:
            return None
        sign = -1.0 if match[1] == "-" else 1.0
        value = self._unsigned(match[2])
        if value is None:
            return None
        return _Plain(sign * value.value, None if value.other is None else sign * value.other)

    def _unsigned(self, body: str) -> _Plain | None:
        if mixed := _MIXED.fullmatch(body):
            below = int(mixed[3])
            return _Plain(int(mixed[1]) + int(mixed[2]) / below) if below else None
        if vulgar := _VULGAR.fullmatch(body):
            return _Plain(int(vulgar[1] or 0) + unicodedata.numeric(vulgar[2]))
        body = body.rstrip(".,")
        if body.isascii() and body.isdigit():
            return _Plain(float(body))
        if one := _ONE_MARK.fullmatch(body):
            return self._one_mark(one[1], one[2], one[3])
        if grouped := _GROUPED.fullmatch(body):
            group, mark, decimals = grouped[2], grouped[3], grouped[4]
            if mark == group:
                return None
            head = body if mark is None else body[: -len(decimals) - 1]
            digits = "".join(sign for sign in head if sign.isdigit())
            return _Plain(float(f"{digits}.{decimals or 0}"))
        return None

    def _one_mark(self, before: str, mark: str, after: str) -> _Plain:
        decimal = float(f"{before or 0}.{after}")
        if len(after) != _GROUP or not 0 < len(before) <= _GROUP or before[0] == "0":
            return _Plain(decimal)
        thousands = float(before + after)
        if self.whole:
            return _Plain(decimal if decimal.is_integer() else thousands)
        if mark in self.marks:
            return _Plain(decimal)
        if self.marks:
            return _Plain(thousands)
        fits = [value for value in (decimal, thousands) if self._in_range(value * self.scale)]
        if len(fits) == 1:
            return _Plain(fits[0])
        return _Plain(decimal, thousands)

    def _in_range(self, value: float) -> bool:
        return (self.minimum is None or value >= self.minimum) and (
            self.maximum is None or value <= self.maximum
        )

    def _unmarked(self, text: str) -> str | None:
        """Take one mark of doubt away; None when there is none."""
        if bracketed := _BRACKETED.fullmatch(text):
            inner: str = bracketed[1] or bracketed[2]
            if "(" not in inner:
                return inner.strip()
        if spread := _SPREAD.fullmatch(text):
            return str(spread[1])
        word = text.casefold()
        for mark in self.before:
            if word.startswith(mark) and len(text) > len(mark):
                return text[len(mark) :].strip()
        for mark in self.after:
            if word.endswith(mark) and len(text) > len(mark):
                return text[: -len(mark)].strip()
        return None

    def _with_unit(self, typed: str, text: str) -> Answer | None:
        if self.unit == _POSITION and (compass := _COMPASS.fullmatch(text)):
            text = f"{compass[2]} {compass[1]}"
        match = _WITH_UNIT.fullmatch(text)
        if match is None:
            return None
        word = fold(match[2]).rstrip(". ")
        number = self._number(match[1].strip())
        if word in self.factors:
            factor = self.factors[word]
            value = number if number is not None else self.work_out(match[1])
            if value is None:
                return None
            if number is None or factor != self.scale:
                kind = "unit_converted" if number is not None else "arithmetic"
                return self._checked(typed, value * factor, kind, f"{quoted(typed)} was read as")
            return self._checked(typed, value * factor)
        if word in self.strangers and number is not None:
            return Answer(
                None,
                UNREADABLE,
                f"{quoted(typed)} is in {self.strangers[word]}, but this column holds "
                f"{self.unit or 'counts'}; type the value that belongs here",
            )
        return None

    def _position(self, typed: str, text: str) -> Answer | None:
        """Read degrees, minutes and seconds."""
        match = _DEGREES.fullmatch(text) if self.unit == _POSITION else None
        if match is None:
            return None
        minutes, seconds = (float((match[name] or "0").replace(",", ".")) for name in ("min", "sec"))
        if minutes >= _SIXTY or seconds >= _SIXTY:
            return None
        value = int(match["deg"]) + (minutes + seconds / _SIXTY) / _SIXTY
        south = bool(match["sign"]) or match["side"].upper() in ("S", "W")
        return self._checked(
            typed, -value if south else value, "unit_converted", f"{quoted(typed)} was read as"
        )

    def _sum(self, typed: str, text: str) -> Answer | None:
        body = _INNER_UNIT.sub(self._drop_own_unit, text)
        left, equals, right = body.partition("=")
        if equals and not left.strip():
            left, right = right, ""
        value = self.work_out(left)
        if value is None:
            return None
        if right.strip():
            claimed = self._number(right.strip())
            if claimed is None or not math.isclose(claimed, value, abs_tol=1e-9):
                said = "nothing that can be read" if claimed is None else plainly(claimed)
                return Answer(
                    None,
                    UNREADABLE,
                    f"{quoted(typed)} makes {plainly(value)} but says {said}; type one number",
                )
        if _RANGE.fullmatch(left.strip()) and value < 0 and (self.minimum or 0) >= 0:
            return Answer(None, UNREADABLE, f"{quoted(typed)} is a range; type one number")
        return self.summed(typed, value)

    def _drop_own_unit(self, match: re.Match[str]) -> str:
        own = self.factors.get(fold(match[1]))
        return "" if own == self.scale else match[0]

    def _with_letters(self, typed: str, text: str) -> Answer | None:
        digits = sum(sign.isdigit() for sign in text)
        letters = [sign for sign in text if sign in self.letters]
        if not letters or digits < len(letters):
            return None
        # B2 and S1 are names of bags or boxes rather than 82 and 51
        if text[0] in self.letters and self.letters[text[0]] not in ("0", "1"):
            return None
        plain = self._plain("".join(self.letters.get(sign, sign) for sign in text))
        if plain is None:
            return None
        kinds = " and ".join(
            f"the letter {letter} for {self.letters[letter]}" for letter in dict.fromkeys(letters)
        )
        shown = plainly(float(f"{plain.value * self.scale:.12g}"))
        return self._checked(
            typed,
            plain.value * self.scale,
            "letter_in_number",
            f"{quoted(typed)} has {kinds}; it was read as {shown} {self.unit}".rstrip(),
            whole_remark=True,
        )

    def _lost(self, typed: str, text: str) -> Answer:
        # a lone O may be a nought or a tick: no reading, but a suggestion
        nought = "0" if self.letters.get(text) == "0" else _REPEATED.sub("", text)
        lone = _LONE.findall(text) or [nought]
        meant = ""
        if len(lone) == 1:
            plain = self._plain(lone[0])
            if plain is not None and not (self.whole and not float(plain.value).is_integer()):
                meant = plainly(float(f"{plain.value * self.scale:.12g}"))
        return Answer(
            None,
            UNREADABLE,
            f"{quoted(typed)} cannot be read as a number; type the number alone, and words into the remarks",
            meant,
        )


def number_reader(
    field: FieldDeclaration, words: Words, *, scale: float = 1.0, marks: frozenset[str] = frozenset()
) -> NumberReader:
    """Build the reader of one column of numbers."""
    factors: dict[str, float] = {}
    strangers: dict[str, str] = {}
    units = words.below("units")
    for key, listed in units.items():
        name, _, last = key.partition(".")
        if last != "words":
            continue
        factor = units.get(f"{name}.{field.unit}")
        for word in listed:
            if factor is not None:
                factors.setdefault(fold(str(word)), float(factor))
            elif f"{name}.{_POSITION}" not in units:
                # an S behind a mass is rather a 5 than the south
                strangers.setdefault(fold(str(word)), name)
    uncertain = {side: words.listed(f"uncertain.{side}") for side in ("before", "after")}
    return NumberReader(
        unit=field.unit,
        scale=scale,
        whole=field.kind == "integer",
        minimum=field.minimum,
        maximum=field.maximum,
        marks=marks,
        factors=factors,
        strangers=strangers,
        missing=words.listed("missing.any") | words.listed("missing.numbers"),
        nought=words.listed("nought"),
        broken=words.listed("spreadsheet_errors"),
        before=tuple(sorted(uncertain["before"], key=len, reverse=True)),
        after=tuple(sorted(uncertain["after"], key=len, reverse=True)),
        letters=words.digits_for_letters(),
        longest_sum=int(words.setting("arithmetic.longest")),
        months=words.months(),
        oldest_year=int(words.setting("dates.oldest_year")),
        epoch=dt.date.fromisoformat(words.setting("dates.epoch_1900")),
    )
