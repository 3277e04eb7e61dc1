"""Text files that an engine may read as they are: names in the first line, plain days and numbers."""

from __future__ import annotations

import codecs
import csv
import io
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.archive.laid_out import GROUPS
from audit.intake.carried_down import ByVisits, by_visits_of, is_kept_by_visits
from audit.intake.headers import vocabulary_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from audit.declarations import Declarations
    from audit.declarations.tables import TableDeclaration
    from audit.intake.headers import Vocabulary

__all__ = ["Plain", "is_stranger", "plain_file"]

_SEPARATORS = (",", ";", "\t", "|")
_PLAIN_DAY = re.compile(r"\d{4}-\d{2}-\d{2}(?:[ T].*)?|\d{1,2}\.\d{1,2}\.\d{4}")
_PLAIN_NUMBER = re.compile(r"[+-]?\d+(?:[.,]\d+)?")
_NUMBERS, _DAYS = ("number", "integer"), ("date", "datetime")
#: Bytes of the beginning that are looked at, and of each further part.
_BEGINNING, _PART = 1 << 18, 1 << 22
_GAP = re.compile(rb"\n\r?\n|\0|\r(?!\n)")


@dataclass(frozen=True, slots=True)
class Plain:
    """How a plain text file is written.

    Attributes
    ----------
    separator : str
    header : tuple of str
        Names of its columns, as they stand in the first line.
    """

    separator: str
    header: tuple[str, ...]


def plain_file(path: Path, declared: Declarations, table: str) -> Plain | None:
    """Look whether an engine may read a text file as it stands.

    Parameters
    ----------
    path : Path
    declared : Declarations
    table : str
        Canonical table that it is to hold.

    Returns
    -------
    Plain or None
        None where its letters are no UTF-8, lines are empty, columns mean nothing or stand in other units,
        many days and numbers are written in a form of their own, or day and box stand in the first row of
        each visit alone: then it has to be read as a season is read, which is slower.
    """
    if not _whole(path):
        return None
    with path.open("rb") as stream:
        beginning = stream.read(_BEGINNING)
        cut = bool(stream.read(1))
    text = beginning.decode("utf-8-sig", errors="ignore")
    known = vocabulary_of(declared)
    declaration = declared.tables[table]
    for separator in _SEPARATORS:
        try:
            rows = list(csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True))
        except csv.Error:
            continue
        # what was cut off, or an empty line that ends the file
        rows = rows[:-1] if cut or (rows and not rows[-1]) else rows
        if not rows:
            return None
        fields = _fields(rows[0], known, table)
        if all(field.name in fields for field in declaration.fields if field.needed):
            share = float(declared.settings["archive.files.share"].value)
            plain = _regular(rows) and _readable(rows, fields, declaration, share)
            if plain and not _by_visits(rows, fields, by_visits_of(declared)):
                return Plain(separator, tuple(rows[0]))
            return None
    return None


def _fields(header: Sequence[str], known: Vocabulary, table: str) -> dict[str, int]:
    """Canonical columns and where they stand; those in other units are left out."""
    found: dict[str, int] = {}
    for place, name in enumerate(header):
        recognised = None if name in GROUPS else known.recognise(name, table)
        if recognised is None:
            continue
        if recognised.unit is not None and recognised.unit.factor != 1:
            return {}
        found.setdefault(recognised.field, place)
    return found


def _regular(rows: Sequence[Sequence[str]]) -> bool:
    return all(len(row) == len(rows[0]) for row in rows)


def _readable(
    rows: Sequence[Sequence[str]], fields: Mapping[str, int], table: TableDeclaration, share: float
) -> bool:
    """Whether nearly all days and numbers are written in plain forms."""
    for field in table.fields:
        place = fields.get(field.name)
        if place is None or field.kind not in (*_NUMBERS, *_DAYS):
            continue
        form = _PLAIN_DAY if field.kind in _DAYS else _PLAIN_NUMBER
        cells = [text for row in rows[1:] if (text := row[place].strip())]
        plain = sum(form.fullmatch(text) is not None for text in cells)
        if plain < share * len(cells):
            return False
    return True


def _by_visits(rows: Sequence[Sequence[str]], fields: Mapping[str, int], limits: ByVisits) -> bool:
    """Whether the rows below the header are those of a sheet kept visit by visit."""
    if not {"date", "box"} <= fields.keys():
        return False
    days, boxes = ([bool(row[fields[name]].strip()) for row in rows[1:]] for name in ("date", "box"))
    return is_kept_by_visits(days, boxes, limits)


def _whole(path: Path) -> bool:
    """Whether a file is UTF-8 from end to end, without empty lines, which would shift the rows."""
    decoder = codecs.getincrementaldecoder("utf-8")()
    last = b""
    with path.open("rb") as stream:
        while part := stream.read(_PART):
            try:
                decoder.decode(part)
            except UnicodeDecodeError:
                return False
            # what ends a part is looked at again with the next
            joined = last + part
            gap = _GAP.search(joined)
            if gap and (gap.end() < len(joined) or gap[0] == b"\0"):
                return False
            last = joined[-2:]
    return True


def is_stranger(path: Path, declared: Declarations) -> bool:
    """Whether no line at the beginning of a text file names the columns that handlings need.

    One column alone, such as a date, may stand in any list.
    """
    with path.open("rb") as stream:
        beginning = stream.read(_BEGINNING)
    marked = beginning.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE))
    text = beginning.decode("utf-16" if marked else "utf-8-sig", errors="replace")
    known = vocabulary_of(declared)
    needed = {field.name for field in declared.tables["handlings"].fields if field.needed}
    searched = int(declared.settings["reading.files.header.rows_searched"].value)
    for line in text.splitlines()[:searched]:
        for separator in _SEPARATORS:
            cells = (cell.strip().strip('"') for cell in line.split(separator))
            meant = {one.field for cell in cells if cell and (one := known.recognise(cell, "handlings"))}
            if len(meant & needed) > 1:
                return False
    return True
