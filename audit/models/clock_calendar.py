"""Moments that a clock shows: by two comparisons with a right one, and with day and month exchanged."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["DAY_S", "exchange_day_and_month", "true_moment"]

DAY_S = 86_400.0


def true_moment(shown: Floats | float, shown_at: tuple[float, float], true_at: tuple[float, float]) -> Floats:
    """Return true moments from two points at which a clock was compared with a right one.

    Parameters
    ----------
    shown : float or numpy.ndarray
        What the clock showed.
    shown_at, true_at : (float, float)
        What it showed at both comparisons, and what was true.

    Examples
    --------
    A clock set on day 0 shows 12:01:18 at noon of day 30; on its day 12.5 it is 32.5 s ahead.

    >>> shown = 12.5 * DAY_S
    >>> float(round(shown - true_moment(shown, (0, 30 * DAY_S + 78), (0, 30 * DAY_S)), 1))
    32.5

    References
    ----------
    The straight line through two points.
    """
    (t0, t1), (r0, r1) = shown_at, true_at
    found: Floats = np.asarray(r0 + (np.asarray(shown, dtype=np.float64) - t0) * (r1 - r0) / (t1 - t0))
    return found


def exchange_day_and_month(stored: Floats) -> Floats:
    """Exchange day and month of moments (seconds since 1970) where the day may be a month.

    Examples
    --------
    >>> june = np.datetime64("2026-06-03T10:00", "s").astype(np.int64).astype(float)
    >>> exchange_day_and_month(np.array([june])).astype("datetime64[s]")
    array(['2026-03-06T10:00:00'], dtype='datetime64[s]')
    """
    day = np.floor(stored / DAY_S)
    dates = day.astype(np.int64).astype("datetime64[D]")
    months, years = dates.astype("datetime64[M]"), dates.astype("datetime64[Y]")
    month = (months - years.astype("datetime64[M]")).astype(np.int64)
    of_month = (dates - months.astype("datetime64[D]")).astype(np.int64)
    turned = (years.astype("datetime64[M]") + of_month).astype("datetime64[D]") + month
    may = of_month < 12  # noqa: PLR2004 - months of a year
    found: Floats = np.where(may, turned.astype(np.int64) * DAY_S + (stored - day * DAY_S), stored)
    return found
