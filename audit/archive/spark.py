"""Handlings of an archive on Apache Spark, by the address of its master: for what one machine cannot hold.

What is asked is the same as of every other engine. The files are described by the embedded one, and read by
the workers, who must find them under the same names.
"""

from __future__ import annotations

import os
import shutil
import socket
import sys
import time
import warnings
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

from audit.archive.duck import DuckEngine, open_duck
from audit.archive.duck_files import ROWS_OF_FILE
from audit.archive.engine import Raw
from audit.archive.season_files import OWN_ROW
from audit.refusal import Refusal

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from contextlib import AbstractContextManager

    import pandas as pd
    from narwhals import LazyFrame
    from pyspark.sql import DataFrame, SparkSession

    from audit.archive.archive_files import ArchiveFile
    from audit.archive.file_columns import FileColumns
    from audit.archive.laid_out import Stored
    from audit.declarations import Declarations

__all__ = ["SparkEngine", "open_spark", "opened"]

_LOOPBACK = frozenset({"127.0.0.1", "localhost", "::1"})
#: Seconds to wait for the master to answer, and for a worker to come.
_ANSWERS_WITHIN, _WORKS_WITHIN = 5.0, 60.0
#: Parts into which relations are cut, for each core; unless the settings of Spark say how many.
_PARTS_OF_CORE = 2
_PARTS = "spark.sql.shuffle.partitions"
_FIRST_ROW = 2
_TYPES = {"text": "string", "number": "double", "date": "timestamp_ntz"}
#: Types of columns here -> there.
_KINDS = {"b": "boolean", "i": "bigint", "u": "bigint", "f": "double"}


@dataclass(slots=True)
class SparkEngine(DuckEngine):
    """An engine whose relations are worked out by Spark.

    Attributes
    ----------
    session : pyspark.sql.SparkSession
    """

    session: SparkSession | None = None

    def table(self, frame: pd.DataFrame, name: str) -> LazyFrame[Any]:
        """Make a small frame known as a relation."""
        del name
        import narwhals as nw

        kinds = [f"`{column}` {_KINDS.get(frame[column].dtype.kind, 'string')}" for column in frame.columns]
        # what is no number is missing, as in the other engines
        cells = [
            [None if cell != cell else cell for cell in frame[column].tolist()]  # noqa: PLR0124 - nan is unlike itself
            for column in frame.columns
        ]
        rows = list(zip(*cells, strict=True))
        relation: LazyFrame[Any] = nw.from_native(self._there().createDataFrame(rows, ", ".join(kinds)))
        return relation

    def keep(self, relation: LazyFrame[Any], name: str) -> LazyFrame[Any]:
        """Work a relation out once, and keep it with the workers, in their memory or on their disks."""
        del name
        import narwhals as nw

        # without what led to it, which would be looked through again for every question
        kept: LazyFrame[Any] = nw.from_native(relation.to_native().localCheckpoint())
        return kept

    def frame(self, relation: LazyFrame[Any]) -> pd.DataFrame:
        """Work a relation out, and hand it over."""
        import pandas as pd

        native: DataFrame = relation.to_native()
        rows = native.collect()
        columns = {}
        for place, (name, kind) in enumerate(native.dtypes):
            cells = [row[place] for row in rows]
            whole = kind in {"int", "bigint"} and None not in cells
            dtype = {"string": "str", "double": "float64", "boolean": "bool"}.get(kind, "object")
            columns[name] = pd.Series(cells, dtype="int64" if whole else dtype)
        return pd.DataFrame(columns)

    def count(self) -> int:
        """Count the handlings."""
        if self.raw is None:
            raise ValueError("an engine without an archive")
        return int(self.raw.rows.to_native().count())

    def _there(self) -> SparkSession:
        if self.session is None:
            raise ValueError("an engine without a session")
        return self.session


@contextmanager
def open_spark(
    files: Sequence[ArchiveFile],
    declared: Declarations,
    work: Path,
    *,
    megabytes: int,
    master: str,
    keep: Path | None = None,
) -> Iterator[SparkEngine]:
    """Open an archive on Spark.

    Parameters
    ----------
    files, declared, work, megabytes, keep
        As for `audit.archive.duck.open_duck`. `work` must be seen by the workers where files are no Parquet.
    master : str
        Such as ``spark://host:7077`` or ``local[2]``.

    Raises
    ------
    Refusal
        PySpark or Java is not installed, the master does not answer, nobody works for it, or Spark stopped.
    """
    errors = _spark_errors()
    _refuse_without_java()
    _refuse_silent_master(master)
    with open_duck(files, declared, work, megabytes=megabytes, keep=keep) as local, warnings.catch_warnings():
        # it does not know this version of pandas, none of whose frames it is given
        warnings.filterwarnings("ignore", "PySpark does not yet fully support pandas", FutureWarning)
        try:
            session = _session(master)
        except errors as fault:
            raise _stopped(fault, master) from fault
        try:
            _refuse_without_workers(session, master)
            raw = _raw(session, local)
            yield SparkEngine(
                local.connection,
                files=local.files,
                raw=raw,
                notices=local.notices,
                places=local.places,
                headers=local.headers,
                parts=local.parts,
                session=session,
            )
        except errors as fault:
            raise _stopped(fault, master) from fault
        finally:
            session.stop()


def opened(
    files: Sequence[ArchiveFile],
    declared: Declarations,
    work: Path,
    *,
    megabytes: int,
    master: str | None,
    keep: Path | None = None,
) -> AbstractContextManager[DuckEngine]:
    """Open an archive on Spark where a master is named, else on this machine."""
    if master is None:
        return open_duck(files, declared, work, megabytes=megabytes, keep=keep)
    return open_spark(files, declared, work, megabytes=megabytes, master=master, keep=keep)


def _spark_errors() -> tuple[type[Exception], ...]:
    try:
        from py4j.protocol import Py4JError
        from pyspark.errors import PySparkException
    except ModuleNotFoundError as fault:
        raise Refusal(
            "PySpark, which speaks to a Spark cluster, is not installed.",
            where="nestproof archive --master",
            cure="Install it with: pip install 'nestproof[spark]', or leave out --master: one machine is "
            "enough for tens of millions of handlings.",
        ) from fault
    return (PySparkException, Py4JError)


def _refuse_without_java() -> None:
    home = os.environ.get("JAVA_HOME")
    if not (home and shutil.which("java", path=str(Path(home) / "bin"))) and not shutil.which("java"):
        raise Refusal(
            "Spark needs Java, and there is none on this machine.",
            where="nestproof archive --master",
            cure="Install a Java runtime, version 17 or newer, or leave out --master.",
        )


def _refuse_silent_master(master: str) -> None:
    if master.startswith("local"):
        return
    places = _places(master)
    if not places or not all(host and port for host, port in places):
        raise Refusal(
            "This is no address of a Spark master.",
            where=f"--master {master}",
            cure="Name it such as spark://host:7077, as its own page tells, or local[2] for two cores here.",
        )
    for host, port in places:
        try:
            socket.create_connection((host, port), timeout=_ANSWERS_WITHIN).close()
        except OSError:
            continue
        return
    raise Refusal(
        "The Spark master does not answer.",
        where=f"--master {master}",
        cure="Start it, look at host and port, or leave out --master.",
    )


def _places(master: str) -> list[tuple[str, int]]:
    """Host and port of each master; nothing where it is no such address."""
    if not master.startswith("spark://"):
        return []
    try:
        parts = [urlsplit(f"//{one}") for one in master.removeprefix("spark://").split(",")]
        return [(part.hostname or "", part.port or 0) for part in parts]
    except ValueError:
        return []


def _session(master: str) -> SparkSession:
    from pyspark.sql import SparkSession

    os.environ.setdefault("PYSPARK_PYTHON", sys.executable)
    asked: dict[str, str] = {
        # days and sums as in the other engines: what cannot be is missing, and no clock of a machine counts
        "spark.sql.ansi.enabled": "false",
        "spark.sql.session.timeZone": "UTC",
        "spark.sql.adaptive.enabled": "true",
        "spark.ui.enabled": "false",
        "spark.ui.showConsoleProgress": "false",
        "spark.log.level": "ERROR",
    }
    if _LOOPBACK.issuperset(host for host, _ in _places(master)):
        os.environ.setdefault("SPARK_LOCAL_IP", "127.0.0.1")
        asked |= {"spark.driver.host": "127.0.0.1", "spark.driver.bindAddress": "127.0.0.1"}
    builder = SparkSession.builder.master(master).appName("nestproof archive")
    for name, value in asked.items():
        builder = builder.config(name, value)
    session = builder.getOrCreate()
    if session.sparkContext.getConf().get(_PARTS) is None:
        cores = int(session.sparkContext.defaultParallelism)
        session.conf.set(_PARTS, str(_PARTS_OF_CORE * max(cores, 2)))
    return session


def _refuse_without_workers(session: SparkSession, master: str) -> None:
    """Wait for a worker: a master without one takes every question and answers none."""
    if master.startswith("local"):
        return
    give_up = time.monotonic() + _WORKS_WITHIN
    while time.monotonic() < give_up:
        # the first of them is this process
        if session.sparkContext._jsc.sc().getExecutorMemoryStatus().size() > 1:  # noqa: SLF001 - told nowhere else
            return
        time.sleep(0.1)
    raise Refusal(
        f"The Spark master answers, but within {_WORKS_WITHIN:.0f} seconds no worker was free.",
        where=f"--master {master}",
        cure="Start workers, wait for what else is run there, or leave out --master.",
    )


def _raw(session: SparkSession, local: DuckEngine) -> Raw:
    from functools import reduce

    import narwhals as nw

    if local.raw is None:
        raise ValueError("an engine without an archive")
    stored = local.raw.stored
    parts = [
        _part(session, number, path, columns, stored) for number, (path, columns) in enumerate(local.parts)
    ]
    return Raw(nw.from_native(reduce(lambda one, other: one.unionAll(other), parts)), stored)


def _part(
    session: SparkSession, number: int, path: Path, columns: FileColumns, stored: Mapping[str, Stored]
) -> DataFrame:
    from pyspark.sql import functions as fn

    place = fn.col("_metadata.row_index")
    row = place + _FIRST_ROW if columns.book is None else fn.col(f"`{OWN_ROW}`")
    cells = []
    for name, kind in stored.items():
        if name in columns.names:
            cell = fn.col(f"`{columns.names[name].replace('`', '``')}`")
        else:
            cell = fn.lit(columns.file.groups.get(name))
        cell = cell.cast(_TYPES[kind])
        was = columns.stored.get(name, kind)
        if (was, kind) == ("number", "text"):
            cell = fn.regexp_replace(cell, "[.]0$", "")
        elif (was, kind) == ("date", "text"):
            cell = fn.substring(cell, 1, len("2019-05-31"))
        cells.append(cell.alias(name))
    return session.read.parquet(path.absolute().as_posix()).select(
        (fn.lit(number * ROWS_OF_FILE) + place).cast("bigint").alias("at"),
        fn.lit(number).alias("file"),
        row.cast("bigint").alias("row"),
        *cells,
    )


def _stopped(fault: Exception, master: str) -> Refusal:
    first = (str(fault).strip().splitlines() or [type(fault).__name__])[0]
    return Refusal(
        f"Spark stopped: {first}",
        where=f"--master {master}",
        cure="Look at the pages of its master and workers; they must see the files of the archive under the "
        "same names. Or leave out --master.",
    )
