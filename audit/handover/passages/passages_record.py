"""What became of a log of box antennas: passages, how well each antenna heard, and what could not be read."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

    from audit.handover.passages.clock_record import ClockTold
    from audit.models.reads import Crossings, Passages, Spells

__all__ = [
    "ANTENNAS",
    "DIRECTIONS",
    "HOW",
    "STATES",
    "FileTold",
    "Heard",
    "NightsHeard",
    "PassagesRecord",
    "moments",
]

ANTENNAS = ("outer", "inner")
DIRECTIONS = ("in", "out", "unknown")
HOW = ("both antennas", "inferred")
STATES = ("awake", "asleep", "dead", "unknown")


@dataclass(frozen=True, slots=True)
class FileTold:
    """One file that was read.

    Attributes
    ----------
    path : Path
    reads, unread : int
        Lines that are reads, and lines that are not.
    first_unread : tuple of (int, str, str)
        Line from 1, what is missing, and the line itself, of the first of the latter.
    """

    path: Path
    reads: int
    unread: int
    first_unread: tuple[tuple[int, str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Heard:
    """Which tag was heard at which box.

    Attributes
    ----------
    box, tag : numpy.ndarray of int, shape (n,)
        Codes, sorted.
    reads : numpy.ndarray of int, shape (n,)
    first, last : numpy.ndarray of int64, shape (n,)
        Milliseconds since 1970.
    """

    box: NDArray[np.int64]
    tag: NDArray[np.int64]
    reads: NDArray[np.int64]
    first: NDArray[np.int64]
    last: NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class NightsHeard:
    """Which tag was heard at which box in which night.

    Attributes
    ----------
    box, tag : numpy.ndarray of int, shape (n,)
        Codes; sorted by box, tag and night.
    night : numpy.ndarray of int, shape (n,)
        Days since 1970 of the evening; a night goes from noon to noon.
    reads : numpy.ndarray of int, shape (n,)
    first, last : numpy.ndarray of int64, shape (n,)
        Milliseconds since 1970.
    """

    box: NDArray[np.int64]
    tag: NDArray[np.int64]
    night: NDArray[np.int64]
    reads: NDArray[np.int64]
    first: NDArray[np.int64]
    last: NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class PassagesRecord:
    """Passages of a log.

    Attributes
    ----------
    name : str
        Of the log.
    boxes, tags : tuple of str
        Labels by code.
    passages : Passages
        Sorted by box, time, tag and direction.
    spells : Spells
        Sorted by box, antenna and time.
    heard : Heard
    files : tuple of FileTold
    repeated : int
        Reads that stand twice in the files.
    zoned : bool
        Moments are those of UTC; else they are those of the loggers.
    exact : bool
        Moments have fractions of a second.
    markers : tuple of int
        Codes of tags that are no birds.
    told : tuple of str
        What a person must know.
    noise : tuple of int
        Codes of tags that nobody bears.
    nights : NightsHeard or None
        None where they were not asked for.
    clocks : tuple of ClockTold
        How the clocks of loggers went, where anything tells.
    crossings : Crossings or None
        What each antenna heard of the crossings of each bird, sorted by box and tag.
    confidence : float
        Of the intervals of what follows from these.
    """

    name: str
    boxes: tuple[str, ...]
    tags: tuple[str, ...]
    passages: Passages
    spells: Spells
    heard: Heard
    files: tuple[FileTold, ...]
    repeated: int = 0
    zoned: bool = False
    exact: bool = False
    markers: tuple[int, ...] = ()
    told: tuple[str, ...] = ()
    noise: tuple[int, ...] = ()
    nights: NightsHeard | None = None
    clocks: tuple[ClockTold, ...] = ()
    crossings: Crossings | None = None
    confidence: float = 0.95


def moments(at: NDArray[np.int64], *, exact: bool, zoned: bool) -> list[str]:
    """Write moments in ISO 8601: milliseconds where they are known, ``Z`` where they are those of UTC.

    Examples
    --------
    >>> moments(np.array([1777928443250]), exact=True, zoned=False)
    ['2026-05-04T21:00:43.250']
    """
    shown = at.astype("datetime64[ms]").astype(f"datetime64[{'ms' if exact else 's'}]")
    texts: list[str] = np.datetime_as_string(shown).tolist()
    return [f"{text}Z" for text in texts] if zoned else texts
