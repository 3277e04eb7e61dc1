"""The likeliest course of a clock through the reads that it stored: where it was set, and to what."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.clock_beliefs import ClockBeliefs

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Flags = NDArray[np.bool_]

__all__ = ["likeliest", "runs"]


def likeliest(
    stored: Floats, order: Ints, paired: Flags, log: Floats, costs: Floats, beliefs: ClockBeliefs
) -> tuple[Ints, float]:
    """State of each place of the memory, and the gain over the first state throughout."""
    steps = np.diff(stored[order])
    odd = (steps < 0) | (steps > beliefs.leap)
    # between the reads of one visit nobody sets a clock
    begins = np.flatnonzero(np.concatenate([[True], odd | (steps > beliefs.pause)]))
    log = log[order]
    told = np.add.reduceat(log, begins, axis=0)
    price = np.where(np.concatenate([[True], odd])[begins], beliefs.change_at_step, beliefs.change)
    value = told[0] - costs
    came = np.zeros((len(begins), len(costs)), dtype=np.int64)
    stay = np.arange(len(costs))
    for k in range(1, len(begins)):
        from_ = int(np.argmax(value))
        moved = value[from_] - price[k] - costs
        stays = value >= moved
        came[k] = np.where(stays, stay, from_)
        value = np.maximum(value, moved) + told[k]
    state = int(np.argmax(value))
    gain = float(value[state] - told[:, 0].sum())
    by_visit = np.zeros(len(begins), dtype=np.int64)
    for k in range(len(begins) - 1, -1, -1):
        by_visit[k] = state
        state = int(came[k, state])
    path = np.repeat(by_visit, np.diff(np.append(begins, len(order))))
    return _at_steps(path, odd, paired[order]), gain


def _at_steps(path: Ints, odd: Flags, paired: Flags) -> Ints:
    """Let a change between two reads that tell fall on the step at which the memory goes back or leaps."""
    path = path.copy()
    for k in np.flatnonzero(np.diff(path)):
        before = np.flatnonzero(paired[: k + 1])
        after = np.flatnonzero(paired[k + 1 :])
        low = int(before[-1]) if len(before) else 0
        high = int(after[0]) + k + 1 if len(after) else len(path) - 1
        at = np.flatnonzero(odd[low:high])
        if len(at) and not odd[k]:
            was, becomes, new = path[k], path[k + 1], low + int(at[0])
            path[low : new + 1] = was
            path[new + 1 : high] = becomes
    return path


def runs(path: Ints) -> list[tuple[int, int]]:
    """List the first and last place of each run of equal states."""
    ends = np.flatnonzero(np.diff(path))
    return list(zip([0, *(ends + 1).tolist()], [*ends.tolist(), len(path) - 1], strict=True))
