"""The mass to expect of a bird of its size, by the birds of the season and its own brood."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["usual_by_size"]


def usual_by_size(
    mass: Floats,
    size: Floats,
    kind: Ints,
    visit: Ints,
    *,
    start: tuple[Floats, Floats],
    window: int,
    few: int,
    rough_cv: float,
    visit_share: float,
    least_cv: float,
) -> tuple[Floats, Floats]:
    """Find the mass to expect of each bird from birds of like size and from its own brood.

    The season is its own yardstick: a running median of mass over size, moved by the mean residual of the
    other birds of the same box-visit, shrunk by the share of the variance that lies between visits.

    Parameters
    ----------
    mass, size : ndarray, shape (n,)
        Net mass, g, and wing length, mm; NaN where missing.
    kind : ndarray of int, shape (n,)
        Group within which birds are compared, such as species and age code.
    visit : ndarray of int, shape (n,)
        Number of the box-visit.
    start : tuple of two ndarray, shape (n,)
        Expected mass and standard deviation to fall back on, g; NaN where nothing is known.
    window : int
        How many birds of like size are compared.
    few : int
        As many weighed birds of a kind give at least a rough idea.
    rough_cv : float
        Standard deviation of that rough idea, as a share of the expected mass.
    visit_share : float
        Share of the variance of mass, given size, that lies between box-visits.
    least_cv : float
        Least standard deviation, as a share of the expected mass.

    Returns
    -------
    expected, sd : ndarray, shape (n,)
        g; as in `start` where fewer than `window` birds can be compared.
    """
    expected, sd = start[0].copy(), start[1].copy()
    usable = np.isfinite(mass) & (mass > 0)
    order = np.argsort(kind, kind="stable")
    for members in np.split(order, np.flatnonzero(np.diff(kind[order])) + 1):
        weighed = members[usable[members]]
        if len(weighed) < few:
            continue
        unknown = members[~np.isfinite(expected[members])]
        typical = np.median(mass[weighed])
        expected[unknown] = typical
        sd[unknown] = typical * rough_cv
        sized = members[np.isfinite(size[members])]
        weighed = sized[usable[sized]]
        if len(weighed) < window:
            continue
        weighed = weighed[np.argsort(size[weighed], kind="stable")]
        centre, middle = _running_median(size[weighed], mass[weighed], window)
        usual = np.interp(size[sized], centre, middle)
        around = _relative_sd(mass[weighed], np.interp(size[weighed], centre, middle))
        # beyond the middle of its outermost birds the season says nothing about size
        inside = (size[sized] >= centre[0]) & (size[sized] <= centre[-1]) | ~np.isfinite(start[0][sized])
        expected[sized] = np.where(inside, usual, expected[sized])
        sd[sized] = np.where(inside, usual * around, sd[sized])
    sd = np.maximum(sd, least_cv * expected)
    shift, mates = _of_the_others(np.where(usable, mass - expected, np.nan), visit, sd * 2)
    trust = mates * visit_share / (mates * visit_share + 1 - visit_share)
    return expected + trust * shift, sd * np.sqrt(1 - visit_share * trust)


def _running_median(size: Floats, mass: Floats, window: int) -> tuple[Floats, Floats]:
    view = np.lib.stride_tricks.sliding_window_view
    return np.median(view(size, window), axis=1), np.median(view(mass, window), axis=1)


def _of_the_others(values: Floats, group: Ints, limit: Floats) -> tuple[Floats, Floats]:
    """Mean of the other members of each one's group, far values drawn in to `limit`; and their number."""
    known = np.isfinite(values) & np.isfinite(limit)
    drawn_in = np.where(known, np.clip(values, -limit, limit), 0.0)
    size = int(group.max(initial=0)) + 1
    total = np.bincount(group, weights=drawn_in, minlength=size)
    count = np.bincount(group, weights=known.astype(np.float64), minlength=size)
    others = (count[group] - known).astype(np.float64)
    mean = (total[group] - drawn_in) / np.maximum(others, 1)
    return np.where(others > 0, mean, 0.0), others


def _relative_sd(values: Floats, level: Floats) -> float:
    """Coefficient of variation about a level, from the median absolute deviation (1.4826 for a normal)."""
    mad_to_sd = 1.4826
    residual = values / level - 1
    return float(mad_to_sd * np.median(np.abs(residual - np.median(residual))))
