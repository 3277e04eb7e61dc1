"""The clock of one logger: how it went, what tells so, and which of its moments are to be set right."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass, replace
from functools import partial
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from audit.antennas.held_reads import held_anchors
from audit.antennas.legal_changes import legal_changes
from audit.antennas.logger_memory import before_and_after
from audit.antennas.round_markers import moved
from audit.models.doubled_hours import doubled_hour
from audit.models.logger_clock import logger_clock
from audit.models.visit_anchors import visit_anchors

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from audit.antennas.clock_numbers import ClockNumbers
    from audit.antennas.logger_memory import Memory
    from audit.models.clock_limits import Anchors, ClockLimits
    from audit.models.doubled_hours import DoubledHour
    from audit.models.logger_clock import LoggerClock
    from audit.models.visit_anchors import AnchorLimits

    Flags = NDArray[np.bool_]
    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["OneClock", "anchors_in", "clock_of", "hours_ahead", "left_alone", "settled"]

_SECOND_MS = 1000.0
_HOUR_MS = 3_600_000.0
_DAY_S = 86_400.0
_YEAR_MS = 365.2425 * _DAY_S * _SECOND_MS


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
    perhaps : float
        An hour told twice is none below this probability.
    p_offset : tuple of float
        For each piece, probability that what tells is right; empty where it was not weighed.
    """

    clock: LoggerClock
    memory: Memory
    far: tuple[bool, ...]
    by: str
    perhaps: float
    p_offset: tuple[float, ...] = ()

    def ahead_ms(self, shown: Ints) -> Floats:
        """Give by how many milliseconds it was ahead at moments that need not be in its memory.

        Before the first of the memory and behind the last it drifted as in the piece beside.
        """
        by_time = np.argsort(self.memory.at, kind="stable")
        at = self.memory.at[by_time].astype(np.float64)
        found: Floats = np.interp(shown, at, self.clock.offset[by_time])
        for place, beyond in ((0, np.minimum(shown - at[0], 0.0)), (-1, np.maximum(shown - at[-1], 0.0))):
            nr = bisect_right([piece.first for piece in self.clock.pieces], int(by_time[place])) - 1
            piece = self.clock.pieces[nr]
            span = abs(int(self.memory.at[piece.last]) - int(self.memory.at[piece.first]))
            if self.far[nr] and span >= _DAY_S * _SECOND_MS:
                found += beyond * piece.drift
        return found

    @property
    def was_set(self) -> bool:
        """Whether somebody may have set it meanwhile, as far as its beats show."""
        rare = self.clock.beat_s * _SECOND_MS > _HOUR_MS
        set_once = len(self.clock.pieces) > 1 or bool(self.clock.doubtful)
        return rare or set_once or self.clock.doubled > self.perhaps


def anchors_in(
    memory: Memory,
    read: Sequence[tuple[int, int]],
    limits: AnchorLimits,
    held: Sequence[tuple[int, int]] = (),
) -> Anchors | None:
    """Find moments known otherwise: of tags (code and moment) held to its antennas, else read by hand."""
    if held and len((found := held_anchors(held, memory.tag, memory.at, limits)).place):
        return found
    if not read:
        return None
    tag, moment = (np.array(column) for column in zip(*read, strict=True))
    hand = tag.astype(np.int64), moment.astype(np.float64)
    found = visit_anchors(*hand, memory.tag, memory.at, limits)
    return found if len(found.place) else None


def clock_of(
    memory: Memory,
    read: Sequence[tuple[int, int]],
    numbers: ClockNumbers,
    ended: float = float("nan"),
    others: Ints | None = None,
    held: Sequence[tuple[int, int]] = (),
) -> tuple[LoggerClock, Memory, Anchors | None]:
    """Find how a clock went; with the memory in the order in which that was found, and anchors used.

    Parameters
    ----------
    memory : Memory
        With reads.
    read : sequence of (int, int)
        Tags read by hand at this box and when, in milliseconds since 1970.
    numbers : ClockNumbers
    ended : float
        By how many milliseconds it ended after the loggers of other boxes, by its own clock; nan where those
        did not end together.
    others : numpy.ndarray of int64, optional
        Moments at which the clocks of several boxes were put on by an hour, in milliseconds.
    held : sequence of (int, int)
        Tags held to the antennas of this box and when, in milliseconds since 1970.
    """
    anew = _anew_first(memory.at, numbers.limits)
    if anew and ended < -numbers.limits.ended_within_s * _SECOND_MS:
        # rows sorted by time: the clock began anew when others still went on
        memory, anew = memory.ordered(np.roll(np.arange(len(memory.at)), -anew)), 0
    anchors = anchors_in(memory, read, numbers.anchor, held)
    years = range(_year(int(memory.at.min())), _year(int(memory.at.max())) + 1)
    some = {_year(int(one)) for one in memory.at[[0, -1]]} | {*years[-2:]}
    changes = legal_changes(numbers.zones, some)
    if others is not None:
        changes = np.union1d(changes[0], others), changes[1]
    told = partial(
        logger_clock, limits=numbers.limits, interval_s=numbers.interval_s, changes=changes, ended=ended
    )
    clock = told(memory.at, beats=memory.beats, anchors=anchors)
    if not clock.pieces:
        memory, anchors = memory.by_time(), None
        clock = told(memory.at, beats=memory.beats)
    if anew and np.isnan(ended) and not clock.anchored:
        # before the rest, if rows are in the order of the memory, or after it, if they are sorted
        clock = _not_known(clock, anew)
    hour = _told_twice(clock, memory, changes[1], ended, numbers.limits)
    if hour is None or hour.p < numbers.limits.sure:
        return (clock if hour is None else replace(clock, doubled=hour.p)), memory, anchors
    order, later = before_and_after(memory, clock.offset, clock.beat_s, hour)
    put_back = _put_back(clock, order, later, hour.p)
    memory = memory.ordered(order)
    if clock.anchored:
        # visits know better than the hour by how much it was put back
        anchors = anchors_in(memory, read, numbers.anchor, held)
        again = told(memory.at, beats=memory.beats, anchors=anchors)
        put_back = again if len(again.pieces) > 1 else put_back
    return put_back, memory, anchors


def _anew_first(at: Ints, limits: ClockLimits) -> int:
    """How many first reads, years before the rest, are of a clock that began anew; 0 where rows go back."""
    gaps = np.diff(at)
    if not len(gaps) or (gaps < 0).any() or gaps.max() <= limits.leap_d * _DAY_S * _SECOND_MS:
        return 0
    since = float(at[0]) / _SECOND_MS - np.array(limits.starts)
    begun = ((since >= -limits.usual_s) & (since <= limits.started_d * _DAY_S)).any()
    return int(np.argmax(gaps)) + 1 if begun else 0


def _not_known(clock: LoggerClock, reads: int) -> LoggerClock:
    """Take nothing to be known of when the first reads of a clock were."""
    pieces = tuple(
        replace(piece, offset_s=float("nan"), drift=0.0, known=False) if piece.last < reads else piece
        for piece in clock.pieces
    )
    offset = clock.offset.copy()
    offset[:reads] = 0.0
    return replace(clock, pieces=pieces, offset=offset)


def _put_back(clock: LoggerClock, order: Ints, later: Flags, p: float) -> LoggerClock:
    """Take a clock to have been put back by an hour before some reads, which come last in a new order."""
    piece_of = np.zeros(len(order), dtype=np.int64)
    for nr, piece in enumerate(clock.pieces):
        piece_of[piece.first : piece.last + 1] = nr
    offset = (clock.offset - np.where(later, _HOUR_MS, 0.0))[order]
    part = (2 * piece_of + later)[order]
    edges = np.flatnonzero(np.diff(part, prepend=-1, append=-1)).tolist()
    pieces = []
    for first, end in pairwise(edges):
        old = clock.pieces[int(piece_of[order[first]])]
        begins = bool(later[order[first]]) and not (first and later[order[first - 1]])
        middle = float(np.median(offset[first:end])) / _SECOND_MS
        new = replace(old, first=first, last=end - 1, offset_s=middle, p=p if begins else old.p)
        pieces.append(replace(new, kind="hour" if begins else old.kind))
    return replace(clock, pieces=tuple(pieces), offset=offset, doubled=p)


def _told_twice(
    clock: LoggerClock, memory: Memory, backs: Ints, ended: float, limits: ClockLimits
) -> DoubledHour | None:
    """Find an hour told twice, where rows are sorted by time and so do not go back."""
    if not (clock.pieces and clock.beaten and all(piece.known for piece in clock.pieces)):
        return None
    if not np.isfinite(clock.beat_s) or (np.diff(memory.at) < 0).any():
        return None
    beats = np.sort(memory.at[memory.beats] - clock.offset[memory.beats])
    is_bird = np.ones(len(memory.at), dtype=np.bool_)
    is_bird[memory.beats] = False
    birds = np.rint(memory.at[is_bird] - clock.offset[is_bird]).astype(np.int64)
    return doubled_hour(beats, clock.beat_s * _SECOND_MS, birds, backs, limits, ended)


def hours_ahead(
    clock: LoggerClock, memory: Memory, read: Sequence[tuple[int, int]], numbers: ClockNumbers
) -> int:
    """Say by how many whole hours a clock was ahead of hand reads, its steps and drift taken out.

    0 where reads do not agree, or are as far from a whole number of hours as a reader's clock may be.
    """
    right = replace(memory, at=clock.corrected(memory.at))
    anchors = anchors_in(right, read, numbers.hours)
    if anchors is None:
        return 0
    ahead = float(np.median(right.at[anchors.place] - anchors.true)) / _HOUR_MS
    return round(ahead) if abs(ahead - round(ahead)) * _HOUR_MS <= numbers.hours.within_s * _SECOND_MS else 0


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


def settled(clock: LoggerClock, anchors: Anchors | None, limits: ClockLimits) -> LoggerClock:
    """Take a clock for right that visits call right as closely as they can tell."""
    if anchors is None or not clock.pieces:
        return clock
    off = np.array([clock.offset[place] for place in anchors.place.tolist()])
    middle = float(np.median(off))
    if abs(middle) > limits.visit_clear * limits.visit_s * _SECOND_MS / np.sqrt(len(off)):
        return clock
    return moved(clock, -middle)


def _year(moment: int) -> int:
    return 1970 + int(moment // _YEAR_MS)
