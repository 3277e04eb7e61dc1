"""Handlings of an archive in DuckDB, embedded: read where they lie, within a bounded memory."""

from __future__ import annotations

from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from audit.archive.box_places import places_of
from audit.archive.duck_files import escaped, quoted, raise_if_full, read_files
from audit.archive.lines import LINE_COLUMNS
from audit.refusal import Refusal

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from pathlib import Path

    import duckdb
    import pandas as pd
    from narwhals import LazyFrame

    from audit.archive.archive_files import ArchiveFile
    from audit.archive.engine import Raw
    from audit.archive.file_columns import FileColumns
    from audit.archive.season_files import Book
    from audit.declarations import Declarations

__all__ = ["DuckEngine", "open_duck", "read_lines"]


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
        self.connection.table("given").create(f"held.{quoted(name)}")
        self.connection.unregister("given")
        return nw.from_native(self.connection.table(f"held.{quoted(name)}"))

    def keep(self, relation: LazyFrame[Any], name: str) -> LazyFrame[Any]:
        """Work a relation out once, and keep it in memory, or on the disk where it has no room there."""
        import narwhals as nw

        relation.to_native().create(f"held.{quoted(name)}")
        return nw.from_native(self.connection.table(f"held.{quoted(name)}"))

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
        connection.execute(f"set temp_directory = '{escaped(work / 'spill')}'")
        # to write relations into a file takes six times as long; what has no room in memory is spilt
        connection.execute("attach ':memory:' as held")
        engine = DuckEngine(connection)
        seasons = read_files(engine, files, declared, work, work if keep is None else keep)
        boxes = [file for file in files if file.table == "boxes" and file.book is None]
        engine.places = places_of(engine, boxes, seasons, declared, work)
        yield engine
    except duckdb.OutOfMemoryException as fault:
        raise Refusal(
            "The archive is too large for the room that it was given in memory and on the disk.",
            where=f"{megabytes} MB of memory, {work}",
            cure="Give more with --memory, make room on the disk, or audit fewer seasons at a time.",
        ) from fault
    except duckdb.Error as fault:
        raise_if_full(fault, work)
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


def read_lines(path: Path) -> pd.DataFrame:
    """Read a Parquet file of findings, as texts."""
    import duckdb

    with duckdb.connect() as connection:
        found = connection.read_parquet(str(path)).df()
    texts: pd.DataFrame = found.astype(object).where(found.notna(), "").astype("str")
    return texts
