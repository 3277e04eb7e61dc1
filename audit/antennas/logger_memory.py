"""The memory of a logger: reads of a box in the order in which they were stored."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.models.reads import INNER, OUTER

if TYPE_CHECKING:
    from collections.abc import Iterable

    import duckdb
    from numpy.typing import NDArray

    from audit.models.doubled_hours import DoubledHour

    Ints = NDArray[np.int64]

__all__ = ["Memory", "Stored", "before_and_after", "boxes_with_two_loggers", "memories_of", "stored_reads"]


@dataclass(frozen=True, slots=True)
class Stored:
    """Reads of a box with the place where they stood, sorted by tag, time and antenna.

    Attributes
    ----------
    nr : numpy.ndarray of int64, shape (n,)
        Which of the reads of the box it is when those that stand twice are counted once.
    tag, at, antenna, file, row : numpy.ndarray of int64, shape (n,)
        ``row`` rises through each file, and from file to file.
    """

    nr: Ints
    tag: Ints
    at: Ints
    antenna: Ints
    file: Ints
    row: Ints


@dataclass(frozen=True, slots=True)
class Memory:
    """Reads of one logger, in the order in which they were stored.

    Attributes
    ----------
    place : numpy.ndarray of int64, shape (n,)
        Which of the reads of the box these are, those that stand twice counted once.
    tag, at : numpy.ndarray of int64, shape (n,)
    antenna : int
        Of a logger that has one only, else -1.
    beats : numpy.ndarray of int64
        Positions of the reads of the marker tag that is read most.
    """

    place: Ints
    tag: Ints
    at: Ints
    antenna: int
    beats: Ints

    def by_time(self) -> Memory:
        """Give the same reads in the order of time, for rows that were sorted since they were stored."""
        return self.ordered(np.argsort(self.at, kind="stable").astype(np.int64))

    def ordered(self, order: Ints) -> Memory:
        """Give the same reads in another order."""
        is_beat = np.zeros(len(order), dtype=np.bool_)
        is_beat[self.beats] = True
        return Memory(
            self.place[order],
            self.tag[order],
            self.at[order],
            self.antenna,
            np.flatnonzero(is_beat[order]).astype(np.int64),
        )


def stored_reads(
    engine: duckdb.DuckDBPyConnection,
    boxes: tuple[int, int],
    shown_again: float,
    tags: Iterable[int] | None = None,
) -> dict[int, Stored]:
    """Fetch reads with the place where they stood.

    Parameters
    ----------
    engine : duckdb.DuckDBPyConnection
        Holds the table ``held.reads``; other threads may use it meanwhile.
    boxes : tuple of int
        First and last code of neighbouring boxes.
    shown_again : float
        Largest share of the reads of a tag that a clock put back by an hour can show a second time.
    tags : iterable of int, optional
        Codes of tags; all where none are given.

    Returns
    -------
    dict
        Code of the box -> its reads; without boxes that have none.
    """
    some = "" if tags is None else " and tag in (select unnest(?::int[]))"
    asked = f"select box, tag, stamp, antenna, file, row from held.reads where box between ? and ?{some}"  # noqa: S608 - made of literals
    given: list[object] = [*boxes] if tags is None else [*boxes, sorted(tags)]
    with engine.cursor() as cursor:
        columns = {
            name: np.asarray(column).astype(np.int64)
            for name, column in cursor.execute(asked, given).fetchnumpy().items()
        }
    box, tag, at, antenna, file, row = columns.values()
    order = np.lexsort((row, antenna, at, tag, box))
    box, tag, at, antenna, file, row = (one[order] for one in (box, tag, at, antenna, file, row))
    first = np.ones(len(at), dtype=np.bool_)
    if len(at):
        first[1:] = np.any([one[1:] != one[:-1] for one in (box, tag, at, antenna)], axis=0)
    found = {}
    for code in np.unique(box).tolist():
        low, high = np.searchsorted(box, [code, code + 1])
        is_first = first[low:high]
        nr = np.cumsum(is_first) - 1
        # a clock put back shows some moments twice, in one file; a second download shows very many, and so
        # does a tag that is read several times a second
        again = ~is_first & (file[low:high] == file[low:high][is_first][nr])
        _, of_tag = np.unique(tag[low:high], return_inverse=True)
        few = np.bincount(of_tag, weights=again) <= shown_again * np.bincount(of_tag)
        kept = np.flatnonzero(is_first | (again & few[of_tag]))
        kept_columns = (one[low:high][kept] for one in (tag, at, antenna, file, row))
        found[code] = Stored(nr[kept], *kept_columns)
    return found


def boxes_with_two_loggers(engine: duckdb.DuckDBPyConnection) -> frozenset[int]:
    """Find boxes whose antennas stand in files of their own, so that each has a logger of its own."""
    asked = (
        "with each as (select distinct box, file, antenna from held.reads), "
        "of_file as (select box, file, count(*) as antennas from each group by box, file) "
        "select box from each join of_file using (box, file) group by box "
        "having max(antennas) = 1 and count(distinct antenna) = 2"
    )
    with engine.cursor() as cursor:
        return frozenset(int(box) for (box,) in cursor.execute(asked).fetchall())


def memories_of(stored: Stored, marks: Ints, *, apart: bool) -> list[Memory]:
    """Part the reads of a box by logger.

    Parameters
    ----------
    stored : Stored
    marks : numpy.ndarray of int64
        Codes of marker tags.
    apart : bool
        Each antenna has a logger of its own.
    """
    inner = stored.antenna == INNER
    parts = [(OUTER, np.flatnonzero(~inner)), (INNER, np.flatnonzero(inner))] if apart else []
    found = []
    for side, place in parts or [(-1, np.arange(len(inner)))]:
        order = place[np.argsort(stored.row[place], kind="stable")]
        tag = stored.tag[order]
        count = [int((tag == mark).sum()) for mark in marks.tolist()]
        beats = np.flatnonzero(tag == marks[int(np.argmax(count))]) if count else np.zeros(0, dtype=np.int64)
        found.append(Memory(stored.nr[order], tag, stored.at[order], side, beats.astype(np.int64)))
    return found


def before_and_after(
    memory: Memory, offset: NDArray[np.float64], beat_s: float, hour: DoubledHour
) -> tuple[Ints, NDArray[np.bool_]]:
    """Put rows sorted by time back into the order in which they were stored, around an hour told twice.

    Parameters
    ----------
    memory : Memory
        Sorted by time.
    offset : numpy.ndarray of float, shape (n,)
        By how many milliseconds the clock had gained at each read.
    beat_s : float
        Interval of the marker in seconds.
    hour : DoubledHour

    Returns
    -------
    order : numpy.ndarray of int64, shape (n,)
    later : numpy.ndarray of bool, shape (n,)
        Which reads, as they stood, come after the clock was put back: of that hour the later half of the
        reads of each beat. Nothing tells which birds were read before, so they are all taken to have been.
    """
    moment = memory.at - offset
    later = moment >= hour.end
    inside = memory.beats[(moment[memory.beats] >= hour.start) & (moment[memory.beats] < hour.end)]
    slot = ((moment[inside] - hour.start) // (beat_s * 1000)).astype(np.int64)
    begins = np.searchsorted(slot, slot, side="left")
    count = np.searchsorted(slot, slot, side="right") - begins
    later[inside[2 * (np.arange(len(slot)) - begins) >= count]] = True
    return np.argsort(later, kind="stable").astype(np.int64), later
