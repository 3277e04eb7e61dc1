"""One to one: which row of a visit is which bird, how surely, and what the birds then are."""

from __future__ import annotations

import heapq
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.models.assignment import assign

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["NEW", "Matching", "marginals", "match", "ranked", "settle"]

#: Column of a row that is none of the birds.
NEW = -1

#: Stands for what cannot be: so much less likely than anything that can be that it is never chosen for it.
_NEVER = 1e9


@dataclass(frozen=True, slots=True)
class Matching:
    """Every row matched with a bird of its own, or with none.

    Attributes
    ----------
    columns : tuple of int
        Bird of each row, `NEW` for none of them.
    log_weight : float
        Sum of the log weights; minus infinity where a row has no way that can be.
    """

    columns: tuple[int, ...]
    log_weight: float


def match(log_weight: Floats, log_new: Floats) -> Matching:
    """Find the likeliest matching of rows with birds.

    Parameters
    ----------
    log_weight : ndarray, shape (n, m)
        Log weight of each row as each bird; minus infinity where it cannot be that bird.
    log_new : ndarray, shape (n,)
        Log weight of each row as a bird that is not among the columns: any number of rows may be such.

    Returns
    -------
    Matching

    References
    ----------
    Kuhn, H. W. (1955). The Hungarian method for the assignment problem. Naval Research Logistics Quarterly
    2, 83-97; solved by `audit.models.assignment`, each row with a column of its own for a new bird.

    Examples
    --------
    Two rows want the first bird; the second of them can be the other bird as well.

    >>> import numpy as np
    >>> match(np.array([[-1.0, -9.0], [-1.5, -2.0]]), np.array([-8.0, -8.0]))
    Matching(columns=(0, 1), log_weight=-3.0)
    """
    n, m = log_weight.shape
    if not n:
        return Matching((), 0.0)
    cost = np.full((n, m + n), _NEVER)
    cost[:, :m] = np.where(np.isfinite(log_weight), -log_weight, _NEVER)
    cost[np.arange(n), m + np.arange(n)] = np.where(np.isfinite(log_new), -log_new, _NEVER)
    _, chosen = assign(cost)
    columns = tuple(int(column) if column < m else NEW for column in chosen)
    return Matching(columns, _weight(columns, log_weight, log_new))


def ranked(log_weight: Floats, log_new: Floats, most: int) -> list[Matching]:
    """List the likeliest matchings, best first.

    Parameters
    ----------
    log_weight, log_new
        As for `match`.
    most : int
        How many at most.

    Returns
    -------
    list of Matching
        Each once; none that cannot be.

    References
    ----------
    Murty, K. G. (1968). An algorithm for ranking all the assignments in order of increasing cost. Operations
    Research 16, 682-687: what is left beside the best is parted by the first row that differs.
    """
    return list(_in_order(log_weight, log_new, most))


def _in_order(log_weight: Floats, log_new: Floats, most: int) -> Iterator[Matching]:
    n, m = log_weight.shape
    # column m stands for a new bird
    whole = np.column_stack([log_weight, log_new])
    first = match(log_weight, log_new)
    waiting = [(-first.log_weight, 0, first, whole, 0)]
    told, number = 0, 0
    while waiting and told < most:
        _, _, found, weights, fixed = heapq.heappop(waiting)
        if not np.isfinite(found.log_weight):
            return
        yield found
        told += 1
        for row in range(fixed, n):
            column = found.columns[row] if found.columns[row] != NEW else m
            other = weights.copy()
            other[row, column] = -np.inf
            best = match(other[:, :m], other[:, m])
            if np.isfinite(best.log_weight):
                number += 1
                heapq.heappush(waiting, (-best.log_weight, number, best, other, row))
            # from here on this row stays with its bird
            kept = weights[row, column]
            weights = weights.copy()
            weights[row, :] = -np.inf
            if column < m:
                weights[:, column] = -np.inf
            weights[row, column] = kept


def marginals(log_weight: Floats, log_new: Floats, *, exact_birds: int, most: int) -> Floats:
    """Probability that each row is each bird, over all matchings.

    Parameters
    ----------
    log_weight, log_new
        As for `match`.
    exact_birds : int
        Up to so many birds every matching counts, by sums over sets of birds; time and room double with
        each bird.
    most : int
        With more birds, so many of the likeliest matchings count.

    Returns
    -------
    ndarray, shape (n, m + 1)
        Rows make 1; the last column is that of a new bird. A row that can be nothing has NaN.
    """
    n, m = log_weight.shape
    if not n:
        return np.zeros((0, m + 1))
    if m <= exact_birds:
        return _over_sets(log_weight, log_new)
    found = ranked(log_weight, log_new, most)
    share = np.full((n, m + 1), 0.0 if found else np.nan)
    if found:
        weights = np.exp(np.array([one.log_weight for one in found]) - found[0].log_weight)
        for one, weight in zip(found, weights / weights.sum(), strict=True):
            columns = np.array([m if column == NEW else column for column in one.columns])
            share[np.arange(n), columns] += weight
    return share


def _over_sets(log_weight: Floats, log_new: Floats) -> Floats:
    """Sum over all matchings, row by row over the sets of birds already taken."""
    n, m = log_weight.shape
    sets = np.arange(1 << m)
    free = [sets[(sets >> k) & 1 == 0] for k in range(m)]
    before = np.full((n + 1, 1 << m), -np.inf)
    before[0, 0] = 0.0
    for i in range(n):
        here = before[i] + log_new[i]
        for k in range(m):
            taken = free[k] | (1 << k)
            here[taken] = np.logaddexp(here[taken], before[i, free[k]] + log_weight[i, k])
        before[i + 1] = here
    after = np.zeros(1 << m)
    share = np.empty((n, m + 1))
    for i in reversed(range(n)):
        for k in range(m):
            share[i, k] = (
                np.logaddexp.reduce(before[i, free[k]] + after[free[k] | (1 << k)]) + log_weight[i, k]
            )
        share[i, m] = np.logaddexp.reduce(before[i] + after) + log_new[i]
        here = after + log_new[i]
        for k in range(m):
            here[free[k]] = np.logaddexp(here[free[k]], after[free[k] | (1 << k)] + log_weight[i, k])
        after = here
    total = np.logaddexp.reduce(share, axis=1, keepdims=True)
    possible = np.isfinite(total)
    result: Floats = np.where(possible, np.exp(share - np.where(possible, total, 0.0)), np.nan)
    return result


def settle(
    visits: Sequence[Sequence[int]],
    start: Sequence[int],
    weigh: Callable[[int, Sequence[int]], float],
    new: Callable[[int], float],
    rounds: int,
) -> list[int]:
    """Find the birds behind the rows of several visits: match, form the birds anew, match again.

    Parameters
    ----------
    visits : sequence of sequence of int
        Rows of each visit.
    start : sequence of int
        Bird of each row to begin with, any numbers.
    weigh : callable
        Log weight of a row as a bird that is known from the given rows of other visits.
    new : callable
        Log weight of a row as a bird that was met at no other visit.
    rounds : int
        How often all visits are gone through at most.

    Returns
    -------
    list of int
        Bird of each row, numbered from 0 in order of the rows.

    References
    ----------
    Celeux, G. & Govaert, G. (1992). A classification EM algorithm for clustering and two stochastic versions.
    Computational Statistics & Data Analysis 14, 315-332: each row goes wholly to the bird that it fits best,
    then what is known of the birds is worked out anew.
    """
    birds = list(start)
    fresh = max(birds, default=0) + 1
    for _ in range(rounds):
        before = list(birds)
        for rows in visits:
            others: dict[int, list[int]] = {}
            for place, bird in enumerate(birds):
                if place not in rows:
                    others.setdefault(bird, []).append(place)
            known = sorted(others)
            weights = np.array([[weigh(row, others[bird]) for bird in known] for row in rows])
            found = match(weights.reshape(len(rows), len(known)), np.array([new(row) for row in rows]))
            for row, column in zip(rows, found.columns, strict=True):
                if column == NEW:
                    # a bird alone keeps its number, or no round would ever be like the one before
                    if birds[row] in others or birds.count(birds[row]) > 1:
                        birds[row], fresh = fresh, fresh + 1
                else:
                    birds[row] = known[column]
        if birds == before:
            break
    numbers = {bird: number for number, bird in enumerate(dict.fromkeys(birds))}
    return [numbers[bird] for bird in birds]


def _weight(columns: Sequence[int], log_weight: Floats, log_new: Floats) -> float:
    return float(
        sum(log_new[row] if column == NEW else log_weight[row, column] for row, column in enumerate(columns))
    )
