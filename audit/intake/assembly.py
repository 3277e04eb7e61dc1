"""Planned sheets become one typed table."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

import pandas as pd

from audit.intake.ambiguity import number_in
from audit.intake.beside import cells_beside
from audit.intake.carried_down import by_visits_of, carried_down
from audit.intake.grid import EMPTY, RawCell
from audit.intake.joined_labels import joined_as_usual
from audit.intake.values import read_column
from audit.intake.wording import counted
from audit.season import Column, Table, Written, row_label

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audit.declarations import Declarations
    from audit.intake.ambiguity import Claim
    from audit.intake.grid import Sheet
    from audit.intake.sheet_plan import SheetPlan
    from audit.season import Reading

__all__ = ["NAME_OF_SHEET", "BuiltTable", "below_each_other", "build_table"]

#: Tables of which a row is a bird, and a few rows below each other are a visit.
_OF_BIRDS = ("handlings", "earlier")
#: Where a box stands that is in no cell.
NAME_OF_SHEET = "name of the sheet"
_YEAR = re.compile(r"(?<!\d)(?:19|20)\d\d(?!\d)")


@dataclass(frozen=True, slots=True)
class BuiltTable:
    """A table, how its unusual cells were read, and what a person should know."""

    table: Table
    readings: tuple[Reading, ...]
    notices: tuple[str, ...]


def build_table(
    name: str,
    plans: Sequence[SheetPlan],
    declared: Declarations,
    season: str = "",
    sheets: Sequence[Sheet] = (),
) -> BuiltTable:
    """Type the cells of all sheets that hold one table, and put them below each other in sheet order.

    Parameters
    ----------
    season : str
        Name of the season, which may say its year.
    sheets : sequence of Sheet
        All sheets of the file, for formulas that refer to them.
    """
    by_name = {sheet.name.casefold(): sheet for sheet in sheets}
    values: list[pd.DataFrame] = []
    typed: list[pd.DataFrame] = []
    columns: dict[tuple[str, str], Column] = {}
    readings: list[Reading] = []
    notices: list[str] = []
    for plan in plans:
        labels = [row_label(plan.sheet.name, i + 1) for i in plan.rows]
        index = pd.Index(labels, dtype="str")
        year = _year(plan, season)
        heads = (*(claim.head for claim in plan.claims), *plan.others, *plan.ignored)
        beside = partial(
            cells_beside,
            plan.sheet,
            plan.rows,
            frozenset(head.index for head in heads),
            sheets={} if plan.sheet.book else by_name,
        )
        sheet_values: dict[str, pd.Series] = {}
        sheet_typed: dict[str, pd.Series] = {}
        carried = _carried(plan, declared, notices) if name in _OF_BIRDS else {}
        for claim in plan.claims:
            field = declared.tables[name].field(claim.field)
            cells = carried.get(claim.field) or _cells(plan, claim.head.index)
            if claim.field == "box" and name in _OF_BIRDS:
                cells = _joined(plan, cells, declared, notices)
            scale, said = _scale(cells, claim)
            if said:
                notices.append(f"Sheet '{plan.sheet.name}': {said}")
            column = read_column(cells, index, field, declared, scale=scale, year=year)
            sheet_values[claim.field] = column.values  # noqa: PD011 - a field of the record, not of pandas
            sheet_typed[claim.field] = column.typed
            readings.extend(column.readings)
            written = Written(cells, scale, year, beside(cells), book=plan.sheet.book)
            columns[plan.sheet.name, claim.field] = Column(claim.head.text, claim.head.letter, written)
        if plan.box:
            cells = [RawCell(plan.box, plan.box)] * len(plan.rows)
            column = read_column(cells, index, declared.tables[name].field("box"), declared, year=year)
            sheet_values["box"], sheet_typed["box"] = column.values, column.typed  # noqa: PD011 - as above
            columns[plan.sheet.name, "box"] = Column(NAME_OF_SHEET, "", Written(cells, book=plan.sheet.book))
        for head in sorted((*plan.others, *plan.ignored), key=lambda head: head.index):
            own = (
                head.text if head.text not in declared.tables[name].names else f"{head.text} ({head.letter})"
            )
            cells = _cells(plan, head.index)
            sheet_typed[own] = pd.Series([cell.text for cell in cells], index=index, dtype="str")
            written = Written(cells, beside=beside(cells), book=plan.sheet.book)
            columns[plan.sheet.name, own] = Column(head.text, head.letter, written)
        # columns that are theirs alone need not be copied
        values.append(pd.DataFrame(sheet_values, index=index, copy=False))
        typed.append(pd.DataFrame(sheet_typed, index=index, copy=False))
    order = [field for field in declared.tables[name].names if any(field in frame for frame in values)]
    others = dict.fromkeys(str(column) for frame in typed for column in frame if column not in order)
    whole, texts = below_each_other(values, order), below_each_other(typed, [*order, *others])
    # only what a sheet has no column for is missing among texts
    texts = texts if len(typed) == 1 else texts.fillna("")
    return BuiltTable(Table(name, whole, texts, columns), tuple(readings), tuple(notices))


def _carried(plan: SheetPlan, declared: Declarations, notices: list[str]) -> dict[str, list[RawCell]]:
    """Cells of day and box, where they stand in the first row of each visit only."""
    place = {claim.field: claim.head.index for claim in plan.claims}
    if not {"date", "box"} <= set(place) or not plan.rows:
        return {}
    days, boxes = (_cells(plan, place[field]) for field in ("date", "box"))
    limits = by_visits_of(declared)
    count = len(days)
    days, boxes, rows = carried_down(days, boxes, limits)
    if not rows:
        return {}
    visits = "each visit" if rows >= limits.share * count else "several visits"
    notices.append(
        f"Sheet '{plan.sheet.name}': day and box stand in the first row of {visits}; "
        f"{counted(rows, 'row below was', 'rows below were')} read with them."
    )
    return {"date": days, "box": boxes}


def _joined(
    plan: SheetPlan, cells: list[RawCell], declared: Declarations, notices: list[str]
) -> list[RawCell]:
    """Cells of the box, with labels that some join otherwise read as most write them."""
    joined, meant, rows = joined_as_usual(cells, int(declared.settings["reading.joined.rows"].value))
    if meant:
        label, known = next(iter(meant.items()))
        more = counted(len(meant) - 1, "other label was", "other labels were")
        told = f" such labels; {more} read so, too" if len(meant) > 1 else " it"
        notices.append(
            f"Sheet '{plan.sheet.name}': box {label} was read as {known}, as most rows write{told} "
            f"({counted(rows, 'row', 'rows')})."
        )
    return joined


def _cells(plan: SheetPlan, column: int) -> list[RawCell]:
    rows = plan.sheet.rows
    return [rows[i][column] if column < len(rows[i]) else EMPTY for i in plan.rows]


def below_each_other(frames: Sequence[pd.DataFrame], order: list[str]) -> pd.DataFrame:
    """Put frames below each other, columns in order; one that some of the frames lack is missing there."""
    if len(frames) == 1:
        return frames[0] if list(frames[0].columns) == order else frames[0][order]
    dtypes = {column: frame[column].dtype for frame in reversed(frames) for column in frame}
    # A sheet without a column gets it first, missing, so that whole numbers stay whole.
    whole = [
        frame.assign(
            **{
                str(column): pd.Series(index=frame.index, dtype=dtype)
                for column, dtype in dtypes.items()
                if column not in frame
            }
        )
        for frame in frames
    ]
    return pd.concat([frame[order] for frame in whole])


def _scale(cells: Sequence[RawCell], claim: Claim) -> tuple[float, str]:
    """Factor of a column whose header names another unit than ours, where its numbers leave no doubt."""
    unit = claim.unit
    if unit is None or unit.name == unit.of:
        return 1.0, ""
    numbers = [number for cell in cells if (number := number_in(cell)) >= 0]
    if not numbers:
        return 1.0, ""
    header = f"the header '{claim.head.text}' says {unit.name}"
    if unit.largest is None or max(numbers) > unit.largest:
        return 1.0, (
            f"{header}, but values such as {max(numbers):g} are no {unit.name}; they were read as {unit.of}, "
            "as they stand."
        )
    return unit.factor, (
        f"{header}; {counted(len(numbers), 'value was', 'values were')} turned into {unit.of}, "
        f"such as {numbers[0]:g} {unit.name} into {numbers[0] * unit.factor:g} {unit.of}."
    )


def _year(plan: SheetPlan, name: str) -> int | None:
    """Year of the season, if the title above the header, the sheet's name or the file's name says one."""
    title = plan.sheet.rows[: plan.rows[0]] if plan.rows else ()
    for texts in (tuple(cell.text for row in title for cell in row), (plan.sheet.name,), (name,)):
        years = {int(year) for text in texts for year in _YEAR.findall(text)}
        if len(years) == 1:
            return years.pop()
    return None
