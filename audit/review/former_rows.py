"""Rows as they stood when something was decided about them, found again in the sheet of today.

What counts is what a row held, never where it stood. A row is found when one of these holds:

- A row holds the same texts. Where several rows did (twins), as many must be left, and they keep their order.
- A row holds the same texts but for decided cells that hold what was decided: somebody mended the sheet, too.
- A row differs from it in at most ``(s - 1) // 2`` columns, where the most similar other row differed in
  ``s`` of them when it was decided, and no second one comes as near: the bound up to which a code of distance
  ``s`` can be mended (Hamming, R. W. (1950). Error detecting and error correcting codes. Bell System
  Technical Journal 29, 147-160). Another row would have to have been changed into it.

Else nothing is found: an orphan is looked at again by a person, a wrong row by nobody.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from audit.review.row_texts import plain

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from audit.review.decisions import DecidedCell
    from audit.review.row_texts import RowTexts

__all__ = ["FormerRow", "Found", "by_texts", "find_rows"]

#: More changed cells than this make another row.
_MOST_CHANGED = 4


@dataclass(frozen=True, slots=True)
class Found:
    """Where a former row stands now.

    Attributes
    ----------
    row : int or None
        Its number in the table, None where it was not found.
    why : {'', 'gone', 'equal', 'twin gone', 'alike'}
        What speaks against every row: none is like it; several are equally good; one of several that held the
        same has gone; what is left could be another row that was as similar.
    like : int or None
        Where none was found, the one row that differs in decided cells only.
    """

    row: int | None
    why: str = ""
    like: int | None = None


@dataclass(slots=True)
class FormerRow:
    """A row as it stood, with all its cells that were decided.

    Attributes
    ----------
    cells : list of DecidedCell
        All of them with the same texts of the row.
    """

    cells: list[DecidedCell] = field(default_factory=list)

    @property
    def one(self) -> DecidedCell:
        """Any of its cells."""
        return self.cells[0]

    def texts(self) -> dict[str, str]:
        """Say what each column held, the empty ones included."""
        return dict(self.one.as_typed) | dict.fromkeys(self.one.empty, "")

    def instead(self) -> dict[str, set[str]]:
        """Decided column -> what was to stand there and does not already."""
        texts: dict[str, set[str]] = {}
        for cell in self.cells:
            if cell.instead is not None and plain(cell.instead) != plain(cell.observed):
                texts.setdefault(cell.field, set()).add(cell.instead)
        return texts

    def alike(self, column: str) -> int:
        """How many rows already read as this one would with that cell mended."""
        counts = {cell.instead: cell.alike for cell in self.cells if cell.field == column}
        return sum(counts.values())


def find_rows(twins: Mapping[int, FormerRow], now: RowTexts, renamed: Mapping[str, str]) -> dict[int, Found]:
    """Find rows that held the same texts.

    Parameters
    ----------
    twins : mapping of int to FormerRow
        Number of the row among those that held the same -> row; only those that something was decided about.
    now : RowTexts
        The table of today.
    renamed : mapping of str to str
        Columns that have another name now.
    """
    search = _Search.of(next(iter(twins.values())), now, renamed)
    same = search.same()
    if same is None:
        return dict.fromkeys(twins, Found(None, "equal"))
    number = search.one.twins
    if len(same) == number:
        return {twin: Found(int(same[twin - 1])) for twin in twins if twin <= number} | {
            twin: Found(None, "twin gone") for twin in twins if twin > number
        }
    if len(same) > number:
        return _by_number(twins, now, same)
    found: dict[int, Found] = {}
    claimed: set[int] = set()
    for twin, former in sorted(twins.items()):
        of_twin = search if former is search.former else _Search.of(former, now, renamed)
        mended = of_twin.mended(claimed)
        if mended.row is not None:
            claimed.add(mended.row)
            found[twin] = mended
        elif number == 1:
            found[twin] = mended
    left = [twin for twin in range(1, number + 1) if twin not in found]
    for twin in twins.keys() - found.keys():
        fits = len(left) == len(same) and twin in left
        found[twin] = Found(int(same[left.index(twin)])) if fits else Found(None, "twin gone")
    return found


def _by_number(twins: Mapping[int, FormerRow], now: RowTexts, same: np.ndarray) -> dict[int, Found]:
    """Choose among more rows of the same texts than there were: only where one still stands at its place."""
    labels = {now.labels[row]: int(row) for row in same}
    places = {twin: labels.get(f"{former.one.sheet}!{former.one.row}") for twin, former in twins.items()}
    return {twin: Found(row) if row is not None else Found(None, "equal") for twin, row in places.items()}


@dataclass(frozen=True, slots=True)
class _Search:
    """One former row on the search for itself.

    Attributes
    ----------
    fields, columns, codes
        The columns that were there then and are there now: name, number, code of the text.
    lost : int
        How many columns are gone.
    apart : int
        In how many of those that are left every other row of the table differed at least.
    """

    former: FormerRow
    one: DecidedCell
    now: RowTexts
    fields: list[str]
    columns: np.ndarray
    codes: np.ndarray
    lost: int
    apart: int

    @classmethod
    def of(cls, former: FormerRow, now: RowTexts, renamed: Mapping[str, str]) -> _Search:
        """Look up the columns and what they held."""
        numbers = {name: number for number, name in enumerate(now.fields)}
        texts = {renamed.get(name, name): text for name, text in former.texts().items()}
        lost = sum(name not in numbers for name in texts)
        # A column that the sheet did not have then may be there now.
        texts |= {cell.field: cell.observed for cell in former.cells}
        fields = [name for name in texts if name in numbers]
        columns = np.array([numbers[name] for name in fields], dtype=np.intp)
        codes = np.array([now.code(numbers[name], texts[name]) for name in fields], dtype=np.int32)
        known = [cell.nearest for cell in former.cells if cell.nearest is not None]
        return cls(former, former.one, now, fields, columns, codes, lost, min(known, default=0) - lost)

    def same(self) -> np.ndarray | None:
        """Rows with the same texts, in the sheet that it stood in where there are any; None if in doubt."""
        rows = self._of_sheet(self.now.within(self.columns, self.codes, 0)[0])
        if rows is None or not len(rows):
            return rows
        # With columns gone, a row that differed in these only would look the same.
        return rows if not self.lost or self.apart > 0 else rows[:0]

    def mended(self, claimed: set[int]) -> Found:
        """Find a row that differs, of those that no twin has claimed."""
        instead = self.former.instead()
        radius = max(0, min((self.apart - 1) // 2, _MOST_CHANGED))
        names = {cell.field for cell in self.former.cells}
        decided = np.array([name in names for name in self.fields], dtype=bool)
        most = max(int(decided.sum()), radius)
        rows, differences = self.now.within(self.columns, self.codes, most)
        unlike = self.now.codes[self.columns[:, None], rows[None, :]] != self.codes[:, None]
        elsewhere = unlike[~decided].any(axis=0) if len(decided) else np.zeros(len(rows), dtype=bool)
        by_mended: dict[frozenset[str], list[int]] = {}
        touched = []
        for at in np.flatnonzero(~elsewhere & (differences > 0)):
            row = int(rows[at])
            changed = [self.fields[column] for column in np.flatnonzero(unlike[:, at])]
            if all(self._holds(row, name, instead.get(name, ())) for name in changed):
                by_mended.setdefault(frozenset(changed), []).append(row)
            else:
                touched.append(row)
        said = self._by_decided(by_mended, instead, claimed)
        if said is not None:
            return said
        near = rows[differences <= radius] if self.one.twins == 1 and radius else rows[:0]
        if len(near) == 1:
            return Found(int(near[0]))
        like = touched[0] if len(touched) == 1 else None
        return Found(None, "equal" if len(near) > 1 else "gone", like)

    def _by_decided(
        self,
        by_mended: Mapping[frozenset[str], list[int]],
        instead: Mapping[str, set[str]],
        claimed: set[int],
    ) -> Found | None:
        """Choose the row in which somebody mended decided cells; None where there is none."""
        fitting: list[int] = []
        to_change = False
        doubtful = False
        for names, all_rows in by_mended.items():
            rows = [row for row in all_rows if row not in claimed]
            spare = len(rows)
            if len(names) == 1:
                spare = len(all_rows) - self.former.alike(next(iter(names))) - len(claimed & set(all_rows))
            left = any(name not in names for name in instead)
            # One changed cell in another row must not make it this one.
            known = self.apart > len(names) + 1
            if spare <= 0 or (left and (not known or self.one.twins > 1)):
                doubtful |= bool(rows)
                continue
            fitting += rows
            to_change |= left
        if not fitting:
            return Found(None, "alike") if doubtful else None
        if len(fitting) > 1:
            if to_change:
                return Found(None, "equal")
            # Nothing is left to be changed in any of them.
            own = [row for row in fitting if self.now.labels[row] == f"{self.one.sheet}!{self.one.row}"]
            fitting = own or fitting[-1:]
        return Found(fitting[0])

    def _holds(self, row: int, name: str, texts: Iterable[str]) -> bool:
        number = self.now.fields.index(name)
        return any(self.now.code(number, text) == self.now.codes[number, row] for text in texts)

    def _of_sheet(self, rows: np.ndarray) -> np.ndarray | None:
        """Rows of the own sheet; else of the one other sheet that has any; None where several have."""
        sheets = [self.now.sheets[row] for row in rows]
        own = [row for row, sheet in zip(rows, sheets, strict=True) if sheet == self.one.sheet]
        if own:
            return np.array(own, dtype=np.intp)
        if all(cell.nearest == 0 for cell in self.former.cells):
            # Another sheet had such a row: it is that one.
            return rows[:0]
        return rows if len(set(sheets)) <= 1 else None


def by_texts(cells: Sequence[DecidedCell]) -> dict[object, dict[int, FormerRow]]:
    """Sort decided cells by row: what the row held -> number among its twins -> row."""
    rows: dict[object, dict[int, FormerRow]] = {}
    for cell in cells:
        held = frozenset((name, plain(text)) for name, text in cell.as_typed.items())
        key = (cell.table, cell.sheet, held, cell.empty, cell.twins)
        rows.setdefault(key, {}).setdefault(cell.twin, FormerRow()).cells.append(cell)
    return rows
