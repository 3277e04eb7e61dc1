"""A marked copy of the workbook: suspect cells coloured, framed and commented, and a sheet *findings*.

The file as typed is never written to. Of an .xlsx or .xlsm file every part is copied as it stands, but for
the style table, the style and the notes of the marked cells, and the new sheet: stored results of formulas,
charts, conditional formats, drop-down lists, macros and rich text stay as they are. (A conditional format
that colours a cell lies above the cell's own fill: such a cell still has its note and its line in the sheet
of findings.) Other sources (.ods, .csv, a folder) become a fresh workbook with the text as typed at the same
places.
"""

from __future__ import annotations

import tempfile
import zipfile
from pathlib import Path
from typing import TYPE_CHECKING

from audit.charts.palette import TONES
from audit.findings import SEVERITIES
from audit.handover.book.book_parts import Book
from audit.handover.book.cell_notes import add_notes, sheet_text
from audit.handover.book.package import Package
from audit.handover.book.sheet_cells import SheetCells, split_address
from audit.handover.book.typed_texts import texts_of_season, texts_of_source
from audit.handover.findings_sheet import findings_sheet
from audit.refusal import SeasonRefusal
from audit.review.wording import chance

if TYPE_CHECKING:
    from collections.abc import Mapping

    from audit.declarations import Declarations
    from audit.findings import Finding, Report, Severity, Suspect
    from audit.handover.book.cell_styles import CellStyles
    from audit.handover.book.sheet_cells import Address
    from audit.season import Season

__all__ = ["KEEPS_PARTS", "is_open_document", "write_fresh", "write_marked"]

#: Kinds of file whose parts are copied as they stand.
KEEPS_PARTS = (".xlsx", ".xlsm")

_LONGEST_NAME = 31  # characters of a sheet name
#: What a sheet name cannot hold.
_BAD_IN_NAME = str.maketrans(dict.fromkeys("[]:*?/\\", "_"))
_MOST_IN_NOTE = 12  # findings told in one note; the sheet has all


def write_marked(
    source: Path | None,
    report: Report,
    path: Path,
    season: Season | None = None,
    declared: Declarations | None = None,
) -> None:
    """Write a marked copy.

    Parameters
    ----------
    source : Path or None
        The file or folder as typed.
    report : Report
        What to mark.
    path : Path
        The copy; must be another file than `source`.
    season : Season, optional
        Needed where there is no source.
    declared : Declarations, optional
        Needed where the source is neither .xlsx nor .xlsm, to read its cells again.

    Raises
    ------
    audit.refusal.SeasonRefusal
        The source cannot be opened, or is the file to write.
    """
    if source is not None and path.exists() and source.exists() and path.samefile(source):
        raise SeasonRefusal(
            "The marked copy would replace the file as typed.",
            where=str(path),
            cure="Choose another folder for the copy.",
        )
    if source is not None and source.suffix.lower() in KEEPS_PARTS and not is_open_document(source):
        _mark(source, report, path, {})
        return
    if source is not None and declared is not None:
        texts = texts_of_source(source, declared)
    elif season is not None:
        texts = texts_of_season(season)
    else:
        raise SeasonRefusal(
            "A marked copy of this kind of source needs the season as read, or the declarations.",
            where=str(source or report.season),
            cure="Pass the season as well.",
        )
    with tempfile.TemporaryDirectory(prefix="nestproof-") as folder:
        fresh = Path(folder) / "fresh.xlsx"
        names = write_fresh(texts, fresh)
        _mark(fresh, report, path, names)


def is_open_document(source: Path) -> bool:
    """Whether a file is an open document under the name of another kind."""
    return zipfile.is_zipfile(source) and "content.xml" in zipfile.ZipFile(source).namelist()


def _mark(source: Path, report: Report, path: Path, names: Mapping[str, str]) -> None:
    """Copy a workbook and mark it; `names` leads from sheets of the season to sheets of the workbook."""
    package = Package(source)
    try:
        book = Book(package)
        marks = _marks_by_sheet(report)
        for name, cells in marks.items():
            part = book.sheets.get(names.get(name, name))
            if part is not None:
                _mark_sheet(package, part, cells, book.styles)
        known = {name: names.get(name, name) for name in marks if names.get(name, name) in book.sheets}
        book.add_sheet("findings", findings_sheet(report, book.styles, known, book.space, package.base))
        book.write()
        package.save(path)
    finally:
        package.close()


Told = tuple["Finding", "Suspect"]


def _marks_by_sheet(report: Report) -> dict[str, dict[Address, list[Told]]]:
    marks: dict[str, dict[Address, list[Told]]] = {}
    for finding in report.findings:
        for suspect in finding.suspects:
            cells = marks.setdefault(suspect.cell.sheet, {})
            address = split_address(suspect.cell.address)
            if address is not None:
                cells.setdefault(address, []).append((finding, suspect))
    return marks


def _mark_sheet(package: Package, part: str, marks: Mapping[Address, list[Told]], styles: CellStyles) -> None:
    cells = SheetCells(package.read(part))
    shown: dict[Address, list[Told]] = {}
    for address, told in marks.items():
        shown.setdefault(cells.shown_at(address), []).extend(told)
    for address, told in shown.items():
        cell = cells.cell(address)
        cell.set("s", str(styles.marked(int(cell.get("s", "0")), _gravest(told))))
    add_notes(package, part, cells, {address: _note(told) for address, told in shown.items()})
    package.write(part, cells.content())


def _gravest(told: list[Told]) -> Severity:
    return min((finding.severity for finding, _ in told), key=SEVERITIES.index)


def _note(told: list[Told]) -> str:
    told = sorted(told, key=lambda one: SEVERITIES.index(one[0].severity))
    blocks = []
    for finding, suspect in told[:_MOST_IN_NOTE]:
        lines = [f"{TONES[finding.severity].word}: {finding.message}"]
        if finding.severity != "note":
            lines.append(f"Chance that this cell is wrong: {chance(suspect.p_error)}.")
        if suspect.suggested:
            sure = "" if suspect.p_fix is None else f" (chance {chance(suspect.p_fix)})"
            lines.append(f"Suggested: {suspect.suggested}{sure}.")
        lines.append(f"[{finding.rule}]")
        blocks.append("\n".join(lines))
    if len(told) > _MOST_IN_NOTE:
        blocks.append(f"{len(told) - _MOST_IN_NOTE} more on the sheet of findings.")
    return "\n\n".join(blocks)


def write_fresh(texts: Mapping[str, Mapping[Address, str]], path: Path) -> dict[str, str]:
    """Write text as typed, every cell as text; return the sheets' names in the workbook."""
    import openpyxl

    book = openpyxl.Workbook()
    book.remove(book.worksheets[0])
    names: dict[str, str] = {}
    for sheet, cells in texts.items():
        made = book.create_sheet(_sheet_name(sheet, {name.casefold() for name in names.values()}))
        names[sheet] = made.title
        for (row, column), text in cells.items():
            cell = made.cell(row, column)
            cell.value = sheet_text(text)
            cell.data_type = "s"  # else a text that starts with = would be run
            cell.number_format = "@"
    if not names:
        book.create_sheet("empty")
    book.save(path)
    return names


def _sheet_name(sheet: str, taken: set[str]) -> str:
    name = sheet.translate(_BAD_IN_NAME).strip("'")[:_LONGEST_NAME] or "sheet"
    free, number = name, 1
    while free.casefold() in taken:
        number += 1
        ending = f" {number}"
        free = name[: _LONGEST_NAME - len(ending)] + ending
    return free
