"""The assignment problem: each row gets a column of its own, so that all together cost least."""

from __future__ import annotations

import math
import sys
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["assign"]

#: Up to so many cells a table is solved here, in no more time than it takes to load the library.
_SMALL = 20_000
#: Faster where somebody has loaded it.
_LIBRARY = "scipy.optimize"


def assign(cost: Floats) -> tuple[Ints, Ints]:
    """Assign rows to columns, each once, as many as there are of the fewer, at the least cost.

    Parameters
    ----------
    cost : ndarray, shape (n, m)
        Finite numbers.

    Returns
    -------
    rows, columns : ndarray of int, shape (min(n, m),)
        By rows. Of assignments that cost the same it is that of `scipy.optimize.linear_sum_assignment`, which
        solves large tables.

    References
    ----------
    Crouse, D. F. (2016). On implementing 2D rectangular assignment algorithms. IEEE Transactions on Aerospace
    and Electronic Systems 52(4), 1679-1696: each row in turn by a shortest augmenting path (from memory).

    Examples
    --------
    >>> import numpy as np
    >>> assign(np.array([[4.0, 1.0, 3.0], [2.0, 0.0, 5.0]]))
    (array([0, 1]), array([2, 0]))
    """
    if cost.size > _SMALL or _LIBRARY in sys.modules:
        from scipy.optimize import linear_sum_assignment

        rows, columns = linear_sum_assignment(cost)
        return np.asarray(rows, dtype=np.int64), np.asarray(columns, dtype=np.int64)
    if cost.shape[0] > cost.shape[1]:
        columns_of = np.array(_columns(cost.T.tolist()), dtype=np.int64)
        order = np.argsort(columns_of)
        return columns_of[order], order.astype(np.int64)
    return np.arange(cost.shape[0]), np.array(_columns(cost.tolist()), dtype=np.int64)


def _columns(cost: Sequence[Sequence[float]]) -> list[int]:
    """Column of each row; there are at least as many columns as rows."""
    wide = len(cost[0]) if cost else 0
    of_row, of_column = [-1] * len(cost), [-1] * wide
    row_price, column_price = [0.0] * len(cost), [0.0] * wide
    for first in range(len(cost)):
        far = [math.inf] * wide
        reached_from = [-1] * wide
        # backwards, so that where all cost the same each row gets the column of its own number
        waiting = list(range(wide - 1, -1, -1))
        rows, columns = [first], []
        row, so_far = first, 0.0
        while True:
            nearest, place = math.inf, -1
            costs, price = cost[row], row_price[row]
            for at, column in enumerate(waiting):
                length = so_far + costs[column] - price - column_price[column]
                if length < far[column]:
                    far[column], reached_from[column] = length, row
                # of columns as near as each other one that is free ends the way
                if far[column] < nearest or (far[column] == nearest and of_column[column] < 0):
                    nearest, place = far[column], at
            so_far = nearest
            column = waiting[place]
            columns.append(column)
            if of_column[column] < 0:
                break
            row = of_column[column]
            rows.append(row)
            waiting[place] = waiting[-1]
            waiting.pop()
        row_price[first] += so_far
        for other in rows[1:]:
            row_price[other] += so_far - far[of_row[other]]
        for other in columns:
            column_price[other] -= so_far - far[other]
        while True:
            row = reached_from[column]
            of_column[column] = row
            of_row[row], column = column, of_row[row]
            if row == first:
                break
    return of_row
