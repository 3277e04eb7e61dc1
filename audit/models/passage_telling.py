"""Passages that are likelier than not, out of all that was weighed."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.models.read_groups import WAY_IN, WAY_OUT
from audit.models.reads import Passages

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.passage_chains import Chains
    from audit.models.passage_habits import Habits
    from audit.models.passage_limits import Limits
    from audit.models.passage_weighing import Weighed

    Flags = NDArray[np.bool_]
    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["joined", "told_passages"]

_IN, _OUT, _UNKNOWN = 0, 1, 2
_SURE, _INFERRED = 0, 1
_PLACED_AT_ONCE = 20_000
_SECOND = 1000


def told_passages(chains: Chains, habits: Habits, weighed: Weighed, limits: Limits) -> Passages:
    """Passages that are likelier than not."""
    groups = chains.groups
    once, twice = weighed.passed, weighed.twice
    p_in, p_out = once + twice.sum(axis=0)
    sooner, later = np.minimum(groups.inward, groups.outward), np.maximum(groups.inward, groups.outward)
    found = []
    for direction, p, plain, kind in (
        (_IN, p_in, groups.inward, WAY_IN),
        (_OUT, p_out, groups.outward, WAY_OUT),
    ):
        one = np.flatnonzero(p >= limits.report_from)
        single = once[direction] >= p / 2
        begins = twice[direction] > twice[1 - direction]
        at = np.where(single, plain, np.where(begins, sooner, later))
        how = np.where((groups.kind[one] == kind) & single[one], _SURE, _INFERRED)
        found.append(_made(chains, one, at[one], direction, p[one], how))
    unsure = np.flatnonzero(
        ((once + twice).sum(axis=0) >= limits.unknown_from) & (np.maximum(p_in, p_out) < limits.report_from)
    )
    middle = (groups.start[unsure] + groups.stop[unsure]) // 2
    found.append(
        _made(
            chains,
            unsure,
            middle,
            _UNKNOWN,
            np.minimum((once + twice).sum(axis=0)[unsure], 1.0),
            np.full(len(unsure), _INFERRED),
        )
    )
    missed = weighed.one
    found.extend(_unheard(chains, habits, (missed[state], weighed.young), state, limits) for state in (0, 1))
    return _sorted(joined(found))


def _unheard(
    chains: Chains, habits: Habits, missed: tuple[Floats, Flags], state: int, limits: Limits
) -> Passages:
    """Crossings that no antenna heard, between two groups, where they can be placed closely enough."""
    p, young = missed
    some = np.flatnonzero(p >= limits.report_from)
    parts = []
    for low in range(0, len(some), _PLACED_AT_ONCE):
        one = some[low : low + _PLACED_AT_ONCE]
        moment, close = habits.waits.place(
            np.full(len(one), state, dtype=np.int64),
            chains.wait[one],
            limits.within_s,
            young[chains.bird[one]],
        )
        sure = p[one] * close
        told = sure >= limits.report_from
        at = chains.groups.stop[one - 1] + np.round(moment * _SECOND).astype(np.int64)
        parts.append(
            _made(chains, one[told], at[told], state, sure[told], np.full(int(told.sum()), _INFERRED))
        )
    return joined(parts)


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
