"""Which sheet is which table, and which of its columns is which field."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from audit.intake.ambiguity import Claim, settle, vague_words
from audit.intake.grid import column_letter
from audit.intake.headers import fold, vocabulary_of
from audit.intake.layout import Head, data_rows, find_heading, recognise, row_habits
from audit.intake.mapping import IGNORE, NO_MAPPING, HeaderMapping, HeaderMatch, mapping_lines
from audit.intake.wording import counted, listed
from audit.refusal import SeasonRefusal

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from audit.declarations import Declarations
    from audit.intake.ambiguity import VagueWords
    from audit.intake.grid import RawCell, Sheet
    from audit.intake.headers import Unit, Vocabulary
    from audit.intake.layout import Heading, RowHabits
    from audit.intake.mapping import SavedMapping

__all__ = [
    "EARLIER",
    "Knowledge",
    "SheetPlan",
    "headers_not_known",
    "knowledge_of",
    "mapping_of",
    "plan_as",
    "plan_sheets",
]

# A number, a date or a time begins with a digit, perhaps after a sign; a ring such as SV01001 does not.
_BEGINS_WITH_DIGIT = re.compile(r"^\W*\d")
_KINDS_WITH_DIGITS = ("number", "integer", "date", "time", "datetime")


@dataclass(frozen=True, slots=True)
class Knowledge:
    """What is known before a sheet is looked at.

    Attributes
    ----------
    where : str
        The source, for messages.
    mapping_file : str
        Name of the mapping file that would be found beside the source.
    """

    declared: Declarations
    vocabulary: Vocabulary
    habits: RowHabits
    vague: VagueWords
    digits_share: float
    saved: SavedMapping
    where: str
    mapping_file: str


def knowledge_of(
    declared: Declarations, where: str, mapping_file: str, saved: SavedMapping = NO_MAPPING
) -> Knowledge:
    """Gather what is known before a sheet is looked at."""
    return Knowledge(
        declared=declared,
        vocabulary=vocabulary_of(declared),
        habits=row_habits(declared),
        vague=vague_words(declared),
        digits_share=declared.settings["reading.files.header.digits_share"].value,
        saved=saved,
        where=where,
        mapping_file=mapping_file,
    )


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
    """

    sheet: Sheet
    table: str
    claims: tuple[Claim, ...] = ()
    others: tuple[Head, ...] = ()
    ignored: tuple[Head, ...] = ()
    rows: tuple[int, ...] = ()
    notices: tuple[str, ...] = ()
    refusal: SeasonRefusal | None = None

    @property
    def readable(self) -> bool:
        """Whether it can be read as its table."""
        return bool(self.table) and self.refusal is None


@dataclass(frozen=True, slots=True)
class _Trial:
    """A sheet tried as one table."""

    table: str
    heading: Heading | None = None
    claims: tuple[Claim, ...] = ()
    others: tuple[Head, ...] = ()
    ignored: tuple[Head, ...] = ()
    clashes: tuple[tuple[str, tuple[Head, ...]], ...] = ()
    missing: tuple[str, ...] = ()
    notices: tuple[str, ...] = ()

    @property
    def fits(self) -> bool:
        return not self.missing and not self.clashes

    @property
    def fields(self) -> int:
        return len({claim.field for claim in self.claims} | {field for field, _ in self.clashes})

    @property
    def convinces(self) -> bool:
        """Whether the headers alone say that it is this table: two of them, or all."""
        return self.fields > 1 or (self.fits and self.fields > 0 and not self.others)


def plan_sheets(sheets: Sequence[Sheet], known: Knowledge) -> tuple[SheetPlan, ...]:
    """Plan how to read all sheets of a file.

    Raises
    ------
    audit.refusal.DeclarationRefusal
        The saved mapping names a sheet, header, table or column that there is none of.
    """
    known.saved.check_sheets([sheet.name for sheet in sheets], known.declared)
    found: list[tuple[Sheet, str, list[_Trial]]] = []
    for sheet in sheets:
        said = known.saved.table_of(sheet.name) or _canonical(sheet.name, known, alone=len(sheets) == 1)
        passed = said == IGNORE or not sheet.rows or (not said and _is_own_result(sheet, known))
        tables = [] if passed else [_vocabulary(said)] if said else _tables_with(sheet.name, known)
        found.append((sheet, said, [_try(sheet, table, known) for table in tables]))
    # A sheet that is nearly a table of handlings is only passed over when another one is.
    handled = any(
        trial.table == _MAIN and trial.fits
        for sheet, said, trials in found
        if said != EARLIER and (trial := _choose(sheet, trials, known, handled=False))
    )
    plans = []
    for sheet, said, trials in found:
        if said:
            plans.append(_plan_as_said(sheet, said, trials, known))
        else:
            trial = _choose(sheet, trials, known, handled=handled)
            plans.append(_plan_as_found(sheet, trial, known, alone=len(sheets) == 1))
    return tuple(_without_copies(plans))


def plan_as(sheet: Sheet, table: str, known: Knowledge) -> SheetPlan:
    """Plan to read a sheet as one table, whatever its name."""
    return _plan(sheet, _try(sheet, table, known), known)


#: The one table that a season cannot do without.
_MAIN = "handlings"
#: Handlings of seasons that went before. The headers are the same, so that only its name tells such a sheet.
EARLIER = "earlier"


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
    written = known.declared.settings["reading.files.own_results"].value
    first = [fold(cell.text) for cell in sheet.rows[0]] if sheet.rows else []
    return any(first[: len(heads)] == [fold(head) for head in heads] for heads in written)


def _tables_with(sheet: str, known: Knowledge) -> list[str]:
    """List the tables that have the columns which the saved mapping names for a sheet; all where none has."""
    said = set(known.saved.fields_of(sheet).values()) - {IGNORE}
    tables = {name: table for name, table in known.declared.tables.items() if name != EARLIER}
    return [name for name, table in tables.items() if said <= set(table.names)] or list(tables)


def _plan_as_said(sheet: Sheet, said: str, trials: Sequence[_Trial], known: Knowledge) -> SheetPlan:
    if said == IGNORE:
        return SheetPlan(sheet, "", notices=(f"Sheet '{sheet.name}' was left out, as the mapping says.",))
    if not trials:
        what = f"Sheet '{sheet.name}' is empty."
        fields = listed([field.name for field in known.declared.tables[said].fields if field.needed])
        cure = f"Put a header with at least {fields} into it, and the data below."
        return SheetPlan(sheet, said, refusal=SeasonRefusal(what, where=known.where, cure=cure))
    return replace(_plan(sheet, trials[0], known), table=said)


def _plan_as_found(sheet: Sheet, trial: _Trial | None, known: Knowledge, *, alone: bool) -> SheetPlan:
    if not sheet.rows:
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
    plan = _plan(sheet, trial, known)
    if alone or known.vocabulary.sheets.get(fold(sheet.name)) == trial.table or plan.refusal:
        return plan
    said = f"Sheet '{sheet.name}' was read as {trial.table}, by its headers."
    return replace(plan, notices=(said, *plan.notices))


def _choose(sheet: Sheet, trials: Sequence[_Trial], known: Knowledge, *, handled: bool) -> _Trial | None:
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


def _try(sheet: Sheet, table: str, known: Knowledge) -> _Trial:
    declared = known.declared.tables[table]
    said = known.saved.fields_of(sheet.name)
    heading = find_heading(sheet, table, known.vocabulary, known.habits, saved=said)
    needed = [field.name for field in declared.fields if field.needed]
    if heading is None:
        return _Trial(table, missing=tuple(needed))

    def cells_below(head: Head) -> list[RawCell]:
        rows = sheet.rows[heading.below :]
        return [row[head.index] for row in rows if head.index < len(row) and row[head.index].text.strip()]

    ignored = tuple(head for head in heading.heads if said.get(head.text) == IGNORE)
    claims = []
    for head in heading.heads:
        if head.text in said:
            if said[head.text] in declared.names:
                claims.append(Claim(head, said[head.text], "saved mapping", _unit_named(head, known)))
        elif (match := recognise(head, table, known.vocabulary)) is not None:
            claims.append(Claim(head, match.field, match.how, match.unit or head.unit))
    settled = {claim.head for claim in claims} | set(ignored)
    unclaimed = [head for head in heading.heads if head not in settled]
    claims, notices = settle(
        claims, unclaimed, declared.names, cells_below, vocabulary=known.vocabulary, vague=known.vague
    )
    claims, clashes, more = _one_per_field(claims, cells_below)
    notices += more
    taken = {claim.head for claim in claims} | set(ignored) | {head for _, heads in clashes for head in heads}
    free = set(declared.names) - {claim.field for claim in claims} - {field for field, _ in clashes}
    unclaimed = [head for head in unclaimed if head not in taken]
    slips = _slips(unclaimed, table, free, cells_below, known)
    claims += slips
    notices += [f"'{slip.head.text}' was taken as {slip.field}." for slip in slips]
    taken |= {claim.head for claim in slips}
    met = {claim.field for claim in claims} | {field for field, _ in clashes}
    return _Trial(
        table=table,
        heading=heading,
        claims=tuple(sorted(claims, key=lambda claim: claim.head.index)),
        others=tuple(head for head in heading.heads if head not in taken),
        ignored=ignored,
        clashes=tuple(clashes),
        missing=tuple(field for field in needed if field not in met),
        notices=tuple(notices),
    )


def _unit_named(head: Head, known: Knowledge) -> Unit | None:
    return head.unit or known.vocabulary.unit_in(head.text)


def _one_per_field(
    claims: Sequence[Claim], cells_below: Callable[[Head], Sequence[RawCell]]
) -> tuple[list[Claim], list[tuple[str, tuple[Head, ...]]], list[str]]:
    """Let one column mean each field: the saved one, the one of that very name, the only written one."""
    kept: list[Claim] = []
    clashes: list[tuple[str, tuple[Head, ...]]] = []
    notices: list[str] = []
    for field, number in Counter(claim.field for claim in claims).items():
        rivals = [claim for claim in claims if claim.field == field]
        if number == 1:
            kept += rivals
            continue
        for sure in ("saved mapping", "own name"):
            winners = [claim for claim in rivals if claim.how == sure]
            if winners:
                break
        winners = winners or [claim for claim in rivals if cells_below(claim.head)]
        if len(winners) != 1:
            clashes.append((field, tuple(claim.head for claim in rivals)))
            continue
        kept += winners
        losers = [f"'{claim.head.text}' ({claim.head.letter})" for claim in rivals if claim not in winners]
        notices.append(
            f"'{winners[0].head.text}' ({winners[0].head.letter}) was taken as {field}, although "
            f"{listed(losers)} {'means' if len(losers) == 1 else 'mean'} it too."
        )
    return kept, clashes, notices


def _slips(
    heads: Iterable[Head],
    table: str,
    free: set[str],
    cells_below: Callable[[Head], Sequence[RawCell]],
    known: Knowledge,
) -> list[Claim]:
    """Headers that differ from a known one by a slip of the keys, each for one free field."""
    found = []
    for head in heads:
        matches = [known.vocabulary.slip(text, table, free) for text in head.readings]
        match = next((match for match in matches if match is not None), None)
        if match is None:
            continue
        kind = known.declared.tables[table].field(match.field).kind
        cells = cells_below(head)
        digits = sum(
            not isinstance(cell.value, str) or bool(_BEGINS_WITH_DIGIT.match(cell.text)) for cell in cells
        )
        if kind not in _KINDS_WITH_DIGITS or digits >= known.digits_share * len(cells):
            found.append(Claim(head, match.field, match.how, match.unit or head.unit))
    times = Counter(claim.field for claim in found)
    return [claim for claim in found if times[claim.field] == 1]


def _plan(sheet: Sheet, trial: _Trial, known: Knowledge) -> SheetPlan:
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
        (*sheet.notices, *notices, *about_rows),
    )


def _others(sheet: Sheet, trial: _Trial, rows: Sequence[int]) -> tuple[tuple[Head, ...], list[str]]:
    """Columns that mean no field: with a header, and without one but with data."""
    headed = {claim.head.index for claim in trial.claims} | {head.index for head in trial.ignored}
    headed |= {head.index for head in trial.others}
    written: Counter[int] = Counter()
    for i in rows:
        written.update(j for j, cell in enumerate(sheet.rows[i]) if j not in headed and cell.text.strip())
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


def _refusal(sheet: Sheet, trial: _Trial, known: Knowledge) -> SeasonRefusal:
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
    lines = mapping_lines(sheet.name, trial.table, {trial.others[0].text: trial.missing[0]})
    told = headers_not_known(trial.others, trial.table, known)
    return SeasonRefusal(
        what,
        where=where,
        cure=f"Headers not known: {told}. Rename the right one, or write into {known.mapping_file}, for "
        f"example: {lines}",
    )


def headers_not_known(heads: Iterable[Head], table: str, known: Knowledge) -> str:
    """List headers that mean no column of a table, each with the nearest one that does."""
    told = []
    for head in heads:
        near = known.vocabulary.nearest(head.readings[-1], table) if head.readings else None
        said = "" if near is None else f", nearest known '{near[0]}' for {near[1]}"
        told.append(f"'{head.text}' ({head.letter}{said})")
    return listed(told)


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
        first = seen.setdefault((plan.table, columns, content), plan.sheet.name)
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
