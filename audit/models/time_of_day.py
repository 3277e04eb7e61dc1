"""Times of day as minutes since midnight."""

from __future__ import annotations

from functools import lru_cache

__all__ = ["DAY", "clock", "minutes_of"]

_HOUR = 60
#: Minutes in a day.
DAY = 24 * _HOUR


# asked for each row and read, of a few hundred times that differ
@lru_cache(maxsize=4096)
def minutes_of(text: object) -> float:
    """Minutes since midnight of a time such as ``09:30``; NaN of anything else.

    Examples
    --------
    >>> minutes_of("09:30"), minutes_of(None)
    (570.0, nan)
    """
    if not isinstance(text, str):
        return float("nan")
    hours, _, minutes = text.partition(":")
    if not (hours.isdigit() and minutes.isdigit()):
        return float("nan")
    return float(int(hours) * _HOUR + int(minutes))


def clock(minutes: float) -> str:
    """Time of day such as ``09:30``.

    Examples
    --------
    >>> clock(570)
    '09:30'
    """
    return f"{int(minutes) // _HOUR:02}:{int(minutes) % _HOUR:02}"
