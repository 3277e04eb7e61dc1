"""Marker tags that beat at round moments: weighed once over all boxes of a log."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from audit.models.marker_phase import on_the_round, phase_of

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray

    from audit.models.logger_clock import LoggerClock
    from audit.models.marker_phase import MarkerPhase, RoundLimits

    Ints = NDArray[np.int64]

__all__ = ["RoundMarkers", "moved", "phase_by"]

_SECOND_MS = 1000.0


@dataclass(slots=True)
class RoundMarkers:
    """Whether the marker tags of a log beat at round moments.

    Attributes
    ----------
    declared : str
        ``yes`` or ``no`` where a team knows it, else ``weigh``.
    limits : RoundLimits
    sure : float
        Moments are set right from this probability on.
    tags : frozenset of int
        Codes of the marker tags weighed so far.
    p : float
        Probability that they beat at round moments.
    phases : dict
        Code of the box and side of the logger -> where in its interval its marker beats.
    """

    declared: str
    limits: RoundLimits
    sure: float
    tags: frozenset[int] = frozenset()
    p: float = 0.0
    phases: dict[tuple[int, int], MarkerPhase] | None = None

    @property
    def taken(self) -> bool:
        """Whether clocks are set right by the phase of beats."""
        return self.p >= self.sure

    def unsure(self, least_s: float) -> dict[int, float]:
        """Give boxes whose clocks were off if markers beat at round moments, where that is left open."""
        if not 1 - self.sure < self.p < self.sure:
            return {}
        each = (self.phases or {}).items()
        return {box: phase.off_s for (box, _), phase in each if abs(phase.off_s) >= least_s}

    def weigh(self, tags: Iterable[int], phases: dict[tuple[int, int], MarkerPhase]) -> None:
        """Weigh the phases of all loggers of the log, by the marker tags known so far."""
        self.tags, self.phases = frozenset(tags), phases
        if self.declared == "weigh":
            self.p = on_the_round([*phases.values()], self.limits) if phases else 0.0
        else:
            self.p = float(self.declared == "yes")


def phase_by(clock: LoggerClock, at: Ints, beats: Ints) -> MarkerPhase | None:
    """Give the phase of the beats of a marker by a clock whose steps and drift were taken out.

    Parameters
    ----------
    clock : LoggerClock
    at : numpy.ndarray of int64, shape (n,)
        Moments of its memory, in milliseconds.
    beats : numpy.ndarray of int64
        Positions of the reads of the marker.
    """
    known = np.zeros(len(at), dtype=np.bool_)
    for piece in clock.pieces:
        known[piece.first : piece.last + 1] = piece.known
    mine = beats[known[beats]]
    return phase_of(at[mine] - clock.offset[mine], clock.beat_s)


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
