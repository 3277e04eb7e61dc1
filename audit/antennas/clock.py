"""Clocks of loggers: judged box by box, and moments set right before anything else is asked of them."""

from __future__ import annotations

from copy import copy
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from audit.antennas.beat_moments import beat_moments
from audit.antennas.clock_numbers import clock_numbers
from audit.antennas.heard_again import HeardAgain
from audit.antennas.held_reads import anchors_here, held_here
from audit.antennas.log_ends import LogEnds, log_ends
from audit.antennas.logger_memory import boxes_with_two_loggers, memories_of, stored_reads
from audit.antennas.loggers_apart import loggers_apart, of_both, told_better, told_by_one
from audit.antennas.one_clock import OneClock, clock_of, hours_ahead, left_alone, settled
from audit.antennas.put_on_together import holes_of_steps, put_on_together
from audit.antennas.round_markers import RoundMarkers, moved, phase_by
from audit.antennas.told_clocks import told_of
from audit.handover.passages.clock_record import ClockTold
from audit.models.reads import INNER, Reads

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence

    import duckdb
    from numpy.typing import NDArray

    from audit.antennas.clock_numbers import ClockNumbers
    from audit.antennas.logger_memory import Memory, Stored
    from audit.declarations import Declarations
    from audit.models.clock_limits import Anchors
    from audit.models.logger_clock import LoggerClock
    from audit.models.marker_phase import MarkerPhase

    Ints = NDArray[np.int64]

__all__ = ["Clocks"]

_SECOND_MS = 1000.0
_HOUR_MS = 3_600_000.0


class Clocks:
    """The clocks of all boxes, as far as they were asked about.

    Parameters
    ----------
    declared : Declarations
    engine : duckdb.DuckDBPyConnection
        Knows where the reads stood in the files.
    boxes, tags : sequence of str
        Labels by code.
    anchors : mapping, optional
        Box -> tags read by a person there, with the moment in milliseconds since 1970.
    by_hours : bool
        Anchors tell only by how many whole hours a clock was off.
    change : bool
        Moments are set right; else it is only told how far they are off.

    Attributes
    ----------
    told : dict
        Code of the box -> what is known of its clock, where anything tells.
    doubtful : dict
        Code of the box -> first moments after holes of an hour that may be steps, and how likely that is.
    heard : HeardAgain
        Who was heard when, in boxes whose moments were set right.
    """

    def __init__(
        self,
        declared: Declarations,
        engine: duckdb.DuckDBPyConnection,
        boxes: Sequence[str],
        tags: Sequence[str],
        anchors: Mapping[str, Sequence[tuple[str, int]]] | None = None,
        *,
        by_hours: bool = False,
        change: bool = True,
    ) -> None:
        self.numbers = clock_numbers(declared)
        self.limits = self.numbers.limits
        self.rounds = RoundMarkers(self.numbers.on_the_round, self.numbers.rounds)
        self.moments = beat_moments(declared.loggers.moments, tags)
        self.engine, self.boxes, self.change = engine, boxes, change
        self.anchors = anchors_here(anchors or {}, tags)
        self.held_tags, self.held = held_here(declared.loggers.held, tags, boxes)
        self.by_hours = by_hours
        self.hours: dict[tuple[int, int], int] = {}
        self.apart = boxes_with_two_loggers(engine)
        self.ends = LogEnds()
        self.put_on = np.zeros(0, dtype=np.int64)
        self.weighed = not self.anchors and not self.held
        self.told: dict[int, list[ClockTold]] = {}
        self.doubtful: dict[int, list[tuple[int, float]]] = {}
        self.heard = HeardAgain()

    def aside(self) -> Clocks:
        """Give the same clocks, to be asked aside: nothing that is found so is remembered here."""
        found = copy(self)
        found.told, found.doubtful, found.heard = {}, {}, HeardAgain()
        return found

    def set_right(self, reads: Reads, markers: Collection[int], gap_s: float) -> Reads:
        """Judge the clocks of some boxes, and set their moments right.

        Parameters
        ----------
        reads : Reads
            Whole boxes, sorted by box, tag, time and antenna; none of them twice.
        markers : collection of int
            Codes of marker tags.
        gap_s : float
            Seconds that part two groups of reads.

        Returns
        -------
        Reads
            Sorted by box, tag, time and antenna; the same object where nothing is to be changed.

        Notes
        -----
        Beats of markers, and reads of tags that somebody read by hand, tell how the clock went; only where it
        was set meanwhile are all reads of a box fetched again, in the order in which they were stored.
        """
        if not len(reads.at):
            return reads
        edges = np.flatnonzero(np.diff(reads.box, prepend=-1, append=-1)).tolist()
        boxes = int(reads.box[0]), int(reads.box[-1])
        self._weigh(markers)
        markers = {*markers} - self.held_tags
        witnesses = markers | self.held_tags
        for box in range(boxes[0], boxes[1] + 1):
            witnesses |= {tag for tag, _ in self.anchors.get(self.boxes[box], ())}
        told = stored_reads(self.engine, boxes, self.limits.shown_again, witnesses) if witnesses else {}
        marks = np.array(sorted(markers), dtype=np.int64)
        at, order = reads.at, np.arange(0)
        for low, high in pairwise(edges):
            mine, box = slice(low, high), int(reads.box[low])
            new = self._of_box(reads, mine, told.get(box), marks, gap_s)
            if new is None:
                continue
            if at is reads.at:
                at, order = at.copy(), np.arange(len(at))
            at[mine] = new
            order[mine] = low + np.lexsort((reads.antenna[mine], new, reads.tag[mine]))
            self.heard.keep(box, reads.tag[mine], new)
        if at is reads.at:
            return reads
        return Reads(reads.box[order], reads.tag[order], at[order], reads.antenna[order])

    def _weigh(self, markers: Collection[int]) -> None:
        """Weigh over all boxes of the log whether marker tags beat at round moments."""
        tags = self.rounds.tags | ({*markers} - self.held_tags)
        if self.weighed and tags == self.rounds.tags:
            return
        self.weighed = True
        marks = np.array(sorted(tags), dtype=np.int64)
        self.ends = log_ends(self.engine, tags, self.limits)
        read = {tag for each in self.anchors.values() for tag, _ in each} | self.held_tags
        phases: dict[tuple[int, int], MarkerPhase] = {}
        beside_hours: list[tuple[int, Memory, LoggerClock]] = []
        holes: dict[int, list[tuple[int, int]]] = {}
        every = 0, len(self.boxes) - 1
        for box, told in stored_reads(self.engine, every, self.limits.shown_again, tags | read).items():
            for memory in memories_of(told, marks, apart=box in self.apart):
                if len(memory.at):
                    clock, memory, anchors = self._clock(box, memory)  # noqa: PLW2901 - perhaps by time
                    if self.by_hours and clock.pieces and self.anchors.get(self.boxes[box]):
                        beside_hours.append((box, memory, clock))
                    perhaps = 1 - self.limits.sure
                    steps = holes_of_steps(clock, memory.at, self.limits.step_s, perhaps)
                    holes.setdefault(box, []).extend(steps)
                    phase = self._phase(box, clock, memory, anchors)
                    if phase is not None:
                        phases[box, memory.antenna] = phase
        self.put_on = put_on_together(holes, self.limits.step_s, self.limits.put_on_boxes)
        self.rounds.weigh(tags, phases)
        for box, memory, clock in beside_hours:
            place = box, memory.antenna
            ahead = self.rounds.ahead(place, phases[place]) if place in phases else None
            # hours that the beats tell are none that hand reads tell besides
            right = clock if ahead is None else ahead.applied(clock)[0]
            self.hours[place] = hours_ahead(right, memory, self.anchors[self.boxes[box]], self.numbers)

    def _of_box(
        self,
        reads: Reads,
        mine: slice,
        told: Stored | None,
        marks: Ints,
        gap_s: float,
    ) -> Ints | None:
        """Give the moments of a box set right, or nothing where they stay as they are."""
        box = int(reads.box[mine.start])
        apart = box in self.apart
        if told is None and not apart:
            return None
        logged = reads.at[mine]
        memories = [] if told is None else memories_of(told, marks, apart=apart)
        judged = [self._judge(box, memory) for memory in memories]
        if any(one is not None and one.was_set for one in judged):
            # the beats say that it was set, or are too few to show it; where between two, all reads say
            told = stored_reads(self.engine, (box, box), self.limits.shown_again)[box]
            memories = memories_of(told, marks, apart=apart)
            judged = [self._judge(box, memory) for memory in memories]
        sure = [one for one in judged if one is not None]
        if apart and len(sure) == 1:
            columns = reads.tag[mine], logged, reads.antenna[mine]
            if told_by_one(columns, sure[0], marks, gap_s, self.numbers.apart):
                judged, apart = [of_both(sure[0])], False
        at = logged.copy()
        for one in judged:
            if one is None:
                continue
            self._tell(box, one)
            if not any(one.far):
                continue
            side = one.memory.antenna
            own = np.ones(len(at), dtype=np.bool_) if side < 0 else reads.antenna[mine] == side
            if len(np.unique(one.memory.place)) == own.sum():
                place = one.memory.place
                at[place] = np.rint(one.memory.at - one.clock.offset).astype(np.int64)
            else:
                at[own] = np.rint(logged[own] - one.ahead_ms(logged[own])).astype(np.int64)
        if apart:
            self._hold_together(reads, mine, at, marks, gap_s, sure)
        return at if self.change and not np.array_equal(at, logged) else None

    def _clock(self, box: int, memory: Memory) -> tuple[LoggerClock, Memory, Anchors | None]:
        held = self.held.get(self.boxes[box], ())
        read = () if self.by_hours or held else self.anchors.get(self.boxes[box], ())
        numbers = self._numbers(box)
        clock, memory, anchors = clock_of(memory, read, numbers, self.ends.after(box), self.put_on, held)
        return settled(clock, anchors, numbers.limits), memory, anchors

    def _numbers(self, box: int) -> ClockNumbers:
        return self.numbers.when_held if self.boxes[box] in self.held else self.numbers

    def _phase(
        self, box: int, clock: LoggerClock, memory: Memory, anchors: Anchors | None
    ) -> MarkerPhase | None:
        """Give where in its interval the marker beats, where a clock has one."""
        if not clock.pieces:
            return None
        visits = len(anchors.place) if clock.anchored and anchors is not None else 0
        err = self._numbers(box).limits.visit_s / visits**0.5 if visits else None
        moments = self.moments.of(int(memory.tag[memory.beats[0]])) if len(memory.beats) else ()
        step_s = self.limits.step_s
        return phase_by(clock, memory.at, memory.beats, step_s=step_s, sd_s=err, moments=moments)

    def _judge(self, box: int, memory: Memory) -> OneClock | None:
        if not len(memory.at):
            return None
        clock, memory, anchors = self._clock(box, memory)
        hours = self._hours(box, memory)
        if not clock.pieces or not (clock.beaten or clock.anchored or hours):
            return None
        by = "visits" if clock.anchored else "set back" if clock.set_back else "first reads"
        phase = self._phase(box, clock, memory, anchors)
        ahead = None if phase is None else self.rounds.ahead((box, memory.antenna), phase)
        p: tuple[float, ...] = ()
        if ahead is not None:
            (clock, p), by = ahead.applied(clock), ahead.why
        if hours:
            clock, by, p = moved(clock, hours * _HOUR_MS), "visits", ()
        clock, far = left_alone(clock, self.limits)
        return OneClock(clock, memory, far, by, self.limits.doubled_perhaps, p)

    def _hours(self, box: int, memory: Memory) -> int:
        """Say by how many whole hours a clock is set back.

        Where all boxes that hand reads tell of are off alike, sheet and loggers keep another time, such as
        winter time: nothing is set right by that.
        """
        return 0 if self.zone_apart else self.hours.get((box, memory.antenna), 0)

    @property
    def zone_apart(self) -> int:
        """By how many hours all loggers are ahead of the sheet alike; 0 where they are not."""
        told = {*self.hours.values()}
        return told.pop() if len(told) == 1 and len(self.hours) > 1 else 0

    def _tell(self, box: int, judged: OneClock) -> None:
        told = told_of(
            self.boxes[box], judged, change=self.change, within_s=self.numbers.limits.told_within_s
        )
        self.told.setdefault(box, []).extend(told)
        at, sure = judged.memory.at, 1 - self.limits.sure
        holes = [(int(at[place]), p) for place, p in judged.clock.doubtful if p > sure]
        if holes:
            self.doubtful.setdefault(box, []).extend(holes)

    def _hold_together(
        self, reads: Reads, mine: slice, at: Ints, marks: Ints, gap_s: float, judged: Sequence[OneClock]
    ) -> None:
        """Set the inner antenna's logger right by the outer one's, where they are clearly apart."""
        antenna = reads.antenna[mine]
        apart = loggers_apart((reads.tag[mine], at, antenna), marks, gap_s, self.numbers.apart)
        if apart is None or told_better(judged, apart, self.numbers.apart.least_s):
            return
        box, inner = int(reads.box[mine.start]), antenna == INNER
        shown = reads.at[mine][inner]
        span = int(shown.min()), int(shown.max())
        one = ClockTold(
            self.boxes[box], "inner", *span, apart, 0.0, "outer antenna", 1.0, changed=self.change
        )
        self.told.setdefault(box, []).append(one)
        at[inner] -= round(apart * _SECOND_MS)
