"""The models asked of a log: chunk by chunk, whole boxes each."""

from __future__ import annotations

from collections import deque
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np

from audit.antennas.sorted_reads import order_of
from audit.models.reads import Crossings, Passages, Reads, Spells

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence
    from concurrent.futures import Future

    from numpy.typing import NDArray

__all__ = ["Followed", "follow", "without_repeats"]


_Records = TypeVar("_Records", Passages, Spells, Crossings)


@dataclass(frozen=True, slots=True)
class Followed:
    """What the models say of all boxes.

    Attributes
    ----------
    passages : Passages
        Sorted by box, time, tag and direction.
    spells : Spells
        Sorted by box, antenna and time.
    crossings : Crossings
        Sorted by box and tag.
    repeated : int
        Reads that stood there before.
    """

    passages: Passages
    spells: Spells
    crossings: Crossings
    repeated: int


def without_repeats(reads: Reads) -> Reads:
    """Keep one of several reads of the same tag, antenna and moment, as two downloads of one logger give.

    Parameters
    ----------
    reads : Reads
        Sorted by box, tag, time and antenna.
    """
    if not len(reads.at):
        return reads
    keep = np.ones(len(reads.at), dtype=np.bool_)
    keep[1:] = reads.at[1:] != reads.at[:-1]
    for column in (reads.antenna, reads.tag, reads.box):
        keep[1:] |= column[1:] != column[:-1]
    if keep.all():
        return reads
    return Reads(reads.box[keep], reads.tag[keep], reads.at[keep], reads.antenna[keep])


def follow(
    chunks: Iterable[Reads],
    ask: Callable[[Reads], tuple[Passages, Spells, Crossings]],
    hands: int = 2,
) -> Followed:
    """Ask the models of all boxes.

    Parameters
    ----------
    chunks : iterable of Reads
        Whole boxes each, sorted by box, tag, time and antenna.
    ask : callable
        From reads to passages, spells and crossings; called in several threads.
    hands : int
        Chunks that are judged at the same time, while the next one is made ready; what is found does not
        depend on it.

    Returns
    -------
    Followed
    """
    passages: list[Passages] = []
    spells: list[Spells] = []
    crossings: list[Crossings] = []
    repeated = 0
    waiting: deque[Future[tuple[Passages, Spells, Crossings]]] = deque()

    def take() -> None:
        found, health, crossed = waiting.popleft().result()
        passages.append(_ordered(found, (found.box, found.at, found.tag, found.direction)))
        spells.append(_ordered(health, (health.box, health.antenna, health.start)))
        crossings.append(_ordered(crossed, (crossed.box, crossed.tag)))

    # a thread waits for another process, or sums long arrays, and lets others work meanwhile
    with ThreadPoolExecutor(max(hands, 1) + 1) as workers:
        for chunk in chunks:
            reads = without_repeats(chunk)
            repeated += len(chunk.at) - len(reads.at)
            waiting.append(workers.submit(ask, reads))
            # the next chunk is read while these are followed
            if len(waiting) > hands:
                take()
        while waiting:
            take()
    return Followed(
        _joined(Passages, passages), _joined(Spells, spells), _joined(Crossings, crossings), repeated
    )


def _ordered(records: _Records, keys: Sequence[NDArray[Any]]) -> _Records:
    order = order_of(*keys)
    return type(records)(*(getattr(records, name)[order] for name in type(records).__slots__))


def _joined(kind: type[_Records], parts: Sequence[_Records]) -> _Records:
    return kind(*(np.concatenate([getattr(part, name) for part in parts]) for name in kind.__slots__))
