"""A column laid beside the rows that it belongs to, with runs of cells that may have slid by a row or two.

Cell i holds what belongs to row ``i + offset``. A run of cells that share an offset other than 0 is a block:
it costs once to open and once to close, however long it is, so that one slide is cheaper than many slips.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["Alignment", "align", "best_blocks"]

#: Two best ways to each state are kept: the path and its runner-up.
_KEPT = 2


@dataclass(frozen=True, slots=True)
class Alignment:
    """How a column lies beside its rows.

    Attributes
    ----------
    offsets : tuple of int
        The likeliest offset of every cell, all together.
    log_ratio : float
        Log likelihood of that path against the one without any block; 0 where that is the likeliest.
    runner_up : float
        The same of the next likeliest path; minus infinity where there is none.
    log_odds : float
        Log of the summed likelihoods of all paths with a block against the one without.
    moved : ndarray, shape (n, m)
        Probability of each offset for each cell, all paths taken together.
    """

    offsets: tuple[int, ...]
    log_ratio: float
    runner_up: float
    log_odds: float
    moved: Floats


def best_blocks(gain: Floats, opens: Floats, closes: Floats) -> tuple[Floats, Ints]:
    """Find for each cell the best block that ends there.

    Parameters
    ----------
    gain : ndarray, shape (n,)
        Log likelihood of each cell in the block, less that without one.
    opens, closes : ndarray, shape (n,)
        Log weight of a block that begins, or ends, with each cell.

    Returns
    -------
    score : ndarray, shape (n,)
        Log weight of the block against none.
    begins : ndarray of int, shape (n,)
        Its first cell.

    References
    ----------
    Kadane's largest sum of a run (Bentley 1984, Communications of the ACM 27, 865-871), by running minima.
    """
    if not gain.size:
        return np.zeros(0), np.zeros(0, dtype=np.int64)
    # a cell that cannot be in a block costs more than all others gain: infinities do not subtract, and larger
    # numbers would drown the gains in their rounding
    bound = 1 + float(sum(np.abs(one[np.isfinite(one)]).sum() for one in (gain, opens)))
    total = np.cumsum(np.clip(gain, -bound, bound))
    before = np.r_[0.0, total[:-1]] - np.clip(opens, -bound, bound)
    lowest = np.minimum.accumulate(before)
    begins = np.maximum.accumulate(np.where(before <= lowest, np.arange(gain.size), 0))
    return total - lowest + closes, begins


def align(stays: Floats, fits: Floats, opens: Floats, closes: Floats, offsets: Sequence[int]) -> Alignment:
    """Align a column with its rows.

    Parameters
    ----------
    stays : ndarray, shape (n,)
        Log likelihood of each cell in its own row.
    fits : ndarray, shape (n, m)
        The same were it that of the row so many rows further down; minus infinity where there is no such row.
    opens, closes : ndarray, shape (n, m)
        Log weight of a block that begins, or ends, with each cell.
    offsets : sequence of int, length m
        Rows by which a cell may be off.

    Raises
    ------
    ValueError
        The shapes do not agree.

    References
    ----------
    Needleman & Wunsch (1970), Journal of Molecular Biology 48, 443-453: the best alignment of two sequences
    by dynamic programming; Gotoh (1982), Journal of Molecular Biology 162, 705-708: gaps that cost to open,
    whatever their length. All paths are summed by the forward-backward algorithm (Rabiner 1989, Proceedings
    of the IEEE 77, 257-286). Formulas as remembered.
    """
    n, m = fits.shape
    if stays.shape != (n,) or opens.shape != (n, m) or closes.shape != (n, m) or len(offsets) != m:
        raise ValueError("stays, fits, opens, closes and offsets do not have as many cells or offsets")
    # state 0 is the row's own; nothing but the difference to it matters
    fit = np.column_stack([np.zeros(n), fits - stays[:, None]])
    path, ratio, runner_up = _two_best(fit, opens, closes)
    log_odds, moved = _all_paths(fit, opens, closes)
    return Alignment(
        tuple(0 if state == 0 else offsets[state - 1] for state in path), ratio, runner_up, log_odds, moved
    )


def _two_best(fit: Floats, opens: Floats, closes: Floats) -> tuple[list[int], float, float]:
    n, states = fit.shape
    #: score, state before, which of the two kept there
    Kept = list[tuple[float, int, int]]  # noqa: N806 - a type
    ways: list[list[Kept]] = []
    for i in range(n):
        here: list[Kept] = []
        for state in range(states):
            if i == 0:
                found = [(float(fit[0, state]) + (float(opens[0, state - 1]) if state else 0.0), -1, 0)]
            else:
                found = [
                    (score + step + float(fit[i, state]), one, kept)
                    for one in range(states)
                    if (step := _step(i, one, state, opens, closes)) is not None
                    for kept, (score, _, _) in enumerate(ways[-1][one])
                ]
            here.append(sorted(found, key=lambda way: -way[0])[:_KEPT])
        ways.append(here)
    if not n:
        return [], 0.0, -np.inf
    ends = sorted(
        (
            (score + (float(closes[-1, state - 1]) if state else 0.0), state, kept)
            for state in range(states)
            for kept, (score, _, _) in enumerate(ways[-1][state])
        ),
        key=lambda end: -end[0],
    )
    ratio, state, kept = ends[0]
    path = []
    for i in range(n - 1, -1, -1):
        path.append(state)
        _, state, kept = ways[i][state][kept]
    return path[::-1], ratio, ends[1][0] if len(ends) > 1 else -np.inf


def _step(i: int, one: int, state: int, opens: Floats, closes: Floats) -> float | None:
    """Log weight of going from one state to the next cell's; None where one block may not follow another."""
    if one == state:
        return 0.0
    if one == 0:
        return float(opens[i, state - 1])
    return float(closes[i - 1, one - 1]) if state == 0 else None


def _all_paths(fit: Floats, opens: Floats, closes: Floats) -> tuple[float, Floats]:
    n, states = fit.shape
    if not n:
        return -np.inf, np.zeros((0, states - 1))
    ahead, behind = np.full((n, states), -np.inf), np.full((n, states), -np.inf)
    ahead[0] = fit[0] + np.r_[0.0, opens[0]]
    for i in range(1, n):
        ahead[i, 0] = np.logaddexp(ahead[i - 1, 0], np.logaddexp.reduce(ahead[i - 1, 1:] + closes[i - 1]))
        ahead[i, 1:] = np.logaddexp(ahead[i - 1, 1:], ahead[i - 1, 0] + opens[i])
        ahead[i] += fit[i]
    behind[-1] = np.r_[0.0, closes[-1]]
    for i in range(n - 2, -1, -1):
        after = behind[i + 1] + fit[i + 1]
        behind[i, 0] = np.logaddexp(after[0], np.logaddexp.reduce(after[1:] + opens[i + 1]))
        behind[i, 1:] = np.logaddexp(after[1:], after[0] + closes[i])
    total = float(np.logaddexp.reduce(ahead[-1] + behind[-1]))
    moved = np.exp(np.minimum(ahead + behind - total, 0.0))[:, 1:]
    # the path without a block weighs 1
    with_block = total + np.log1p(-np.exp(-total)) if total > 0 else -np.inf
    return float(with_block), moved
