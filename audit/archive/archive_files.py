"""Which files an archive is made of, and what they held when they were read."""

from __future__ import annotations

import hashlib
import re
from collections import Counter
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from audit.intake.wording import listed
from audit.refusal import Refusal

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from audit.declarations import Declarations

__all__ = ["PARQUET", "READ", "ArchiveFile", "archive_files", "changed_since"]

#: Tables kept by columns.
PARQUET = (".parquet", ".pq")
_TEXT = (".csv", ".tsv", ".txt")
_WORKBOOKS = (".xlsx", ".xlsm", ".ods")
#: Endings of all files that are read.
READ = (*PARQUET, *_TEXT, *_WORKBOOKS)
_GROUPS = ("season", "scheme", "team")
_CURE = "Give Parquet files, CSV files or workbooks of handlings, or a folder of them."
#: Tables that an archive has for all seasons; a folder with others is a season of its own.
_OF_ALL = ("handlings", "boxes", "detections", "earlier")
_YEAR = re.compile(r"(?:19|20)\d\d")


@dataclass(frozen=True, slots=True)
class ArchiveFile:
    """One file of an archive.

    Attributes
    ----------
    path : Path
        As it was found.
    name : str
        By which it is told of: its path below the folder that was named.
    table : str
        Canonical table that it holds.
    groups : mapping of str to str
        Season, scheme and team, where folders say so, such as ``season=2019``; of files in several
        folders with plain names, these are the teams.
    size, changed : int
        Bytes, and the moment of the last change in nanoseconds.
    sha256 : str
        Checksum; empty until it was taken.
    book : Path or None
        Folder that is a season with all its tables, of which the file is one.
    """

    path: Path
    name: str
    table: str
    groups: Mapping[str, str]
    size: int
    changed: int
    sha256: str = ""
    book: Path | None = None

    @property
    def by_columns(self) -> bool:
        """Whether it is a Parquet file."""
        return self.path.suffix.lower() in PARQUET

    @property
    def is_season(self) -> bool:
        """Whether it is, or belongs to, a season with tables of its own."""
        return self.book is not None or self.path.suffix.lower() in _WORKBOOKS

    def with_checksum(self) -> ArchiveFile:
        """Take its checksum (SHA-256: FIPS 180-4, as the standard library has it)."""
        try:
            with self.path.open("rb") as stream:
                digest = hashlib.file_digest(stream, "sha256").hexdigest()
        except OSError as fault:
            raise Refusal(
                f"The file cannot be read ({fault.strerror or fault}).",
                where=str(self.path),
                cure="See that it is whole and may be read.",
            ) from fault
        return replace(self, sha256=digest)


def archive_files(
    sources: Sequence[str | Path], declared: Declarations, out: Path | None = None
) -> tuple[ArchiveFile, ...]:
    """List the files of an archive by name: those named, and those of the folders named.

    Parameters
    ----------
    sources : sequence of path
        Files and folders.
    declared : Declarations
        A file, or a folder in a folder, that bears the name of a table holds that table; all others hold
        handlings.
    out : Path, optional
        Folder of the results: it may not lie among what is read.

    Raises
    ------
    Refusal
        There is no such file or folder, or no handlings in them.
    """
    tables = {word.casefold(): name for name, table in declared.tables.items() for word in (name,)}
    found: dict[Path, ArchiveFile] = {}
    for source in map(Path, sources):
        if not source.exists():
            raise Refusal(
                "There is no such file or folder.", where=str(source), cure="Check the spelling of the path."
            )
        _refuse_among(source, out)
        for path, name in _inside(source):
            found.setdefault(path.resolve(), _described(path, name, tables))
    whole = _of_teams(_of_seasons(list(_told_apart(found.values()))), tables)
    files = tuple(sorted(whole, key=lambda file: (file.name, str(file.path))))
    if not any(file.table == "handlings" for file in files):
        raise Refusal(
            "There are no handlings in what was named."
            if files
            else f"No file here ends in {listed((PARQUET[0], *_TEXT, *_WORKBOOKS), 'or')} and is filled.",
            where=", ".join(str(source) for source in sources),
            cure=_CURE,
        )
    return files


def _told_apart(files: Iterable[ArchiveFile]) -> Iterator[ArchiveFile]:
    """Name files of one name by their whole paths."""
    many = Counter(file.name for file in files)
    for file in files:
        yield file if many[file.name] == 1 else replace(file, name=file.path.as_posix())


def _of_seasons(files: Sequence[ArchiveFile]) -> Iterator[ArchiveFile]:
    """Keep the tables of a season together, where a folder of text files holds more than handlings."""
    texts = [file for file in files if file.path.suffix.lower() in _TEXT]
    more = {file.path.parent for file in texts if file.table not in _OF_ALL}
    seasons = more & {file.path.parent for file in texts if file.table == "handlings"}
    for file in files:
        of_season = file.path.parent in seasons and file.path.suffix.lower() in _TEXT
        yield replace(file, book=file.path.parent) if of_season else file


def _of_teams(files: Iterable[ArchiveFile], tables: Mapping[str, str]) -> Iterator[ArchiveFile]:
    """Take folders with plain names for teams, where there are several; what is in a column counts more."""
    given = list(files)
    teams = {}
    for file in given:
        named = [
            part
            for part in Path(file.name).parts[:-1]
            if "=" not in part and part.casefold() not in tables and not _YEAR.fullmatch(part)
        ]
        if named and not Path(file.name).is_absolute():
            teams[file.path] = named[0]
    several = len(set(teams.values())) > 1
    for file in given:
        if several and file.path in teams and "team" not in file.groups:
            yield replace(file, groups={**file.groups, "team": teams[file.path]})
        else:
            yield file


def _refuse_among(source: Path, out: Path | None) -> None:
    if out is None or not source.is_dir():
        return
    here = source.resolve()
    if here in (out.resolve(), *out.resolve().parents):
        raise Refusal(
            "The results would lie among the files of the archive, and the next audit would read them.",
            where=str(out),
            cure="Name another folder for the results.",
        )


def _inside(source: Path) -> Iterator[tuple[Path, str]]:
    if not source.is_dir():
        if source.suffix.lower() not in READ:
            raise Refusal(
                f"Files that end in '{source.suffix}' cannot be read as an archive.",
                where=str(source),
                cure=_CURE,
            )
        if not source.stat().st_size:
            raise Refusal("This file is empty.", where=str(source), cure=_CURE)
        yield source, source.name
        return
    for path in sorted(source.rglob("*")):
        inside = path.relative_to(source)
        hidden = any(part.startswith((".", "_", "~$")) for part in inside.parts)
        if not hidden and path.is_file() and path.suffix.lower() in READ and path.stat().st_size:
            yield path, inside.as_posix()


def _described(path: Path, name: str, tables: Mapping[str, str]) -> ArchiveFile:
    parts = [*Path(name).parts[:-1], Path(name).stem]
    table = next((tables[part.casefold()] for part in parts if part.casefold() in tables), "handlings")
    said = (part.partition("=") for part in parts[:-1])
    groups = {key: value for key, sign, value in said if sign and key in _GROUPS}
    stat = path.stat()
    return ArchiveFile(path, name, table, groups, stat.st_size, stat.st_mtime_ns)


def changed_since(files: Sequence[ArchiveFile]) -> ArchiveFile | None:
    """Name a file that is not what it was when it was listed."""
    for file in files:
        try:
            stat = file.path.stat()
        except OSError:
            return file
        if (stat.st_size, stat.st_mtime_ns) != (file.size, file.changed):
            return file
    return None
