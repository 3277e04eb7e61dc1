"""Whether marker tags beat at round moments, so that their beats tell what time it was."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.special import logsumexp

from audit.models.clock_errors import by_visits, odds, set_free, ways, within
from audit.models.clock_turns import turns_of
from audit.models.marker_phase import BeatTimes

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from audit.models.marker_phase import MarkerPhase, RoundLimits

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["weigh_phases"]

#: Clocks whose phase is known this closely are told apart no further, in seconds.
_CLOSE_S = 2.0
#: Points at which a common phase is tried: so many evenly over an interval, and near each phase by this.
_EVENLY, _NEAR_S, _NEAR_STEP_S = 120, 4.0, 0.5


def weigh_phases(phases: Sequence[MarkerPhase], limits: RoundLimits) -> BeatTimes:
    """Weigh whether the marker tags of a log beat at round moments, or together, or each when it was started.

    Parameters
    ----------
    phases : sequence of MarkerPhase
        One for each logger.
    limits : RoundLimits

    Returns
    -------
    BeatTimes

    Notes
    -----
    Bayes' rule. A marker that was started at any moment has any phase, each logger its own; how far its clock
    was off does not show. Where markers beat on the round, phases are what clocks are off by, less whole
    intervals: a mixture of normal distributions, of clocks that are right and of others that are off by
    seconds or by minutes, whose shares are the same for all loggers of the log, unknown, and averaged over.
    Who chooses an interval by which clocks are to be set right mostly chooses one by which they can be.
    Where they beat together, phases lie so about a moment that is unknown and averaged over, too. So one
    phase tells by how near to a round moment it lies compared with the interval; many tell also how far
    clocks usually are off, and with it whether the nearest beat is the right one. A clock that was set
    meanwhile gives a phase again, which is on the round where it was set right, and ties it to the one before
    by the step (`clock_turns`); where markers were started at any moment only the two errors tell how far it
    was set.
    """
    if not phases:
        return BeatTimes(limits.before, limits.together, (), ())
    off = np.array([one.off_s for one in phases])
    every = np.array([one.every_s for one in phases])
    on_day = np.array([one.divides_day for one in phases])
    like, first = odds(off[:, None], every, limits)
    for nr, one in enumerate(phases):
        if one.sd_s is not None:
            like[nr], first[nr] = by_visits(one, limits)
    turns = [None if one.sd_s is not None else turns_of(one, limits) for one in phases]
    for nr, turn in enumerate(turns):
        if turn is not None:
            like[nr] = turn.like
    # what tells nothing of the one is as likely as where markers run free
    set_by = np.array([set_free(one, limits) for one in phases])
    on_round = np.log(limits.before) + ways(limits)
    on_round += np.where(on_day[:, None], like[:, 0], set_by[:, None]).sum(axis=0)
    together, tried = _together(phases, limits)
    together += set_by.sum()
    free = np.log1p(-limits.before - limits.together) + set_by.sum()
    total = logsumexp([logsumexp(on_round), logsumexp(together), free])
    p_round = float(np.exp(logsumexp(on_round) - total))
    p_together = float(np.exp(logsumexp(together) - total))
    way = np.exp(on_round - logsumexp(on_round))
    along = [
        ((0, float(first[nr, 0] @ way)),) if turn is None else turn.along(way)
        for nr, turn in enumerate(turns)
    ]
    of_together = np.exp(together - logsumexp(together))
    p, shift = np.zeros(len(phases)), np.zeros(len(phases))
    for nr, on in enumerate(on_day.tolist()):
        along[nr] = tuple((turn, p_round * chance if on else 0.0) for turn, chance in along[nr])
        p[nr] = along[nr][0][1]
    for alike, points, mass in tried:
        # how sure each common moment is, whatever the shares
        by_point = np.exp(mass - logsumexp(mass, axis=0)) @ of_together
        near = np.abs(within(points[:, None] - points, every[alike[0]])) <= _CLOSE_S
        sure = near @ by_point
        best = int(np.argmax(sure))
        for nr in alike.tolist():
            _, nearest = odds(np.array([[off[nr] - points[best]]]), every[[nr]], limits)
            other = p_together * float(sure[best]) * float(nearest[0, 0] @ of_together)
            if abs(points[best]) <= _CLOSE_S:
                # a turn more is no nearest beat
                along[nr] = tuple((turn, min(1.0, chance + other * (not turn))) for turn, chance in along[nr])
            elif other > max(chance for _, chance in along[nr]):
                shift[nr], along[nr] = points[best], tuple((0, other) for _ in along[nr])
            p[nr] = along[nr][0][1]
    return BeatTimes(p_round, p_together, tuple(shift.tolist()), tuple(p.tolist()), tuple(along))


def _together(
    phases: Sequence[MarkerPhase], limits: RoundLimits
) -> tuple[Floats, list[tuple[Ints, Floats, Floats]]]:
    """Weigh that markers of one interval beat together: by ways of sharing, and by moment tried.

    Each group of loggers comes with the moments tried, and the log of their mass, shape (moments, ways).
    """
    every = np.array([one.every_s for one in phases])
    total = np.log(limits.together) + ways(limits)
    tried = []
    for interval in np.unique(every).tolist():
        alike = np.flatnonzero((every == interval) & np.array([one.sd_s is None for one in phases]))
        if len(alike) < 2:  # noqa: PLR2004 - one beats with nobody
            continue
        off = np.array([phases[nr].off_s for nr in alike.tolist()])
        beside = np.arange(-_NEAR_S, _NEAR_S + _NEAR_STEP_S, _NEAR_STEP_S)
        evenly = np.linspace(-interval / 2, interval / 2, _EVENLY, endpoint=False)
        points = np.unique(np.concatenate([evenly, within(off[:, None] + beside, interval).ravel()]))
        around = np.concatenate([[points[-1] - interval], points, [points[0] + interval]])
        width = np.log((around[2:] - around[:-2]) / 2 / interval)
        like, _ = odds(off[:, None] - points, np.full(len(alike), interval), limits)
        mass = like.sum(axis=0) + width[:, None]
        tried.append((alike, points, mass))
        total += logsumexp(mass, axis=0)
    return total, tried
