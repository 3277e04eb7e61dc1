"""Opening a log of box antennas: its files are read once into an engine, whatever their form."""

from __future__ import annotations

import tempfile
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from audit.antennas import relations
from audit.antennas.column_kinds import clues_of
from audit.antennas.detection_log import DetectionLog, LogFile
from audit.antennas.layout import NoLog, lay_out_text
from audit.antennas.log_codes import antenna_code, box_codes, tag_codes
from audit.antennas.log_files import PARQUET, log_files
from audit.antennas.plain_copy import read_plainly
from audit.antennas.reading import lay_out_parquet, look_into, unreadable
from audit.antennas.tied_rows import part_ties, row_limits
from audit.antennas.unread import SHORTENED, UnreadLine, first_unread, lines_of, swallowed
from audit.intake.wording import listed
from audit.refusal import Refusal

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    import duckdb

    from audit.antennas.layout import Layout
    from audit.declarations import Declarations

__all__ = ["open_log"]


@contextmanager
def open_log(source: str | Path, declared: Declarations) -> Iterator[DetectionLog]:
    """Read a log, and keep it on the disk until the block ends.

    Parameters
    ----------
    source : path
        A file, or a folder of files; only read.
    declared : Declarations
        `Declarations.loggers` holds forms of files that do not speak for themselves.

    Raises
    ------
    audit.refusal.Refusal
        There is no such file, its form cannot be told, nothing in it can be read, or the disk is full.
    """
    import duckdb

    paths = log_files(source)
    limits = declared.loggers.limits
    with tempfile.TemporaryDirectory(prefix="nestproof-log-", ignore_cleanup_errors=True) as work:
        engine = duckdb.connect()
        try:
            engine.execute(f"set memory_limit = '{int(limits['engine.megabytes'].value)}MB'")
            engine.execute("set TimeZone = 'UTC'")
            engine.execute("set enable_progress_bar = false")
            engine.execute(f"set temp_directory = '{Path(work, 'spill').as_posix()}'")
            # lines of text are packed into a file; codes are small, and what has no room goes to the disk
            engine.execute(f"attach '{Path(work, 'lines.db').as_posix()}' as lines")
            engine.execute("attach ':memory:' as held")
            engine.execute("set search_path = 'held,lines'")
            yield _read(engine, paths, declared, Path(work))
        except duckdb.OutOfMemoryException as fault:
            raise Refusal(
                "The log is too large for the room that is left in memory and on the disk.",
                where=str(source),
                cure="Make room on the disk, or give the boxes in several parts.",
            ) from fault
        finally:
            engine.close()


def _read(
    engine: duckdb.DuckDBPyConnection, paths: Sequence[Path], declared: Declarations, work: Path
) -> DetectionLog:
    clues = clues_of(declared)
    layouts: list[Layout] = []
    left: list[tuple[Path, NoLog]] = []
    for path in paths:
        try:
            layouts.append(
                lay_out_parquet(path, clues, engine)
                if path.suffix.lower() in PARQUET
                else lay_out_text(path, declared.loggers, clues, engine)
            )
        except NoLog as fault:
            left.append((path, fault))
    if not layouts:
        raise left[0][1]
    _refuse_mixed_zones(layouts)
    if stored := any(layout.separator for layout in layouts):
        engine.execute(
            "create table lines.raw (file int, box varchar, antenna varchar, stamp bigint, tag varchar)"
        )
        layouts = [read_plainly(engine, layout, nr, work) for nr, layout in enumerate(layouts)]
        boxes, tags = _code(engine, layouts, "select *, rowid as row from raw")
    else:
        boxes, tags = _seen(engine, layouts)
    limits = declared.loggers.limits
    files = _counted(engine, layouts, int(limits["reading.shown_lines"].value))
    files += tuple(_left_out(path, fault.why) for path, fault in left)
    if not sum(file.reads for file in files):
        _refuse_empty(engine, layouts, files)
    engine.execute("drop table raw" if stored else "drop view raw")
    exact = engine.execute("select bool_or(stamp % 1000 <> 0) from reads").fetchall()
    if not exact[0][0]:
        part_ties(engine, row_limits(limits))
    return DetectionLog(
        engine,
        tuple(boxes),
        tuple(tags),
        files,
        zoned=layouts[0].zoned,
        exact=bool(exact[0][0]),
        reads_at_once=int(limits["engine.reads_at_once"].value),
        learn_reads=int(limits["engine.learn_reads"].value),
        learn_boxes=int(limits["engine.learn_boxes"].value),
        hands=int(limits["engine.hands"].value),
    )


def _seen(engine: duckdb.DuckDBPyConnection, layouts: Sequence[Layout]) -> tuple[list[str], list[str]]:
    """Make the table ``reads`` from Parquet files as they lie there."""
    import duckdb

    try:
        look_into(engine, layouts)
        return _code(engine, layouts, "select * from raw")
    except duckdb.OutOfMemoryException:
        raise
    except duckdb.Error as fault:
        raise unreadable(fault, layouts[0].path) from fault


def _code(
    engine: duckdb.DuckDBPyConnection, layouts: Sequence[Layout], lines: str
) -> tuple[list[str], list[str]]:
    """Make the table ``reads`` from the lines of ``raw``."""
    import narwhals as nw

    def texts(name: str) -> list[str]:
        rows = engine.execute(f"select distinct {name} from raw where {name} is not null").fetchall()  # noqa: S608 - a column of ours
        return [str(row[0]) for row in rows]

    boxes, box_of = box_codes(texts("box"))
    tags, tag_of = tag_codes(texts("tag"))
    for name, codes in (("box", box_of), ("tag", tag_of)):
        engine.execute(
            f"create table {name}_codes as "
            f"select unnest(?::varchar[]) as {name}, unnest(?::int[]) as {name}_code",
            [list(codes), list(codes.values())],
        )
    words = engine.execute("select distinct file, antenna from raw where antenna is not null").fetchall()
    antennas = [
        (nr, text, code)
        for nr, text in words
        if (code := antenna_code(text, layouts[nr].antennas)) is not None
    ]
    engine.execute(
        "create table antenna_codes as select unnest(?::int[]) as file, unnest(?::varchar[]) as antenna, "
        "unnest(?::tinyint[]) as antenna_code",
        [list(column) for column in zip(*antennas, strict=True)] or [[], [], []],
    )
    parts = [engine.sql(lines)]
    parts += [engine.table(name) for name in ("box_codes", "tag_codes", "antenna_codes")]
    tables = [nw.from_native(part) for part in parts]
    relations.coded(*tables).to_native().create("reads")
    return boxes, tags


def _counted(engine: duckdb.DuckDBPyConnection, layouts: Sequence[Layout], most: int) -> tuple[LogFile, ...]:
    counts: dict[str, dict[int, int]] = {
        table: dict(engine.execute(f"select file, count(*) from {table} group by file").fetchall())  # noqa: S608 - a table of ours
        for table in ("raw", "reads")
    }
    files = []
    for nr, layout in enumerate(layouts):
        lines, reads = counts["raw"].get(nr, 0), counts["reads"].get(nr, 0)
        lost = swallowed(engine, layout, lines)
        if lost:
            raise Refusal(
                f"A quotation mark opens a cell and closes {lost} lines later, or never.",
                where=str(layout.path),
                cure="Remove stray quotation marks from the file.",
            )
        first = first_unread(engine, layout, nr, most) if lines > reads else ()
        files.append(LogFile(layout.path, reads, lines - reads, first))
    return tuple(files)


def _left_out(path: Path, why: str) -> LogFile:
    """Tell of a file that is no log and lies among logs: all its lines are unread."""
    count, first = lines_of(path)
    return LogFile(path, 0, count, (UnreadLine(path, 1, why, first),))


def _refuse_mixed_zones(layouts: Sequence[Layout]) -> None:
    if len({layout.zoned for layout in layouts}) > 1:
        zoned = next(layout for layout in layouts if layout.zoned)
        plain = next(layout for layout in layouts if not layout.zoned)
        raise Refusal(
            "This file says in which time zone its moments are, and others do not, such as "
            f"{plain.path.name}.",
            where=str(zoned.path),
            cure="Give files of one kind at a time.",
        )


def _refuse_empty(
    engine: duckdb.DuckDBPyConnection, layouts: Sequence[Layout], files: Sequence[LogFile]
) -> None:
    words = engine.execute("select distinct antenna from raw where antenna is not null").fetchall()
    known = {
        text for layout in layouts for (text,) in words if antenna_code(text, layout.antennas) is not None
    }
    if words and not known:
        shown = sorted(str(text) for (text,) in words)[:4]
        raise Refusal(
            f"Antennas are called {listed(shown)} here, and nothing says which is the outer one.",
            where=str(files[0].path),
            cure="Write into loggers.yaml of your own folder of declarations: forms: {own: {files: "
            f"'*{files[0].path.suffix}', antennas: {{'{shown[0]}': outer, '{shown[-1]}': inner}}}}}}, the "
            "right way round.",
        )
    first = next((line for file in files for line in file.first_unread), None)
    if first and first.why == SHORTENED:
        raise Refusal(
            "A spreadsheet shortened the tag numbers of this log: their last digits are lost.",
            where=f"{first.path}, line {first.line}",
            cure="Give the file as the logger wrote it; in a spreadsheet, make the tags text first.",
        )
    raise Refusal(
        "No line of this log can be read" + (f": {first.why}." if first else "."),
        where=f"{first.path}, line {first.line}" if first else str(files[0].path),
        cure="Name the columns box, antenna, detected_at and tag, or write a form for these files into "
        "loggers.yaml of your own folder of declarations.",
    )
