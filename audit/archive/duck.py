"""Handlings of an archive in DuckDB, embedded: read where they lie, within a bounded memory."""

from __future__ import annotations

from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

from audit.archive.engine import Raw
from audit.archive.file_columns import columns_of, stored_alike
from audit.archive.laid_out import GROUPS
from audit.archive.lines import LINE_COLUMNS
from audit.archive.opened_files import open_files
from audit.archive.season_files import OWN_ROW, usual_year
from audit.intake.wording import counted, listed
from audit.refusal import Refusal

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from pathlib import Path

    import duckdb
    import pandas as pd
    from narwhals import LazyFrame

    from audit.archive.archive_files import ArchiveFile
    from audit.archive.file_columns import FileColumns
    from audit.archive.laid_out import Stored
    from audit.archive.plain_files import Plain
    from audit.archive.season_files import Book, SeasonFile
    from audit.declarations import Declarations

__all__ = ["ROWS_OF_FILE", "DuckEngine", "open_duck", "read_lines"]

#: Files one behind the other, each of fewer rows than this; numbers below 2**53 are exact in floating point.
ROWS_OF_FILE = 1_000_000_000
#: Rows are counted as in a sheet, whose first row holds the names.
_FIRST_ROW = 2


@dataclass(slots=True)
class DuckEngine:
    """An engine that holds an archive.

    Attributes
    ----------
    connection : duckdb.DuckDBPyConnection
    files : tuple of ArchiveFile
        Of handlings, by number.
    raw : Raw
    notices : tuple of str
        What a person should know of how the files were read.
    places : pandas.DataFrame or None
        ``scheme``, ``team``, ``box``, ``latitude``, ``longitude`` of boxes, where a table tells.
    headers : mapping of str to mapping of str to str
        Name of the file -> canonical column -> its name there.
    parts : tuple of (Path, FileColumns)
        Where the handlings of each file lie by columns, and what these mean.
    """

    connection: duckdb.DuckDBPyConnection
    files: tuple[ArchiveFile, ...] = ()
    raw: Raw | None = None
    notices: tuple[str, ...] = ()
    places: pd.DataFrame | None = None
    headers: dict[str, Mapping[str, str]] = field(default_factory=dict)
    parts: tuple[tuple[Path, FileColumns], ...] = ()

    @property
    def books(self) -> dict[int, Book]:
        """Seasons with all their tables, by the number of each part that was read of them."""
        return {number: part.book for number, (_, part) in enumerate(self.parts) if part.book is not None}

    def write_columns(self, frame: pd.DataFrame, path: Path) -> None:
        """Write a frame as a Parquet file."""
        self.connection.register("given", frame)
        self.connection.table("given").write_parquet(str(path))
        self.connection.unregister("given")

    def table(self, frame: pd.DataFrame, name: str) -> LazyFrame[Any]:
        """Make a small frame known as a relation."""
        import narwhals as nw

        self.connection.register("given", frame)
        self.connection.table("given").create(f"held.{_quoted(name)}")
        self.connection.unregister("given")
        return nw.from_native(self.connection.table(f"held.{_quoted(name)}"))

    def keep(self, relation: LazyFrame[Any], name: str) -> LazyFrame[Any]:
        """Work a relation out once, and keep it in memory, or on the disk where it has no room there."""
        import narwhals as nw

        relation.to_native().create(f"held.{_quoted(name)}")
        return nw.from_native(self.connection.table(f"held.{_quoted(name)}"))

    def frame(self, relation: LazyFrame[Any]) -> pd.DataFrame:
        """Work a relation out, and hand it over."""
        found: pd.DataFrame = relation.to_native().df()
        return found

    def count(self) -> int:
        """Count the handlings."""
        return int(self.connection.execute("select count(*) from handlings").fetchall()[0][0])

    def write_parquet(self, lines: Sequence[Mapping[str, str]], path: Path) -> None:
        """Write lines of findings as a Parquet file of texts and numbers."""
        import pandas as pd

        frame = pd.DataFrame(lines, columns=list(LINE_COLUMNS), dtype="str")
        numbers = {name: pd.to_numeric(frame[name]) for name in ("row", "p_error", "p_fix")}
        self.write_columns(frame.assign(**numbers), path)


@contextmanager
def open_duck(
    files: Sequence[ArchiveFile],
    declared: Declarations,
    work: Path,
    *,
    megabytes: int,
    keep: Path | None = None,
) -> Iterator[DuckEngine]:
    """Open an archive.

    Parameters
    ----------
    files : sequence of ArchiveFile
        Only read.
    declared : Declarations
    work : Path
        Folder for what has no room in memory; it is there, and whoever made it removes it.
    megabytes : int
        Memory for the engine.
    keep : Path, optional
        Folder for what was read of workbooks, so that another run need not read them again.

    Raises
    ------
    Refusal
        A file is no whole table, has no column of handlings, or the files do not go together; or there is no
        room in memory and on the disk.
    """
    import duckdb

    connection = duckdb.connect()
    try:
        connection.execute(f"set memory_limit = '{megabytes}MB'")
        connection.execute("set enable_progress_bar = false")
        connection.execute("set TimeZone = 'UTC'")
        connection.execute(f"set temp_directory = '{_escaped(work / 'spill')}'")
        # to write relations into a file takes six times as long; what has no room in memory is spilt
        connection.execute("attach ':memory:' as held")
        engine = DuckEngine(connection)
        _read(engine, files, declared, work, work if keep is None else keep)
        yield engine
    except duckdb.OutOfMemoryException as fault:
        raise Refusal(
            "The archive is too large for the room that it was given in memory and on the disk.",
            where=f"{megabytes} MB of memory, {work}",
            cure="Give more with --memory, make room on the disk, or audit fewer seasons at a time.",
        ) from fault
    except duckdb.Error as fault:
        # a question that is worded wrongly is a fault of the program
        if isinstance(fault, (duckdb.BinderException, duckdb.CatalogException, duckdb.ParserException)):
            raise
        raise Refusal(
            f"A file of the archive cannot be read to its end: {str(fault).splitlines()[0]}",
            where=", ".join(sorted({str(file.path.parent) for file in files})),
            cure="Write the files again from where they came; what was found so far stands.",
        ) from fault
    finally:
        connection.close()


def _read(
    engine: DuckEngine, files: Sequence[ArchiveFile], declared: Declarations, work: Path, keep: Path
) -> None:
    import narwhals as nw

    share = float(declared.settings["archive.files.share"].value)
    opened = open_files(
        files,
        declared,
        keep,
        engine.write_columns,
        lambda file, plain: _of_one_year(engine, *_columns(engine, file, declared, work, plain), share),
    )
    handlings = opened.handlings
    stored = stored_alike([columns for _, columns in handlings], declared, "handlings")
    for name in GROUPS:
        if any(name in columns.file.groups for _, columns in handlings):
            stored.setdefault(name, "text")
    order = [name for name in (*GROUPS, *declared.tables["handlings"].names) if name in stored]
    parts = [
        _select(number, _source(path), columns, stored, order)
        for number, (path, columns) in enumerate(handlings)
    ]
    engine.connection.execute("create view handlings as " + " union all ".join(parts))
    engine.parts = handlings
    engine.files = tuple(columns.file for _, columns in handlings)
    engine.headers = {columns.file.name: columns.headers or columns.names for _, columns in handlings}
    engine.raw = Raw(nw.from_native(engine.connection.table("handlings")), stored)
    boxes = [file for file in files if file.table == "boxes" and file.book is None]
    engine.places = _places(engine, boxes, opened.seasons, declared, work)
    empty = [columns.file.name for path, columns in handlings if not _rows_of(engine, path)]
    engine.notices = (
        *([f"No row stands below the names of the columns of {listed(empty)}."] if empty else []),
        *_notices([columns for _, columns in handlings], files, order),
        *opened.notices,
    )


def _rows_of(engine: DuckEngine, path: Path) -> int:
    query = f"select sum(num_rows) from parquet_file_metadata('{_escaped(path)}')"  # noqa: S608 - a literal
    return int(engine.connection.execute(query).fetchall()[0][0])


def _of_one_year(
    engine: DuckEngine, path: Path, columns: FileColumns, share: float
) -> tuple[Path, FileColumns]:
    """Say which season a file is, where nearly all dates are of one year: a slip in one does not part it."""
    if "season" in columns.names or "season" in columns.file.groups:
        return path, columns
    date = _quoted(columns.names["date"])
    year = f"cast(year({date}) as varchar)"
    if columns.stored["date"] != "date":
        text = f"trim(cast({date} as varchar))"
        year = (
            f"coalesce(nullif(regexp_extract({text}, '^([0-9]{{4}})-[0-9]{{2}}-[0-9]{{2}}', 1), ''), "
            f"nullif(regexp_extract({text}, '^[0-9]{{1,2}}[.][0-9]{{1,2}}[.]([0-9]{{4}})$', 1), ''))"
        )
    query = f"select {year} as one, count(*) from {_source(path)} group by one having one is not null"  # noqa: S608 - columns of ours
    usual = usual_year(dict(engine.connection.execute(query).fetchall()), share)
    if not usual:
        return path, columns
    return path, replace(columns, file=replace(columns.file, groups={**columns.file.groups, "season": usual}))


def _columns(
    engine: DuckEngine, file: ArchiveFile, declared: Declarations, work: Path, plain: Plain | None = None
) -> tuple[Path, FileColumns]:
    """Tell where a file lies by columns, and what these mean."""
    import duckdb

    try:
        path = _by_columns(engine, file, work, plain)
        described = engine.connection.execute(f"describe select * from {_source(path)}").fetchall()  # noqa: S608 - a literal
    except duckdb.OutOfMemoryException:
        raise
    except duckdb.Error as fault:
        raise _unreadable(fault, file) from fault
    return path, columns_of(
        file,
        [(str(row[0]), str(row[1])) for row in described if row[0] != "file_row_number"],
        declared,
        file.table,
    )


def _source(path: Path) -> str:
    return f"read_parquet('{_escaped(path)}', file_row_number=true, hive_partitioning=false)"


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
                f"copy (select * from read_csv('{_escaped(file.path)}', all_varchar=true, header=true, "  # noqa: S608 - a literal
                f"encoding='{encoding}', hive_partitioning=false{form})) "
                f"to '{_escaped(path)}' (format parquet)"
            )
        except duckdb.OutOfMemoryException:
            raise
        except duckdb.Error as fault:
            if encoding == "latin-1" or "utf" not in str(fault).lower():
                raise
        else:
            return


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
    row = row if columns.book is None else f"cast({_quoted(OWN_ROW)} as bigint)"
    cells = []
    for name in order:
        kind = types[stored[name]]
        if name in columns.file.groups and name not in columns.names:
            cells.append(f"'{columns.file.groups[name].replace(chr(39), chr(39) * 2)}' as {_quoted(name)}")
        elif name in columns.names:
            cell = f"cast({_quoted(columns.names[name])} as {kind})"
            if (columns.stored[name], stored[name]) == ("number", "text"):
                cell = f"regexp_replace({cell}, '[.]0$', '')"
            elif (columns.stored[name], stored[name]) == ("date", "text"):
                cell = f"strftime(cast({_quoted(columns.names[name])} as timestamp), '%Y-%m-%d')"
            cells.append(f"{cell} as {_quoted(name)}")
        else:
            cells.append(f"cast(null as {kind}) as {_quoted(name)}")
    return (
        f'select {number * ROWS_OF_FILE} + cast(file_row_number as bigint) as "at", {number} as file, '  # noqa: S608 - columns of ours
        f"{row} as row, {', '.join(cells)} from {source}"
    )


def _places(
    engine: DuckEngine,
    files: Sequence[ArchiveFile],
    seasons: Sequence[SeasonFile],
    declared: Declarations,
    work: Path,
) -> pd.DataFrame | None:
    """Gather the places of the boxes; the last line of a box counts."""
    import pandas as pd

    found = [
        pd.DataFrame(season.places).assign(
            box=lambda frame: frame["box"].str.strip().str.upper(),
            scheme=season.book.scheme,
            team=season.book.team,
        )
        for season in seasons
        if season.places
    ]
    for file in files:
        path, columns = _columns(engine, file, declared, work)
        if not {"latitude", "longitude"} <= set(columns.names):
            continue
        cells = [
            f"upper(trim(cast({_quoted(columns.names['box'])} as varchar))) as box",
            *(
                f"try_cast(replace(cast({_quoted(columns.names[name])} as varchar), ',', '.') as double) "
                f"as {name}"
                for name in ("latitude", "longitude")
            ),
            *(
                f"coalesce(trim(cast({_quoted(columns.names[name])} as varchar)), '') as {name}"
                if name in columns.names
                else f"'{columns.file.groups.get(name, '')}' as {name}"
                for name in ("scheme", "team")
            ),
        ]
        query = f"select {', '.join(cells)} from {_source(path)} order by file_row_number"  # noqa: S608 - columns of ours
        found.append(engine.connection.execute(query).df())
    if not found:
        return None
    places = pd.concat(found, ignore_index=True).dropna()
    places = places[places["latitude"].between(-90, 90) & places["longitude"].between(-180, 180)]
    return places.drop_duplicates(["scheme", "team", "box"], keep="last", ignore_index=True)


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
    passed = sorted({file.table for file in files if file.book is None} - {"handlings", "boxes"})
    if passed:
        yield f"An archive is not asked about the tables {listed(passed)}: check each season for that."


def _quoted(name: str) -> str:
    return '"' + name.replace('"', '""') + '"'


def _escaped(path: Path) -> str:
    return path.as_posix().replace("'", "''")


def read_lines(path: Path) -> pd.DataFrame:
    """Read a Parquet file of findings, as texts."""
    import duckdb

    with duckdb.connect() as connection:
        found = connection.read_parquet(str(path)).df()
    texts: pd.DataFrame = found.astype(object).where(found.notna(), "").astype("str")
    return texts
