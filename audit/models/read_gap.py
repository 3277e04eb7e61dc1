"""The gap between two groups of reads at an entrance, found from the reads of a log."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.passage_limits import Limits
    from audit.models.reads import Reads

    Flags = NDArray[np.bool_]
    Ints = NDArray[np.int64]

__all__ = ["find_gap", "rest_pause"]

_SECOND = 1000


def find_gap(reads: Reads, limits: Limits) -> float:
    """Find the gap that parts two groups: the valley between short gaps within a crossing and long ones.

    Parameters
    ----------
    reads : Reads
        Sorted by box, tag and time.
    limits : Limits
        `gap_s` where there is no valley to be seen, `gap_least_s` and `gap_most_s` around it, and how a
        valley, and a logger that waits, are told.

    Returns
    -------
    float
        Seconds; reads further apart than this belong to two groups.

    Notes
    -----
    The histogram is that of log gaps, so its density is that of a time per unit of its logarithm; edges lie
    between two stamps the clock can show. Where the bottom is flat its geometric middle is taken.

    References
    ----------
    The minimum between the two humps of a histogram: common practice.
    """
    gaps, same = _gaps(reads, limits.gap_enough)
    if len(gaps) == 0:
        return limits.gap_s
    return max(_valley(gaps, limits), _held_off(gaps[same], limits))


def rest_pause(reads: Reads, limits: Limits) -> float:
    """Find the longest pause between two reads of a bird that stays at one antenna.

    Parameters
    ----------
    reads : Reads
        Sorted by box, tag and time.
    limits : Limits
        `pause_least_s` where the logger does not wait before it stores a tag again; `ready_wait_s` is the
        longest that one waits.

    Returns
    -------
    float
        Seconds.

    Notes
    -----
    A clock of whole seconds shows no shorter gap than one, whether the logger waits or not. Stays in the box
    make gaps as well, of all lengths; pauses of birds at rest end where gaps are hardly more than these.
    """
    gaps, same = _gaps(reads, limits.gap_enough)
    tick = _tick(gaps, limits.gap_slack_ms, limits.gap_whole) if len(gaps) else 1
    gaps = gaps[same & (gaps < limits.ready_wait_s * _SECOND)]
    held = _waits(gaps, limits)
    if not held or held < 2 * tick - limits.gap_slack_ms:
        return limits.pause_least_s
    longest = float(np.quantile(gaps[gaps <= limits.rest_most * held], limits.rest_share))
    longest = min(longest, _hump_ends(gaps, held, tick, limits))
    return max(limits.pause_least_s, longest / _SECOND)


def _hump_ends(gaps: Ints, held: float, tick: int, limits: Limits) -> float:
    """Where gaps of birds at rest, from `held` on, are lost among those of stays in the box; else no end."""
    low = limits.rest_most * held
    high = min(low + held, limits.ready_wait_s * _SECOND)
    stays = int(((gaps > low) & (gaps <= high)).sum())
    if stays < limits.gap_reads:
        return np.inf
    step = max(held / limits.rest_steps, tick)
    edges = np.arange(held - step / 2, low + step, step)
    counts = np.histogram(gaps, edges)[0]
    # a reader that misses a bird tries again some time later, so its gaps lie in lumps
    many = np.flatnonzero(counts > limits.rest_over * stays * step / (high - low))
    return float(edges[many[-1] + 1]) if len(many) else np.inf


def _held_off(gaps: Ints, limits: Limits) -> float:
    """Longer than a logger waits before it stores a tag again; 0 where it does not wait for long."""
    held = _waits(gaps[gaps < limits.gap_most_s * _SECOND], limits)
    return min(limits.gap_beyond * held / _SECOND, limits.gap_most_s)


def _waits(gaps: Ints, limits: Limits) -> float:
    """How long a logger waits before it stores a tag again, in milliseconds; 0 where it does not.

    A bird at rest is stored as soon as the logger may, so just there many gaps of one antenna begin.
    """
    if len(gaps) < limits.gap_reads:
        return 0.0
    held = float(np.quantile(gaps, limits.gap_rare))
    often = float((gaps <= limits.gap_alike * held).mean())
    return held if often > limits.gap_often else 0.0


def _valley(gaps: Ints, limits: Limits) -> float:
    tick = _tick(gaps, limits.gap_slack_ms, limits.gap_whole)
    low, high = limits.gap_least_s * _SECOND, limits.gap_most_s * _SECOND
    n = int(np.ceil(np.log(high / low) / np.log(limits.gap_wider)))
    edges = np.unique(np.floor(np.geomspace(low, high, n + 1) / tick)) * tick + tick / 2
    if len(edges) < 2 or min((gaps < edges[0]).sum(), (gaps > edges[-1]).sum()) < limits.gap_reads:  # noqa: PLR2004 - two humps
        return limits.gap_s
    counts = np.histogram(gaps, edges)[0] / np.diff(np.log(edges))
    padded = np.pad(counts, 1, mode="edge")
    smooth = (padded[:-2] + padded[1:-1] + padded[2:]) / 3
    bottom = np.flatnonzero(smooth <= smooth.min() * (1 + 1e-9))
    run = bottom[: 1 + int(np.argmin(np.append(np.diff(bottom) == 1, False)))]
    return float(np.sqrt(edges[run[0]] * edges[run[-1] + 1])) / _SECOND


def _gaps(reads: Reads, enough: int) -> tuple[Ints, Flags]:
    """Gaps between successive reads of a bird, in milliseconds, taken evenly where there are many.

    And whether one antenna read both.
    """
    n = len(reads.at)
    one = np.arange(0, max(n - 1, 0), max(1, n // enough))
    same = (reads.box[one] == reads.box[one + 1]) & (reads.tag[one] == reads.tag[one + 1])
    one = one[same]
    return reads.at[one + 1] - reads.at[one], reads.antenna[one + 1] == reads.antenna[one]


def _tick(gaps: Ints, slack: int, whole: float) -> int:
    """How finely the clock tells: a second, more or less where it was set right, or a millisecond."""
    off = (gaps + slack) % _SECOND
    return _SECOND if float((off <= 2 * slack).mean()) > whole else 1
