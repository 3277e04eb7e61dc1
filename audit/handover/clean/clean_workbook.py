"""The clean workbook: a copy of the workbook as typed in which every decided cell holds what was decided.

Columns, formats, formulas, charts, drop-down lists and macros stay as they are; of an .xlsx or .xlsm file
every part that needs no change is copied byte for byte. A changed cell keeps its number format, is filled and
framed, and has a note that says what was typed, by whom it was changed, when and why; the last sheet lists
all changes. Stored results of formulas that depend on changed cells are worked out anew or taken out, so that
no program takes an old number for true, and every program is told to calculate when it opens the copy. The
file as typed is never written to. Other sources become a fresh workbook with the same cells at the same
places.
"""

from __future__ import annotations

import datetime as dt
import io
import tempfile
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from audit.charts.palette import CHANGED as CHANGED_TONE
from audit.handover.book.book_formulas import BookFormulas, holds_formulas
from audit.handover.book.book_parts import Book
from audit.handover.book.cell_contents import put, serial
from audit.handover.book.cell_notes import LONGEST_TEXT, add_notes
from audit.handover.book.merged_cells import placed_in_merged
from audit.handover.book.number_formats import fitting
from audit.handover.book.package import Package
from audit.handover.book.sheet_cells import SheetCells, column_letters, split_address
from audit.handover.book.stored_cells import StoredCells, labels_of
from audit.handover.clean.cell_values import cells_to_put
from audit.handover.clean.change_list import CHANGED, changes_of
from audit.handover.clean.changes_sheet import changes_sheet
from audit.handover.clean.fresh_workbook import fresh_copy
from audit.handover.file_stem import file_stem
from audit.handover.part import Part
from audit.handover.workbook import KEEPS_PARTS, is_open_document
from audit.intake.assembly import NAME_OF_SHEET
from audit.intake.fingerprint import fingerprint
from audit.refusal import SeasonRefusal
from audit.review.wording import counted
from audit.season import split_label

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from audit.handover.book.sheet_cells import Address
    from audit.handover.clean.cell_values import PutIn
    from audit.handover.clean.change_list import Change
    from audit.handover.clean.decided_season import DecidedSeason
    from audit.intake.grid import Stored

__all__ = ["clean_workbook_part"]

_LONGEST_QUOTE = 400  # characters of a text in a note
_DECIDED = ("accept", "amend", "written out")
#: A text that starts with one of these would be run as a formula once somebody edits the cell.
_SIGNS = ("=", "+", "-", "@", "\t", "\r")


def clean_workbook_part(decided: DecidedSeason) -> Part:
    """Lay out the clean workbook as a part of what goes out: ``<season>.clean.xlsx`` (``.xlsm`` with macros).

    Raises
    ------
    audit.refusal.SeasonRefusal
        The workbook as typed cannot be opened, or is another one than was read.
    """
    source = _source(decided)
    keeps = source is not None and source.is_file() and source.suffix.lower() in KEEPS_PARTS
    if source is not None and keeps and not is_open_document(source):
        _refuse_another(decided, source)
        made = _Copy(decided, source, {}).make()
        ending = source.suffix.lower()
    else:
        ending = KEEPS_PARTS[0]
        with tempfile.TemporaryDirectory(prefix="nestproof-") as folder:
            fresh = Path(folder) / "fresh.xlsx"
            names = fresh_copy(decided, source, fresh)
            made = _Copy(decided, fresh, names).make()
    content, told = made
    name = f"{file_stem(decided.typed.name)}.clean{ending}"
    return Part("Clean workbook", {name: lambda path: path.write_bytes(content)}, told)


def _source(decided: DecidedSeason) -> Path | None:
    path = Path(decided.typed.source) if decided.typed.source else None
    return path if path is not None and path.exists() else None


def _refuse_another(decided: DecidedSeason, source: Path) -> None:
    """Refuse a file that was written to since it was read: its cells may stand elsewhere now."""
    before = [file for file in decided.typed.files if Path(file.path) == source]
    if before and fingerprint(source) not in before:
        raise SeasonRefusal(
            "The workbook was changed after it had been read.",
            where=str(source),
            cure="Read the season again, and hand over what was decided about it as it is now.",
        )


class _Copy:
    """The copy on its way."""

    def __init__(self, decided: DecidedSeason, source: Path, names: Mapping[str, str]) -> None:
        self._decided = decided
        self._names = names
        self._stored = StoredCells(decided.typed)
        self._package = Package(source)
        self._book = Book(self._package)
        self._sheets: dict[str, SheetCells] = {}
        self._changed: dict[tuple[str, Address], Stored] = {}
        self._also: dict[tuple[str, Address], str] = {}
        self._told: list[str] = []
        self._formulas = self._find_formulas()
        self._lost_formula = False

    def make(self) -> tuple[bytes, tuple[str, ...]]:
        """Make the copy; its bytes, and what a person must know."""
        try:
            touched = self._put_all()
            if self._formulas is not None and self._changed:
                touched |= self._formulas.work_out(self._changed, self._settled(), self._book.epoch)
                self._book.calculate_on_load()
            if self._lost_formula:
                self._book.forget_order_of_calculation()
            changes = [self._with_note(one) for one in changes_of(self._decided) if one.how in CHANGED]
            self._add_notes(changes)
            for name in sorted(touched):
                self._package.write(self._book.sheets[name], self._sheets[name].content())
            links = {one.sheet: self._names.get(one.sheet, one.sheet) for one in changes}
            links = {sheet: name for sheet, name in links.items() if name in self._book.sheets}
            book, package = self._book, self._package
            book.add_sheet("changes", changes_sheet(changes, book.styles, links, book.space, package.base))
            book.write()
            if self._changed and any("pivotCache" in name for name in package.names()):
                self._told.append(
                    "The workbook holds pivot tables, which still show what was typed: refresh them in the "
                    "spreadsheet program before you pass the clean workbook on."
                )
            stream = io.BytesIO()
            package.save(stream)
        finally:
            self._package.close()
        return stream.getvalue(), tuple(self._told)

    def _find_formulas(self) -> BookFormulas | None:
        """Lay out the formulas of all sheets; None where no sheet holds one."""
        package, sheets = self._package, self._book.sheets
        if not any(holds_formulas(package.read(part)) for part in sheets.values()):
            return None
        self._sheets = {name: SheetCells(package.read(part)) for name, part in sheets.items()}
        return BookFormulas(package, self._sheets)

    def _cells(self, name: str) -> SheetCells:
        if name not in self._sheets:
            self._sheets[name] = SheetCells(self._package.read(self._book.sheets[name]))
        return self._sheets[name]

    def _put_all(self) -> set[str]:
        """Put in what was decided; the sheets that this changed."""
        by_sheet: dict[str, list[PutIn]] = {}
        for one in cells_to_put(self._decided):
            by_sheet.setdefault(one.sheet, []).append(one)
        touched = set()
        for sheet, some in by_sheet.items():
            name = self._names.get(sheet, sheet)
            if name in self._book.sheets:
                self._put(name, sheet, {one.address: one for one in some})
                touched.add(name)
            else:
                self._told.append(
                    f"{counted(len(some), 'changed cell')} of '{sheet}' stand in another file, which is not "
                    "part of the clean workbook; the list of changes names them."
                )
        self._tell_of_sheets()
        return touched

    def _tell_of_sheets(self) -> None:
        """Tell of birds that stand on the sheet of another box than theirs."""
        for one in self._decided.replayed.applied:
            cell = self._decided.typed.cell(one.label, one.field)
            if cell.column == NAME_OF_SHEET and one.text != one.typed:
                self._told.append(
                    f"Row {cell.row} of sheet '{cell.sheet}' is of box {one.text} now, but the sheet is "
                    f"named by its box: move the row to the sheet '{one.text}'."
                )

    def _put(self, name: str, sheet: str, wanted: Mapping[Address, PutIn]) -> None:
        cells, styles, epoch = self._cells(name), self._book.styles, self._book.epoch
        decided = {address: one.value for address, one in wanted.items()}
        values, divided = placed_in_merged(self._decided, self._stored, sheet, cells, decided)
        for address in sorted(values):
            one, value = wanted.get(address), values[address]
            if one is not None and _before(value, epoch):
                value = one.text
            cell = cells.cell(address)
            if self._formulas is not None:
                self._lost_formula |= address in self._formulas.sheets[name].texts
                self._tell(name, address, self._formulas.sheets[name].release(address))
            first = cells.cell(divided[address]) if address in divided else cell
            style = int(first.get("s", "0"))
            alike = [int(cells.cell(other).get("s", "0")) for other in one.like] if one is not None else []
            shown = fitting(styles, style, value, alike)
            put(cell, value, epoch)
            self._changed[name, address] = value
            if isinstance(value, str) and _units(value) > LONGEST_TEXT:
                self._tell(name, address, f"Cut to the {LONGEST_TEXT:,} characters that a cell can hold.")
                self._told.append(
                    f"The text of {name} {column_letters(address[1])}{address[0]} is longer than a cell can "
                    f"hold and was cut to {LONGEST_TEXT:,} characters; the list of changes has all of it."
                )
            if address in divided:
                self._tell(
                    name, address, "The merged cells were divided, since not all of them were changed."
                )
            if one is None and address in divided:
                cell.set("s", str(style))
            else:
                quoted = isinstance(value, str) and value.startswith(_SIGNS)
                cell.set("s", str(styles.changed(style, shown, quoted=quoted)))

    def _tell(self, name: str, address: Address, sentence: str) -> None:
        if sentence:
            self._also[name, address] = f"{self._also.get((name, address), '')} {sentence}".strip()

    def _settled(self) -> dict[tuple[str, Address], Stored]:
        """Results of now of the formulas of the season."""
        found: dict[tuple[str, Address], Stored] = {}
        for table in self._decided.clean.tables.values():
            for (sheet, _), column in table.columns.items():
                letter = split_address(f"{column.letter}1")
                if column.written is None or letter is None or not column.written.results:
                    continue
                rows = [split_label(label)[1] for label in labels_of(table, sheet)]
                for number, cell in column.written.results.items():
                    found[self._names.get(sheet, sheet), (rows[number], letter[1])] = cell.value
        return found

    def _with_note(self, change: Change) -> Change:
        address = split_address(change.cell)
        also = self._also.get((self._names.get(change.sheet, change.sheet), address)) if address else None
        return replace(change, note=f"{change.note} {also}".strip()) if also else change

    def _add_notes(self, changes: Sequence[Change]) -> None:
        notes: dict[str, dict[Address, list[str]]] = {}
        for one in changes:
            name, address = self._names.get(one.sheet, one.sheet), split_address(one.cell)
            if one.how in _DECIDED and address is not None and name in self._book.sheets:
                shown = self._cells(name).shown_at(address)
                notes.setdefault(name, {}).setdefault(shown, []).append(_note(one))
        for name, told in notes.items():
            texts = {address: "\n\n".join(dict.fromkeys(some)) for address, some in told.items()}
            add_notes(self._package, self._book.sheets[name], self._cells(name), texts)


def _note(change: Change) -> str:
    lines = [
        f"{CHANGED_TONE.word}: typed {_quoted(change.typed)}, now {_quoted(change.now)}.",
        f"By {change.who}, {change.at}.",
    ]
    if change.why:
        lines.append(f"Why: {change.why}")
    if change.looked_at:
        lines.append(f"Looked at: {change.looked_at}" + (f" [{change.rule}]" if change.rule else ""))
    if change.note:
        lines.append(change.note)
    return "\n".join(lines)


def _quoted(text: str) -> str:
    if not text:
        return "nothing"
    return f"'{text}'" if len(text) <= _LONGEST_QUOTE else f"'{text[: _LONGEST_QUOTE - 1]}…'"


def _before(value: Stored, epoch: dt.datetime) -> bool:
    """Whether a day lies before those that the workbook can count."""
    return isinstance(value, dt.date) and serial(value, epoch) is None


def _units(text: str) -> int:
    """Length of a text as spreadsheet programs count it: in UTF-16 units."""
    return len(text.encode("utf-16-le", "surrogatepass")) // 2
