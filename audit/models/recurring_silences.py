"""Silences beside a marker tag that come again day after day: a logger that sleeps by a clock that is off."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.models.box_log import DAY_MS, HOUR_MS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.health_beliefs import HealthBeliefs
    from audit.models.marker_beats import Beat

    Ints = NDArray[np.int64]

__all__ = ["joined", "recurring_silences"]


def recurring_silences(times: Ints, beats: list[Beat], beliefs: HealthBeliefs) -> Ints:
    """Find silences of a logger that come again at the same hours of the days beside.

    Parameters
    ----------
    times : numpy.ndarray of int64, shape (n,)
        All its reads in order, in milliseconds.
    beats : list of Beat
        Of its marker tags.
    beliefs : HealthBeliefs

    Returns
    -------
    numpy.ndarray of int64, shape (k, 2)
        Start and end of each, in order.

    Notes
    -----
    `audit.models.nightly_sleep` finds hours that are silent on every day of a log. Where the clock was set
    meanwhile, or gains, these hours move, and what is left of them beside looks like an antenna that dies at
    the same hour of every day. Beats of a marker never rest, so silences that share most of their hours on so
    many of the days before and after are sleep, whatever the clock showed.
    """
    none = np.zeros((0, 2), dtype=np.int64)
    if not beats or len(times) < 2:  # noqa: PLR2004 - a silence lies between two reads
        return none
    where = np.flatnonzero(np.diff(times) >= beliefs.sleep_h * HOUR_MS)
    spans = np.stack([times[where], times[where + 1]], axis=1)
    told = sum(-np.log(1 - beat.heard) * np.floor(np.diff(spans)[:, 0] / beat.interval) for beat in beats)
    days = beliefs.sleep_nights - 1
    lasts = np.diff(spans)[:, 0]
    number = np.rint((spans[:, None] - spans).mean(axis=2) / DAY_MS)
    moved = spans + number[..., None] * DAY_MS
    shared = np.minimum(moved[..., 1], spans[:, None, 1]) - np.maximum(moved[..., 0], spans[:, None, 0])
    alike = shared >= beliefs.sleep_alike * np.maximum(lasts[:, None], lasts)
    alike &= (number != 0) & (np.abs(number) <= days)
    many = alike.sum(axis=1)
    found: Ints = spans[(many >= days) & (told * (1 + many) >= beliefs.sleep_sure)]
    return found


def joined(one: Ints, other: Ints) -> Ints:
    """Join spells, shape (k, 2), that overlap; in order.

    Examples
    --------
    >>> joined(np.array([[0, 4], [8, 9]]), np.array([[3, 6]])).tolist()
    [[0, 6], [8, 9]]
    """
    if not len(other):
        return one
    both = np.concatenate([one, other])
    both = both[np.argsort(both[:, 0], kind="stable")]
    until = np.maximum.accumulate(both[:, 1])
    first = np.flatnonzero(np.concatenate([[True], both[1:, 0] > until[:-1]]))
    found: Ints = np.stack([both[first, 0], until[np.append(first[1:], len(both)) - 1]], axis=1)
    return found
