"""Which sheet is which table."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from audit.intake.box_sheets import named_by_box
from audit.intake.headers import fold
from audit.intake.mapping import IGNORE, HeaderMapping, HeaderMatch
from audit.intake.sheet_plan import SheetPlan, plan_of
from audit.intake.sheet_trial import try_sheet
from audit.intake.wording import counted, listed
from audit.refusal import SeasonRefusal

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from audit.intake.grid import Sheet
    from audit.intake.knowledge import Knowledge
    from audit.intake.sheet_trial import SheetTrial

__all__ = ["EARLIER", "mapping_of", "plan_as", "plan_sheets"]

#: The one table that a season cannot do without.
_MAIN = "handlings"
#: Handlings of seasons that went before. The headers are the same, so that only its name tells such a sheet.
EARLIER = "earlier"


def plan_sheets(sheets: Sequence[Sheet], known: Knowledge) -> tuple[SheetPlan, ...]:
    """Plan how to read all sheets of a file.

    Raises
    ------
    audit.refusal.DeclarationRefusal
        The saved mapping names a sheet, header, table or column that there is none of.
    """
    known.saved.check_sheets([sheet.name for sheet in sheets], known.declared)
    found: list[tuple[Sheet, str, list[SheetTrial]]] = []
    for sheet in sheets:
        said = known.saved.table_of(sheet.name) or _canonical(sheet.name, known, alone=len(sheets) == 1)
        passed = said == IGNORE or not sheet.rows or (not said and _is_own_result(sheet, known))
        tables = [] if passed else [_vocabulary(said)] if said else _tables_with(sheet.name, known)
        found.append((sheet, said, [try_sheet(sheet, table, known) for table in tables]))
    # A sheet that is nearly a table of handlings is only passed over when another one is.
    handled = any(
        trial.table == _MAIN and trial.fits
        for sheet, said, trials in found
        if said != EARLIER and (trial := _choose(sheet, trials, known, handled=False))
    )
    plans = []
    chosen: list[SheetTrial | None] = []
    for sheet, said, trials in found:
        if said:
            chosen.append(None)
            plans.append(_plan_as_said(sheet, said, trials, known))
        else:
            trial = _choose(sheet, trials, known, handled=handled)
            chosen.append(trial)
            plans.append(_plan_as_found(sheet, trial, known, alone=len(sheets) == 1))
    return tuple(_without_copies(named_by_box(plans, chosen, known)))


def plan_as(sheet: Sheet, table: str, known: Knowledge) -> SheetPlan:
    """Plan to read a sheet as one table, whatever its name."""
    return plan_of(sheet, try_sheet(sheet, table, known), known)


def _vocabulary(table: str) -> str:
    """Return the table whose headers a table has."""
    return _MAIN if table == EARLIER else table


def _canonical(name: str, known: Knowledge, *, alone: bool) -> str:
    if known.vocabulary.sheets.get(fold(name)) == EARLIER:
        # nothing went before the only sheet
        return "" if alone else EARLIER
    return next((table for table in known.declared.tables if fold(table) == fold(name)), "")


def _is_own_result(sheet: Sheet, known: Knowledge) -> bool:
    """Whether a sheet is what an earlier audit wrote: it names boxes, dates and rings, but holds no birds."""
    return _begins(sheet, known, "reading.files.own_results")


def _begins(sheet: Sheet, known: Knowledge, key: str) -> bool:
    """Whether the first row of a sheet begins as one of those declared."""
    written = known.declared.settings[key].value
    first = [fold(cell.text) for cell in sheet.rows[0]] if sheet.rows else []
    return any(first[: len(heads)] == [fold(head) for head in heads] for heads in written)


def _tables_with(sheet: str, known: Knowledge) -> list[str]:
    """List the tables that have the columns which the saved mapping names for a sheet; all where none has."""
    said = set(known.saved.fields_of(sheet).values()) - {IGNORE}
    tables = {name: table for name, table in known.declared.tables.items() if name != EARLIER}
    return [name for name, table in tables.items() if said <= set(table.names)] or list(tables)


def _plan_as_said(sheet: Sheet, said: str, trials: Sequence[SheetTrial], known: Knowledge) -> SheetPlan:
    if said == IGNORE:
        return SheetPlan(sheet, "", notices=(f"Sheet '{sheet.name}' was left out, as the mapping says.",))
    if not trials:
        what = f"Sheet '{sheet.name}' is empty."
        fields = listed([field.name for field in known.declared.tables[said].fields if field.needed])
        cure = f"Put a header with at least {fields} into it, and the data below."
        return SheetPlan(sheet, said, refusal=SeasonRefusal(what, where=known.where, cure=cure))
    return replace(plan_of(sheet, trials[0], known), table=said)


def _plan_as_found(sheet: Sheet, trial: SheetTrial | None, known: Knowledge, *, alone: bool) -> SheetPlan:
    if not sheet.rows or (trial is None and _begins(sheet, known, "reading.files.own_help")):
        return SheetPlan(sheet, "")
    if _is_own_result(sheet, known):
        notice = f"Sheet '{sheet.name}' is a list that an earlier audit or handover wrote; it was not read."
        return SheetPlan(sheet, "", notices=(notice,))
    if trial is None:
        rows = sum(any(cell.text.strip() for cell in row) for row in sheet.rows)
        return SheetPlan(
            sheet,
            "",
            notices=(
                f"Sheet '{sheet.name}' matches no table; {counted(rows, 'row was', 'rows were')} not read.",
            ),
        )
    plan = plan_of(sheet, trial, known)
    if alone or known.vocabulary.sheets.get(fold(sheet.name)) == trial.table or plan.refusal:
        return plan
    said = f"Sheet '{sheet.name}' was read as {trial.table}, by its headers."
    return replace(plan, notices=(said, *plan.notices))


def _choose(
    sheet: Sheet, trials: Sequence[SheetTrial], known: Knowledge, *, handled: bool
) -> SheetTrial | None:
    """Choose the table that the most headers speak for; the sheet's name decides between equals."""
    meant = known.vocabulary.sheets.get(fold(sheet.name))
    by_name = next((trial for trial in trials if trial.table == meant), None)
    if by_name is not None and by_name.fits:
        return by_name
    candidates = [trial for trial in trials if trial.convinces]
    if not candidates:
        return by_name
    if handled:
        best = max(candidates, key=lambda trial: (trial.fields, trial.fits))
    else:
        best = max(candidates, key=lambda trial: (trial.fields, trial.table == _MAIN, trial.fits))
    if by_name is not None and not best.fits:
        return by_name
    if best.fits or not handled:
        return best
    fitting = [trial for trial in candidates if trial.fits and trial.fields + 1 >= best.fields]
    return max(fitting, key=lambda trial: trial.fields, default=best)


def _without_copies(plans: Iterable[SheetPlan]) -> Iterable[SheetPlan]:
    """Leave out a sheet that repeats another one row for row, such as a backup."""
    seen: dict[object, str] = {}
    for plan in plans:
        # One row alone may have been typed twice: that is for the rules to say.
        if not plan.readable or len(plan.rows) <= 1:
            yield plan
            continue
        columns = tuple((claim.head.index, claim.field) for claim in plan.claims)
        content = frozenset(tuple(cell.text for cell in plan.sheet.rows[i]) for i in plan.rows)
        first = seen.setdefault((plan.table, plan.box, columns, content), plan.sheet.name)
        if first == plan.sheet.name:
            yield plan
        else:
            said = f"Sheet '{plan.sheet.name}' repeats sheet '{first}' row for row and was not read."
            yield SheetPlan(plan.sheet, "", notices=(said,))


def mapping_of(plans: Sequence[SheetPlan]) -> HeaderMapping:
    """Show what every header means."""
    matches = []
    for plan in plans:
        lines = [
            *((claim.head, claim.field, claim.how) for claim in plan.claims),
            *((head, "", "saved mapping") for head in plan.ignored),
            *((head, "", "not known") for head in plan.others if head.readings),
        ]
        matches += [
            HeaderMatch(plan.sheet.name, plan.table, head.text, head.letter, field, how)
            for head, field, how in sorted(lines, key=lambda line: line[0].index)
        ]
    notices = [
        notice for plan in plans for notice in (*plan.notices, *([str(plan.refusal)] if plan.refusal else []))
    ]
    return HeaderMapping(tuple(matches), {plan.sheet.name: plan.table for plan in plans}, tuple(notices))
