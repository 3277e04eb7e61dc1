"""Which columns the files of an archive have, and how each is stored."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from audit.archive.laid_out import GROUPS
from audit.intake.headers import vocabulary_of
from audit.intake.wording import listed
from audit.refusal import Refusal

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from audit.archive.archive_files import ArchiveFile
    from audit.archive.laid_out import Stored
    from audit.archive.season_files import Book
    from audit.declarations import Declarations
    from audit.intake.headers import Vocabulary

__all__ = ["FileColumns", "columns_of", "stored_alike"]

_CODES = ("ring", "tag")
_WHOLE = ("TINYINT", "SMALLINT", "INTEGER", "BIGINT", "HUGEINT")
_BROKEN = ("FLOAT", "DOUBLE", "DECIMAL")
_MOMENTS = ("DATE", "TIMESTAMP")


@dataclass(frozen=True, slots=True)
class FileColumns:
    """Columns of one file.

    Attributes
    ----------
    file : ArchiveFile
    names : mapping of str to str
        Canonical column -> name in the file.
    stored : mapping of str to {'text', 'number', 'date'}
        Canonical column -> how it is stored.
    left : tuple of str
        Columns of the file that mean none.
    headers : mapping of str to str
        Canonical column -> name as typed; empty where it is that of the file.
    book : Book or None
        Season of which it was read, with all its tables; then each row tells of its own number.
    """

    file: ArchiveFile
    names: Mapping[str, str]
    stored: Mapping[str, Stored]
    left: tuple[str, ...] = ()
    headers: Mapping[str, str] = field(default_factory=dict)
    book: Book | None = None


def columns_of(
    file: ArchiveFile, described: Sequence[tuple[str, str]], declared: Declarations, table: str
) -> FileColumns:
    """Find out what the columns of a file mean.

    Parameters
    ----------
    file : ArchiveFile
    described : sequence of (str, str)
        Name and type of each column, as the engine tells them.
    declared : Declarations
        Headers are known in all its languages.
    table : str
        Canonical table that the file holds.

    Raises
    ------
    Refusal
        A needed column is missing, two columns mean the same, or numbers of rings or tags went through
        floating point.
    """
    known = vocabulary_of(declared)
    names: dict[str, str] = {}
    stored: dict[str, Stored] = {}
    left = []
    for name, kind in described:
        meant = _meant(name, known, table, file)
        if not meant:
            left.append(name)
            continue
        if meant in names:
            raise Refusal(
                f"Two columns of this file mean {meant}: '{names[meant]}' and '{name}'.",
                where=str(file.path),
                cure="Rename or leave out one of them.",
            )
        if meant in _CODES and kind.startswith(_BROKEN):
            raise Refusal(
                f"The numbers of the column '{name}' are stored with decimals, so that digits and leading "
                "zeros may be lost.",
                where=str(file.path),
                cure="Write the file again from where it came, with this column as text.",
            )
        names[meant], stored[meant] = name, _kind(kind)
    missing = [
        field.name for field in declared.tables[table].fields if field.needed and field.name not in names
    ]
    if missing:
        raise Refusal(
            f"This file has no column for {listed(missing)}.",
            where=str(file.path),
            cure=f"Name the columns {listed(missing)}; it has {listed([name for name, _ in described])}.",
        )
    return FileColumns(file, names, stored, tuple(left))


def _meant(name: str, known: Vocabulary, table: str, file: ArchiveFile) -> str:
    if name in GROUPS:
        return name
    found = known.recognise(name, table)
    if found is None:
        return ""
    if found.unit is not None and found.unit.factor != 1:
        raise Refusal(
            f"The column '{name}' is in {found.unit.name}, and an archive is read in {found.unit.of}.",
            where=str(file.path),
            cure=f"Turn its numbers into {found.unit.of}.",
        )
    return found.field


def _kind(kind: str) -> Stored:
    if kind.startswith((*_WHOLE, *(f"U{whole}" for whole in _WHOLE), *_BROKEN)):
        return "number"
    return "date" if kind.startswith(_MOMENTS) else "text"


def stored_alike(files: Sequence[FileColumns], declared: Declarations, table: str) -> dict[str, Stored]:
    """Tell how each column of an archive is stored.

    Raises
    ------
    Refusal
        A column of numbers or dates is stored in one way here and in another there.
    """
    first: dict[str, FileColumns] = {}
    alike: dict[str, Stored] = {}
    plain = {
        field.name for field in declared.tables[table].fields if field.kind in ("string", "code", "time")
    }
    for columns in files:
        for name, kind in columns.stored.items():
            if name in plain or name in GROUPS or not columns.file.by_columns:
                # texts are read as such however they are stored, and all is text where one file is
                alike[name] = "text"
                continue
            other = first.setdefault(name, columns)
            if other.stored[name] != kind:
                raise Refusal(
                    f"The column '{columns.names[name]}' holds {_WORDS[kind]} here, but "
                    f"{_WORDS[other.stored[name]]} in {other.file.name}.",
                    where=str(columns.file.path),
                    cure="Write all files of an archive with the same types, or audit them apart.",
                )
            alike.setdefault(name, kind)
    return alike


_WORDS = {"text": "text", "number": "numbers", "date": "dates"}
