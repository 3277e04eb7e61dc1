"""How the clock of each logger went: one line for each time in which nobody touched it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.handover.table_file import guard

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

__all__ = ["CLOCK_COLUMNS", "ClockTold", "LeftOpen", "clock_rows", "shown"]

_DAY_MS = 86_400_000
#: Columns of ``logger_clock.csv``, in order. Only ever extended at the end.
CLOCK_COLUMNS = (
    "box", "antenna", "from", "to", "offset_s", "drift_s_per_day", "reference", "p", "moments",
    "offset_to_s", "p_offset",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class ClockTold:
    """A time in which a logger's clock was not touched, or a part of it in which it drifted evenly.

    Attributes
    ----------
    box : str
    antenna : str
        ``outer`` or ``inner`` where each has a logger of its own, else empty.
    start, end : int
        First and last moment as its clock showed them, in milliseconds since 1970.
    offset_s : float or None
        By how many seconds it was ahead at the first moment; None where nothing tells.
    drift_s_per_day : float
        Seconds that it gained in a day.
    reference : str
        By what its moments are set right: ``visits``, ``marker moments`` (declared), ``marker on the round``,
        ``markers together``, ``first reads``, ``set back`` (reads since it was set back by whole days),
        ``outer antenna`` or ``nothing``.
    p : float
        Probability that the clock was set where this time begins; 1 for the first.
    changed : bool
        Its moments were set right; else they go out as logged.
    goes_on : bool
        Nobody set the clock where this begins: it only drifts otherwise from here on; `p` is of the whole.
    p_offset : float or None
        Where the moments at which markers beat tell how far the clock was off: probability that they do.
    """

    box: str
    antenna: str
    start: int
    end: int
    offset_s: float | None
    drift_s_per_day: float
    reference: str
    p: float
    changed: bool
    goes_on: bool = False
    p_offset: float | None = None

    @property
    def offset_end_s(self) -> float | None:
        """By how many seconds it was ahead at the last moment."""
        if self.offset_s is None:
            return None
        return self.offset_s + self.drift_s_per_day * (self.end - self.start) / _DAY_MS


@dataclass(frozen=True, slots=True)
class LeftOpen:
    """A clock that was off if its marker beats at round moments, or as declared, which is not sure.

    Attributes
    ----------
    off_s : float
        By how many seconds it was ahead at its first reads then, to the nearest beat.
    every_s : float
        Seconds between two such moments.
    p : float
        Probability that it was ahead by just that.
    taken : bool
        It is set right by that all the same.
    rare : bool
        Its marker beats more rarely than once in an hour.
    declared : bool
        It is declared when its marker beats, and visits contradict that.
    """

    off_s: float
    every_s: float
    p: float
    taken: bool
    rare: bool = False
    declared: bool = False


def shown(moment: int) -> str:
    """Write a moment of a clock in ISO 8601, to the second.

    Examples
    --------
    >>> shown(1777928443250)
    '2026-05-04T21:00:43'
    """
    import numpy as np

    return str(np.datetime64(moment, "ms").astype("datetime64[s]"))


def clock_rows(told: Iterable[ClockTold]) -> Iterator[tuple[str, ...]]:
    """Give the lines of ``logger_clock.csv``."""
    for one in told:
        yield (
            guard(one.box),
            one.antenna,
            shown(one.start),
            shown(one.end),
            "" if one.offset_s is None else f"{one.offset_s:.1f}",
            "" if one.offset_s is None else f"{one.drift_s_per_day:.2f}",
            one.reference,
            f"{one.p:.4f}",
            "set right" if one.changed else "as logged",
            "" if one.offset_end_s is None else f"{one.offset_end_s:.1f}",
            "" if one.p_offset is None else f"{one.p_offset:.4f}",
        )
