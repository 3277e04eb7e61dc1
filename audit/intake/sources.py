"""What a season may be read from: a workbook, a text file, a folder of them, or data frames."""

from __future__ import annotations

import zipfile
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from audit.intake.delimited import read_delimited
from audit.intake.headers import fold
from audit.intake.opendocument import read_opendocument
from audit.intake.wording import listed, readable
from audit.intake.workbook_beside import read_beside
from audit.refusal import SeasonRefusal

if TYPE_CHECKING:
    from collections.abc import Iterable

    import pandas as pd

    from audit.declarations import Declarations
    from audit.intake.grid import Sheet

    #: A path, or data frames by table name.
    Source = str | Path | Mapping[str, pd.DataFrame]

__all__ = ["MEGABYTE", "Opened", "open_source"]

_TEXT = (".csv", ".tsv", ".txt")
_WORKBOOKS = (".xlsx", ".xlsm", ".ods")
_KINDS = "a workbook (.xlsx, .xlsm, .ods), a text file (.csv, .tsv, .txt) or a folder of .csv files"

_OLE = bytes.fromhex("D0CF11E0A1B11AE1")
_ENCRYPTED = "EncryptedPackage".encode("utf-16-le")
_ZIP = b"PK\x03\x04"
MEGABYTE = 1_000_000


@dataclass(frozen=True, slots=True)
class Opened:
    """Sheets of a source.

    Attributes
    ----------
    name, where : str
        Stem of the file; path as text.
    path : Path or None
        The file or folder; None for data frames.
    """

    name: str
    where: str
    path: Path | None
    sheets: tuple[Sheet, ...]
    notices: tuple[str, ...] = ()


def open_source(source: str | Path | Mapping[str, pd.DataFrame], declared: Declarations) -> Opened:
    """Open a source and read its sheets as typed.

    Raises
    ------
    SeasonRefusal
        Nothing can be read there: with place and cure.
    """
    if isinstance(source, Mapping):
        from audit.intake.frames import sheets_from_frames

        return Opened("season", "data frames", None, sheets_from_frames(source))
    path = Path(source)
    if path.name in ("", ".."):
        # the folder that one is in, or the one above it, is called by its own name
        path = path.resolve()
    try:
        return _open_path(path, declared)
    except OSError as fault:
        raise SeasonRefusal(
            f"The file cannot be opened ({fault.strerror or fault}).",
            where=str(path),
            cure="Close it in other programs, check that you may read it, and try again.",
        ) from fault


def _open_path(path: Path, declared: Declarations) -> Opened:
    if not path.exists():
        near = _nearest(path)
        raise SeasonRefusal(
            "There is no such file or folder.",
            where=str(path),
            cure=f"Did you mean {near}?" if near else "Check the spelling of the path.",
        )
    if path.is_dir():
        return _open_folder(path, declared)
    sheets, notices = _open_file(path, declared)
    if not any(sheet.rows for sheet in sheets):
        raise SeasonRefusal(
            "There is nothing written in this file.",
            where=str(path),
            cure="Save the filled-in season under this name, or name another file.",
        )
    return Opened(readable(path.stem), str(path), path, _unique(sheets), notices)


def _nearest(path: Path) -> str:
    import difflib

    folder = path.parent
    if not folder.is_dir():
        return ""
    near = difflib.get_close_matches(path.name, [other.name for other in folder.iterdir()], n=1)
    return str(folder / near[0]) if near else ""


def _open_folder(folder: Path, declared: Declarations) -> Opened:
    files = sorted(
        (p for p in folder.iterdir() if p.is_file() and not p.name.startswith((".", "~$"))),
        key=lambda p: p.name.casefold(),
    )
    texts = [p for p in files if p.suffix.lower() in _TEXT]
    if not any(p.suffix.lower() == ".csv" for p in texts):
        workbooks = [p.name for p in files if p.suffix.lower() in _WORKBOOKS]
        raise SeasonRefusal(
            "There is no .csv file in this folder.",
            where=str(folder),
            cure=f"Name the workbook itself: {listed(workbooks, 'or')}."
            if workbooks
            else "Put one .csv file for each table into it, named like the table: handlings.csv, visits.csv.",
        )
    sheets: list[Sheet] = []
    notices: list[str] = []
    for path in texts:
        if path.stat().st_size == 0:
            notices.append(f"File '{readable(path.name)}' is empty.")
            continue
        read, said = _open_file(path, declared)
        sheets += read
        notices += said
    left = [readable(p.name) for p in files if p.suffix.lower() in _WORKBOOKS]
    if left:
        notices.append(f"{listed(left)} in the same folder {'was' if len(left) == 1 else 'were'} not read.")
    if not any(sheet.rows for sheet in sheets):
        raise SeasonRefusal(
            "There is nothing written in the files of this folder.",
            where=str(folder),
            cure="Save the filled-in season into it, or name another folder.",
        )
    return Opened(readable(folder.name), str(folder), folder, _unique(sheets), tuple(notices))


def _unique(sheets: Iterable[Sheet]) -> tuple[Sheet, ...]:
    """Give each sheet a name of its own: the labels of rows are made of it."""
    from dataclasses import replace

    seen: set[str] = set()
    named = []
    for sheet in sheets:
        name, number = sheet.name, 2
        while name.casefold() in seen:
            name, number = f"{sheet.name} ({number})", number + 1
        seen.add(name.casefold())
        said = (
            ()
            if name == sheet.name
            else (f"A second sheet is named '{sheet.name}'; it is called '{name}' here.",)
        )
        named.append(replace(sheet, name=name, notices=(*said, *sheet.notices)))
    return tuple(named)


def _open_file(path: Path, declared: Declarations) -> tuple[tuple[Sheet, ...], tuple[str, ...]]:
    setting = declared.settings
    size = path.stat().st_size
    if size == 0:
        raise SeasonRefusal(
            "This file is empty.",
            where=str(path),
            cure="Save the filled-in season under this name, or name another file.",
        )
    suffix = path.suffix.lower()
    largest = setting["reading.files.megabytes"].value
    if size > largest * MEGABYTE:
        raise SeasonRefusal(
            f"This file is {size / MEGABYTE:,.0f} MB large; a season is at most {largest} MB.",
            where=str(path),
            cure="Give one season alone, without pictures.",
        )
    with path.open("rb") as stream:
        start = stream.read(len(_OLE))
    if start == _OLE:
        _refuse_ole(path)
    if path.name.startswith("~$"):
        raise SeasonRefusal(
            "This is the lock that a spreadsheet program keeps while a workbook is open.",
            where=str(path),
            cure=f"Name the workbook itself: {path.name[2:]}.",
        )
    if suffix in _WORKBOOKS:
        return _open_workbook(path, start, declared)
    if suffix in _TEXT:
        if start.startswith(_ZIP):
            raise SeasonRefusal(
                f"This is a workbook or archive under the name of a {suffix} file.",
                where=str(path),
                cure="Give it its own ending back, such as .xlsx.",
            )
        headers = {
            fold(word)
            for table in declared.tables.values()
            for field in table.fields
            for word in (field.name, *field.headers)
        }
        searched = setting["reading.files.header.rows_searched"].value
        return (read_delimited(path, headers, searched),), ()
    if start.startswith(_ZIP) and _holds_a_workbook(path):
        raise SeasonRefusal(
            f"This is a workbook of the new form under a name that ends in '{path.suffix}'."
            if suffix
            else "This is a workbook, but its name has no ending.",
            where=str(path),
            cure=f"Name it {path.stem}.xlsx.",
        )
    raise SeasonRefusal(
        f"Files that end in '{path.suffix}' cannot be read." if suffix else "This file has no ending.",
        where=str(path),
        cure=f"Give {_KINDS}.",
    )


def _holds_a_workbook(path: Path) -> bool:
    """Whether a file is a package of Office Open XML with a workbook in it, whatever its name."""
    try:
        with zipfile.ZipFile(path) as package:
            return "xl/workbook.xml" in package.namelist()
    except (zipfile.BadZipFile, OSError):
        return False


def _refuse_ole(path: Path) -> None:
    if _ENCRYPTED in path.read_bytes():
        raise SeasonRefusal(
            "This workbook is protected by a password.",
            where=str(path),
            cure="Open it, save it without a password under a new name, and give that file.",
        )
    raise SeasonRefusal(
        "This is a workbook in the old .xls form.",
        where=str(path),
        cure="Open it in a spreadsheet program and save it as .xlsx.",
    )


def _open_workbook(
    path: Path, start: bytes, declared: Declarations
) -> tuple[tuple[Sheet, ...], tuple[str, ...]]:
    if not start.startswith(_ZIP):
        raise SeasonRefusal(
            f"This is no workbook, although its name ends in {path.suffix}.",
            where=str(path),
            cure="Open it in a spreadsheet program and save it as .xlsx.",
        )
    try:
        with zipfile.ZipFile(path) as archive:
            names = set(archive.namelist())
            unpacked = sum(part.file_size for part in archive.infolist())
            manifest = archive.read("META-INF/manifest.xml") if "META-INF/manifest.xml" in names else b""
    except (zipfile.BadZipFile, RuntimeError, NotImplementedError) as fault:
        raise SeasonRefusal(
            "This workbook is damaged: it breaks off or was not copied whole.",
            where=str(path),
            cure="Copy it again, or open and save it in a spreadsheet program.",
        ) from fault
    largest = declared.settings["reading.files.megabytes_unpacked"].value
    if unpacked > largest * MEGABYTE:
        raise SeasonRefusal(
            f"This workbook unpacks to {unpacked / MEGABYTE:,.0f} MB; a season is at most {largest} MB.",
            where=str(path),
            cure="Give one season alone, or delete the empty formatted rows below the last one.",
        )
    if b"encryption-data" in manifest or "encrypted-package" in names:
        raise SeasonRefusal(
            "This spreadsheet is protected by a password.",
            where=str(path),
            cure="Open it, save it without a password under a new name, and give that file.",
        )
    if "content.xml" in names:
        return read_opendocument(path, declared.settings["reading.files.cells"].value)
    if "[Content_Types].xml" in names:
        read = read_beside(path)
        if read is None:
            from audit.intake.workbook import read_workbook

            read = read_workbook(path)
        return read
    raise SeasonRefusal(
        "This is an archive, but no workbook.",
        where=str(path),
        cure=f"Give {_KINDS}.",
    )
