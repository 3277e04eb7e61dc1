"""Rows of two copies of one list, paired one to one: in order, moved, or alone.

Each column is a sequence of whole numbers, one for each distinct value in either copy, 0 where nothing
stands.
Two rows score by each column: agreeing on a rare value speaks for them, a differing cell against them.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter
from dataclasses import dataclass
from itertools import combinations, pairwise
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["Costs", "Reach", "RowPairs", "pair_rows"]


@dataclass(frozen=True, slots=True)
class Costs:
    """What speaks for and against two rows being one.

    Attributes
    ----------
    slips : sequence of float
        For each column, the probability that the cells of one row differ between the copies.
    emptied : float
        Probability that a cell is empty in one copy only.
    missing : float
        Probability that a row stands in one copy only.
    in_order, moved : float
        Least log likelihood ratio, one row against two unrelated ones, of a pair in the order of both copies,
        and of one that stands elsewhere.
    most : float
        The most that one agreeing column may add.
    """

    slips: Sequence[float]
    emptied: float
    missing: float
    in_order: float
    moved: float
    most: float


@dataclass(frozen=True, slots=True)
class Reach:
    """How far rows are looked for.

    Attributes
    ----------
    telling : int
        Columns that tell rows apart best, of which pairs are looked at together.
    near : int
        Rows before and after within which a value is taken to repeat by the order of the sheet, and within
        which pairs that cross are rows or cells that changed places.
    turned : float
        Share of pairs that cross their neighbours above which a copy is in another order.
    band : int
        Rows of a stretch without a sure pair that are laid beside each other off the diagonal.
    left_over : int
        So many pairs of rows that are left over are scored at once; where there are more, rows stay alone.
    """

    telling: int
    near: int
    turned: float
    band: int
    left_over: int


@dataclass(frozen=True, slots=True)
class RowPairs:
    """Rows by number, from 0.

    Attributes
    ----------
    pairs : tuple of (int, int)
        Row of the first and of the second copy, in the order of the first.
    moved : frozenset of int
        Rows of the first copy whose partner stands out of order.
    alone_first, alone_second : tuple of int
        Rows without a partner.
    """

    pairs: tuple[tuple[int, int], ...]
    moved: frozenset[int]
    alone_first: tuple[int, ...]
    alone_second: tuple[int, ...]


def pair_rows(first: Sequence[Ints], second: Sequence[Ints], costs: Costs, reach: Reach) -> RowPairs:
    """Pair the rows of two copies.

    Parameters
    ----------
    first, second : sequence of ndarray, shapes (n,) and (m,)
        The columns of each copy, in the same order of columns; equal numbers stand for equal values.
    costs : Costs
    reach : Reach

    Returns
    -------
    RowPairs
        One to one. Rows that agree on what no other row has are sure pairs; the longest run of them in the
        order of both copies divides the copies into stretches, in each of which the best alignment is found;
        what is left over is assigned by content alone.

    References
    ----------
    Fellegi, I. P. & Sunter, A. B. (1969). A theory for record linkage. Journal of the American Statistical
    Association 64, 1183-1210: the score of a pair. Needleman & Wunsch (1970), Journal of Molecular Biology
    48, 443-453: the best alignment. Kuhn (1955), Naval Research Logistics Quarterly 2, 83-97: the assignment.
    Formulas as remembered.
    """
    from scipy.optimize import linear_sum_assignment

    score = _Score(first, second, costs, reach.near)
    n, m = (len(one[0]) if one else 0 for one in (first, second))
    pairs = sorted(_sure_pairs(first, second, reach.telling).items())
    sure = _without_crossed(np.array(pairs, dtype=np.int64).reshape(-1, 2), reach)
    scores = score.pairs(sure[:, 0], sure[:, 1])
    chain = _longest_run([(int(i), int(j)) for i, j in sure[scores >= costs.in_order]])
    found = dict(chain)
    found |= {int(i): int(j) for i, j in sure[scores >= costs.moved] if int(i) not in found}
    taken = set(found.values())
    edges = [(-1, -1), *chain, (n, m)]
    for (i, j), (i_end, j_end) in pairwise(edges):
        rows = np.array([k for k in range(i + 1, i_end) if k not in found], dtype=np.int64)
        others = np.array([k for k in range(j + 1, j_end) if k not in taken], dtype=np.int64)
        if len(rows) and len(others):
            found |= _aligned(score, rows, others, costs, reach.band)
    _fill_in(score, found, n, m, costs)
    in_order = dict(_longest_run(sorted(found.items())))
    rows = np.setdiff1d(np.arange(n), list(found))
    others = np.setdiff1d(np.arange(m), list(found.values()))
    if len(rows) and len(others) and len(rows) * len(others) <= reach.left_over:
        scores = score.pairs(rows[:, None], others[None, :])
        for k, other in zip(*linear_sum_assignment(-scores), strict=True):
            if scores[k, other] >= costs.moved:
                found[int(rows[k])] = int(others[other])
    return RowPairs(
        tuple(sorted(found.items())),
        frozenset(i for i in found if i not in in_order),
        tuple(i for i in range(n) if i not in found),
        tuple(np.setdiff1d(np.arange(m), list(found.values())).tolist()),
    )


def _fill_in(score: _Score, found: dict[int, int], n: int, m: int, costs: Costs) -> None:
    """Pair rows whose neighbours are paired: within a page that was moved, or sorted the other way round."""
    taken = set(found.values())
    for step, other_step in ((1, 1), (-1, -1), (1, -1), (-1, 1)):
        for i in range(n)[::step]:
            j = found.get(i - step, -2 * m) + other_step
            if i in found or not 0 <= j < m or j in taken:
                continue
            if float(score.pairs(np.array([i]), np.array([j]))[0]) >= costs.in_order:
                found[i] = j
                taken.add(j)


class _Score:
    """Log likelihood ratio of two rows being one, against two rows that stand near each other by chance."""

    def __init__(self, first: Sequence[Ints], second: Sequence[Ints], costs: Costs, near: int) -> None:
        self._first, self._second = first, second
        self._agreeing: list[Floats] = []
        self._differing: list[float] = []
        self._emptied: list[float] = []
        for one, other, slip in zip(first, second, costs.slips, strict=True):
            size = int(max(one.max(initial=0), other.max(initial=0))) + 1
            counts = np.bincount(one, minlength=size) + np.bincount(other, minlength=size)
            share = counts / max(counts.sum(), 1)
            chance = max(_repeats(one, near), _repeats(other, near))
            # what nobody has elsewhere in the other copy still agrees by chance once in so many rows
            agreeing = np.log1p(-slip) - np.log(np.clip(np.maximum(share, chance), np.exp(-costs.most), 1))
            agreeing[0] = 0.0
            self._agreeing.append(agreeing)
            others = max(1 - chance, slip)
            self._differing.append(float(np.log(slip / others)))
            self._emptied.append(float(np.log(max(costs.emptied, slip) / others)))

    def pairs(self, rows: Ints, others: Ints) -> Floats:
        """Score rows with others, shapes as of numpy's broadcasting."""
        total = np.zeros(np.broadcast_shapes(rows.shape, others.shape))
        for first, second, agreeing, differing, emptied in zip(
            self._first, self._second, self._agreeing, self._differing, self._emptied, strict=True
        ):
            one, other = first[rows], second[others]
            apart = np.where((one == 0) | (other == 0), emptied, differing)
            total += np.where(one == other, agreeing[one], apart)
        return total


def _repeats(column: Ints, near: int) -> float:
    """Share of rows near each other that agree on a value."""
    met = agree = 0
    for apart in range(1, near + 1):
        one, other = column[:-apart], column[apart:]
        both = (one != 0) & (other != 0)
        met += int(both.sum())
        agree += int((both & (one == other)).sum())
    return (agree + 1) / (met + 2)


def _sure_pairs(first: Sequence[Ints], second: Sequence[Ints], many: int) -> dict[int, int]:
    """Pair rows that agree on what no other row has, by most such columns or pairs of columns."""
    telling = sorted(range(len(first)), key=lambda k: -len(np.unique(first[k])))[:many]
    votes: Counter[tuple[int, int]] = Counter()
    for chosen in (*((k,) for k in telling), *combinations(telling, 2)):
        one, other = _joined([first[k] for k in chosen], [second[k] for k in chosen])
        votes.update(_shared_once(one, other))
    best_of: dict[int, tuple[int, int]] = {}
    best_for: dict[int, tuple[int, int]] = {}
    tied: set[tuple[str, int]] = set()
    for (i, j), number in votes.items():
        for side, best, key, partner in (("first", best_of, i, j), ("second", best_for, j, i)):
            known = best.get(key, (0, -1))
            if number > known[0]:
                best[key] = (number, partner)
                tied.discard((side, key))
            elif number == known[0]:
                tied.add((side, key))
    return {
        i: j
        for i, (_, j) in best_of.items()
        if best_for[j][1] == i and ("first", i) not in tied and ("second", j) not in tied
    }


def _without_crossed(sure: Ints, reach: Reach) -> Ints:
    """Leave out pairs that cross another one close by.

    Two rows may have changed places, or two of their cells may: the alignment of the stretch decides.
    """
    crossed = np.zeros(len(sure), dtype=bool)
    for apart in range(1, min(reach.near, len(sure) - 1) + 1):
        steps = sure[apart:] - sure[:-apart]
        crossing = (steps[:, 0] <= reach.near) & (steps[:, 1] < 0) & (steps[:, 1] >= -reach.near)
        crossed[apart:] |= crossing
        crossed[: len(sure) - apart] |= crossing
    # a copy sorted the other way round crosses everywhere
    return sure if crossed.sum() > reach.turned * len(sure) else sure[~crossed]


def _joined(first: Sequence[Ints], second: Sequence[Ints]) -> tuple[Ints, Ints]:
    """Give the values of some columns one number together; minus one where any of them is empty."""
    n = len(first[0])
    codes = np.zeros(n + len(second[0]), dtype=np.int64)
    empty = np.zeros(len(codes), dtype=bool)
    for one, other in zip(first, second, strict=True):
        column = np.concatenate([one, other])
        codes = codes * (int(column.max(initial=0)) + 1) + column
        empty |= column == 0
    codes[empty] = -1
    return codes[:n], codes[n:]


def _shared_once(one: Ints, other: Ints) -> list[tuple[int, int]]:
    values, at, counts = np.unique(one, return_index=True, return_counts=True)
    others, other_at, other_counts = np.unique(other, return_index=True, return_counts=True)
    _, here, there = np.intersect1d(
        values[(counts == 1) & (values >= 0)],
        others[(other_counts == 1) & (others >= 0)],
        assume_unique=True,
        return_indices=True,
    )
    places = at[(counts == 1) & (values >= 0)][here]
    partners = other_at[(other_counts == 1) & (others >= 0)][there]
    return list(zip(places.tolist(), partners.tolist(), strict=True))


def _longest_run(pairs: Sequence[tuple[int, int]]) -> list[tuple[int, int]]:
    """Keep the most pairs, sorted by the first, that are in the order of both (Schensted 1961)."""
    ends: list[int] = []
    at: list[int] = []
    before: list[int] = []
    for k, (_, j) in enumerate(pairs):
        place = bisect_left(ends, j)
        before.append(at[place - 1] if place else -1)
        if place == len(ends):
            ends.append(j)
            at.append(k)
        else:
            ends[place], at[place] = j, k
    run = []
    k = at[-1] if at else -1
    while k >= 0:
        run.append(pairs[k])
        k = before[k]
    return run[::-1]


def _aligned(score: _Score, rows: Ints, others: Ints, costs: Costs, band: int) -> dict[int, int]:
    """Align a stretch: the best pairs in order, with rows left out on either side at a cost.

    Cells far off the diagonal are not looked at, so that a stretch costs its length, not the square of it.
    """
    n, m = len(rows), len(others)
    alone = np.log(costs.missing)
    half = band + abs(n - m)
    width = min(m, 2 * half + 1)
    starts = np.clip(np.arange(n) * m // n - half, 0, m - width)
    columns = starts[:, None] + np.arange(width)[None, :]
    fits = score.pairs(rows[:, None], others[columns])
    fits[fits < costs.in_order] = -np.inf
    skipped = np.arange(m + 1) * alone
    best = skipped.copy()
    came = np.zeros((n, width), dtype=np.int8)
    for i in range(n):
        start, end = int(starts[i]), int(starts[i]) + width
        paired = best[start:end] + fits[i]
        above = best[start + 1 : end + 1] + alone
        here = np.maximum(paired, above)
        row = best + alone
        # a row of the other copy left out: the best cell before, less the cost of each step
        row[start + 1 : end + 1] = here
        row = np.maximum.accumulate(row - skipped) + skipped
        reached = row[start + 1 : end + 1]
        came[i] = np.where(reached > here, 2, np.where(paired >= above, 1, 0))
        best = row
    found: dict[int, int] = {}
    i, j = n - 1, m
    while i >= 0 and j > 0:
        at = j - 1 - int(starts[i])
        # outside the band nothing is paired
        step = 2 if at >= width else 0 if at < 0 else int(came[i, at])
        if step == 1:
            found[int(rows[i])] = int(others[j - 1])
        i -= step != 2  # noqa: PLR2004 - see above
        j -= step != 0
    return found
