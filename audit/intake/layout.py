"""Where a sheet has its header and its rows of data, and what is neither."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.intake.grid import EMPTY, column_letter
from audit.intake.headers import fold
from audit.intake.wording import rows_in_words

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterator, Sequence

    from audit.declarations import Declarations
    from audit.intake.grid import RawCell, Sheet
    from audit.intake.headers import Recognised, Unit, Vocabulary

__all__ = ["Head", "Heading", "RowHabits", "data_rows", "find_heading", "recognise", "row_habits"]

_LETTER = re.compile(r"[^\W\d_]")
_DIGIT = re.compile(r"\d")
_RANGE = re.compile(r"[:\[]")
_FUNCTION = re.compile(r"^=\s*(?:[A-Za-z.]+:)?=?\s*([A-Z]+)\s*\(")


@dataclass(frozen=True, slots=True)
class Head:
    """The head of one column.

    Attributes
    ----------
    index : int
        Column, from 0.
    text : str
        Header as typed; two rows joined by `` / ``. Unique in its sheet: a second ``ring`` is ``ring (H)``.
    readings : tuple of str
        Texts by which it may be known, the likeliest first.
    unit : Unit or None
        Unit from a row of units below the header.
    """

    index: int
    text: str
    readings: tuple[str, ...]
    unit: Unit | None = None

    @property
    def letter(self) -> str:
        """Column letter."""
        return column_letter(self.index)


@dataclass(frozen=True, slots=True)
class Heading:
    """The header of a sheet: its first row and how many rows it takes, both from 0, and the heads in it."""

    first: int
    depth: int
    heads: tuple[Head, ...]

    @property
    def below(self) -> int:
        """First row, from 0, that may hold data."""
        return self.first + self.depth


@dataclass(frozen=True, slots=True)
class RowHabits:
    """What tells rows of data from other rows; declared in ``reading.yaml``."""

    rows_searched: int
    units_least: int
    hints_share: float
    repeated_share: float
    note_words: int
    total_words: frozenset[str]
    total_functions: frozenset[str]


def row_habits(declared: Declarations) -> RowHabits:
    """Gather what tells rows of data from other rows."""
    setting = declared.settings
    return RowHabits(
        rows_searched=setting["reading.files.header.rows_searched"].value,
        units_least=setting["reading.files.header.units_least"].value,
        hints_share=setting["reading.files.header.hints_share"].value,
        repeated_share=setting["reading.files.rows.repeated_share"].value,
        note_words=setting["reading.files.rows.note_words"].value,
        total_words=frozenset(fold(word) for word in setting["reading.files.rows.total_words"].value),
        total_functions=frozenset(setting["reading.files.rows.total_functions"].value),
    )


def find_heading(
    sheet: Sheet, table: str, vocabulary: Vocabulary, habits: RowHabits, saved: Collection[str] = ()
) -> Heading | None:
    """Find the row, or the two rows, with the most headers that are known or stand in a saved mapping.

    Where none is known, headers with a slip of the keys count, and failing these the widest row of words, so
    that a person can be told which headers are not known.
    """

    def known(head: Head) -> str:
        found = recognise(head, table, vocabulary)
        return head.text if head.text in saved else found.field if found else ""

    def misspelt(head: Head) -> str:
        found = vocabulary.slip(head.readings[0], table, vocabulary.units_of_fields[table])
        return found.field if found else ""

    best = _best_heading(sheet, known, habits) or _best_heading(sheet, misspelt, habits)
    if best is None:
        best = _best_heading(sheet, lambda head: head.text, habits, every_cell=True)
    return None if best is None else _with_units(best, sheet, vocabulary, habits)


def _best_heading(
    sheet: Sheet, meaning: Callable[[Head], str], habits: RowHabits, *, every_cell: bool = False
) -> Heading | None:
    best: Heading | None = None
    most = 0
    for first in range(min(habits.rows_searched, len(sheet.rows))):
        for depth in (1, 2):
            rows = sheet.rows[first : first + depth]
            # A year or a number may stand in a header, but not in the lower row of one.
            if len(rows) < depth or not all(
                _may_be_header(row, every_cell=every_cell or i > 0) for i, row in enumerate(rows)
            ):
                break
            heads = tuple(_heads(rows))
            told = len({meant for head in heads if (meant := meaning(head))})
            # Of two rows, the upper one may be a title: they must tell more than one row does.
            simpler = best is not None and told == most and depth < best.depth
            if told > most or simpler:
                best, most = Heading(first, depth, heads), told
    return best


def recognise(head: Head, table: str, vocabulary: Vocabulary) -> Recognised | None:
    """Say which field a head means, by the first of its readings that is known."""
    for text in head.readings:
        found = vocabulary.recognise(text, table)
        if found is not None:
            return found
    return None


def _may_be_header(row: Sequence[RawCell], *, every_cell: bool) -> bool:
    filled = [cell for cell in row if cell.text.strip()]
    words = sum(isinstance(cell.value, str) and bool(_LETTER.search(cell.text)) for cell in filled)
    return bool(words) and (words == len(filled) or (not every_cell and 2 * words > len(filled)))


def _heads(rows: Sequence[Sequence[RawCell]]) -> Iterator[Head]:
    if len(rows) == 1:
        upper: list[str] = []
        lower = [_tidy(cell.text) for cell in rows[0]]
    else:
        width = max(len(row) for row in rows)
        upper, lower = ([_tidy(cell.text) for cell in [*row, *[EMPTY] * (width - len(row))]] for row in rows)
        for j in range(1, width):
            # "Mass" stands once above "gross", "bag" and "net", merged or not.
            if lower[j] and not upper[j]:
                upper[j] = upper[j - 1] if lower[j - 1] != upper[j - 1] else ""
    seen: set[str] = set()
    for j, text in enumerate(lower):
        above = upper[j] if upper else ""
        typed, readings = _joined(above, text)
        if not typed:
            continue
        unique = typed if typed not in seen else f"{typed} ({column_letter(j)})"
        seen.add(typed)
        yield Head(j, unique, readings)


def _joined(above: str, below: str) -> tuple[str, tuple[str, ...]]:
    """Join the two rows of a header: as typed, and the texts by which it may be known."""
    if not above or above == below:
        return below, (below,)
    if not below:
        return above, (above,)
    return f"{above} / {below}", (f"{above} {below}", f"{below} {above}", below)


def _tidy(text: str) -> str:
    return " ".join(text.split())


def _with_units(heading: Heading, sheet: Sheet, vocabulary: Vocabulary, habits: RowHabits) -> Heading:
    """Take a row of units and hints below the header into the header; other words may stand among many."""
    if heading.below >= len(sheet.rows):
        return heading
    row = sheet.rows[heading.below]
    texts = {j: cell.text for j, cell in enumerate(row) if cell.text.strip()}
    units = {j: vocabulary.unit_named(text) for j, text in texts.items()}
    told = [bool(units[j]) or vocabulary.is_hint(text) for j, text in texts.items()]
    words = all(_LETTER.search(text) for text in texts.values())
    many = sum(map(bool, units.values())) >= habits.units_least
    many &= sum(told) >= habits.hints_share * len(told)
    if not any(units.values()) or not (all(told) or (words and many)):
        return heading
    heads = tuple(Head(head.index, head.text, head.readings, units.get(head.index)) for head in heading.heads)
    return Heading(heading.first, heading.depth + 1, heads)


def data_rows(
    sheet: Sheet, heading: Heading, columns: Collection[int], needed: Collection[int], habits: RowHabits
) -> tuple[tuple[int, ...], tuple[str, ...]]:
    """Tell the rows of data from blank rows, repeated headers, sums and notes.

    Parameters
    ----------
    columns, needed : collection of int
        Columns, from 0, that are read; those of the fields that a row must have.

    Returns
    -------
    rows : tuple of int
        Rows of data, from 0.
    notices : tuple of str
        What was not taken for data, and why.
    """
    head_rows = [_folded(row) for row in sheet.rows[heading.first : heading.below]]
    titles = {
        tuple(sorted(folded.items())) for row in sheet.rows[: heading.first] if (folded := _folded(row))
    }
    first = min(head.index for head in heading.heads)
    rows: list[int] = []
    repeated: list[int] = []
    sums: list[int] = []
    unread: list[int] = []
    notes: list[int] = []
    for i in range(heading.below, len(sheet.rows)):
        row = sheet.rows[i]
        if not row or not any(cell.text for cell in row):
            continue
        filled = [j for j, cell in enumerate(row) if cell is not EMPTY and _counts(cell)]
        if not any(j in columns for j in filled):
            if filled or any(cell.formula for cell in row):
                unread.append(i)
        elif _is_head_again(row, filled, head_rows, titles, habits):
            repeated.append(i)
        elif _is_total(row, filled, needed, habits):
            sums.append(i)
        # a note stands alone
        elif len(filled) == 1 and _is_note(row, first, columns, needed, habits, last=False):
            notes.append(i)
        else:
            rows.append(i)
    while rows and _is_note(sheet.rows[rows[-1]], first, columns, needed, habits, last=True):
        notes.append(rows.pop())
    notices = []
    if repeated:
        notices.append(f"Sheet '{sheet.name}': {_rows(repeated, 'repeats', 'repeat')} the header; not data.")
    if sums:
        notices.append(f"Sheet '{sheet.name}': {_rows(sums, 'holds', 'hold')} sums or means; not data.")
    notices.extend(
        f"Sheet '{sheet.name}': row {i + 1} was taken for a note, not data: "
        f"'{next(cell.text for cell in sheet.rows[i] if cell.text.strip())}'."
        for i in sorted(notes)
    )
    if unread:
        where = _rows(unread, "holds", "hold")
        notices.append(f"Sheet '{sheet.name}': {where} nothing in the columns that are read; not data.")
    return tuple(rows), tuple(notices)


def _rows(rows: Sequence[int], one: str, many: str) -> str:
    return f"{rows_in_words([i + 1 for i in rows])} {one if len(rows) == 1 else many}"


def _counts(cell: RawCell) -> bool:
    """Whether a cell makes its row a row of data: not what a merged cell or a copied-down formula leaves."""
    if cell.merged:
        return False
    if cell.formula:
        shown = cell.value
        return shown is not None and shown != 0 and not (isinstance(shown, str) and shown.strip() in _NOTHING)
    return bool(cell.text.strip())


_NOTHING = frozenset({"", "#VALUE!", "#DIV/0!", "#N/A", "#REF!", "#NAME?", "#NUM!", "#NULL!"})


def _folded(row: Sequence[RawCell]) -> dict[int, str]:
    return {j: folded for j, cell in enumerate(row) if (folded := fold(cell.text))}


def _is_head_again(
    row: Sequence[RawCell],
    filled: Sequence[int],
    head_rows: Sequence[dict[int, str]],
    titles: Collection[tuple[tuple[int, str], ...]],
    habits: RowHabits,
) -> bool:
    folded: dict[int, str] | None = None
    for head in head_rows:
        # One look at a cell tells most rows of data apart, so the others are folded only when it is needed.
        if folded is None and not any(head.get(j) == fold(row[j].text) for j in filled[:2]):
            continue
        folded = folded or _folded(row)
        same = sum(head.get(j) == text for j, text in folded.items())
        if same > 1 and same >= habits.repeated_share * len(folded):
            return True
    return bool(titles) and tuple(sorted((folded or _folded(row)).items())) in titles


def _is_total(
    row: Sequence[RawCell], filled: Sequence[int], needed: Collection[int], habits: RowHabits
) -> bool:
    if not (_is_total_word(row[filled[0]], habits) or _is_sum(row[filled[0]], habits)):
        return False
    words = [j for j in filled if _is_total_word(row[j], habits)]
    sums = [j for j in filled if _is_sum(row[j], habits)]
    others = [j for j in filled if j in needed and j not in words and j not in sums]
    if words and words[0] == filled[0]:
        return len(others) < max(len(needed) - 1, 1)
    return bool(sums) and len(words) + len(sums) == len(filled)


def _is_total_word(cell: RawCell, habits: RowHabits) -> bool:
    return isinstance(cell.value, str) and fold(cell.text) in habits.total_words


def _is_sum(cell: RawCell, habits: RowHabits) -> bool:
    match = _FUNCTION.match(cell.formula)
    return match is not None and match[1] in habits.total_functions and bool(_RANGE.search(cell.formula))


def _is_note(
    row: Sequence[RawCell],
    first: int,
    columns: Collection[int],
    needed: Collection[int],
    habits: RowHabits,
    *,
    last: bool,
) -> bool:
    """Whether a row holds nothing but a note: one text, where no text of several words belongs.

    Below the last bird a lone word without a digit is a note too; above it, it may be a box without birds.
    """
    filled = [j for j, cell in enumerate(row) if cell.text.strip()]
    if len(filled) != 1:
        return False
    text = row[filled[0]].value
    stands_apart = filled[0] <= first or filled[0] in needed or filled[0] not in columns
    if not stands_apart or not isinstance(text, str):
        return False
    return len(text.split()) >= habits.note_words or (last and not _DIGIT.search(text))
