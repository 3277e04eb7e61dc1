"""Clocks of loggers: judged box by box, and moments set right before anything else is asked of them."""

from __future__ import annotations

from copy import copy
from dataclasses import dataclass, fields, replace
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from audit.antennas.legal_changes import legal_changes
from audit.antennas.logger_memory import memories_of, stored_reads
from audit.antennas.round_markers import RoundMarkers, moved, phase_by
from audit.handover.clock_record import ClockTold
from audit.models.clock_limits import Anchors, ClockLimits
from audit.models.logger_clock import logger_clock
from audit.models.marker_phase import RoundLimits
from audit.models.reads import INNER, OUTER, Reads
from audit.models.two_loggers import clocks_apart
from audit.models.visit_anchors import visit_anchors

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence

    import duckdb
    from numpy.typing import NDArray

    from audit.antennas.logger_memory import Memory, Stored
    from audit.declarations import Declarations
    from audit.models.logger_clock import LoggerClock

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["Clocks", "HandReads"]

_SECOND_MS = 1000.0
_DAY_S = 86_400.0
_DAY_MS = 86_400_000
_YEAR_MS = 365.2425 * _DAY_S * _SECOND_MS
#: By how many standard deviations visits must differ from a clock that is right.
_CLEAR = 3.0
_ANTENNAS = {OUTER: "outer", INNER: "inner"}

#: Box -> tags that a person read there, and when, in milliseconds since 1970.
HandReads = dict[str, list[tuple[str, int]]]


@dataclass(frozen=True, slots=True)
class _Judged:
    """What is known of the clock of one memory.

    Attributes
    ----------
    clock : LoggerClock
    memory : Memory
        In the order in which its offsets stand.
    far : tuple of bool
        For each piece, whether it was once further off than is left alone.
    rounded : bool
        Set right by a marker that beats at round moments.
    """

    clock: LoggerClock
    memory: Memory
    far: tuple[bool, ...]
    rounded: bool = False


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
        Box -> tags read by a person there, with the moment.
    change : bool
        Moments are set right; else it is only told how far they are off.

    Attributes
    ----------
    told : dict
        Code of the box -> what is known of its clock, where anything tells.
    doubtful : dict
        Code of the box -> first moments after holes of an hour that may be steps, and how likely that is.
    heard, nights : dict
        Code of the box -> columns of who was heard when, in boxes whose moments were set right.
    """

    def __init__(
        self,
        declared: Declarations,
        engine: duckdb.DuckDBPyConnection,
        boxes: Sequence[str],
        tags: Sequence[str],
        anchors: Mapping[str, Sequence[tuple[str, int]]] | None = None,
        *,
        change: bool = True,
    ) -> None:
        start = "antennas.clock."
        # declared numbers are of any kind; the form has checked them
        numbers: dict[str, Any] = {
            key.removeprefix(start): tuple(limit.value) if isinstance(limit.value, list) else limit.value
            for key, limit in declared.settings.items()
            if key.startswith(start)
        }
        self.limits = ClockLimits(**{one.name: numbers[one.name] for one in fields(ClockLimits)})
        self.anchor = {
            name: float(numbers[f"anchor_{name}"]) for name in ("within_s", "farthest_h", "pause_h")
        }
        self.apart_least_s = float(numbers["apart_least_s"])
        self.apart_crossings = int(numbers["apart_crossings"])
        loggers = declared.loggers.limits
        self.interval_s = float(loggers["reading.marker_every_s"].value) or None
        self.zones = tuple(str(zone) for zone in loggers["reading.clock_zones"].value)
        self.rounds = RoundMarkers(
            _in_words(loggers["reading.marker_on_the_round"].value),
            RoundLimits(**{one.name: numbers[f"round_{one.name}"] for one in fields(RoundLimits)}),
            self.limits.sure,
        )
        self.engine, self.boxes, self.change = engine, boxes, change
        code = {label: nr for nr, label in enumerate(tags)}
        self.anchors = {
            box: [(code[tag], moment) for tag, moment in read if tag in code]
            for box, read in (anchors or {}).items()
        }
        self.told: dict[int, list[ClockTold]] = {}
        self.doubtful: dict[int, list[tuple[int, float]]] = {}
        self.heard: dict[int, list[Ints]] = {}
        self.nights: dict[int, list[Ints]] = {}

    def aside(self) -> Clocks:
        """Give the same clocks, to be asked aside: nothing that is found so is remembered here."""
        found = copy(self)
        found.told, found.doubtful, found.heard, found.nights = {}, {}, {}, {}
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
        witnesses = {*markers}
        for box in range(boxes[0], boxes[1] + 1):
            witnesses |= {tag for tag, _ in self.anchors.get(self.boxes[box], ())}
        told = stored_reads(self.engine, boxes, witnesses) if witnesses else {}
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
            self._remember(box, reads.tag[mine], new)
        if at is reads.at:
            return reads
        return Reads(reads.box[order], reads.tag[order], at[order], reads.antenna[order])

    def _weigh(self, markers: Collection[int]) -> None:
        """Weigh over all boxes of the log whether marker tags beat at round moments."""
        tags = self.rounds.tags | {*markers}
        if tags == self.rounds.tags:
            return
        marks = np.array(sorted(tags), dtype=np.int64)
        phases = {}
        for box, told in stored_reads(self.engine, (0, len(self.boxes) - 1), tags).items():
            for memory in memories_of(told, marks):
                if not len(memory.at):
                    continue
                clock, memory, _ = self._clock_of(self.boxes[box], memory)  # noqa: PLW2901 - perhaps by time
                phase = phase_by(clock, memory.at, memory.beats) if clock.pieces else None
                if phase is not None and not clock.anchored:
                    phases[box, memory.antenna] = phase
        self.rounds.weigh(tags, phases)

    def remember(self, reads: Reads, boxes: Collection[int]) -> None:
        """Keep who was heard when in some boxes, as the reads that are left tell."""
        for box in boxes:
            mine = slice(*np.searchsorted(reads.box, [box, box + 1]))
            self._remember(box, reads.tag[mine], reads.at[mine])

    def _remember(self, box: int, tag: NDArray[np.int32], at: Ints) -> None:
        """Keep who was heard when, by moments set right."""
        night = (at - _DAY_MS // 2) // _DAY_MS
        for table, parts in ((self.heard, (tag,)), (self.nights, (tag, night))):
            order = np.lexsort((at, *reversed(parts)))
            keys = [one[order].astype(np.int64) for one in parts]
            first = np.any([np.diff(one, prepend=one[0] - 1) != 0 for one in keys], axis=0)
            starts = np.flatnonzero(first)
            ends = np.append(starts[1:], len(at))
            table[box] = [
                np.full(len(starts), box),
                *(one[starts] for one in keys),
                ends - starts,
                at[order][starts],
                at[order][ends - 1],
            ]

    def heard_right(self, table: Mapping[str, Ints], *, nightly: bool) -> dict[str, Ints]:
        """Put who was heard when, by moments set right, in the place of what was logged.

        Parameters
        ----------
        table : mapping of str to numpy.ndarray
            Columns ``box``, ``tag``, ``night`` where it is by nights, ``reads``, ``first``, ``last``.
        nightly : bool
        """
        new = self.nights if nightly else self.heard
        if not new:
            return dict(table)
        kept = ~np.isin(table["box"], list(new))
        columns = [
            np.concatenate([column[kept], *(rows[nr] for rows in new.values())])
            for nr, column in enumerate(table.values())
        ]
        order = np.lexsort(tuple(reversed(columns[: 3 if nightly else 2])))
        return {
            name: column[order].astype(old.dtype)
            for (name, old), column in zip(table.items(), columns, strict=True)
        }

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
        if told is None:
            return None
        logged = reads.at[mine]
        memories = memories_of(told, marks)
        judged = [self._judge(self.boxes[box], memory) for memory in memories]
        if any(one is not None and _was_set(one.clock) for one in judged):
            # the beats say that it was set; where between two beats, all reads say
            told = stored_reads(self.engine, (box, box))[box]
            memories = memories_of(told, marks)
            judged = [self._judge(self.boxes[box], memory) for memory in memories]
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
                by_time = np.argsort(one.memory.at, kind="stable")
                ahead = np.interp(logged[own], one.memory.at[by_time], one.clock.offset[by_time])
                at[own] = np.rint(logged[own] - ahead).astype(np.int64)
        if len(memories) > 1:
            self._hold_together(reads, mine, at, marks, gap_s)
        return at if self.change and not np.array_equal(at, logged) else None

    def _judge(self, box: str, memory: Memory) -> _Judged | None:
        if not len(memory.at):
            return None
        clock, memory, anchors = self._clock_of(box, memory)
        if not clock.pieces or not (clock.beaten or clock.anchored):
            return None
        rounded = False
        if self.rounds.taken and not clock.anchored:
            phase = phase_by(clock, memory.at, memory.beats)
            if phase is not None:
                clock, rounded = moved(clock, phase.off_s * _SECOND_MS), True
        clock, far = _left_alone(_settled(clock, anchors, self.limits), self.limits)
        return _Judged(clock, memory, far, rounded)

    def _clock_of(self, box: str, memory: Memory) -> tuple[LoggerClock, Memory, Anchors | None]:
        """Find how a clock went; with the memory in the order in which that was found, and anchors used."""
        anchors = self._anchors(box, memory)
        years = range(_year(int(memory.at.min())), _year(int(memory.at.max())) + 1)
        changes = legal_changes(self.zones, {_year(int(one)) for one in memory.at[[0, -1]]} | {*years[-2:]})
        clock = logger_clock(
            memory.at,
            self.limits,
            beats=memory.beats,
            interval_s=self.interval_s,
            anchors=anchors,
            changes=changes,
        )
        if not clock.pieces:
            memory, anchors = memory.by_time(), None
            clock = logger_clock(
                memory.at, self.limits, beats=memory.beats, interval_s=self.interval_s, changes=changes
            )
        return clock, memory, anchors

    def _tell(self, box: int, judged: _Judged) -> None:
        memory, clock = judged.memory, judged.clock
        by = "visits" if clock.anchored else "marker on the round" if judged.rounded else "first reads"
        for piece, far in zip(clock.pieces, judged.far, strict=True):
            self.told.setdefault(box, []).append(
                ClockTold(
                    self.boxes[box],
                    _ANTENNAS.get(memory.antenna, ""),
                    int(memory.at[piece.first]),
                    int(memory.at[piece.last]),
                    round(piece.offset_s, 3) + 0.0 if piece.known else None,
                    round(piece.drift * _DAY_S, 4) + 0.0 if piece.known else 0.0,
                    by if piece.known else "nothing",
                    piece.p,
                    changed=self.change and far,
                )
            )
        told = [(int(memory.at[place]), p) for place, p in clock.doubtful if p > 1 - self.limits.sure]
        if told:
            self.doubtful.setdefault(box, []).extend(told)

    def _anchors(self, box: str, memory: Memory) -> Anchors | None:
        read = self.anchors.get(box)
        if not read:
            return None
        tag, moment = (np.array(column) for column in zip(*read, strict=True))
        found = visit_anchors(
            tag.astype(np.int64), moment.astype(np.float64), memory.tag, memory.at, **self.anchor
        )
        return found if len(found.place) else None

    def _hold_together(self, reads: Reads, mine: slice, at: Ints, marks: Ints, gap_s: float) -> None:
        """Set the inner antenna's logger right by the outer one's, where they are clearly apart."""
        apart = self._apart(reads, mine, at, marks, gap_s)
        if apart is None:
            return
        box, inner = int(reads.box[mine.start]), reads.antenna[mine] == INNER
        shown = reads.at[mine][inner]
        self.told.setdefault(box, []).append(
            ClockTold(
                self.boxes[box],
                "inner",
                int(shown.min()),
                int(shown.max()),
                apart,
                0.0,
                "outer antenna",
                1.0,
                changed=self.change,
            )
        )
        at[inner] -= round(apart * _SECOND_MS)

    def _apart(self, reads: Reads, mine: slice, at: Ints, marks: Ints, gap_s: float) -> float | None:
        """By how many seconds the inner antenna's logger is ahead of the outer one's, where that is clear."""
        tag, antenna = reads.tag[mine], reads.antenna[mine]
        birds = ~np.isin(tag, marks)
        sides = []
        for side in (OUTER, INNER):
            own = birds & (antenna == side)
            order = np.lexsort((at[own], tag[own]))
            one, moments = tag[own][order], at[own][order]
            starts = np.flatnonzero(
                (np.diff(one, prepend=-1) != 0) | (np.diff(moments, prepend=0) > gap_s * _SECOND_MS)
            )
            ends = np.append(starts[1:], len(one)) - 1
            sides += [one[starts].astype(np.int64), (moments[starts] + moments[ends]) // 2]
        found = clocks_apart(sides[0], sides[1], sides[2], sides[3], crossing_s=gap_s)
        if found is None or found.n < self.apart_crossings or abs(found.offset_s) < self.apart_least_s:
            return None
        return found.offset_s


def _was_set(clock: LoggerClock) -> bool:
    return len(clock.pieces) > 1 or bool(clock.doubtful)


def _in_words(declared: str | bool) -> str:
    """Take true for yes and false for no, for both are written where a question is answered."""
    return {True: "yes", False: "no"}.get(declared, "") if isinstance(declared, bool) else declared


def _year(moment: int) -> int:
    return 1970 + int(moment // _YEAR_MS)


def _left_alone(clock: LoggerClock, limits: ClockLimits) -> tuple[LoggerClock, tuple[bool, ...]]:
    """Leave pieces as they are in which the clock was never far off; say which were."""
    offset = clock.offset.copy()
    far = []
    for piece in clock.pieces:
        mine = slice(piece.first, piece.last + 1)
        far.append(piece.known and bool(np.abs(offset[mine]).max() >= limits.least_s * _SECOND_MS))
        if not far[-1]:
            offset[mine] = 0.0
    return replace(clock, offset=offset), tuple(far)


def _settled(clock: LoggerClock, anchors: Anchors | None, limits: ClockLimits) -> LoggerClock:
    """Take a clock for right that visits call right as closely as they can tell."""
    if anchors is None:
        return clock
    off = np.array([clock.offset[place] for place in anchors.place.tolist()])
    middle = float(np.median(off))
    if abs(middle) > _CLEAR * limits.visit_s * _SECOND_MS / np.sqrt(len(off)):
        return clock
    return moved(clock, -middle)
