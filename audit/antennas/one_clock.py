"""The clock of one logger: how it went, what tells so, and which of its moments are to be set right."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from audit.antennas.legal_changes import legal_changes
from audit.handover.clock_record import ClockTold
from audit.models.logger_clock import logger_clock
from audit.models.reads import INNER, OUTER
from audit.models.visit_anchors import visit_anchors

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from audit.antennas.clock_numbers import ClockNumbers
    from audit.antennas.logger_memory import Memory
    from audit.models.clock_limits import Anchors, ClockLimits
    from audit.models.logger_clock import LoggerClock

__all__ = ["OneClock", "anchors_in", "clock_of", "left_alone", "told_of"]

_SECOND_MS = 1000.0
_DAY_S = 86_400.0
_YEAR_MS = 365.2425 * _DAY_S * _SECOND_MS
_ANTENNAS = {OUTER: "outer", INNER: "inner"}


@dataclass(frozen=True, slots=True)
class OneClock:
    """What is known of the clock of one memory.

    Attributes
    ----------
    clock : LoggerClock
    memory : Memory
        In the order in which its offsets stand.
    far : tuple of bool
        For each piece, whether it was once further off than is left alone.
    by : str
        What tells when it was right.
    """

    clock: LoggerClock
    memory: Memory
    far: tuple[bool, ...]
    by: str

    @property
    def was_set(self) -> bool:
        """Whether somebody may have set it meanwhile."""
        return len(self.clock.pieces) > 1 or bool(self.clock.doubtful)


def anchors_in(memory: Memory, read: Sequence[tuple[int, int]], numbers: ClockNumbers) -> Anchors | None:
    """Find moments known otherwise: reads of tags (code and moment) by a hand reader at this box."""
    if not read:
        return None
    tag, moment = (np.array(column) for column in zip(*read, strict=True))
    hand = tag.astype(np.int64), moment.astype(np.float64)
    found = visit_anchors(*hand, memory.tag, memory.at, numbers.anchor)
    return found if len(found.place) else None


def clock_of(
    memory: Memory, read: Sequence[tuple[int, int]], numbers: ClockNumbers
) -> tuple[LoggerClock, Memory, Anchors | None]:
    """Find how a clock went; with the memory in the order in which that was found, and anchors used.

    Parameters
    ----------
    memory : Memory
        With reads.
    read : sequence of (int, int)
        Tags read by hand at this box and when, in milliseconds since 1970.
    numbers : ClockNumbers
    """
    anchors = anchors_in(memory, read, numbers)
    years = range(_year(int(memory.at.min())), _year(int(memory.at.max())) + 1)
    some = {_year(int(one)) for one in memory.at[[0, -1]]} | {*years[-2:]}
    changes = legal_changes(numbers.zones, some)
    given = {"interval_s": numbers.interval_s, "changes": changes}
    clock = logger_clock(memory.at, numbers.limits, beats=memory.beats, anchors=anchors, **given)  # type: ignore[arg-type]
    if not clock.pieces:
        memory, anchors = memory.by_time(), None
        clock = logger_clock(memory.at, numbers.limits, beats=memory.beats, **given)  # type: ignore[arg-type]
    return clock, memory, anchors


def left_alone(clock: LoggerClock, limits: ClockLimits) -> tuple[LoggerClock, tuple[bool, ...]]:
    """Leave pieces as they are in which the clock was never far off; say which were."""
    offset = clock.offset.copy()
    far = []
    for piece in clock.pieces:
        mine = slice(piece.first, piece.last + 1)
        far.append(piece.known and bool(np.abs(offset[mine]).max() >= limits.least_s * _SECOND_MS))
        if not far[-1]:
            offset[mine] = 0.0
    return replace(clock, offset=offset), tuple(far)


def told_of(box: str, one: OneClock, *, change: bool) -> Iterator[ClockTold]:
    """Give what is told of a clock, piece by piece."""
    for piece, far in zip(one.clock.pieces, one.far, strict=True):
        yield ClockTold(
            box,
            _ANTENNAS.get(one.memory.antenna, ""),
            int(one.memory.at[piece.first]),
            int(one.memory.at[piece.last]),
            round(piece.offset_s, 3) + 0.0 if piece.known else None,
            round(piece.drift * _DAY_S, 4) + 0.0 if piece.known else 0.0,
            one.by if piece.known else "nothing",
            piece.p,
            changed=change and far,
        )


def _year(moment: int) -> int:
    return 1970 + int(moment // _YEAR_MS)
