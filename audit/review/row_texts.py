"""The texts of a table as numbers, so that rows with given texts are found at once."""

from __future__ import annotations

import weakref
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from audit.season import split_label

if TYPE_CHECKING:
    from collections.abc import Mapping

    from audit.season import Table

__all__ = ["NOWHERE", "RowTexts", "plain", "row_texts"]

#: Code of a text that no row of the column holds.
NOWHERE = -1


def plain(text: str) -> str:
    """Return a text as rows are compared by it: without blanks around it, and no formula spelt out.

    A formula names rows and columns, so it is another text wherever its row is sorted to.

    Examples
    --------
    >>> plain(" SV01001 "), plain("=F17-G17"), plain("=F3-G3")
    ('SV01001', '=', '=')
    """
    bare = text.strip()
    return "=" if bare.startswith("=") else bare


@dataclass(frozen=True, slots=True)
class RowTexts:
    """Texts of all rows of a table, one number for each text of a column.

    Attributes
    ----------
    labels : tuple of str
        Row labels, in sheet order.
    at : mapping of str to int
        Row label -> number of the row.
    sheets : tuple of str
        Sheet of each row.
    fields : tuple of str
        Columns, the team's own included.
    codes : numpy.ndarray of int32, shape (columns, rows)
        Code of each text.
    """

    labels: tuple[str, ...]
    at: Mapping[str, int]
    sheets: tuple[str, ...]
    fields: tuple[str, ...]
    codes: np.ndarray
    _code_of: tuple[dict[str, int], ...]
    _counts: np.ndarray
    _starts: np.ndarray
    _lines: dict[int, tuple[np.ndarray, np.ndarray]] = field(default_factory=dict)

    def code(self, column: int, text: str) -> int:
        """Code of a text in one column, `NOWHERE` where no row holds it."""
        known = self._code_of[column]
        code = known.get(text)
        return known.get(plain(text), NOWHERE) if code is None else code

    def _holding(self, column: int, code: int) -> np.ndarray:
        """Numbers of the rows that hold a text, in sheet order."""
        if code == NOWHERE:
            return np.empty(0, dtype=np.intp)
        if column not in self._lines:
            order = np.argsort(self.codes[column], kind="stable")
            ends = np.cumsum(np.bincount(self.codes[column], minlength=len(self._code_of[column])))
            self._lines[column] = order, np.concatenate(([0], ends))
        order, ends = self._lines[column]
        return order[ends[code] : ends[code + 1]]

    def within(self, columns: np.ndarray, codes: np.ndarray, most: int) -> tuple[np.ndarray, np.ndarray]:
        """Find rows that differ from some texts in few columns.

        Parameters
        ----------
        columns, codes : numpy.ndarray of int
            The columns compared, and the code in each.
        most : int
            Rows that differ in more columns are left out.

        Returns
        -------
        rows, differences : numpy.ndarray of int
            In sheet order.
        """
        rows = self._candidates(columns, codes, most + 1)
        differences = (self.codes[columns[:, None], rows[None, :]] != codes[:, None]).sum(axis=0)
        near = differences <= most
        return rows[near], differences[near]

    def _candidates(self, columns: np.ndarray, codes: np.ndarray, number: int) -> np.ndarray:
        # A row that differs in fewer columns than are looked up agrees in one of them; rare texts are quick.
        if number > len(columns):
            return np.arange(len(self.labels))
        rarest = np.argsort(self._counts[self._starts[columns] + codes], kind="stable")[:number]
        lists = [self._holding(int(columns[at]), int(codes[at])) for at in rarest]
        return lists[0] if number == 1 else np.unique(np.concatenate(lists))


_known: dict[int, tuple[weakref.ref[pd.DataFrame], RowTexts]] = {}


def row_texts(table: Table) -> RowTexts:
    """Return the texts of a table as numbers; they are kept for as long as the table is in use."""
    typed = table.typed
    kept = _known.get(id(typed))
    if kept is not None and kept[0]() is typed:
        return kept[1]
    made = _code(typed)
    key = id(typed)
    _known[key] = weakref.ref(typed, lambda _: _known.pop(key, None)), made
    return made


def _code(typed: pd.DataFrame) -> RowTexts:
    labels = tuple(map(str, typed.index))
    codes = np.empty((len(typed.columns), len(labels)), dtype=np.int32)
    code_of = []
    counts = []
    for number in range(len(typed.columns)):
        codes[number], known = _code_column(typed.iloc[:, number])
        code_of.append(known)
        # Before the counts of a column stands one of nought, for texts that it does not hold.
        counts += [np.zeros(1, dtype=np.intp), np.bincount(codes[number], minlength=len(known))]
    starts = np.cumsum([0, *(1 + len(known) for known in code_of)])[:-1] + 1
    return RowTexts(
        labels=labels,
        at={label: number for number, label in enumerate(labels)},
        sheets=tuple(split_label(label)[0] for label in labels),
        fields=tuple(map(str, typed.columns)),
        codes=codes,
        _code_of=tuple(code_of),
        _counts=np.concatenate(counts) if counts else np.zeros(0, dtype=np.intp),
        _starts=starts,
    )


def _code_column(texts: pd.Series) -> tuple[np.ndarray, dict[str, int]]:
    first, uniques = pd.factorize(texts, use_na_sentinel=False)
    known: dict[str, int] = {}
    merged = [known.setdefault(plain(one if isinstance(one, str) else ""), len(known)) for one in uniques]
    return np.array(merged, dtype=np.int32)[first], known
