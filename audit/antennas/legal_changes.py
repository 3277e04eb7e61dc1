"""When clocks are legally put on or back by an hour: as the data base of time zones has it."""

from __future__ import annotations

import datetime as dt
from functools import cache
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray

    Ints = NDArray[np.int64]

__all__ = ["legal_changes"]

_HOUR = dt.timedelta(hours=1)
_MILLI = 1000


def legal_changes(zones: Iterable[str], years: Iterable[int]) -> tuple[Ints, Ints]:
    """List the moments at which clocks of some zones are changed by an hour.

    Parameters
    ----------
    zones : iterable of str
        Names of the data base of time zones; names that this machine does not know are left out.
    years : iterable of int

    Returns
    -------
    forward, back : numpy.ndarray of int64
        Milliseconds since 1970 that a clock shows when it is put on, or back; sorted, each once.

    Examples
    --------
    >>> forward, back = legal_changes(["Europe/Berlin"], [2026])
    >>> [str(one.astype("datetime64[ms]"))[:16] for one in (*forward, *back)]
    ['2026-03-29T02:00', '2026-10-25T03:00']
    """
    forward: set[int] = set()
    back: set[int] = set()
    for year in sorted(set(years)):
        for zone in zones:
            for shown, gained in _of_zone(zone, year):
                (forward if gained > 0 else back).add(shown)
    return np.array(sorted(forward), dtype=np.int64), np.array(sorted(back), dtype=np.int64)


@cache
def _of_zone(name: str, year: int) -> tuple[tuple[int, int], ...]:
    """Give what the clock shows at each change of a year, and the hours gained."""
    try:
        zone = ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError):
        return ()
    found = []
    day = dt.datetime(year, 1, 1, tzinfo=dt.UTC)
    before = _offset(day, zone)
    while day.year == year:
        after = _offset(day + dt.timedelta(days=1), zone)
        if abs(after - before) == _HOUR:
            at = day
            while _offset(at + _HOUR, zone) == before:
                at += _HOUR
            shown = (at + _HOUR + before).replace(tzinfo=dt.UTC)
            found.append((round(shown.timestamp() * _MILLI), 1 if after > before else -1))
        day, before = day + dt.timedelta(days=1), after
    return tuple(found)


def _offset(moment: dt.datetime, zone: ZoneInfo) -> dt.timedelta:
    return moment.astimezone(zone).utcoffset() or dt.timedelta()
