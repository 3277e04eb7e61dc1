"""Marker tags that beat at round moments: weighed once over all boxes of a log."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from audit.handover.passages.clock_record import LeftOpen
from audit.models.clock_errors import by_visits
from audit.models.marker_phase import BeatTimes, phase_of
from audit.models.round_weighing import weigh_phases

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray

    from audit.models.logger_clock import LoggerClock
    from audit.models.marker_phase import MarkerPhase, RoundLimits

    Ints = NDArray[np.int64]

__all__ = ["RoundMarkers", "moved", "phase_by"]

_SECOND_MS = 1000.0
_NOTHING = BeatTimes(0.0, 0.0, (), ())


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
    phases: dict[tuple[int, int], tuple[MarkerPhase, float, float]] = field(default_factory=dict)

    def weigh(self, tags: Iterable[int], phases: dict[tuple[int, int], MarkerPhase]) -> None:
        """Weigh the phases of all loggers of the log, by the marker tags known so far."""
        self.tags = frozenset(tags)
        which = self._markers(phases)
        some = {one: phases[one] for one in which.values()}
        told = {
            place: (1.0 if one.sd_s is None else by_visits(one, self.limits)[1], 0.0)
            for place, one in some.items()
            if one.declared
        }
        for rare in (False, True):
            mine = {place: one for place, one in some.items() if not one.declared and one.rare == rare}
            found = self._weighed([*mine.values()], rare=rare)
            self.found, self.rare = (self.found, found) if rare else (found, self.rare)
            told |= dict(zip(mine, zip(found.p, found.shift_s, strict=True), strict=True))
        self.phases = {place: (phase, *told[which[place]]) for place, phase in phases.items()}

    def _weighed(self, phases: Sequence[MarkerPhase], *, rare: bool) -> BeatTimes:
        if self.declared == "weigh":
            limits = self.limits
            if rare:
                limits = replace(limits, before=limits.rare_before, together=limits.rare_together)
            return weigh_phases(phases, limits)
        yes = self.declared == "yes"
        p = tuple(float(yes and one.divides_day) for one in phases)
        return BeatTimes(float(yes), 0.0, tuple(0.0 for _ in p), p)

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

    def _sure(self, phase: MarkerPhase, p: float) -> bool:
        """Whether a clock that was off with this probability is set right.

        As logged it may be right, too, if markers were started at any moment; if it was another beat,
        moments are wrong in either case. A marker that beats more rarely than once in an hour may do so at
        any minute: one alone, which nothing else supports, tells no time but so near to a full hour that
        chance would seldom bring it there.
        """
        if phase.declared or (phase.rare and self.declared == "weigh"):
            near = abs(phase.off_s) <= self.limits.rare_near_s
            supported = phase.declared or near or phase.sd_s is not None or len(self.rare.p) > 1
            return supported and p >= self.limits.certain
        as_logged = max(0.0, 1 - self.found.p_round - self.found.p_together)
        return p >= self.limits.least and p >= self.limits.sure * (p + as_logged)

    def ahead_s(self, place: tuple[int, int], phase: MarkerPhase) -> tuple[float, str, float] | None:
        """Say by how many seconds a clock was further ahead at first, why, and how sure that is."""
        _, p, shift = self.phases.get(place, (phase, 0.0, 0.0))
        if not self._sure(phase, p):
            return None
        half = phase.every_s / 2
        why = "markers together" if shift else "marker on the round"
        ahead = (phase.off_s - shift + half) % phase.every_s - half
        return ahead, "marker moments" if phase.declared else why, p

    def unsure(self, least_s: float) -> dict[int, LeftOpen]:
        """Give boxes whose clocks were off if markers beat at round moments, where that is not sure."""
        found: dict[int, LeftOpen] = {}
        for (box, _), (phase, p, shift) in self.phases.items():
            off, taken = phase.off_s - shift, self._sure(phase, p)
            # nothing else tells of a clock beside a rare marker
            odd = not taken and (phase.declared or (phase.rare and self.declared == "weigh"))
            if abs(off) >= least_s and (odd or 1 - self.limits.sure < p < self.limits.certain):
                found[box] = LeftOpen(
                    off, phase.every_s, p, taken=taken, rare=phase.rare, declared=phase.declared
                )
        return found


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
    again = []
    for one, other in pairwise(clock.pieces):
        by = float(clock.offset[other.first] - clock.offset[one.last]) / _SECOND_MS
        beside = (by + clock.beat_s / 2) % clock.beat_s - clock.beat_s / 2
        # whole intervals move no beat, and who lost the time tells none
        if one.known and other.known and "reset" not in {one.kind, other.kind} and abs(beside) >= step_s:
            again.append((float(clock.offset[other.first]) / _SECOND_MS, by))
    return replace(phase, again=tuple(again))


def moved(clock: LoggerClock, by_ms: float) -> LoggerClock:
    """Take a clock to have been further ahead by so much, wherever anything tells how it went."""
    pieces = tuple(
        replace(piece, offset_s=piece.offset_s + by_ms / _SECOND_MS) if piece.known else piece
        for piece in clock.pieces
    )
    offset = clock.offset.copy()
    for piece in pieces:
        if piece.known:
            offset[piece.first : piece.last + 1] += by_ms
    return replace(clock, pieces=pieces, offset=offset)
