"""Connected components: what hangs together by links."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Ints = NDArray[np.int64]

__all__ = ["components"]


def components(nodes: int, one: ArrayLike, other: ArrayLike) -> Ints:
    """Find which nodes of a graph hang together.

    Parameters
    ----------
    nodes : int
        How many nodes there are, numbered from 0.
    one, other : array_like of int, shape (n,)
        Both ends of each link.

    Returns
    -------
    ndarray of int, shape (nodes,)
        Component of each node, numbered from 0 by its first node.

    References
    ----------
    Tarjan, R. E. (1975). Efficiency of a good but not linear set union algorithm. Journal of the ACM 22(2),
    215-225. The same as `scipy.sparse.csgraph.connected_components`, which takes longer to load than most
    seasons to solve.

    Examples
    --------
    >>> components(5, [0, 3], [2, 4]).tolist()
    [0, 1, 0, 2, 2]
    """
    above = list(range(nodes))

    def top(node: int) -> int:
        while above[node] != node:
            above[node] = above[above[node]]
            node = above[node]
        return node

    for left, right in zip(np.asarray(one).tolist(), np.asarray(other).tolist(), strict=True):
        low, high = sorted((top(left), top(right)))
        # the first node of a component is its top
        above[high] = low
    _, number = np.unique([top(node) for node in range(nodes)], return_inverse=True)
    return np.asarray(number, dtype=np.int64)
