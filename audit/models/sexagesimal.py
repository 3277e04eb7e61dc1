"""Positions in degrees, minutes and seconds, and packed into fifteen characters."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

__all__ = ["Angle", "angle_of", "pack", "unpack"]

_SECONDS = 3600
_SIXTY = 60
#: A quarter and a half of a turn: the largest latitude and longitude.
_LARGEST = (90, 180)
_PACKED = re.compile(r"([+-])(\d{2})(\d{2})(\d{2})([+-])(\d{3})(\d{2})(\d{2})", re.ASCII)


@dataclass(frozen=True, slots=True)
class Angle:
    """An angle in whole seconds of arc; south and west are below zero.

    Attributes
    ----------
    seconds : int
        All of it in seconds of arc.
    """

    seconds: int

    @property
    def degrees(self) -> float:
        """Decimal degrees."""
        return self.seconds / _SECONDS

    @property
    def parts(self) -> tuple[str, int, int, int]:
        """Sign, degrees, minutes and seconds."""
        minutes, seconds = divmod(abs(self.seconds), _SIXTY)
        degrees, minutes = divmod(minutes, _SIXTY)
        return "-" if self.seconds < 0 else "+", degrees, minutes, seconds


def angle_of(degrees: float) -> Angle:
    """Round decimal degrees to the nearest second, a half away from zero.

    Examples
    --------
    >>> angle_of(-0.5).parts, angle_of(29.99999).parts
    (('-', 0, 30, 0), ('+', 30, 0, 0))
    """
    whole = int(abs(degrees) * _SECONDS + 1 / 2)
    return Angle(-whole if degrees < 0 else whole)


def pack(latitude: float, longitude: float) -> str:
    """Write a position as ``+ddmmss+dddmmss``; plus is north and east.

    Parameters
    ----------
    latitude, longitude : float
        Decimal degrees.

    Raises
    ------
    ValueError
        A latitude beyond 90 or a longitude beyond 180 degrees.

    Examples
    --------
    >>> pack(52.0, 5.0), pack(-0.25, -30.5)
    ('+520000+0050000', '-001500-0303000')
    """
    told = ""
    for degrees, largest, width in zip((latitude, longitude), _LARGEST, (2, 3), strict=True):
        if not abs(degrees) <= largest:
            raise ValueError(f"{degrees} is beyond {largest} degrees")
        sign, whole, minutes, seconds = angle_of(degrees).parts
        told += f"{sign}{whole:0{width}d}{minutes:02d}{seconds:02d}"
    return told


# boxes are few, and their records many
@lru_cache(maxsize=1 << 12)
def unpack(text: str) -> tuple[float, float]:
    """Read latitude and longitude, decimal degrees, from ``+ddmmss+dddmmss``.

    Raises
    ------
    ValueError
        The text has another form, minutes or seconds from 60 on, or lies beyond 90 or 180 degrees.

    Examples
    --------
    >>> unpack("+520000+0050000"), unpack("-001500-0303000")
    ((52.0, 5.0), (-0.25, -30.5))
    """
    found = _PACKED.fullmatch(text)
    if found is None:
        raise ValueError(f"'{text}' is not of the form +ddmmss+dddmmss")
    told = []
    for start, largest in zip((1, 5), _LARGEST, strict=True):
        sign, *parts = found.group(start, start + 1, start + 2, start + 3)
        degrees, minutes, seconds = map(int, parts)
        if minutes >= _SIXTY or seconds >= _SIXTY:
            raise ValueError(f"'{text}' has {minutes} minutes and {seconds} seconds; both end at 59")
        whole = degrees * _SECONDS + minutes * _SIXTY + seconds
        if whole > largest * _SECONDS:
            raise ValueError(f"'{text}' lies beyond {largest} degrees")
        told.append(Angle(-whole if sign == "-" else whole).degrees)
    return told[0], told[1]
