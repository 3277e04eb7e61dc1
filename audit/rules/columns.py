"""Columns of the handlings as plain arrays, taken out once for all rules that see the same cells in doubt."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from audit.models.time_of_day import minutes_of
from audit.rules.numbered import number_rows

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.rules.case import Case

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Words = NDArray[np.object_]

__all__ = [
    "as_typed",
    "codes_of",
    "days_of_rows",
    "minutes_of_rows",
    "numbers_of",
    "numbers_of_rows",
    "texts_of_rows",
    "words_of",
]

_TABLE = "handlings"


def as_typed(case: Case) -> Case:
    """Return a case in which no cell is in doubt."""
    return replace(case, doubted=frozenset()) if case.doubted else case


def numbers_of(case: Case, name: str) -> Floats:
    """Return a column of numbers, to be read only, shape (n,); missing where there is none, or a doubt."""
    return case.lay_out(_numbers, case.layouts.all_of(_TABLE, (name,)), name)


def words_of(case: Case, name: str) -> Words:
    """Return a column of texts without blanks at their ends, to be read only, shape (n,); else empty."""
    return case.lay_out(_words, case.layouts.all_of(_TABLE, (name,)), name)


def texts_of_rows(case: Case, name: str) -> Words:
    """Return a column of texts as understood, to be read only, shape (n,); empty where there is none."""
    return case.lay_out(_texts, case.layouts.all_of(_TABLE, (name,)), name)


def days_of_rows(case: Case) -> Floats:
    """Return the day of each row, counted from any day, to be read only, shape (n,); missing without one."""
    return case.lay_out(_days, case.layouts.all_of(_TABLE, ("date",)))


def minutes_of_rows(case: Case) -> Floats:
    """Return minutes since midnight of each row, to be read only, shape (n,); missing without a time."""
    return case.lay_out(_minutes, case.layouts.all_of(_TABLE, ("time",)))


def codes_of(case: Case, name: str) -> Ints:
    """Return a number for each text or day of a column, by first rows, shape (n,); -1 without one."""
    frame = case.frame(_TABLE)
    if name not in frame.columns:
        return np.full(len(frame), -1, dtype=np.int64)
    return case.lay_out(_codes, case.layouts.all_of(_TABLE, (name,)), name)


def numbers_of_rows(case: Case, *names: str, missing: bool = True) -> Ints:
    """Give one number to all rows that hold the same in some columns, as `audit.rules.numbered` does.

    Parameters
    ----------
    names : str
        Columns; those that the handlings don't have are left out.
    """
    return case.lay_out(_numbered, case.layouts.all_of(_TABLE, names), names, missing)


def _numbers(case: Case, name: str) -> Floats:
    frame = case.frame(_TABLE)
    if name not in frame.columns:
        return np.full(len(frame), np.nan)
    return case.sure_column(_TABLE, name).to_numpy(dtype=np.float64, na_value=np.nan)


def _words(case: Case, name: str) -> Words:
    frame = case.frame(_TABLE)
    if name not in frame.columns:
        return np.full(len(frame), "", dtype=object)
    texts = _texts(case, name).tolist()
    # a column holds few that differ
    plain = {text: str(text).strip() for text in set(texts)}
    found = np.empty(len(texts), dtype=object)
    found[:] = [plain[text] for text in texts]
    return found


def _texts(case: Case, name: str) -> Words:
    frame = case.frame(_TABLE)
    if name not in frame.columns:
        return np.full(len(frame), "", dtype=object)
    return case.sure_column(_TABLE, name).to_numpy(dtype=object, na_value="")


def _days(case: Case) -> Floats:
    moments = pd.Series(case.sure_column(_TABLE, "date"), copy=False).to_numpy()
    day = moments.astype("datetime64[D]").astype(np.float64)
    day[np.isnat(moments)] = np.nan
    return day


def _minutes(case: Case) -> Floats:
    return np.array([minutes_of(text) for text in _texts(case, "time").tolist()], dtype=np.float64)


def _numbered(case: Case, names: tuple[str, ...], missing: bool) -> Ints:
    frame = case.frame(_TABLE)
    there = [name for name in names if name in frame.columns]
    if not there:
        return np.zeros(len(frame), dtype=np.int64)
    return number_rows([codes_of(case, name) for name in there], missing=missing)


def _codes(case: Case, name: str) -> Ints:
    return case.sure_column(_TABLE, name).factorize()[0].astype(np.int64)
