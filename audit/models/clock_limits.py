"""Numbers by which a logger's clock is judged, and moments that are known otherwise."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["Anchors", "ClockLimits"]


@dataclass(frozen=True, slots=True)
class ClockLimits:
    """Numbers by which steps are seen; those of ``antennas.clock`` under the same names.

    Attributes
    ----------
    step_s : float
        A smaller step is none, in seconds.
    leap_d : float
        A silence longer than so many days is odd: the clock may have leapt.
    hour_within_s : float
        A step this near to an hour is one of daylight saving.
    drift_most : float
        Seconds per second; what drifts faster is no quartz clock.
    usual_s : float
        How far off clocks usually are, in seconds, where beats leave open which of several intervals a step
        was.
    visit_s : float
        How far apart the reads of one tag by two readers at one visit usually are, in seconds.
    held_most : int
        Between two beats a marker tag is held to an antenna so many times at most.
    visit_clear : float
        By how many standard deviations visits must differ from a clock that is right.
    starts : tuple of float
        Moments, in seconds since 1970, at which clocks begin anew after their battery was flat.
    started_d : float
        Days after one of these that a clock may show.
    least_s : float
        A clock that was never further off than so many seconds is left as it is.
    told_within_s : float
        How a clock went is told by lines beside which it never was by more seconds.
    hour_legal, hour_other : float
        Chance that a clock is put on by an hour when clocks legally are; and between any two beats else.
    hour_off : float
        Chance that a logger is off for just an hour between any two beats.
    sure : float
        A step that moves no beat is taken from this probability on.
    profile_d : float
        Days before and after a step whose habits are held against each other.
    profile_worth : float
        What the habits of one slice of a day are worth, as a share of one unlike its neighbours.
    profile_unseen : float
        What a slice of a day is worth that nobody has seen, in days.
    profile_most, profile_hole : float
        Habits alone tell no more, as a natural logarithm; and beside a hole of an hour.
    profile_days : float
        Habits of fewer days tell less by as much.
    steps_most : int
        A memory with more steps is no memory in its order, or its marker no clock.
    smoothed : int
        Beats whose median stands for the clock around them.
    smoothed_d, smoothed_least : float, int
        These lie no further apart than so many days, but so many are taken always.
    hour_gains, legal_gains : float
        What a step of an hour gains over any other, and one when clocks legally are changed, as natural
        logarithms.
    off_costs : float
        What it costs that a logger was off for long, however many beats it missed, as a natural logarithm.
    days_cost : float
        Cost of a step forward by more than half a day that is not one of just whole days.
    beat_close_s : float
        Reads of a marker closer than this are of one beat.
    beats_least : int
        Fewer beats make no interval.
    beats_heard, beats_worth : float
        Share of beats that is usually heard, and how many beats that belief is worth.
    beats_beside : int
        More beats missed beside an hour are a logger that was off.
    ended_within_s : float
        Loggers that end within so many seconds of each other ended together.
    ended_others, ended_share : int, float
        So many others must have ended together, and so large a share of them.
    put_on_boxes : int
        Clocks of so many boxes put on by an hour at one time tell of those of others.
    shown_again : float
        Largest share of reads that a clock put back by an hour can show a second time.
    ended_gains : float
        What that tells of one whose clock says otherwise by just an hour, as a natural logarithm.
    doubled_around_h : float
        Hours on either side of one told twice by which it is known how often a beat is read.
    doubled_times, doubled_least_h, doubled_legal : float
        An hour with more than so many times the usual reads may be told twice, in a log of so many hours; and
        so many beats from a legal change of clocks it is one.
    doubled_perhaps : float
        An hour that markers call told twice is looked at with all reads from this probability on.
    doubled_worth, doubled_unseen : float
        What the whole log is worth there, and a count of reads that was never seen, in beats.
    """

    step_s: float
    leap_d: float
    hour_within_s: float
    drift_most: float
    usual_s: float
    visit_s: float
    held_most: int
    visit_clear: float
    starts: tuple[float, ...]
    started_d: float
    least_s: float
    told_within_s: float
    hour_legal: float
    hour_other: float
    hour_off: float
    sure: float
    profile_d: float
    profile_worth: float
    profile_unseen: float
    profile_most: float
    profile_hole: float
    profile_days: float
    steps_most: int
    smoothed: int
    smoothed_d: float
    smoothed_least: int
    hour_gains: float
    legal_gains: float
    off_costs: float
    days_cost: float
    beat_close_s: float
    beats_least: int
    beats_heard: float
    beats_worth: float
    beats_beside: int
    ended_within_s: float
    ended_others: int
    ended_share: float
    put_on_boxes: int
    shown_again: float
    ended_gains: float
    doubled_around_h: float
    doubled_times: float
    doubled_least_h: float
    doubled_legal: float
    doubled_perhaps: float
    doubled_worth: float
    doubled_unseen: float


@dataclass(frozen=True, slots=True)
class Anchors:
    """Moments known otherwise.

    Attributes
    ----------
    place : numpy.ndarray of int, shape (a,)
        Position of the read in the memory, in order.
    true : numpy.ndarray of float, shape (a,)
        When it really was, in milliseconds since 1970.
    """

    place: NDArray[np.int64]
    true: NDArray[np.float64]
