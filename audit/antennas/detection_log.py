"""The log of box antennas as a whole, as it lies in an engine: handed on box by box."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from audit.antennas import relations
from audit.antennas.sorted_reads import Packing, sorted_reads, unpacked
from audit.models.reads import INNER, OUTER

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    import duckdb
    from narwhals import LazyFrame
    from numpy.typing import NDArray

    from audit.antennas.unread import UnreadLine
    from audit.models.reads import Reads

__all__ = ["DetectionLog", "LogFile"]


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
    learn_reads, learn_boxes : int
        Reads of a `sample`, and how many boxes it has at least where there is room.
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
    learn_boxes: int
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
        some = _evenly(counts["reads"].tolist(), self.learn_reads, self.learn_boxes, self.reads_at_once)
        if len(some) == len(counts["box"]):
            return None
        boxes = counts["box"][some].tolist()
        return sorted_reads(**self.table(relations.of_some_boxes(self.relation, boxes)))


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


def _evenly(counts: Sequence[int], learn: int, least: int, most: int) -> list[int]:
    """Choose places at even distances with about `learn` reads together; all where these are `most` at most.

    Fewer than `least` are chosen only where so many have more reads than both `learn` and `most`.

    Examples
    --------
    >>> _evenly([5] * 8, 20, 4, 30)
    [0, 2, 5, 7]
    >>> _evenly([5] * 8, 20, 4, 40)
    [0, 1, 2, 3, 4, 5, 6, 7]
    """
    total, n = sum(counts), len(counts)
    if total <= most:
        return list(range(n))
    chosen = min(max(round(learn * n / total), least), n)
    while True:
        some = sorted({round(nr * (n - 1) / max(chosen - 1, 1)) for nr in range(chosen)})
        if chosen == 1 or sum(counts[nr] for nr in some) <= max(most, learn):
            return some
        chosen -= 1
