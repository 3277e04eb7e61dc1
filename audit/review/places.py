"""Where decided cells stand in a sheet that was sorted, extended or mended since."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.refusal import SeasonRefusal
from audit.review.decisions import DecidedCell, text_of
from audit.review.former_rows import Found, by_texts, find_rows
from audit.review.row_texts import NOWHERE, plain, row_texts
from audit.review.wording import counted
from audit.season import split_label

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from audit.review.decisions import Decision
    from audit.review.row_texts import RowTexts
    from audit.season import Season, Table

__all__ = ["Orphan", "Placed", "decided_cell", "place"]

Choice = tuple["Decision", "DecidedCell"]


@dataclass(frozen=True, slots=True)
class Orphan:
    """A decided cell that has no place in the season any more.

    Attributes
    ----------
    why : str
        One sentence that says so.
    label : str
        Row label, where the row is there and only the cell is not as it was; else empty.
    """

    decision: Decision
    cell: DecidedCell
    why: str
    label: str = ""


@dataclass(frozen=True, slots=True)
class Placed:
    """Decided cells in a season.

    Attributes
    ----------
    at : mapping of (str, str) to tuple of (Decision, DecidedCell)
        Row label and canonical column -> all that was decided about the cell. A cell that already holds what
        was decided is among them.
    orphans : tuple of Orphan
        Cells that were not found, or that hold a third text.
    """

    at: Mapping[tuple[str, str], tuple[Choice, ...]]
    orphans: tuple[Orphan, ...] = ()


def decided_cell(season: Season, label: str, field: str, instead: str | None) -> DecidedCell:
    """Describe one cell of a season as typed, so that it is found again.

    Parameters
    ----------
    season : Season
        As typed, without any decision.
    label, field : str
        Row label and canonical column, or the own header of a column that means none. A column that the sheet
        does not have is taken for empty.
    instead : str or None
        The text that takes its place; None where it stays as typed.

    Raises
    ------
    audit.refusal.SeasonRefusal
        The season has no such row.
    """
    table = season.tables.get(season.table_of(label))
    texts = row_texts(table) if table is not None else None
    if table is None or texts is None or label not in texts.at:
        raise SeasonRefusal(
            f"There is no row '{label}' in this season.",
            where=season.source or season.name,
            cure="Name a row as sheet!row, of the rows that were read.",
        )
    row = texts.at[label]
    sheet, number = split_label(label)
    fields = [name for name in texts.fields if (sheet, name) in table.columns]
    typed = table.typed.iloc[row]
    held = {name: str(typed[name]) for name in fields}
    columns = np.array([texts.fields.index(name) for name in fields], dtype=np.intp)
    unlike = texts.codes[columns] != texts.codes[columns, row][:, None]
    differences = unlike.sum(axis=0)
    twins = np.flatnonzero(differences == 0)
    twins = twins[[texts.sheets[one] == sheet for one in twins]]
    others = np.delete(differences, twins)
    return DecidedCell(
        sheet=sheet,
        row=number,
        field=field,
        observed=held.get(field, ""),
        instead=instead,
        as_typed={name: text for name, text in held.items() if text},
        twin=int(np.searchsorted(twins, row)) + 1,
        table=table.name,
        empty=tuple(name for name, text in held.items() if not text),
        twins=len(twins),
        alike=_alike(texts, columns, unlike, field, held.get(field, ""), instead),
        nearest=int(others.min()) if len(others) else len(fields),
    )


def _alike(
    texts: RowTexts, columns: np.ndarray, unlike: np.ndarray, field: str, observed: str, instead: str | None
) -> int:
    """Count rows that read as this one will."""
    if instead is None or field not in texts.fields or plain(instead) == plain(observed):
        return 0
    own = texts.fields.index(field)
    rest = ~unlike[columns != own].any(axis=0)
    return int((rest & (texts.codes[own] == texts.code(own, instead))).sum())


def place(season: Season, decisions: Iterable[Decision]) -> Placed:
    """Find the cells that decisions are about.

    Parameters
    ----------
    season : Season
        As typed, without any decision.
    decisions : iterable of Decision
        Those that stand; an ``undo`` is about no cell.
    """
    choices = [(decision, cell) for decision in decisions for cell in decision.cells]
    rows = _rows(season, [cell for _, cell in choices])
    at: dict[tuple[str, str], list[Choice]] = {}
    orphans = []
    for decision, cell in choices:
        table, found = rows[id(cell)]
        label = _label(table, found)
        why = _why_unfit(season, decision, cell, label) if label else _why_lost(table, cell, found)
        if why:
            orphans.append(Orphan(decision, cell, why, label))
        else:
            at.setdefault((label, cell.field), []).append((decision, cell))
    return Placed({key: tuple(here) for key, here in at.items()}, tuple(orphans))


def _rows(season: Season, cells: Sequence[DecidedCell]) -> dict[int, tuple[Table | None, Found]]:
    """Identity of each cell object -> table and row of today."""
    rows: dict[int, tuple[Table | None, Found]] = {}
    renamed: dict[str, dict[str, str]] = {}
    for twins in by_texts(cells).values():
        found: dict[int, tuple[Table | None, Found]] = {}
        for table in _tables(season, next(iter(twins.values())).one):
            texts = row_texts(table)
            if table.name not in renamed:
                renamed[table.name] = _renamed(
                    texts, [cell for cell in cells if cell.table in ("", table.name)]
                )
            for twin, where in find_rows(twins, texts, renamed[table.name]).items():
                before = found.get(twin)
                if before is None or before[1].row is None:
                    found[twin] = table, where
                elif where.row is not None:
                    found[twin] = table, Found(None, "equal")
        for twin, former in twins.items():
            rows |= {id(cell): found.get(twin, (None, Found(None, "gone"))) for cell in former.cells}
    return rows


def _tables(season: Season, cell: DecidedCell) -> list[Table]:
    """Tables that a row may stand in: a sheet may have another name now."""
    name = cell.table if cell.table in season.tables else season.table_of(f"{cell.sheet}!{cell.row}")
    if name:
        return [season.tables[name]]
    return [table for table in season.tables.values() if cell.field in table.typed.columns]


def _renamed(texts: RowTexts, cells: Sequence[DecidedCell]) -> dict[str, str]:
    """Columns of the time that are gone -> the one new column that holds all that stood in them."""
    held: dict[str, set[str]] = {}
    known: set[str] = set()
    for cell in cells:
        known.update(cell.as_typed, cell.empty)
        for name in cell.as_typed.keys() - set(texts.fields):
            held.setdefault(name, set()).add(cell.as_typed[name])
    new = [number for number, name in enumerate(texts.fields) if name not in known]
    fits = {
        name: [number for number in new if all(texts.code(number, text) != NOWHERE for text in some)]
        for name, some in held.items()
    }
    taken = [numbers[0] for numbers in fits.values() if len(numbers) == 1]
    return {
        name: texts.fields[numbers[0]]
        for name, numbers in fits.items()
        if len(numbers) == 1 and taken.count(numbers[0]) == 1
    }


def _why_lost(table: Table | None, cell: DecidedCell, found: Found) -> str:
    """Say why a row was not found."""
    then = f"row {cell.row} of sheet '{cell.sheet}'"
    if found.why == "equal":
        return f"Several rows hold what {then} held, and none is better than the others."
    if found.why == "twin gone":
        return (
            f"{counted(cell.twins, 'row')} held the same as {then}, and not as many are left: which one is "
            "meant cannot be told."
        )
    if found.why == "alike":
        return (
            f"What stood in {then} is not there any more; a row that is left may be another one, as similar."
        )
    if found.like is not None and table is not None:
        label = str(table.typed.index[found.like])
        sheet, number = split_label(label)
        now = _now(table, label, cell.field)
        if plain(now) != plain(cell.observed):
            return (
                f"What stood in {then} is not there any more; row {number} of '{sheet}' is like it, but "
                f"holds {_quoted(now)} where {_quoted(cell.observed)} stood."
            )
    return f"No row holds what {then} held."


def _why_unfit(season: Season, decision: Decision, cell: DecidedCell, label: str) -> str:
    """Say why a cell cannot take what was decided; empty where it can."""
    table = season.tables[season.table_of(label)]
    sheet, _ = split_label(label)
    wanted = text_of(decision, cell)
    if (sheet, cell.field) not in table.columns:
        stays = wanted is None or wanted == cell.observed
        if stays and not cell.observed:
            return ""
        return f"Sheet '{sheet}' has no column '{cell.field}': the row is there, but not the cell."
    now = _now(table, label, cell.field)
    if now == wanted or plain(now) == plain(cell.observed):
        return ""
    stood = f"{_quoted(cell.observed)} stood when it was decided"
    if wanted is not None and wanted != cell.observed:
        return f"The cell holds {_quoted(now)} now: {stood}, and {_quoted(wanted)} was to take its place."
    return f"The cell holds {_quoted(now)} now: {stood}."


def _now(table: Table, label: str, field: str) -> str:
    return str(table.typed.at[label, field]) if field in table.typed.columns else ""


def _label(table: Table | None, found: Found) -> str:
    return "" if table is None or found.row is None else str(table.typed.index[found.row])


def _quoted(text: str) -> str:
    return f"'{text}'" if text else "nothing"
