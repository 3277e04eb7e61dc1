"""Read a season: open the source, assign its sheets and columns, type the cells."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from audit.intake.assembly import build_table
from audit.intake.assignment import EARLIER, mapping_of, plan_as, plan_sheets
from audit.intake.earlier import EarlierFile, build_earlier, renamed
from audit.intake.fingerprint import fingerprints
from audit.intake.knowledge import knowledge_of
from audit.intake.mapping import IGNORE, mapping_beside, mapping_path
from audit.intake.sheet_plan import filled_in, headers_not_known
from audit.intake.short_names import short_names
from audit.intake.sources import MEGABYTE, open_source
from audit.intake.wording import listed, readable
from audit.refusal import SeasonRefusal
from audit.season import Season

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import pandas as pd

    from audit.declarations import Declarations
    from audit.intake.knowledge import Knowledge
    from audit.intake.mapping import HeaderMapping
    from audit.intake.sheet_plan import SheetPlan
    from audit.intake.sources import Opened, Source
    from audit.season import Reading, Table

__all__ = ["propose_mapping", "read"]


def read(
    source: Source,
    declared: Declarations,
    *,
    mapping: Path | None = None,
    reads: Path | None = None,
    detections: Path | None = None,
    earlier: Sequence[Source] = (),
) -> Season:
    """Read a season as typed.

    Parameters
    ----------
    source : path or mapping of str to pandas.DataFrame
        A workbook (.xlsx, .xlsm, .ods), a text file (.csv, .tsv, .txt), a folder of .csv files, or data
        frames by table name, whose first row counts as row 2.
    mapping : Path, optional
        A saved header mapping; by default ``<stem>.mapping.yaml`` beside the source, if there is one.
    reads, detections : Path, optional
        Download of the hand reader, read as ``tag_reads``; log of the box antennas, read as ``detections``.
    earlier : sequence
        Earlier seasons, each as `source`: their birds become the table ``earlier``, after those of a sheet of
        that name in the season itself.

    Raises
    ------
    SeasonRefusal
        The source cannot be read, holds no handlings, or a needed column is not found.
    audit.refusal.DeclarationRefusal
        The saved mapping is wrong: with file, line and cure.
    """
    # before they are opened: what is written into them meanwhile is then found out
    beside = mapping_path(source) if mapping is None else mapping
    most = declared.settings["reading.files.megabytes"].value * MEGABYTE
    files = fingerprints(source, beside, reads, detections, *earlier, most=most)
    opened = open_source(source, declared)
    known = _knowledge(opened, declared, mapping)
    plans = list(plan_sheets(opened.sheets, known))
    notices = list(opened.notices)
    _refuse_without_handlings(plans, known)
    for path, table in ((reads, "tag_reads"), (detections, "detections")):
        if path is not None:
            plan, said = _plan_extra(path, table, plans, declared)
            plans.append(plan)
            notices += said
    before, said = _plan_earlier(earlier, plans, opened, declared)
    notices += said
    readings: list[Reading] = []
    tables: dict[str, Table] = {}
    for name in declared.tables:
        if name == EARLIER:
            continue
        parts = [plan for plan in plans if plan.table == name and plan.readable]
        if name != "handlings":
            # An unfilled sheet of a template is no statement that nothing was visited, issued or read.
            notices += [
                f"Sheet '{plan.sheet.name}' has a header but no rows; it counts as not there."
                for plan in parts
                if not plan.rows
            ]
            parts = [plan for plan in parts if plan.rows]
        if parts:
            built = build_table(name, parts, declared, opened.name, opened.sheets)
            tables[name] = built.table
            readings += built.readings
            notices += built.notices
    if "handlings" in tables:
        notices += short_names(tables["handlings"], declared)
    met_before = build_earlier(before, tables.get("handlings"), declared)
    if met_before is not None:
        tables[EARLIER] = met_before.table
        notices += met_before.notices
    for plan in plans:
        notices += plan.notices
        if plan.refusal is not None:
            notices.append(f"{plan.refusal.what.removesuffix('.')}; it was not read. {plan.refusal.cure}")
    return Season(opened.name, tables, tuple(readings), tuple(notices), opened.where, files)


def propose_mapping(
    source: str | Path | Mapping[str, pd.DataFrame], declared: Declarations, *, mapping: Path | None = None
) -> HeaderMapping:
    """Show what every sheet and header of a source would be taken for.

    Nothing is refused for a column that is missing: the notices say so, and `HeaderMapping.table` shows what
    was found. Save the mapping with `audit.intake.mapping.write`.

    Raises
    ------
    SeasonRefusal
        The source cannot be read at all.
    """
    opened = open_source(source, declared)
    return mapping_of(plan_sheets(opened.sheets, _knowledge(opened, declared, mapping)))


def _knowledge(opened: Opened, declared: Declarations, mapping: Path | None) -> Knowledge:
    beside = "a mapping file" if opened.path is None else f"{opened.path.stem}.mapping.yaml"
    return knowledge_of(declared, opened.where, beside, mapping_beside(opened.path, mapping))


def _refuse_without_handlings(plans: Sequence[SheetPlan], known: Knowledge) -> None:
    candidates = [plan for plan in plans if plan.table == "handlings"]
    if any(plan.readable for plan in candidates):
        return
    for plan in sorted(candidates, key=lambda plan: -len(plan.claims)):
        if plan.refusal is not None:
            raise plan.refusal
    tried = [
        plan_as(plan.sheet, "handlings", known)
        for plan in plans
        if not plan.table and plan.sheet.rows and known.saved.table_of(plan.sheet.name) != IGNORE
    ]
    # Headers in a language that is not known: the longest sheet is the likeliest, and its headers are told.
    longest = max(tried, key=lambda plan: len(plan.sheet.rows), default=None)
    told = ""
    if longest is not None and longest.refusal is not None:
        if len(plans) == 1:
            raise longest.refusal
        told = f" No row at the top of '{longest.sheet.name}' holds headers: write them above the first bird."
        if longest.others:
            heads = headers_not_known(longest.others, longest.table, known)
            told = f" Headers of '{longest.sheet.name}' that are not known: {heads}."
            told = f"{told} To have it read, {filled_in(longest.sheet, longest, known)}"
    names = listed([f"'{plan.sheet.name}'" for plan in plans])
    needed = listed([field.name for field in known.declared.tables["handlings"].fields if field.needed])
    raise SeasonRefusal(
        f"No sheet holds handlings, one row for each bird in the hand; found {names}.",
        where=known.where,
        cure=f"Name the sheet 'handlings' and give it columns for {needed}, or say in {known.mapping_file} "
        f"which sheet it is.{told}",
    )


def _plan_earlier(
    sources: Sequence[Source], plans: Sequence[SheetPlan], opened: Opened, declared: Declarations
) -> tuple[list[EarlierFile], list[str]]:
    """Plan to read the season's own sheets of earlier birds, and whole earlier seasons."""
    own = tuple(plan for plan in plans if plan.table == EARLIER and plan.readable and plan.rows)
    files = [EarlierFile(opened.name, own)] if own else []
    notices: list[str] = []
    taken = {plan.sheet.name.casefold() for plan in plans}
    for source in sources:
        other = open_source(source, declared)
        known = _knowledge(other, declared, None)
        found = list(plan_sheets(other.sheets, known))
        _refuse_without_handlings(found, known)
        birds = [
            plan for plan in found if plan.table in ("handlings", EARLIER) and plan.readable and plan.rows
        ]
        file = "earlier season" if other.path is None else other.path.name
        if birds:
            files.append(EarlierFile(other.name, renamed(birds, file, taken)))
        said = [*other.notices, *(notice for plan in birds for notice in plan.notices)]
        notices += [f"{readable(file)}: {notice}" for notice in said]
        if not birds:
            notices.append(f"{readable(file)}: there are no rows below the header.")
    return files, notices


def _plan_extra(
    path: Path, table: str, plans: Sequence[SheetPlan], declared: Declarations
) -> tuple[SheetPlan, list[str]]:
    """Plan to read a file of its own as one table; of several sheets the one that fits best."""
    opened = open_source(path, declared)
    known = knowledge_of(
        declared, opened.where, f"{Path(path).stem}.mapping.yaml", mapping_beside(path, None)
    )
    tried = [plan_as(sheet, table, known) for sheet in opened.sheets if sheet.rows]
    best = max(tried, key=lambda plan: (plan.readable, len(plan.claims)))
    if best.refusal is not None:
        raise best.refusal
    taken = {plan.sheet.name.casefold() for plan in plans}
    name = best.sheet.name
    if name.casefold() in taken:
        name = Path(path).name
    number = 2
    while name.casefold() in taken:
        name, number = f"{Path(path).name} ({number})", number + 1
    return replace(best, sheet=replace(best.sheet, name=name, book=str(path))), list(opened.notices)
