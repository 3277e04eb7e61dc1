"""How far observers can stand in for one another, their bias counted as error or set right."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import fdtri

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["Alike", "alike"]

#: Share of the mean square below which an error is nothing but rounding of the arithmetic.
_ROUNDING = 1e-20


@dataclass(frozen=True, slots=True)
class Alike:
    """How far observers can stand in for one another, where each measured each bird once.

    Attributes
    ----------
    agreement, agreement_low, agreement_high : float
        Intraclass correlation of single measures by observers drawn from many, their bias counted as error:
        ICC(2,1).
    consistency, consistency_low, consistency_high : float
        The same by these observers alone, their bias set right: ICC(3,1).
    birds, observers : int
    level : float
        Of the intervals.
    """

    agreement: float
    agreement_low: float
    agreement_high: float
    consistency: float
    consistency_low: float
    consistency_high: float
    birds: int
    observers: int
    level: float


def alike(table: Sequence[Sequence[float]] | Floats, level: float = 0.95) -> Alike | None:
    """Say how far observers can stand in for one another.

    Parameters
    ----------
    table : array_like, shape (birds, observers)
        One measure (or mean) of each bird by each observer; birds that lack one are left out.
    level : float
        Of the intervals.

    Returns
    -------
    Alike or None
        None for fewer than two whole birds or observers, where nothing is left as error, or where birds do
        not differ at all.

    References
    ----------
    Shrout, P. E. & Fleiss, J. L. (1979). Intraclass correlations: uses in assessing rater reliability.
    Psychological Bulletin 86, 420-428: both, and their intervals (that of ICC(2,1) is approximate).

    Examples
    --------
    >>> told = alike([[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]])
    >>> round(told.agreement, 2), round(told.consistency, 2)
    (0.29, 0.71)
    """
    grid = np.asarray(table, dtype=np.float64)
    grid = grid[np.isfinite(grid).all(axis=1)] if grid.size else grid.reshape(0, 0)
    n, k = grid.shape
    if min(n, k) <= 1:
        return None
    centre = grid.mean()
    birds, people = grid.mean(axis=1) - centre, grid.mean(axis=0) - centre
    rest = grid - centre - birds[:, None] - people[None, :]
    rows = k * float(birds @ birds) / (n - 1)
    columns = n * float(people @ people) / (k - 1)
    dof = (n - 1) * (k - 1)
    error = float((rest**2).sum()) / dof
    if min(error, rows) <= _ROUNDING * float((grid**2).mean()):
        return None
    tail = (1 - level) / 2
    ratio = rows / error
    low, high = (ratio / float(fdtri(n - 1, dof, 1 - tail)), ratio * float(fdtri(dof, n - 1, 1 - tail)))
    return Alike(
        _agreement(rows, columns, error, n, k),
        *_agreement_ends(rows, columns, error, (n, k), tail),
        (rows - error) / (rows + (k - 1) * error),
        (low - 1) / (low + k - 1),
        (high - 1) / (high + k - 1),
        n,
        k,
        level,
    )


def _agreement(rows: float, columns: float, error: float, n: int, k: int) -> float:
    return (rows - error) / (rows + (k - 1) * error + k * (columns - error) / n)


def _agreement_ends(
    rows: float, columns: float, error: float, shape: tuple[int, int], tail: float
) -> tuple[float, float]:
    """Find the ends of the approximate interval of ICC(2,1)."""
    n, k = shape
    value = _agreement(rows, columns, error, n, k)
    ratio = columns / error
    upper = k * value * ratio + n * (1 + (k - 1) * value) - k * value
    dof = (
        (k - 1)
        * (n - 1)
        * upper**2
        / ((n - 1) * (k * value * ratio) ** 2 + (n * (1 + (k - 1) * value) - k * value) ** 2)
    )
    above, below = float(fdtri(n - 1, dof, 1 - tail)), float(fdtri(dof, n - 1, 1 - tail))
    others = k * columns + (k * n - k - n) * error
    return (
        n * (rows - above * error) / (above * others + n * rows),
        n * (below * rows - error) / (others + n * below * rows),
    )
