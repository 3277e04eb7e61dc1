"""The files of an archive as relations of DuckDB: read where they lie, texts laid by columns once."""

from __future__ import annotations

import errno
import os
from dataclasses import replace
from typing import TYPE_CHECKING

from audit.archive.engine import Raw
from audit.archive.file_columns import columns_of, stored_alike
from audit.archive.laid_out import GROUPS
from audit.archive.opened_files import open_files
from audit.archive.season_files import OWN_ROW, usual_year
from audit.intake.wording import counted, listed
from audit.refusal import Refusal

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from pathlib import Path

    from audit.archive.archive_files import ArchiveFile
    from audit.archive.duck import DuckEngine
    from audit.archive.file_columns import FileColumns
    from audit.archive.laid_out import Stored
    from audit.archive.plain_files import Plain
    from audit.archive.season_files import SeasonFile
    from audit.declarations import Declarations

__all__ = ["ROWS_OF_FILE", "columns_in", "escaped", "quoted", "raise_if_full", "read_files", "source_of"]

#: Files one behind the other, each of fewer rows than this; numbers below 2**53 are exact in floating point.
ROWS_OF_FILE = 1_000_000_000
#: Rows are counted as in a sheet, whose first row holds the names.
_FIRST_ROW = 2


def read_files(
    engine: DuckEngine, files: Sequence[ArchiveFile], declared: Declarations, work: Path, keep: Path
) -> tuple[SeasonFile, ...]:
    """Make the files of an archive known to an engine.

    Parameters
    ----------
    engine : DuckEngine
        Is told of files, rows, columns and notices.
    files : sequence of ArchiveFile
        Only read.
    declared : Declarations
    work, keep : Path
        Folders for text files laid by columns; for what was read of workbooks.

    Returns
    -------
    tuple of SeasonFile
        Files that were read as a season is read.

    Raises
    ------
    Refusal
        Of all files that cannot be read, or do not go together.
    OSError
        The disk is full.
    """
    import narwhals as nw

    share = float(declared.settings["archive.files.share"].value)
    opened = open_files(
        files,
        declared,
        keep,
        engine.write_columns,
        lambda file, plain: _of_one_year(engine, *columns_in(engine, file, declared, work, plain), share),
    )
    handlings = opened.handlings
    stored = stored_alike([columns for _, columns in handlings], declared, "handlings")
    for name in GROUPS:
        if any(name in columns.file.groups for _, columns in handlings):
            stored.setdefault(name, "text")
    order = [name for name in (*GROUPS, *declared.tables["handlings"].names) if name in stored]
    parts = [
        _select(number, source_of(path), columns, stored, order)
        for number, (path, columns) in enumerate(handlings)
    ]
    engine.connection.execute("create view handlings as " + " union all ".join(parts))
    engine.parts = handlings
    engine.files = tuple(columns.file for _, columns in handlings)
    engine.headers = {columns.file.name: columns.headers or columns.names for _, columns in handlings}
    engine.raw = Raw(nw.from_native(engine.connection.table("handlings")), stored)
    empty = [columns.file.name for path, columns in handlings if not _rows_of(engine, path)]
    engine.notices = (
        *([f"No row stands below the names of the columns of {listed(empty)}."] if empty else []),
        *_notices([columns for _, columns in handlings], files, order),
        *opened.notices,
    )
    return opened.seasons


def _rows_of(engine: DuckEngine, path: Path) -> int:
    query = f"select sum(num_rows) from parquet_file_metadata('{escaped(path)}')"  # noqa: S608 - a literal
    return int(engine.connection.execute(query).fetchall()[0][0])


def _of_one_year(
    engine: DuckEngine, path: Path, columns: FileColumns, share: float
) -> tuple[Path, FileColumns]:
    """Say which season a file is, where nearly all dates are of one year: a slip in one does not part it."""
    if "season" in columns.names or "season" in columns.file.groups:
        return path, columns
    date = quoted(columns.names["date"])
    year = f"cast(year({date}) as varchar)"
    if columns.stored["date"] != "date":
        text = f"trim(cast({date} as varchar))"
        year = (
            f"coalesce(nullif(regexp_extract({text}, '^([0-9]{{4}})-[0-9]{{2}}-[0-9]{{2}}', 1), ''), "
            f"nullif(regexp_extract({text}, '^[0-9]{{1,2}}[.][0-9]{{1,2}}[.]([0-9]{{4}})$', 1), ''))"
        )
    query = f"select {year} as one, count(*) from {source_of(path)} group by one having one is not null"  # noqa: S608 - columns of ours
    usual = usual_year(dict(engine.connection.execute(query).fetchall()), share)
    if not usual:
        return path, columns
    return path, replace(columns, file=replace(columns.file, groups={**columns.file.groups, "season": usual}))


def columns_in(
    engine: DuckEngine, file: ArchiveFile, declared: Declarations, work: Path, plain: Plain | None = None
) -> tuple[Path, FileColumns]:
    """Tell where a file lies by columns, and what these mean."""
    import duckdb

    try:
        path = _by_columns(engine, file, work, plain)
        described = engine.connection.execute(f"describe select * from {source_of(path)}").fetchall()  # noqa: S608 - a literal
    except duckdb.OutOfMemoryException:
        raise
    except duckdb.Error as fault:
        raise_if_full(fault, work)
        raise _unreadable(fault, file) from fault
    return path, columns_of(
        file,
        [(str(row[0]), str(row[1])) for row in described if row[0] != "file_row_number"],
        declared,
        file.table,
    )


def source_of(path: Path) -> str:
    """Write where the rows of a file come from."""
    return f"read_parquet('{escaped(path)}', file_row_number=true, hive_partitioning=false)"


def _by_columns(engine: DuckEngine, file: ArchiveFile, work: Path, plain: Plain | None) -> Path:
    path = file.path
    if not file.by_columns:
        # once, since rows of a text file have no numbers, and are slow to read
        path = work / f"{file.table} {file.name.replace('/', ' ')}.parquet"
        path.parent.mkdir(parents=True, exist_ok=True)
        _copy(engine, file, path, plain)
    return path


def _copy(engine: DuckEngine, file: ArchiveFile, path: Path, plain: Plain | None) -> None:
    import duckdb

    form = "" if plain is None else f""", delim='{plain.separator}', quote='"', escape='"', skip=0"""
    for encoding in ("utf-8", "latin-1"):
        try:
            engine.connection.execute(
                f"copy (select * from read_csv('{escaped(file.path)}', all_varchar=true, header=true, "  # noqa: S608 - a literal
                f"encoding='{encoding}', hive_partitioning=false{form})) "
                f"to '{escaped(path)}' (format parquet)"
            )
        except duckdb.OutOfMemoryException:
            raise
        except duckdb.Error as fault:
            if encoding == "latin-1" or "utf" not in str(fault).lower():
                raise
        else:
            return


def raise_if_full(fault: Exception, work: Path) -> None:
    """Tell of a full disk as the system does: no file of the archive is to blame."""
    if os.strerror(errno.ENOSPC) in str(fault):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), str(work)) from fault


def _unreadable(fault: Exception, file: ArchiveFile) -> Refusal:
    if file.by_columns:
        return Refusal(
            "This is no whole Parquet file.", where=str(file.path), cure="Write it again from where it came."
        )
    return Refusal(
        f"The file cannot be read to its end: {str(fault).splitlines()[0]}",
        where=str(file.path),
        cure="Save it again as text of separated values, with the names of the columns in the first line.",
    )


def _select(
    number: int,
    source: str,
    columns: FileColumns,
    stored: Mapping[str, Stored],
    order: Sequence[str],
) -> str:
    types = {"text": "varchar", "number": "double", "date": "timestamp"}
    # numbered by hand where rows were left out when a sheet was read
    row = f"cast(file_row_number + {_FIRST_ROW} as bigint)"
    row = row if columns.book is None else f"cast({quoted(OWN_ROW)} as bigint)"
    cells = []
    for name in order:
        kind = types[stored[name]]
        if name in columns.file.groups and name not in columns.names:
            cells.append(f"'{columns.file.groups[name].replace(chr(39), chr(39) * 2)}' as {quoted(name)}")
        elif name in columns.names:
            cell = f"cast({quoted(columns.names[name])} as {kind})"
            if (columns.stored[name], stored[name]) == ("number", "text"):
                cell = f"regexp_replace({cell}, '[.]0$', '')"
            elif (columns.stored[name], stored[name]) == ("date", "text"):
                cell = f"strftime(cast({quoted(columns.names[name])} as timestamp), '%Y-%m-%d')"
            cells.append(f"{cell} as {quoted(name)}")
        else:
            cells.append(f"cast(null as {kind}) as {quoted(name)}")
    return (
        f'select {number * ROWS_OF_FILE} + cast(file_row_number as bigint) as "at", {number} as file, '  # noqa: S608 - columns of ours
        f"{row} as row, {', '.join(cells)} from {source}"
    )


def _notices(
    columns: Sequence[FileColumns], files: Sequence[ArchiveFile], order: Sequence[str]
) -> Iterator[str]:
    left = sorted({name for one in columns for name in one.left})
    if left:
        yield f"Columns that mean nothing to an audit were left out: {listed(left)}."
    for name in order:
        if name in GROUPS:
            continue
        lacking = [one.file.name for one in columns if name not in one.names and name not in one.file.groups]
        if lacking:
            files_have = counted(len(lacking), "file has", "files have")
            yield f"{files_have} no column '{name}', such as {lacking[0]}."
    asked = {"handlings", "boxes", "visits", "ring_stock", "ring_losses", "tag_stock", "tag_reads"}
    passed = sorted({file.table for file in files if file.book is None} - asked)
    if passed:
        yield f"An archive is not asked about the tables {listed(passed)}: check each season for that."


def quoted(name: str) -> str:
    """Write the name of a column or relation."""
    return '"' + name.replace('"', '""') + '"'


def escaped(path: Path) -> str:
    """Write a path inside a literal."""
    return path.as_posix().replace("'", "''")
