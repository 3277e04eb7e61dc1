"""Passages that are likelier than not, out of all that was weighed."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.models.passage_beside import beside, missed_before
from audit.models.read_groups import WAY_IN, WAY_OUT
from audit.models.reads import Passages

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.passage_chains import Chains
    from audit.models.passage_habits import Habits
    from audit.models.passage_limits import Limits
    from audit.models.passage_weighing import Weighed

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["joined", "told_passages"]

_IN, _OUT, _UNKNOWN = 0, 1, 2
_SURE, _INFERRED = 0, 1


def told_passages(chains: Chains, habits: Habits, weighed: Weighed, limits: Limits) -> Passages:
    """Passages that are likelier than not."""
    groups = chains.groups
    once, twice = weighed.passed, weighed.twice
    shown = once + twice.sum(axis=0)
    missed = weighed.one
    sooner, later = np.minimum(groups.inward, groups.outward), np.maximum(groups.inward, groups.outward)
    found, known = [], np.zeros(len(groups.begin), dtype=np.bool_)
    for way, plain, kind in ((_IN, groups.inward, WAY_IN), (_OUT, groups.outward, WAY_OUT)):
        single = once[way] >= shown[way] / 2
        begins = twice[way] > twice[1 - way]
        moment = np.where(single, plain, np.where(begins, sooner, later))
        lost = missed_before(chains, habits.waits, way, (missed[way], weighed.young), limits)
        p, at, alone = beside(chains, habits.waits, lost, (shown[way], moment), limits)
        one = np.flatnonzero(p >= limits.report_from)
        known[one] = True
        seen = (groups.kind[one] == kind) & single[one] & (shown[way, one] >= limits.report_from)
        found.append(_made(chains, one, at[one], way, p[one], np.where(seen, _SURE, _INFERRED)))
        one = np.flatnonzero(alone & (lost.sure >= limits.report_from))
        found.append(_made(chains, one, lost.at[one], way, lost.sure[one], np.full(len(one), _INFERRED)))
    either = (once + twice).sum(axis=0)
    unsure = np.flatnonzero((either >= limits.unknown_from) & ~known)
    middle = (groups.start[unsure] + groups.stop[unsure]) // 2
    how = np.full(len(unsure), _INFERRED)
    found.append(_made(chains, unsure, middle, _UNKNOWN, np.minimum(either[unsure], 1.0), how))
    return _sorted(joined(found))


def _made(chains: Chains, which: Ints, at: Ints, direction: int, p: Floats, how: Ints) -> Passages:
    return Passages(
        chains.box[which],
        chains.tag[which],
        at,
        np.full(len(which), direction, dtype=np.int8),
        p,
        how.astype(np.int8),
    )


def _sorted(found: Passages) -> Passages:
    order = np.lexsort((found.direction, found.at, found.tag, found.box))
    return Passages(*(getattr(found, name)[order] for name in Passages.__slots__))


def joined(parts: list[Passages]) -> Passages:
    """Put passages together."""
    if not parts:
        small, tiny = np.empty(0, dtype=np.int32), np.empty(0, dtype=np.int8)
        return Passages(small, small, np.empty(0, dtype=np.int64), tiny, np.empty(0), tiny)
    return Passages(*(np.concatenate([getattr(one, name) for one in parts]) for name in Passages.__slots__))
