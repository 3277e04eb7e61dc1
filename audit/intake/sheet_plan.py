"""How one sheet is going to be read, or why it cannot be."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.intake.grid import column_letter
from audit.intake.layout import Head, data_rows
from audit.intake.mapping import IGNORE, mapping_block, mapping_lines
from audit.intake.wording import counted, listed
from audit.refusal import SeasonRefusal

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from audit.intake.ambiguity import Claim
    from audit.intake.grid import Sheet
    from audit.intake.knowledge import Knowledge
    from audit.intake.sheet_trial import SheetTrial

__all__ = ["SheetPlan", "filled_in", "headers_not_known", "plan_of"]


@dataclass(frozen=True, slots=True)
class SheetPlan:
    """How one sheet is going to be read.

    Attributes
    ----------
    table : str
        Canonical table; empty where it is none.
    claims : tuple of Claim
        Columns that mean a field, in column order.
    others : tuple of Head
        Columns with data that mean none.
    ignored : tuple of Head
        Columns that the saved mapping leaves out.
    rows : tuple of int
        Rows of data, from 0.
    notices : tuple of str
        What a person should know.
    refusal : SeasonRefusal or None
        Why the sheet cannot be read as `table`.
    box : str
        Box of all rows, where the name of the sheet tells it and no column does.
    """

    sheet: Sheet
    table: str
    claims: tuple[Claim, ...] = ()
    others: tuple[Head, ...] = ()
    ignored: tuple[Head, ...] = ()
    rows: tuple[int, ...] = ()
    notices: tuple[str, ...] = ()
    refusal: SeasonRefusal | None = None
    box: str = ""

    @property
    def readable(self) -> bool:
        """Whether it can be read as its table."""
        return bool(self.table) and self.refusal is None


def plan_of(sheet: Sheet, trial: SheetTrial, known: Knowledge) -> SheetPlan:
    """Plan to read a sheet as the table that it was tried as."""
    heads = () if trial.heading is None else trial.heading.heads
    known.saved.check_columns(sheet.name, trial.table, [head.text for head in heads], known.declared)
    if trial.heading is None or not trial.fits:
        return SheetPlan(
            sheet,
            trial.table,
            trial.claims,
            trial.others,
            trial.ignored,
            refusal=_refusal(sheet, trial, known),
        )
    declared = known.declared.tables[trial.table]
    columns = {claim.head.index for claim in trial.claims}
    needed = {claim.head.index for claim in trial.claims if declared.field(claim.field).needed}
    rows, about_rows = data_rows(sheet, trial.heading, columns, needed, known.habits)
    others, about_others = _others(sheet, trial, rows)
    notices = [f"Sheet '{sheet.name}': {notice}" for notice in (*trial.notices, *about_others)]
    return SheetPlan(
        sheet,
        trial.table,
        trial.claims,
        others,
        trial.ignored,
        rows,
        (*sheet.notices, *_without_result(sheet, rows), *notices, *about_rows),
    )


def _without_result(sheet: Sheet, rows: Sequence[int]) -> list[str]:
    """Tell of formulas without a stored result in rows of data; sums below a table are not read."""
    without = sum(cell.value is None and bool(cell.formula) for i in rows for cell in sheet.rows[i])
    if not without:
        return []
    told = f"{counted(without, 'formula has', 'formulas have')} no stored result and cannot be read"
    return [f"Sheet '{sheet.name}': {told}; open the workbook in a spreadsheet program and save it once."]


def _others(sheet: Sheet, trial: SheetTrial, rows: Sequence[int]) -> tuple[tuple[Head, ...], list[str]]:
    """Columns that mean no field: with a header, and without one but with data."""
    headed = {claim.head.index for claim in trial.claims} | {head.index for head in trial.ignored}
    headed |= {head.index for head in trial.others}
    widest = max((len(sheet.rows[i]) for i in rows), default=0)
    unheaded = [j for j in range(widest) if j not in headed]
    written: Counter[int] = Counter()
    for i in rows if unheaded else ():
        row = sheet.rows[i]
        written.update(j for j in unheaded if j < len(row) and row[j].text.strip())
    bare = tuple(Head(j, f"column {column_letter(j)}", ()) for j in sorted(written))
    notices = []
    if trial.others:
        names = [f"'{head.text}' ({head.letter})" for head in trial.others]
        notices.append(
            f"{listed(names)} {'is' if len(names) == 1 else 'are'} not known and not checked; kept as typed."
        )
    notices.extend(
        f"{head.text} has no header; its {counted(written[head.index], 'cell is', 'cells are')} not checked."
        for head in bare
    )
    return tuple(sorted((*trial.others, *bare), key=lambda head: head.index)), notices


def _refusal(sheet: Sheet, trial: SheetTrial, known: Knowledge) -> SeasonRefusal:
    row = "" if trial.heading is None else f", row {trial.heading.first + 1}"
    where = f"{known.where}, sheet '{sheet.name}'{row}"
    if trial.heading is None:
        fields = [f.name for f in known.declared.tables[trial.table].fields if f.needed]
        return SeasonRefusal(
            f"Sheet '{sheet.name}' has no header that is known for {trial.table}.",
            where=where,
            cure=f"Put a header above the data with at least {listed(fields)}.",
        )
    if trial.clashes:
        field, heads = trial.clashes[0]
        names = [f"'{head.text}' ({head.letter})" for head in heads]
        lines = mapping_lines(sheet.name, trial.table, {heads[-1].text: IGNORE})
        return SeasonRefusal(
            f"Sheet '{sheet.name}': {listed(names)} mean the same, {field}.",
            where=where,
            cure=f"Rename all but one, or write into {known.mapping_file}: {lines}",
        )
    what = f"Sheet '{sheet.name}' has no column for {listed(trial.missing)}."
    if not trial.others:
        headers = listed([f"'{field}'" for field in trial.missing])
        return SeasonRefusal(what, where=where, cure=f"All its headers are known; add {headers}.")
    told = headers_not_known(trial.others, trial.table, known)
    if trial.table == "handlings":
        # without them there is no season
        mend = f"Rename the right ones, or {filled_in(sheet, trial, known)}"
    else:
        lines = mapping_lines(sheet.name, trial.table, {trial.others[0].text: trial.missing[0]})
        mend = f"Rename the right one, or write into {known.mapping_file}, for example: {lines}"
    return SeasonRefusal(what, where=where, cure=f"Headers not known: {told}. {mend}")


def filled_in(sheet: Sheet, trial: SheetTrial | SheetPlan, known: Knowledge) -> str:
    """Tell how to say in a mapping file what each unknown header means, with the lines to be copied."""
    declared = known.declared.tables[trial.table]
    met = {claim.field for claim in trial.claims}
    free = [field.name for field in declared.fields if field.name not in met]
    needed = [field.name for field in declared.fields if field.name in free and field.needed]
    near = {head.text: _nearest(head, trial.table, known) for head in trial.others}
    if len(near) == len(needed) == 1:
        # unless it is nearer to a column that is not needed
        near = {header: needed[0] if field in ("", needed[0]) else field for header, field in near.items()}
    # a header that is alone in being nearest to what is needed is the likeliest one
    alone = [field for field in needed if list(near.values()).count(field) == 1]
    columns = {header: field if field in alone else IGNORE for header, field in near.items()}
    others = [field for field in free if field not in needed]
    also = f"; others are {listed(others)}" if others else ""
    return (
        f"copy these lines into {known.mapping_file} beside the file, and write what each header means where "
        f"'{IGNORE}' stands. Needed: {listed(needed)}{also}.\n"
        f"{mapping_block(sheet.name, trial.table, columns)}"
    )


def _nearest(head: Head, table: str, known: Knowledge) -> str:
    near = known.vocabulary.nearest(head.readings[-1], table) if head.readings else None
    return "" if near is None else near[1]


def headers_not_known(heads: Iterable[Head], table: str, known: Knowledge) -> str:
    """List headers that mean no column of a table, each with the nearest one that does."""
    told = []
    for head in heads:
        near = known.vocabulary.nearest(head.readings[-1], table) if head.readings else None
        said = "" if near is None else f", nearest known '{near[0]}' for {near[1]}"
        told.append(f"'{head.text}' ({head.letter}{said})")
    return listed(told)
