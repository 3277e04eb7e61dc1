"""How well antennas hear: each piece drawn towards its box, and boxes towards all boxes of the log."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.models.antenna_efficiency import spread_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.passage_chains import Chains
    from audit.models.passage_habits import Habits
    from audit.models.passage_limits import Limits

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["of_all", "of_pieces"]

_SPREADS = 13


def of_all(chains: Chains, heard: Floats, asked: Floats, limits: Limits) -> tuple[Floats, Floats, Floats]:
    """Tell how well outer and inner antennas hear in all boxes, and how alike these are.

    Parameters
    ----------
    chains : Chains
    heard, asked : numpy.ndarray, shape (pieces,)
        Crossings that each piece of an antenna heard, and could have heard.
    limits : Limits

    Returns
    -------
    heard, asked, alike : numpy.ndarray, shape (2,)
        The same of all outer and all inner antennas, with what is believed beforehand; and how alike boxes
        are: what all others may be worth for one of them at most, in crossings, by
        `audit.models.antenna_efficiency.spread_of`.
    """
    box = _boxes(chains)
    hits, trials = (_by_box(chains, box, counts) for counts in (heard, asked))
    before, worth = limits.weight_all, limits.weight_sides
    whole = (hits.sum() + before * limits.start_efficiency) / (trials.sum() + before)
    of_sides = hits.sum(axis=1) + worth * whole, trials.sum(axis=1) + worth
    about = of_sides[0] / of_sides[1]
    least, most = limits.alike_between
    spreads = np.geomspace(least, most, _SPREADS)
    alike = np.full(2, float(most))
    # of one box nothing shows how far they differ
    if hits.shape[1] > 1:
        for side in (0, 1):
            alike[side] = spread_of(hits[side], trials[side], float(about[side]), spreads)
    return *of_sides, alike


def of_pieces(chains: Chains, habits: Habits, heard: Floats, asked: Floats, limits: Limits) -> Floats:
    """Tell how well each piece of an antenna hears, shape (pieces,).

    Parameters
    ----------
    chains : Chains
        Whole boxes.
    habits : Habits
    heard, asked : numpy.ndarray, shape (pieces,)
        As for `of_all`.
    limits : Limits

    Notes
    -----
    Means of beta distributions. What all other boxes heard speaks for a box, and what the box heard at other
    times for a piece, up to the weights at which boxes and times differ: n crossings are then worth
    ``1 / (1 / n + 1 / weight)``. Nothing speaks for itself twice.
    """
    hearing, box = chains.hearing, _boxes(chains)
    hits, trials = (_by_box(chains, box, counts) for counts in (heard, asked))
    others = np.maximum(habits.asked[:, None] - trials, limits.weight_sides)
    # habits may be learnt from fewer groups than there are here
    theirs = np.clip(habits.heard[:, None] - hits, 0.0, others)
    known = habits.asked[:, None] - trials >= limits.weight_sides
    about = np.where(known, theirs / others, habits.heard.sum() / habits.asked.sum())
    worth = 1 / (1 / others + 1 / habits.alike[:, None])
    side, on = hearing.side, ~hearing.off
    elsewhere = (trials + worth)[side, box] - np.where(on, asked, 0.0)
    of_box = ((hits + worth * about)[side, box] - np.where(on, heard, 0.0)) / elsewhere
    weight = np.where(hearing.doubted, limits.weight_efficiency, limits.weight_spell)
    before = np.where(on, of_box, hearing.told)
    weight = np.where(on, 1 / (1 / elsewhere + 1 / weight), limits.weight_off)
    found: Floats = (heard + weight * before) / (asked + weight)
    return found


def _boxes(chains: Chains) -> Ints:
    """Box of each piece, shape (pieces,); that of the first box for pieces in which nothing was heard."""
    box = np.zeros(len(chains.hearing.told), dtype=np.int64)
    for pieces in chains.hearing.pairs:
        box[pieces] = chains.logger
    return box


def _by_box(chains: Chains, box: Ints, counts: Floats) -> Floats:
    """Sum counts of pieces that were not off, shape (2, boxes)."""
    boxes = int(box.max(initial=0)) + 1
    key = chains.hearing.side * boxes + box
    found: Floats = np.bincount(key, np.where(chains.hearing.off, 0.0, counts), 2 * boxes).astype(float)
    return found.reshape(2, boxes)
