"""Groups of birds laid out one behind the other, ready to be weighed."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.models.numbered_keys import numbered_runs
from audit.models.passage_hearing import Hearing
from audit.models.passage_ready import held_off, not_ready, ready_again
from audit.models.passage_runs import Runs, runs_of
from audit.models.passage_sights import SIGHTS, see
from audit.models.passage_waits import bin_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.passage_limits import Limits
    from audit.models.passage_ready import Stored
    from audit.models.read_groups import Groups
    from audit.models.reads import Reads, Spells

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["Chains", "chains_of"]


@dataclass(frozen=True, slots=True)
class Chains:
    """Groups of birds one behind the other, with everything that does not change while learning.

    Attributes
    ----------
    groups : Groups
    box, tag : numpy.ndarray of int32, shape (n,)
        Of each group.
    bird : numpy.ndarray of int, shape (n,)
        Number of the tag at its box.
    wait : numpy.ndarray, shape (n,)
        Seconds since the group before in which an antenna could hear.
    bins : numpy.ndarray of int, shape (n,)
        Bins of these.
    sights : numpy.ndarray of int, shape (n,)
        Pair of pieces of antennas and what the group looks like, as one number.
    hearing : Hearing
    runs : Runs
        Groups that follow each other so soon that the bird may have been at the entrance all the time.
    stretch : numpy.ndarray of int, shape (n,)
        Number of the stretch of groups of one bird with the same antennas at each and at the one before.
    logger : numpy.ndarray of int, shape (m,)
        Number of the box of each pair of pieces.
    ready : numpy.ndarray, shape (m,)
        Chance that an antenna that heard a bird is ready to hear it again when it comes back from a look, by
        how soon it ever stored a tag again.
    follows : numpy.ndarray, shape (m,)
        Chance that a logger is ready to store a bird that passes at the second antenna, when it stored it at
        the first; less than one where its antennas wait together.
    """

    groups: Groups
    box: NDArray[np.int32]
    tag: NDArray[np.int32]
    bird: Ints
    wait: Floats
    bins: Ints
    sights: Ints
    hearing: Hearing
    runs: Runs
    stretch: Ints
    logger: Ints
    ready: Floats
    follows: Floats


def chains_of(reads: Reads, groups: Groups, spells: Spells, limits: Limits, stored: Stored) -> Chains:
    """Lay out the groups of reads as chains; `stored` is what `stored_again` tells of the reads."""
    box, tag = reads.box[groups.begin], reads.tag[groups.begin]
    since = np.concatenate([groups.start[:1], groups.stop[:-1]])
    since = np.where(groups.fresh, groups.start, since)
    hearing = Hearing.at(spells, box, since, groups.start, (limits.off_hears, limits.hears_most))
    wait = np.maximum((groups.start - since) / 1000.0 - hearing.silent, 0.0)
    bird = np.cumsum(groups.fresh) - 1
    boxes, place = numbered_runs(box)
    held = not_ready(reads, groups, held_off(stored, boxes, limits)[place])
    hearing = hearing.held_off(held, place, limits.off_hears)
    sights = hearing.ready * SIGHTS + see(groups, limits.many_changes)
    soon = ~groups.fresh & (hearing.silent <= 0) & (wait <= limits.linger_s)
    runs = runs_of(soon, limits.run_most)
    logger = np.zeros(hearing.pairs.shape[1], dtype=np.int64)
    logger[hearing.pair] = place
    logger[hearing.ready] = place
    return Chains(
        groups,
        box,
        tag,
        bird,
        wait,
        bin_of(wait),
        sights,
        hearing,
        runs,
        _stretches(groups.fresh, hearing.pair),
        logger,
        ready_again(stored, boxes, limits)[logger],
        np.full(len(logger), math.exp(-stored.shared / limits.ready_look_s)),
    )


def _stretches(fresh: NDArray[np.bool_], pair: Ints) -> Ints:
    """Give a number to stretches of groups of one bird with one pair of pieces at each and the one before."""
    other = np.diff(pair, prepend=pair[:1]) != 0
    begins = fresh | other
    # behind the first group of a stretch the one before has the same pair
    begins[1:] |= begins[:-1]
    found: Ints = np.cumsum(begins) - 1
    return found
