"""Text files of separated values: .csv, .tsv, .txt, whatever program wrote them."""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from typing import TYPE_CHECKING

from audit.intake.grid import EMPTY, RawCell, Sheet, make_sheet
from audit.intake.headers import fold
from audit.intake.wording import readable
from audit.refusal import SeasonRefusal

if TYPE_CHECKING:
    from collections.abc import Collection
    from pathlib import Path

__all__ = ["read_delimited"]

_DELIMITERS = (",", ";", "\t", "|")
_NAMED_SEPARATOR = re.compile(r"sep=(.)\s*?(?:\r\n|\r|\n)", re.IGNORECASE)
_MARKS = ((b"\xef\xbb\xbf", "utf-8"), (b"\xff\xfe", "utf-16-le"), (b"\xfe\xff", "utf-16-be"))


def read_delimited(path: Path, known: Collection[str], searched: int) -> Sheet:
    """Read a text file of separated values.

    Parameters
    ----------
    known : collection of str
        Folded headers that are known: the separator is the one that parts the header into known words.
    searched : int
        Records that are looked at to find the separator.

    Returns
    -------
    Sheet
        Named like the file; row = record, header and blank records counted, as spreadsheet programs show it.

    Raises
    ------
    SeasonRefusal
        It is not text, or a quote never closes.
    """
    text, notices = _decode(path.read_bytes(), path)
    # A cell may be long, but never longer than the file.
    csv.field_size_limit(max(csv.field_size_limit(), len(text) + 1))
    named = _NAMED_SEPARATOR.match(text)
    if named:
        # Spreadsheet programs obey this line and do not show it, so it is not counted.
        delimiter, text = named[1], text[named.end() :]
    else:
        delimiter = _separator(text, known, searched)
    records = _records(text, delimiter, path)
    # Most texts of a sheet stand in it many times.
    made = {"": EMPTY}
    rows = [
        [made.get(cell) or made.setdefault(cell, RawCell(cell, cell)) for cell in record]
        for record in records
    ]
    notices += _swallowed(records, delimiter, path)
    return make_sheet(readable(path.stem), rows, notices)


def _decode(data: bytes, path: Path) -> tuple[str, list[str]]:
    for mark, encoding in _MARKS:
        if data.startswith(mark):
            try:
                return data[len(mark) :].decode(encoding), []
            except UnicodeDecodeError as fault:
                raise SeasonRefusal(
                    "The text of this file breaks off or is damaged.",
                    where=str(path),
                    cure="Save it again as UTF-8 text.",
                ) from fault
    if b"\0" in data:
        raise SeasonRefusal(
            "This is not a text file of separated values.",
            where=str(path),
            cure="Save the sheet as .csv (UTF-8), or give the workbook itself.",
        )
    try:
        return data.decode("utf-8"), []
    except UnicodeDecodeError:
        # Five bytes mean nothing in Windows-1252; they are kept as they are rather than lost.
        try:
            text = data.decode("cp1252")
        except UnicodeDecodeError:
            text = data.decode("latin-1")
        return text, [f"File '{readable(path.name)}' is not UTF-8; its letters were read as Windows-1252."]


def _separator(text: str, known: Collection[str], searched: int) -> str:
    """Find the separator by known headers first, then by how evenly the records part."""
    return max(_DELIMITERS, key=lambda delimiter: _evenness(text, delimiter, known, searched))


def _evenness(text: str, delimiter: str, known: Collection[str], searched: int) -> tuple[int, float, int]:
    records = []
    try:
        for record in csv.reader(io.StringIO(text, newline=""), delimiter=delimiter):
            if any(cell.strip() for cell in record):
                records.append(record)
            if len(records) >= searched:
                break
    except csv.Error:
        return (0, 0.0, 0)
    if not records:
        # nothing but this separator is written
        return (0, 1.0, len(text))
    heads = max(sum(fold(cell) in known for cell in record) for record in records)
    # The header tells how many cells a record has; decimal commas part the records but not the header.
    header = next(r for r in records if sum(fold(cell) in known for cell in r) == heads)
    widths = Counter(len(record) for record in records)
    usual = len(header) if heads else widths.most_common(1)[0][0]
    even = widths[usual] / len(records) if usual > 1 or len(widths) == 1 else 0.0
    return heads, even, usual


def _records(text: str, delimiter: str, path: Path) -> list[list[str]]:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    records: list[list[str]] = []
    try:
        records.extend(reader)
    except csv.Error as fault:
        if "unexpected end" in str(fault):
            raise SeasonRefusal(
                "A quotation mark opens a cell here and never closes.",
                where=f"{path}, row {len(records) + 1}",
                cure="Remove the stray quotation mark, or save the file as .xlsx.",
            ) from fault
        # A quotation mark inside a cell is no fault of the sheet: the lenient reader keeps it.
        return list(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter))
    return records


def _swallowed(records: list[list[str]], delimiter: str, path: Path) -> list[str]:
    """Say when a cell seems to have swallowed whole rows between two stray quotation marks."""
    usual = max((len(record) for record in records), default=0)
    rows = [
        i + 1
        for i, record in enumerate(records)
        for cell in record
        if "\n" in cell and any(line.count(delimiter) >= usual - 1 > 0 for line in cell.splitlines())
    ]
    name = readable(path.name)
    return [
        f"File '{name}', row {row}: one cell holds whole rows; a stray quotation mark is likely."
        for row in rows
    ]
