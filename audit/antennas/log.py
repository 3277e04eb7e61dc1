"""The log of box antennas as a whole: files read once into an engine, and handed on box by box."""

from __future__ import annotations

import tempfile
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from audit.antennas import relations
from audit.antennas.column_kinds import clues_of
from audit.antennas.layout import NoLog, lay_out_text
from audit.antennas.log_codes import antenna_code, box_codes, tag_codes
from audit.antennas.log_files import PARQUET, log_files
from audit.antennas.plain_copy import read_plainly
from audit.antennas.reading import lay_out_parquet, look_into, unreadable
from audit.antennas.sorted_reads import Packing, sorted_reads, unpacked
from audit.antennas.tied_rows import part_ties, row_limits
from audit.antennas.unread import SHORTENED, UnreadLine, first_unread, lines_of, swallowed
from audit.intake.wording import listed
from audit.models.reads import INNER, OUTER
from audit.refusal import Refusal

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    import duckdb
    from narwhals import LazyFrame
    from numpy.typing import NDArray

    from audit.antennas.layout import Layout
    from audit.declarations import Declarations
    from audit.models.reads import Reads

__all__ = ["DetectionLog", "LogFile", "open_log"]


@dataclass(frozen=True, slots=True)
class LogFile:
    """One file of a log.

    Attributes
    ----------
    path : Path
    reads, unread : int
        Lines that are reads, and lines that are not.
    first_unread : tuple of UnreadLine
        The first of the latter.
    """

    path: Path
    reads: int
    unread: int
    first_unread: tuple[UnreadLine, ...] = ()


@dataclass(frozen=True, slots=True)
class DetectionLog:
    """A log that was read.

    Attributes
    ----------
    boxes, tags : tuple of str
        Labels by code.
    files : tuple of LogFile
    zoned : bool
        Moments are those of UTC, since the files say in which time zone theirs are.
    exact : bool
        Some moments have fractions of a second.
    reads_at_once : int
        Reads that `chunks` hands on together, but for a box that has more.
    learn_reads : int
        Reads of a `sample`.
    hands : int
        Processes that judge chunks side by side, where there are several.
    """

    engine: duckdb.DuckDBPyConnection
    boxes: tuple[str, ...]
    tags: tuple[str, ...]
    files: tuple[LogFile, ...]
    zoned: bool
    exact: bool
    reads_at_once: int
    learn_reads: int
    hands: int

    @property
    def relation(self) -> LazyFrame[Any]:
        """All reads: ``file``, ``row``, ``box``, ``tag``, ``stamp``, ``antenna``."""
        import narwhals as nw

        return nw.from_native(self.engine.table("reads"))

    def table(self, relation: LazyFrame[Any]) -> dict[str, NDArray[Any]]:
        """Work a relation out: its columns as arrays."""
        native = relation.to_native()
        return {name: np.asarray(column) for name, column in native.fetchnumpy().items()}

    def ranges(self) -> list[tuple[int, int]]:
        """Give the first and the last box of each chunk."""
        counts = self.table(relations.reads_by_box(self.relation))
        return list(_packed(counts["box"].tolist(), counts["reads"].tolist(), self.reads_at_once))

    def chunks(self) -> Iterator[Reads]:
        """Hand on whole boxes, sorted by box, tag, time and antenna; what stands twice is left in."""
        packing = self._packing()
        for first, last in self.ranges():
            reads = relations.of_boxes(self.relation, first, last)
            if packing.has_room:
                key = self.table(relations.packed(reads, packing.least, packing.places))["key"]
                yield unpacked(key, packing)
            else:
                yield sorted_reads(**self.table(reads))

    def _packing(self) -> Packing:
        """How the reads of any chunk are laid into whole numbers."""
        first, last = (int(one[0]) for one in self.table(relations.span(self.relation)).values())
        return Packing.of((0, 0, first, OUTER), (len(self.boxes) - 1, len(self.tags) - 1, last, INNER))

    def of_tags(self, tags: Sequence[int], boxes: tuple[int, int] | None = None) -> Reads:
        """Take the reads of some tags at neighbouring boxes, or at all, sorted as in `chunks`."""
        first, last = boxes or (0, len(self.boxes) - 1)
        return sorted_reads(
            **self.table(relations.of_tags(relations.of_boxes(self.relation, first, last), tags))
        )

    @property
    def long(self) -> bool:
        """There is more than one chunk."""
        return sum(file.reads for file in self.files) > self.reads_at_once

    def sample(self) -> Reads | None:
        """Take boxes evenly from all over a log, sorted as in `chunks`; None where one chunk holds all."""
        counts = self.table(relations.reads_by_box(self.relation))
        some = _evenly(counts["reads"].tolist(), self.learn_reads, self.reads_at_once)
        if len(some) == len(counts["box"]):
            return None
        boxes = counts["box"][some].tolist()
        return sorted_reads(**self.table(relations.of_some_boxes(self.relation, boxes)))


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


def _packed(boxes: Sequence[int], counts: Sequence[int], most: int) -> Iterator[tuple[int, int]]:
    """Put neighbouring boxes together until they have many reads.

    Examples
    --------
    >>> list(_packed([0, 1, 2, 3], [5, 5, 30, 1], 10))
    [(0, 1), (2, 2), (3, 3)]
    """
    first = total = 0
    for nr, count in enumerate(counts):
        if total and total + count > most:
            yield boxes[first], boxes[nr - 1]
            first, total = nr, 0
        total += count
    if counts:
        yield boxes[first], boxes[-1]


#: So many boxes at least show what boxes have in common, where there is room.
_BOXES_LEAST = 4


def _evenly(counts: Sequence[int], learn: int, most: int) -> list[int]:
    """Choose places at even distances with about `learn` reads together; all where these are `most` at most.

    Examples
    --------
    >>> _evenly([5] * 8, 20, 30)
    [0, 2, 5, 7]
    >>> _evenly([5] * 8, 20, 40)
    [0, 1, 2, 3, 4, 5, 6, 7]
    """
    total, n = sum(counts), len(counts)
    if total <= most:
        return list(range(n))
    chosen = min(max(round(learn * n / total), _BOXES_LEAST), n)
    while True:
        some = sorted({round(nr * (n - 1) / max(chosen - 1, 1)) for nr in range(chosen)})
        if chosen == 1 or sum(counts[nr] for nr in some) <= max(most, learn):
            return some
        chosen -= 1
