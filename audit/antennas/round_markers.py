"""Marker tags that beat at round moments: weighed once over all boxes of a log."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from audit.handover.passages.clock_record import LeftOpen
from audit.models.clock_errors import by_visits
from audit.models.marker_phase import BeatTimes, Setting, phase_of
from audit.models.round_weighing import weigh_phases

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray

    from audit.models.logger_clock import LoggerClock
    from audit.models.marker_phase import MarkerPhase, RoundLimits

    Ints = NDArray[np.int64]

__all__ = ["Ahead", "RoundMarkers", "moved", "phase_by"]

_SECOND_MS = 1000.0
_NOTHING = BeatTimes(0.0, 0.0, (), ())
Turns = tuple[tuple[int, float], ...]


@dataclass(frozen=True, slots=True)
class Ahead:
    """By how many seconds a clock was further ahead than its first reads and its steps tell, and why.

    Attributes
    ----------
    why : str
        As `ClockTold.reference`.
    pieces : tuple of (int, float, float)
        From which piece on, by how many seconds, and how sure that is; the first from piece 0.
    """

    why: str
    pieces: tuple[tuple[int, float, float], ...]

    def applied(self, clock: LoggerClock) -> tuple[LoggerClock, tuple[float, ...]]:
        """Take a clock to have been further ahead; with how sure that is of each of its pieces."""
        of = [[one for one in self.pieces if one[0] <= nr][-1] for nr in range(len(clock.pieces))]
        return moved(clock, [by * _SECOND_MS for _, by, _ in of]), tuple(p for _, _, p in of)


@dataclass(slots=True)
class RoundMarkers:
    """Whether the marker tags of a log beat at round moments.

    Attributes
    ----------
    declared : str
        ``yes`` or ``no`` where a team knows it, else ``weigh``.
    limits : RoundLimits
    tags : frozenset of int
        Codes of the marker tags weighed so far.
    found : BeatTimes
        What is believed of all markers together that beat once in an hour or oftener.
    rare : BeatTimes
        The same of those that beat more rarely.
    phases : dict
        Code of the box and side of the logger -> where in its interval its marker beats, the probability that
        its clock was off by that less a shift, and the shift.
    """

    declared: str
    limits: RoundLimits
    tags: frozenset[int] = frozenset()
    found: BeatTimes = _NOTHING
    rare: BeatTimes = _NOTHING
    phases: dict[tuple[int, int], tuple[MarkerPhase, float, Turns]] = field(default_factory=dict)

    def weigh(self, tags: Iterable[int], phases: dict[tuple[int, int], MarkerPhase]) -> None:
        """Weigh the phases of all loggers of the log, by the marker tags known so far."""
        self.tags = frozenset(tags)
        which = self._markers(phases)
        some = {one: phases[one] for one in which.values()}
        told: dict[tuple[int, int], tuple[float, Turns]] = {
            place: (0.0, self._declared(one)) for place, one in some.items() if one.declared
        }
        for rare in (False, True):
            mine = {place: one for place, one in some.items() if not one.declared and one.rare == rare}
            found = self._weighed([*mine.values()], rare=rare)
            self.found, self.rare = (self.found, found) if rare else (found, self.rare)
            told |= dict(zip(mine, zip(found.shift_s, found.along, strict=True), strict=True))
            for place in phases.keys() - mine.keys():
                if (like := which[place]) in mine and len(phases[place].again) != len(mine[like].again):
                    # it was set at other times, as far as it was heard
                    again = self._weighed([*(mine | {like: phases[place]}).values()], rare=rare)
                    nr = [*mine].index(like)
                    told[place] = again.shift_s[nr], again.along[nr]
        self.phases = {
            place: (phase, *(told[place] if place in told else told[which[place]]))
            for place, phase in phases.items()
        }

    def _declared(self, phase: MarkerPhase) -> Turns:
        p = 1.0 if phase.sd_s is None else by_visits(phase, self.limits)[1]
        return ((0, p),) * (1 + len(phase.again))

    def _weighed(self, phases: Sequence[MarkerPhase], *, rare: bool) -> BeatTimes:
        if self.declared == "weigh":
            limits = self.limits
            if rare:
                limits = replace(limits, before=limits.rare_before, together=limits.rare_together)
            return weigh_phases(phases, limits)
        yes = self.declared == "yes"
        p = tuple(float(yes and one.divides_day) for one in phases)
        along = tuple(
            tuple((0, sure) for _ in (None, *one.again)) for sure, one in zip(p, phases, strict=True)
        )
        return BeatTimes(float(yes), 0.0, tuple(0.0 for _ in p), p, along)

    def _markers(self, phases: dict[tuple[int, int], MarkerPhase]) -> dict[tuple[int, int], tuple[int, int]]:
        """By place, the place whose marker it reads: the two antennas of a box have one, if they agree."""
        found: dict[tuple[int, int], tuple[int, int]] = {}
        first: dict[int, tuple[int, int]] = {}
        for place, one in phases.items():
            other = first.setdefault(place[0], place)
            beside = one.off_s - phases[other].off_s
            beside = (beside + one.every_s / 2) % one.every_s - one.every_s / 2
            same = one.every_s == phases[other].every_s and abs(beside) <= self.limits.alike_s
            found[place] = other if same else place
        return found

    @property
    def p_round(self) -> float:
        """Probability that markers beat at round moments, as far as clocks are set right by it."""
        return self.found.p_round if self.found.p else self.rare.p_round

    def _sure(self, phase: MarkerPhase, turns: Turns) -> bool:
        """Whether a clock that was off with these probabilities is set right.

        As logged it may be right, too, if markers were started at any moment; if it was another beat,
        moments are wrong in either case. What is sure after a setting is enough, for then the clock is not
        taken to be right at its first reads. A marker that beats more rarely than once in an hour may do so
        at any minute: one alone, which nothing else supports, tells no time but so near to a full hour, at
        some time, that chance would seldom bring it there.
        """
        p = max(chance for _, chance in turns)
        if phase.declared or (phase.rare and self.declared == "weigh"):
            near = any(abs(off) <= self.limits.rare_near_s for off in _offs(phase, turns))
            supported = phase.declared or near or phase.sd_s is not None or len(self.rare.p) > 1
            return supported and p >= self.limits.certain
        as_logged = max(0.0, 1 - self.found.p_round - self.found.p_together)
        return p >= self.limits.least and p >= self.limits.sure * (p + as_logged)

    def ahead(self, place: tuple[int, int], phase: MarkerPhase) -> Ahead | None:
        """Say by how many seconds a clock was further ahead at first and later; nothing where not sure."""
        _, shift, turns = self.phases.get(place, (phase, 0.0, ((0, 0.0),)))
        if not self._sure(phase, turns):
            return None
        half = phase.every_s / 2
        why = "markers together" if shift else "marker on the round"
        first = (phase.off_s - shift + half) % phase.every_s - half
        begins = (0, *(one.piece for one in phase.again))
        pieces = tuple(
            (begin, first + turn * phase.every_s, p) for begin, (turn, p) in zip(begins, turns, strict=False)
        )
        return Ahead("marker moments" if phase.declared else why, pieces)

    def unsure(self, least_s: float) -> dict[int, LeftOpen]:
        """Give boxes whose clocks were off if markers beat at round moments, where that is not sure."""
        found: dict[int, LeftOpen] = {}
        for (box, _), (phase, shift, turns) in self.phases.items():
            (turn, p), taken = turns[0], self._sure(phase, turns)
            off = phase.off_s - shift + turn * phase.every_s
            # nothing else tells of a clock beside a rare marker
            odd = not taken and (phase.declared or (phase.rare and self.declared == "weigh"))
            if abs(off) >= least_s and (odd or 1 - self.limits.sure < p < self.limits.certain):
                found[box] = LeftOpen(
                    off, phase.every_s, p, taken=taken, rare=phase.rare, declared=phase.declared
                )
        return found


def _offs(phase: MarkerPhase, turns: Turns) -> list[float]:
    """By how many seconds a clock was off at first and after each setting."""
    further = (0.0, *(one.further_s for one in phase.again))
    return [phase.off_s + by + turn * phase.every_s for by, (turn, _) in zip(further, turns, strict=False)]


def phase_by(
    clock: LoggerClock,
    at: Ints,
    beats: Ints,
    *,
    step_s: float,
    sd_s: float | None = None,
    moments: Sequence[int] = (),
) -> MarkerPhase | None:
    """Give the phase of the beats of a marker by a clock whose steps and drift were taken out.

    Parameters
    ----------
    clock : LoggerClock
    at : numpy.ndarray of int64, shape (n,)
        Moments of its memory, in milliseconds.
    beats : numpy.ndarray of int64
        Positions of the reads of the marker.
    step_s : float
        A smaller step is none, in seconds.
    sd_s : float, optional
        By how many seconds visits err that told how far the clock was off.
    moments : sequence of int
        Declared moments of the day at which the marker beats, in seconds since midnight.
    """
    known = np.zeros(len(at), dtype=np.bool_)
    for piece in clock.pieces:
        known[piece.first : piece.last + 1] = piece.known
    mine = beats[known[beats]]
    phase = phase_of(at[mine] - clock.offset[mine], clock.beat_s, moments)
    if phase is None:
        return None
    phase = replace(phase, sd_s=sd_s)
    if sd_s is not None:
        return phase
    again: list[Setting] = []
    whole = round(clock.beat_s / phase.every_s)
    for nr, (one, other) in enumerate(pairwise(clock.pieces)):
        by = float(clock.offset[other.first] - clock.offset[one.last]) / _SECOND_MS
        beside = (by + clock.beat_s / 2) % clock.beat_s - clock.beat_s / 2
        # whole intervals move no beat, and who lost the time tells none
        if one.known and other.known and "reset" not in {one.kind, other.kind} and abs(beside) >= step_s:
            after_last = nr == (again[-1].piece if again else 0)
            ways = tuple((more * whole, chance) for more, chance in other.ways) if after_last else ()
            again.append(Setting(float(clock.offset[other.first]) / _SECOND_MS, by, nr + 1, ways))
    return replace(phase, again=tuple(again))


def moved(clock: LoggerClock, by_ms: float | Sequence[float]) -> LoggerClock:
    """Take a clock to have been further ahead by so much, wherever anything tells how it went.

    Parameters
    ----------
    clock : LoggerClock
    by_ms : float or sequence of float
        Milliseconds, of all pieces or of each.
    """
    each = [by_ms] * len(clock.pieces) if isinstance(by_ms, float) else by_ms
    offset, pieces = clock.offset.copy(), []
    for piece, by in zip(clock.pieces, each, strict=True):
        if piece.known:
            offset[piece.first : piece.last + 1] += by
        pieces.append(replace(piece, offset_s=piece.offset_s + by / _SECOND_MS) if piece.known else piece)
    return replace(clock, pieces=tuple(pieces), offset=offset)
