"""From the reads of two antennas to passages, each with the probability that it happened so."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from audit.models.numbered_keys import numbered_runs
from audit.models.passage_chains import Chains, chains_of
from audit.models.passage_counts import counts_of, crossings_of_birds
from audit.models.passage_hearing import no_spells
from audit.models.passage_learning import learn, weigh
from audit.models.passage_limits import Limits
from audit.models.passage_pauses import part_pauses
from audit.models.passage_ready import stored_again
from audit.models.passage_telling import joined, told_passages
from audit.models.read_gap import find_gap, rest_pause
from audit.models.read_groups import INNER_ONLY, OUTER_ONLY, Groups, group_reads
from audit.models.reads import Crossings

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from audit.models.passage_habits import Habits
    from audit.models.passage_ready import Stored
    from audit.models.reads import Passages, Reads, Spells


__all__ = ["Limits", "learn_habits", "passages", "passages_and_crossings"]

#: Groups that are weighed at once.
_AT_ONCE = 50_000
#: Boxes are weighed by so many threads.
_HANDS = 2


def learn_habits(reads: Reads, spells: Spells | None, limits: Limits) -> tuple[float, Habits | None]:
    """Learn from some boxes what holds for a whole log.

    Parameters
    ----------
    reads, spells, limits
        As in `passages`.

    Returns
    -------
    gap : float
        Seconds that part two groups of reads.
    habits : Habits or None
        What birds do and how well antennas hear; nothing where no bird was heard often enough.
    """
    spells = no_spells() if spells is None else spells
    gap = find_gap(reads, limits)
    rest = rest_pause(reads, limits)
    stored = stored_again(reads, limits)
    groups = _grouped(reads, limits, group_reads(reads, gap), rest, stored.shared)
    if len(groups.begin) == 0:
        return gap, None
    limits = replace(limits, gap_most_s=gap, pause_least_s=rest)
    return gap, learn(_sample(reads, groups, spells, limits, stored), limits)


def _grouped(reads: Reads, limits: Limits, groups: Groups, rest: float, shared: float) -> Groups:
    often = _heard_often(groups, limits.reads_least)
    return part_pauses(reads, _heard_by_two(reads, often, limits.alone_groups), limits, rest, shared)


def passages(
    reads: Reads,
    spells: Spells | None,
    limits: Limits,
    gap: float | None = None,
    habits: Habits | None = None,
    groups: Groups | None = None,
) -> Passages:
    """Find the passages of birds.

    Parameters
    ----------
    reads : Reads
        Sorted by box, tag and time; without marker tags and ghosts.
    spells : Spells or None
        How well the antennas heard; where nothing is told it is learnt from the reads.
    limits : Limits
        Numbers of ``antennas.yaml``.
    gap : float, optional
        Seconds that part two groups of reads; found from the reads if not given.
    habits : Habits, optional
        Learnt from other reads of the same log; learnt from these if not given.
    groups : Groups, optional
        What that gap parts, as `group_reads` gives it, where it is known.

    Returns
    -------
    Passages
        Sorted by box, tag and time. `p` is the probability that this bird passed in this direction within
        `limits.within_s`; where the direction is unknown, that it passed. A box of which one antenna alone
        was ever heard has none.
    """
    return passages_and_crossings(reads, spells, limits, gap, habits, groups)[0]


def passages_and_crossings(
    reads: Reads,
    spells: Spells | None,
    limits: Limits,
    gap: float | None = None,
    habits: Habits | None = None,
    groups: Groups | None = None,
) -> tuple[Passages, Crossings]:
    """Find passages, and count the crossings of each bird by the antennas that heard them; as `passages`."""
    spells = no_spells() if spells is None else spells
    if gap is None:
        gap = find_gap(reads, limits)
    rest = rest_pause(reads, limits)
    stored = stored_again(reads, limits)
    groups = _grouped(reads, limits, groups or group_reads(reads, gap), rest, stored.shared)
    if len(groups.begin) == 0:
        return joined([]), _of_parts([])
    # what parts the groups of this log
    limits = replace(limits, gap_most_s=gap, pause_least_s=rest)
    learnt = learn(_sample(reads, groups, spells, limits, stored), limits) if habits is None else habits

    def told(part: slice) -> tuple[Passages, Crossings]:
        chains = chains_of(reads, _some(groups, part), spells, limits, stored)
        weighed = weigh(chains, learnt, limits)
        crossed = crossings_of_birds(chains, counts_of(chains, weighed, weighed.bound))
        return told_passages(chains, learnt, weighed, limits), crossed

    # numpy lets go of the interpreter while it works; the order of the parts is kept
    with ThreadPoolExecutor(_HANDS) as hands:
        found = list(hands.map(told, _parts(reads, groups)))
    return joined([passed for passed, _ in found]), _of_parts([crossed for _, crossed in found])


def _of_parts(parts: list[Crossings]) -> Crossings:
    """Put the crossings of birds together."""
    if not parts:
        code, none = np.empty(0, dtype=np.int32), np.empty(0)
        return Crossings(code, code, none, none, none, none)
    return Crossings(*(np.concatenate([getattr(one, name) for one in parts]) for name in Crossings.__slots__))


def _heard_often(groups: Groups, least: int) -> Groups:
    """Leave out birds with too few reads at a box."""
    if len(groups.begin) == 0:
        return groups
    first = np.flatnonzero(groups.fresh)
    count = np.add.reduceat(groups.end - groups.begin, first)
    keep = np.repeat(count >= least, np.diff(np.append(first, len(groups.begin))))
    return groups if keep.all() else _some(groups, keep)


def _heard_by_two(reads: Reads, groups: Groups, most: int) -> Groups:
    """Leave out boxes with one antenna: who is near is read, but nothing tells a way in from a way out."""
    if len(groups.begin) == 0:
        return groups
    _, box = numbered_runs(reads.box[groups.begin])
    count = np.bincount(box)
    alone = [np.bincount(box, groups.heard == one) == count for one in (OUTER_ONLY, INNER_ONLY)]
    keep = ~((alone[0] | alone[1]) & (count >= most))[box]
    return groups if keep.all() else _some(groups, keep)


def _some(groups: Groups, which: NDArray[np.bool_] | slice) -> Groups:
    return Groups(*(getattr(groups, name)[which] for name in Groups.__slots__))


def _sample(reads: Reads, groups: Groups, spells: Spells, limits: Limits, stored: Stored) -> Chains:
    """Chains of birds taken evenly, until there are groups enough to learn from."""
    stride = -(-len(groups.begin) // limits.learn_groups)
    if stride > 1:
        bird = np.cumsum(groups.fresh) - 1
        # a single bird may be longer than all that is needed: its first groups will do
        place = np.arange(len(bird)) - np.flatnonzero(groups.fresh)[bird]
        few = (bird % stride == 0) & (place < limits.learn_groups)
        groups = _some(groups, few)
    return chains_of(reads, groups, spells, limits, stored)


def _parts(reads: Reads, groups: Groups) -> Iterator[slice]:
    """Whole boxes, not many groups at once."""
    n = len(groups.begin)
    box = reads.box[groups.begin]
    starts = np.concatenate([[0], np.flatnonzero(box[1:] != box[:-1]) + 1, [n]])
    low = 0
    while low < n:
        high = int(starts[np.searchsorted(starts, low + _AT_ONCE, side="right") - 1])
        if high <= low:
            high = int(starts[np.searchsorted(starts, low, side="right")])
        yield slice(low, high)
        low = high
