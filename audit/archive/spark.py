"""Handlings of an archive on Apache Spark, by the address of its master: for what one machine cannot hold.

What is asked is the same as of every other engine. The files are described by the embedded one, and read by
the workers, who must find them under the same names.
"""

from __future__ import annotations

import warnings
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from audit.archive.duck import DuckEngine, open_duck
from audit.archive.duck_files import ROWS_OF_FILE
from audit.archive.engine import Raw
from audit.archive.season_files import OWN_ROW
from audit.archive.spark_faults import Watch, spark_errors, stopped
from audit.archive.spark_master import (
    WORKS_WITHIN,
    begin_session,
    many_executors,
    refuse_silent_master,
    refuse_without_java,
    refuse_without_workers,
)

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from contextlib import AbstractContextManager
    from pathlib import Path

    import pandas as pd
    from narwhals import LazyFrame
    from pyspark.sql import DataFrame, SparkSession

    from audit.archive.archive_files import ArchiveFile
    from audit.archive.file_columns import FileColumns
    from audit.archive.laid_out import Stored
    from audit.declarations import Declarations

__all__ = ["SparkEngine", "open_spark", "opened"]

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
    errors = spark_errors()
    refuse_without_java()
    refuse_silent_master(master)
    with open_duck(files, declared, work, megabytes=megabytes, keep=keep) as local, warnings.catch_warnings():
        # it does not know this version of pandas, none of whose frames it is given
        warnings.filterwarnings("ignore", "PySpark does not yet fully support pandas", FutureWarning)
        try:
            session = begin_session(master)
        except errors as fault:
            raise stopped(fault, master) from fault
        watch = Watch(
            lambda: 1 if master.startswith("local") else many_executors(session),
            session.sparkContext.cancelAllJobs,
            within=WORKS_WITHIN,
        )
        try:
            refuse_without_workers(session, master)
            with watch:
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
            raise stopped(fault, master, deserted=watch.deserted) from fault
        finally:
            with suppress(*errors):
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
