"""What is known of the true moments of reads, and believed of a clock before it is looked at."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Flags = NDArray[np.bool_]

__all__ = ["ClockBeliefs", "Known"]


@dataclass(frozen=True, slots=True)
class Known:
    """What is known of the true moments of reads; a read may have several, some of them wrong.

    Attributes
    ----------
    read : numpy.ndarray of int, shape (p,)
        Position of the read.
    low, high : numpy.ndarray of float, shape (p,)
        The true moment lies between them; in seconds.
    spread : numpy.ndarray of float, shape (p,)
        How far beyond it usually may lie, in seconds: the mean of an exponential.
    weight : numpy.ndarray of float, shape (p,)
        How far it is believed; those of one read make less than 1.
    exact : numpy.ndarray of bool, shape (p,)
        Whether a time of day is known.
    """

    read: Ints
    low: Floats
    high: Floats
    spread: Floats
    weight: Floats
    exact: Flags


@dataclass(frozen=True, slots=True)
class ClockBeliefs:
    """What is believed of clocks before one is looked at. Moments are seconds, costs natural logarithms.

    Attributes
    ----------
    wrong, span : float
        Share of reads whose known moments are all wrong, and among how many seconds these then lie.
    reads_a_day : float
        So many reads of a day count: what is wrong for one is often wrong for all.
    explained : float
        A moment that is less likely than the likeliest by so much is not explained.
    change, change_at_step : float
        Cost of a clock being set; the same where what is stored goes back, or leaps.
    costs : mapping of str to float
        Cost of an offset by its kind.
    as_it_stands : float
        Smaller offsets are none.
    pause : float
        So long without a read parts two visits.
    leap : float
        So long without a read is odd.
    starts : tuple of float
        Moments at which clocks begin anew after their battery was flat.
    started : float
        So long after one of these a clock may have begun there.
    hour_within, hours_within, days_within : float
        How far from one hour, other hours and whole days an offset may be and still be taken for these.
    most_hours : float
        Largest offset by a wrong zone.
    drift_most : float
        Drifts beyond are none of a quartz clock; seconds per second.
    drift_sure : float
        Standard errors that a drift must differ from none by.
    drift_least : float
        Seconds that it must make over a segment.
    drift_days : float
        Days that a segment must last to tell it.
    """

    wrong: float
    span: float
    reads_a_day: float
    explained: float
    change: float
    change_at_step: float
    costs: Mapping[str, float]
    as_it_stands: float
    pause: float
    leap: float
    starts: tuple[float, ...]
    started: float
    hour_within: float
    hours_within: float
    days_within: float
    most_hours: float
    drift_most: float
    drift_sure: float
    drift_least: float
    drift_days: float
