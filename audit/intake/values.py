"""Cells of one column become typed values."""

from __future__ import annotations

import datetime as dt
import math
import re
from dataclasses import dataclass
from dataclasses import field as dataclass_field
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from audit.declarations.tables import DTYPES
from audit.intake.answer import MISSING, UNREADABLE, Answer, quoted
from audit.intake.codes import code_reader
from audit.intake.dates import date_reader
from audit.intake.meanings import text_reader, yes_no_reader
from audit.intake.number_answers import LARGEST_WHOLE
from audit.intake.numbers import NumberReader, number_reader
from audit.intake.plain_numbers import decimal_marks
from audit.intake.times import read_moments, time_reader
from audit.intake.words import Words, fold, tidy
from audit.season import Reading

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from audit.declarations import Declarations
    from audit.declarations.tables import FieldDeclaration
    from audit.intake.grid import RawCell

__all__ = ["ColumnRead", "read_column"]

_ISO_MOMENT = re.compile(r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d(?::\d\d(?:\.\d{1,6})?)?")
#: Whole numbers beyond this do not fit a float; nothing on a sheet is that large.
_LARGEST = 10**300


@dataclass(frozen=True, slots=True)
class ColumnRead:
    """A typed column, the text as typed, and how its unusual cells were read."""

    values: pd.Series
    typed: pd.Series
    readings: tuple[Reading, ...]


def read_column(
    cells: Sequence[RawCell],
    labels: Sequence[str] | pd.Index[str],
    field: FieldDeclaration,
    declared: Declarations,
    *,
    scale: float = 1.0,
    year: int | None = None,
) -> ColumnRead:
    """Read one column.

    Parameters
    ----------
    cells : sequence of RawCell
        In sheet order.
    labels : sequence of str, or pandas.Index
        Row labels, as many as cells; columns that are given one index share it.
    field : FieldDeclaration
        What the column holds.
    declared : Declarations
        Words, units and marks.
    scale : float
        How many of the field's unit one of the column's own units is: 10 where the header says cm over a
        field in mm.
    year : int, optional
        Year of the season, for dates typed without a year where no neighbour has one.

    Returns
    -------
    ColumnRead
        ``values`` has the dtype of the field's kind, ``typed`` is text; both have the labels as index.
    """
    words = Words(declared.settings)
    index = labels if isinstance(labels, pd.Index) else pd.Index(list(labels), dtype="str")
    typed = pd.Series([cell.text for cell in cells], index=index, dtype="str")
    stored: list[object] = [cell.value for cell in cells]
    special = [i for i, cell in enumerate(cells) if cell.formula or cell.merged]
    plain = None if special else _plain_column(stored, field, scale)
    if plain is not None:
        return ColumnRead(pd.Series(plain, index=index, dtype=DTYPES[field.kind]), typed, ())
    answers = _Column(cells, stored, special, field, words, scale, year).read()
    values = _as_series([answer.value for answer in answers], index, field.kind)
    readings = tuple(
        Reading(index[row], field.name, answer.kind, cells[row].text, answer.shown, answer.remark)
        for row, answer in enumerate(answers)
        if answer.kind
    )
    return ColumnRead(values, typed, readings)


def _plain_column(stored: list[object], field: FieldDeclaration, scale: float) -> object | None:
    """Read a column in which every cell is just what the field expects; None when some cell is not."""
    kinds = set(map(type, stored))
    if field.kind in ("number", "integer") and kinds <= {int, float, type(None)}:
        try:
            numbers = np.array([math.nan if value is None else value for value in stored], dtype="float64")
        except OverflowError:
            return None
        known = numbers[~np.isnan(numbers)]
        if (abs(known) > LARGEST_WHOLE).any():
            return None
        if field.kind == "integer":
            if (known % 1).any() or scale != 1:
                return None
            return pd.array(
                [None if math.isnan(number) else int(number) for number in numbers], dtype="Int64"
            )
        # not numbers * scale: 12.02 cm is 120.2 mm, not 120.19999999999999 mm
        return numbers if scale == 1 else np.array([float(f"{number * scale:.12g}") for number in numbers])
    if field.kind == "date" and kinds <= {dt.datetime, dt.date, pd.Timestamp, type(None)}:
        if any(getattr(value, "tzinfo", None) is not None for value in stored):
            return None
        return np.array(stored, dtype="datetime64[D]").astype("datetime64[us]")
    if field.kind == "datetime" and kinds == {str} and all(map(_ISO_MOMENT.fullmatch, map(str, stored))):
        try:
            return np.array(stored, dtype="datetime64[us]")
        except ValueError:
            return None
    return None


def _as_series(values: list[object], index: pd.Index[str], kind: str) -> pd.Series:
    if kind in ("date", "datetime"):
        return pd.Series(np.array(values, dtype="datetime64[us]"), index=index, dtype=DTYPES[kind])
    if kind == "integer":
        whole = [None if value is None else int(float(str(value))) for value in values]
        return pd.Series(pd.array(whole, dtype="Int64"), index=index)
    if kind == "number":
        return pd.Series([math.nan if v is None else v for v in values], index=index, dtype="float64")
    return pd.Series(values, index=index, dtype=DTYPES[kind])


@dataclass(frozen=True, slots=True)
class _Column:
    """A column on its way from stored cells to answers."""

    cells: Sequence[RawCell]
    stored: list[object]
    special: list[int]
    field: FieldDeclaration
    words: Words
    scale: float
    year: int | None
    readers: list[NumberReader] = dataclass_field(default_factory=list)

    def read(self) -> list[Answer]:
        """Answer for every cell: copied ones last, since they need the ones above."""
        stored = list(self.stored)
        for i, value in () if _texts_alone(stored) else enumerate(stored):
            if type(value) is int and not -_LARGEST < value < _LARGEST:
                stored[i] = math.inf
            elif isinstance(value, pd.Timestamp):
                stored[i] = value.to_pydatetime()
            elif value is pd.NaT or value is pd.NA:
                stored[i] = None
        marks = self._ditto_marks(stored)
        for i in marks:
            stored[i] = None
        answers = self._by_kind(stored)
        for i in self.special:
            if i not in marks:
                answers[i] = self._special(i, answers[i])
        for i in marks:
            answers[i] = self._copied(i, stored, answers, marks)
        return answers

    def _by_kind(self, stored: list[object]) -> list[Answer]:
        kind, field, words = self.field.kind, self.field, self.words
        if kind in ("number", "integer"):
            texts = {value for value in stored if isinstance(value, str)}
            reader = number_reader(field, words, scale=self.scale, marks=decimal_marks(texts))
            return _each(stored, reader.read)
        if kind == "date":
            return date_reader(words, year=self.year).read(stored)
        if kind == "datetime":
            return read_moments(stored, date_reader(words, year=self.year), time_reader(words))
        if kind == "time":
            return _each(stored, time_reader(words).read)
        if kind == "boolean":
            return _each(stored, yes_no_reader(field, words).read)
        if kind == "code":
            texts = {text for cell in self.cells for text in (cell.text,)} if field.name == "tag" else set()
            codes = code_reader(field, words, texts)
            answers = _each(stored, codes.read)
            for i, value in enumerate(stored):
                if isinstance(value, (int, float)) and "0" in self.cells[i].number_format:
                    answers[i] = codes.read(value, self.cells[i].number_format)
            return answers
        return _each(stored, text_reader(field, words).read)

    def _ditto_marks(self, stored: list[object]) -> dict[int, None]:
        """Rows that hold a mark for 'as above'."""
        listed = self.words.listed("ditto.marks")
        longest = max(map(len, listed))
        marks = set()
        for value in {*stored}:
            if not isinstance(value, str) or len(value) > longest + 2:
                continue
            word = fold(tidy(value))
            if word and (word in listed or word.replace(" ", "") in listed):
                marks.add(value)
        if not marks:
            return {}
        return {i: None for i, value in enumerate(stored) if isinstance(value, str) and value in marks}

    def _copied(self, i: int, stored: list[object], answers: list[Answer], marks: dict[int, None]) -> Answer:
        mark = quoted(self.cells[i].text.strip()) if self.cells[i].text.strip() else "the empty cell"
        noted = self.field.name in self.words.setting("ditto.noted_fields")
        if not noted and self.field.name not in self.words.setting("ditto.fields"):
            return Answer(
                None,
                UNREADABLE,
                f"{mark} repeats the row above, but here every row has a value of its own; type it",
            )
        above = next((row for row in range(i - 1, -1, -1) if row in marks or _filled(stored[row])), None)
        if above is None:
            return Answer(
                None, UNREADABLE, f"{mark} repeats the row above, but nothing stands there; type the value"
            )
        value = answers[above].value
        shown = "" if value is None else str(value)
        if noted and value is not None:
            shown = f"{value:.10g}" if isinstance(value, float) else shown
            return Answer(
                value, "ditto_measure", f"{mark} was read as {shown} {self.field.unit} from above", shown
            )
        return Answer(value, "ditto", f"{mark} was read as above", shown)

    def _special(self, i: int, answer: Answer) -> Answer:
        """Answer for a formula or a cell covered by a merged range."""
        cell = self.cells[i]
        if not cell.merged:
            return self._formula(cell, answer)
        copyable = self.field.name in (
            *self.words.setting("ditto.fields"),
            *self.words.setting("ditto.noted_fields"),
        )
        if copyable or self.field.kind == "string" or answer.value is None:
            return answer
        return Answer(
            None,
            UNREADABLE,
            f"{quoted(cell.text)} is repeated here by a merged cell, but every row has a value of its own; "
            "split the cell and type it",
        )

    def _sums(self) -> NumberReader:
        """Reader of sums typed as formulas; laid out once, since a column may hold thousands."""
        if not self.readers:
            self.readers.append(number_reader(self.field, self.words, scale=self.scale))
        return self.readers[0]

    def _formula(self, cell: RawCell, answer: Answer) -> Answer:
        if self.field.kind in ("number", "integer"):
            reader = self._sums()
            value = reader.work_out(cell.formula.removeprefix("="))
            if value is not None:
                return reader.summed(cell.formula, value)
        if cell.outdated:
            return Answer(
                None,
                UNREADABLE,
                f"the formula {quoted(cell.formula)} depends on cells that were changed, and cannot be "
                "worked out anew here; change them in the sheet itself, save it in the spreadsheet and read "
                "it again, or type the value",
            )
        if cell.value is None:
            return Answer(
                None,
                UNREADABLE,
                f"the formula {quoted(cell.formula)} has no result stored in the file; open the file in the "
                "spreadsheet, save it and read it again, or type the value",
            )
        return answer


def _each(stored: list[object], read: Callable[[object], Answer]) -> list[Answer]:
    """Read each distinct value once: sheets repeat themselves."""
    if _texts_alone(stored):
        texts = {value: MISSING if value is None else read(value) for value in dict.fromkeys(stored)}
        return [texts[value] for value in stored]
    # 1, 1.0 and True are equal, and written differently
    known: dict[tuple[type, object], Answer] = {}
    answers = []
    for value in stored:
        if value is None:
            answers.append(MISSING)
            continue
        key = (type(value), value)
        answer = known.get(key)
        if answer is None:
            answer = known[key] = read(value)
        answers.append(answer)
    return answers


def _texts_alone(stored: list[object]) -> bool:
    """Whether every cell holds text, or nothing."""
    return set(map(type, stored)) <= {str, type(None)}


def _filled(value: object) -> bool:
    return value is not None and bool(str(value).strip())
