"""Numbers as people type them: decimal commas, thousands marks, units stuck on, sums, marks of doubt."""

from __future__ import annotations

import datetime as dt
import math
import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from audit.declarations.once import once_for
from audit.intake.answer import MISSING, UNREADABLE, Answer, plainly, quoted
from audit.intake.arithmetic import work_out
from audit.intake.dated_numbers import DatedNumbers
from audit.intake.doubt_marks import DoubtMarks, doubt_marks
from audit.intake.number_answers import LARGEST_WHOLE, NumberAnswers
from audit.intake.number_units import NumberUnits, number_units
from audit.intake.plain_numbers import PlainNumbers
from audit.intake.words import Words, fold, tidy

if TYPE_CHECKING:
    from collections.abc import Mapping

    from audit.declarations.limit import Limit
    from audit.declarations.tables import FieldDeclaration

__all__ = ["NumberReader", "number_reader"]

_SPREAD = re.compile(r"(.+?) ?(?:±|\+/-|\+-) ?[\d.,]+")
_BRACKETED = re.compile(r"\((.+)\)|\[(.+)\]")
_RANGE = re.compile(r"\d+(?:[.,]\d+)? ?- ?\d+(?:[.,]\d+)?")
_LONE = re.compile(r"(?<![\w.,])\d+(?:[.,]\d+)?(?![\w.,])")
_REPEATED = re.compile(r"[.,]+(?=[.,])")
#: So many texts of a column are kept with what they mean: the columns of many seasons repeat each other.
_MOST_KNOWN = 10_000
#: A mark within a mark, as in ``~(205?)``; deeper nesting is no number.
_DEEPEST = 3


@dataclass(frozen=True, slots=True)
class NumberReader:
    """Reads the cells of one column of numbers.

    Attributes
    ----------
    answers : NumberAnswers
        What is said of a number.
    plain : PlainNumbers
        Numbers with nothing on them.
    units, doubt : NumberUnits, DoubtMarks
    dated : DatedNumbers
        Numbers that a spreadsheet took for dates.
    missing, nought, broken : frozenset of str
        Words for nothing and for none, and what a spreadsheet shows where it could not compute.
    letters : dict of str to str
        Letters that are taken for digits.
    longest_sum : int
        Signs of the longest sum.
    """

    answers: NumberAnswers
    plain: PlainNumbers
    units: NumberUnits
    dated: DatedNumbers
    doubt: DoubtMarks
    missing: frozenset[str]
    nought: frozenset[str]
    broken: frozenset[str]
    letters: dict[str, str]
    longest_sum: int
    _known: dict[str, Answer] = field(default_factory=dict, init=False, repr=False, compare=False)

    @property
    def whole(self) -> bool:
        """Whether only whole numbers make sense."""
        return self.plain.whole

    @property
    def scale(self) -> float:
        """How many units one of the column's own units is."""
        return self.plain.scale

    def read(self, value: object) -> Answer:
        """Read one cell as stored: a number, text, a date that should be a number."""
        if value is None:
            return MISSING
        if isinstance(value, bool):
            word = str(value).upper()
            says = f"'{word}' is yes or no, but this column holds numbers; retype the cell"
            return Answer(None, UNREADABLE, says)
        if isinstance(value, (int, float)):
            return self._stored(float(value))
        if isinstance(value, str):
            known = self._known.get(value)
            if known is None:
                if len(self._known) >= _MOST_KNOWN:
                    self._known.clear()
                known = self._known[value] = self.read_text(value)
            return known
        return self.dated.stored(value)

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
        if self.plain.read(body) is None:
            body = bare
        return self.dated.shown(bare) or self._understand(bare, body, 0)

    def work_out(self, text: str) -> float | None:
        """Compute a sum of plain numbers, in the column's own unit; None when it is none."""
        return work_out(text, self._number, self.longest_sum)

    def summed(self, typed: str, value: float) -> Answer:
        """Answer for a cell that holds a sum."""
        return self.answers.checked(
            typed, value * self.scale, "arithmetic", f"{quoted(typed)} was worked out as"
        )

    def _stored(self, number: float) -> Answer:
        if math.isnan(number):
            return MISSING
        if abs(number) > LARGEST_WHOLE:
            return Answer(None, UNREADABLE, "the number is too large to be kept; retype the cell")
        return self.answers.checked(plainly(number), number * self.scale)

    def _understand(self, typed: str, text: str, depth: int) -> Answer:
        plain = self.plain.read(text)
        if plain is not None:
            if plain.other is not None:
                return self.answers.either(typed, plain.value * self.scale, plain.other * self.scale)
            return self.answers.checked(typed, plain.value * self.scale)
        if depth < _DEEPEST:
            inner = self._unmarked(text)
            if inner is not None:
                return self.answers.doubtful(typed, self._understand(typed, inner, depth + 1))
        return (
            self._with_unit(typed, text)
            or self._sum(typed, text)
            or self._with_letters(typed, text)
            or self._lost(typed, text)
        )

    def _number(self, text: str) -> float | None:
        plain = self.plain.read(text)
        return None if plain is None else plain.value

    def _unmarked(self, text: str) -> str | None:
        """Take one mark of doubt away; None when there is none."""
        if bracketed := _BRACKETED.fullmatch(text):
            inner: str = bracketed[1] or bracketed[2]
            if "(" not in inner:
                return inner.strip()
        if spread := _SPREAD.fullmatch(text):
            return str(spread[1])
        return self.doubt.taken_off(text)

    def _with_unit(self, typed: str, text: str) -> Answer | None:
        if (position := self.units.degrees(text)) is not None:
            return self.answers.checked(typed, position, "unit_converted", f"{quoted(typed)} was read as")
        if (parted := self.units.apart(text)) is None:
            return None
        front, word = parted
        number = self._number(front.strip())
        factor = self.units.factors.get(word)
        if factor is not None:
            value = number if number is not None else self.work_out(front)
            if value is None:
                return None
            if number is not None and factor == self.scale:
                return self.answers.checked(typed, value * factor)
            kind = "unit_converted" if number is not None else "arithmetic"
            return self.answers.checked(typed, value * factor, kind, f"{quoted(typed)} was read as")
        if word in self.units.strangers and number is not None:
            return Answer(
                None,
                UNREADABLE,
                f"{quoted(typed)} is in {self.units.strangers[word]}, but this column holds "
                f"{self.units.unit or 'counts'}; type the value that belongs here",
            )
        return None

    def _sum(self, typed: str, text: str) -> Answer | None:
        left, equals, right = self.units.without_own(text).partition("=")
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
        if _RANGE.fullmatch(left.strip()) and value < 0 and (self.plain.minimum or 0) >= 0:
            return Answer(None, UNREADABLE, f"{quoted(typed)} is a range; type one number")
        return self.summed(typed, value)

    def _with_letters(self, typed: str, text: str) -> Answer | None:
        digits = sum(sign.isdigit() for sign in text)
        letters = [sign for sign in text if sign in self.letters]
        if not letters or digits < len(letters):
            return None
        # B2 and S1 are names of bags or boxes rather than 82 and 51
        if text[0] in self.letters and self.letters[text[0]] not in ("0", "1"):
            return None
        plain = self.plain.read("".join(self.letters.get(sign, sign) for sign in text))
        if plain is None:
            return None
        kinds = {letter: self.letters[letter] for letter in letters}
        return self.answers.lettered(typed, plain.value * self.scale, kinds)

    def _lost(self, typed: str, text: str) -> Answer:
        # a lone O may be a nought or a tick: no reading, but a suggestion
        nought = "0" if self.letters.get(text) == "0" else _REPEATED.sub("", text)
        lone = _LONE.findall(text) or [nought]
        meant = None
        if len(lone) == 1:
            plain = self.plain.read(lone[0])
            if plain is not None and not (self.whole and not float(plain.value).is_integer()):
                meant = plain.value * self.scale
        return self.answers.lost(typed, meant)


def number_reader(
    declared: FieldDeclaration, words: Words, *, scale: float = 1.0, marks: frozenset[str] = frozenset()
) -> NumberReader:
    """Give the reader of one column of numbers; columns that are declared and written alike share it."""
    readers = _readers(words.settings)
    key = declared, scale, marks
    if key not in readers:
        readers[key] = _built(declared, words, scale, marks)
    return readers[key]


@once_for
def _readers(
    _settings: Mapping[str, Limit],
) -> dict[tuple[FieldDeclaration, float, frozenset[str]], NumberReader]:
    return {}


def _built(declared: FieldDeclaration, words: Words, scale: float, marks: frozenset[str]) -> NumberReader:
    whole = declared.kind == "integer"
    return NumberReader(
        answers=NumberAnswers(declared.unit, whole),
        plain=PlainNumbers(scale, whole, declared.minimum, declared.maximum, marks),
        units=number_units(declared, words, scale),
        dated=DatedNumbers(
            scale,
            whole,
            months=words.months(),
            oldest_year=int(words.setting("dates.oldest_year")),
            epoch=dt.date.fromisoformat(words.setting("dates.epoch_1900")),
        ),
        doubt=doubt_marks(words),
        missing=words.listed("missing.any") | words.listed("missing.numbers"),
        nought=words.listed("nought"),
        broken=words.listed("spreadsheet_errors"),
        letters=words.digits_for_letters(),
        longest_sum=int(words.setting("arithmetic.longest")),
    )
