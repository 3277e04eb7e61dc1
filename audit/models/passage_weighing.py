"""Weigh what birds did, group by group, with what is believed of them and of the antennas."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.models.passage_alike import Looks, Pauses, looks_of, pauses_of
from audit.models.passage_flights import not_yet_flown
from audit.models.passage_lingering import weigh_runs
from audit.models.passage_manners import LINGER, PASSAGE
from audit.models.passage_runs import Lingering
from audit.models.passage_silence import over_silence

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.passage_chains import Chains
    from audit.models.passage_habits import Habits, Own
    from audit.models.passage_limits import Limits

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]

__all__ = ["Weighed", "weigh_once"]

_TINY = np.finfo(float).tiny


@dataclass(frozen=True, slots=True)
class Weighed:
    """Probabilities of everything that happened, by group; of birds that linger, by lane of `Runs`.

    Attributes
    ----------
    passed, stayed : numpy.ndarray, shape (2, n)
        Of the state before the group and of a passage; of that state, and of a look or a rest.
    lingers, begins, crosses : numpy.ndarray, shape (2, 2, l)
        Of the state and of two ways to linger; of a bird that begins to linger there; and of one that
        lingered and passes.
    across : numpy.ndarray, shape (2, l)
        Of one that lingered since the group before.
    stay, change : numpy.ndarray, shape (2, n)
        Of the state behind the group before, and of the same one in front of this group, or of the other;
        none where a bird begins, has not flown, or nobody could hear it meanwhile.
    looks : Looks
    pauses : Pauses
    bound : numpy.ndarray of bool, shape (n,)
        Groups of birds that have probably not flown yet.
    young : numpy.ndarray of bool, shape (birds,)
        Birds that had not flown at first.
    log_likelihood : float
    """

    passed: Floats
    stayed: Floats
    lingers: Floats
    begins: Floats
    crosses: Floats
    across: Floats
    stay: Floats
    change: Floats
    looks: Looks
    pauses: Pauses
    bound: Flags
    young: Flags
    log_likelihood: float

    @property
    def twice(self) -> Floats:
        """Of the state before the group, and of two passages in it, shape (2, n)."""
        share = self.looks.twice / np.maximum(self.looks.stays, _TINY)
        found: Floats = self.stayed * np.take(share, self.looks.row, axis=1)
        return found

    @property
    def none(self) -> Floats:
        """Of the state behind the group before, and of no missed crossing since, shape (2, n)."""
        since = self.pauses.since
        share = since.none / np.maximum(since.stay, _TINY)
        found: Floats = self.stay * np.take(share, self.pauses.row, axis=1)
        return found

    @property
    def one(self) -> Floats:
        """Of the state behind the group before, and of one missed crossing since, shape (2, n)."""
        since = self.pauses.since
        share = since.one / np.maximum(since.change, _TINY)
        found: Floats = self.change * np.take(share, self.pauses.row, axis=1)
        return found


def weigh_once(chains: Chains, habits: Habits, own: Own, limits: Limits, *, flights: bool = False) -> Weighed:
    """One pass forward and backward.

    Parameters
    ----------
    flights : bool
        Whether birds that have not flown yet are to be told, where none is bound so far.
    """
    fresh, runs = chains.groups.fresh, chains.runs
    flights = flights and not own.bound.any()
    looks = looks_of(chains, habits, own, limits)
    pauses = pauses_of(chains, habits, own, limits.wonder)
    gaps: Floats = np.take(pauses.gaps, pauses.row, axis=2)
    silent = np.flatnonzero((chains.hearing.silent > 0) & ~own.bound)
    if len(silent):
        of = pauses.row[silent]
        chances = pauses.passing[:, of], pauses.unheard[:, of]
        young = own.young[chains.bird]
        gaps[:, :, silent] = over_silence(
            chains, habits.waits, silent, chances, gaps, young=young, true=limits.sleep_true
        )
        gaps[:, :, silent] += limits.wonder
    row = looks.row[runs.lanes]
    linger = Lingering(
        np.take(looks.ways[:, LINGER:], row, axis=2),
        np.take(looks.plain[:, LINGER:], row, axis=2),
        np.take(habits.pauses[:, pauses.bins] / pauses.whole, pauses.row[runs.lanes], axis=1),
        np.take(looks.plain[:, PASSAGE], row, axis=1),
        habits.after,
    )
    first: Floats = np.take(own.first, chains.bird, axis=1)
    events: Floats = np.take(looks.events, looks.row, axis=2)
    beliefs = weigh_runs(gaps, events, linger, runs, fresh, first, following=flights)
    # the other state stands in the two places between, the same one in the first and the last
    within, told = beliefs.within.reshape(4, -1), beliefs.before.reshape(4, -1)
    passed = within[1:3]
    passed[:, runs.lanes] += beliefs.crosses.sum(axis=1)
    known = ~(fresh | own.bound)
    known[silent] = False
    told *= known
    likelihood = beliefs.log_likelihood + float(
        np.log(looks.scale) @ np.bincount(looks.row, minlength=len(looks.scale))
        + np.log(pauses.whole) @ np.bincount(pauses.row[~fresh], minlength=len(pauses.whole))
    )
    return Weighed(
        passed,
        within[::3],
        beliefs.lingers,
        beliefs.begins,
        beliefs.crosses,
        beliefs.across,
        told[::3],
        told[1:3],
        looks,
        pauses,
        not_yet_flown(chains, habits, (looks, pauses), beliefs, linger, limits) if flights else own.bound,
        own.young,
        likelihood,
    )
