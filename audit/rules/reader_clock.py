"""The clocks of the hand readers, as the sheet tells them, and when each tag was really read."""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.models.clock import DAY_S, Clock, ClockBeliefs, Known, find_clock
from audit.models.time_of_day import minutes_of
from audit.rules.heeded import READER_CLOCK
from audit.rules.tag_keys import keys_of, texts_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from audit.rules.case import Case

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Moments = NDArray[np.datetime64]

__all__ = ["ReaderClock", "ReaderClocks", "beliefs_of", "clocks_of"]

_MINUTE_S, _HOUR_S = (float(np.timedelta64(1, unit) / np.timedelta64(1, "s")) for unit in ("m", "h"))
_KINDS = ("hour", "hours", "half_hours", "days", "exchanged", "other")


@dataclass(frozen=True, slots=True)
class ReaderClock:
    """The clock of one reader.

    Attributes
    ----------
    reader : str
        Its name; empty where none is given.
    rows : numpy.ndarray of int, shape (n,)
        Positions of its reads in the table.
    stored : numpy.ndarray of float, shape (n,)
        What it stored, in seconds since 1970.
    clock : Clock
    """

    reader: str
    rows: Ints
    stored: Floats
    clock: Clock


@dataclass(frozen=True, slots=True)
class ReaderClocks:
    """All readers of a season.

    Attributes
    ----------
    moments : numpy.ndarray of datetime64[s], shape (rows of the table,)
        When each tag was read, the clocks set right; NaT where no moment is given.
    segment : numpy.ndarray of int, shape (rows of the table,)
        Number of the segment of its reader's clock; -1 where no moment is given.
    order : numpy.ndarray of int, shape (rows of the table,)
        Rows in the order of reading, as memory and moments tell; those without a moment last.
    clocks : tuple of ReaderClock
    """

    moments: Moments
    segment: Ints
    order: Ints
    clocks: tuple[ReaderClock, ...]

    @property
    def right(self) -> bool:
        """Whether all stands as stored."""
        return all(one.clock.right for one in self.clocks)


def clocks_of(case: Case) -> ReaderClocks:
    """Find the clock of each reader by the days and times of the rows that have the tags.

    Wrong cells are borne, so that cells in doubt do not matter and one answer serves all rules.
    """
    found: ReaderClocks = case.layouts.get((_find,), lambda: _find(case), READER_CLOCK)
    return found


def _find(case: Case) -> ReaderClocks:
    if not case.season.has("tag_reads"):
        none = np.zeros(0, dtype=np.int64)
        return ReaderClocks(none.astype("datetime64[s]"), none, none, ())
    frame = case.frame("tag_reads")
    n = len(frame)
    moments = np.full(n, np.datetime64("NaT", "s"))
    segment = np.full(n, -1, dtype=np.int64)
    if "read_at" not in frame.columns:
        return ReaderClocks(moments, segment, np.arange(n), ())
    moments = frame["read_at"].to_numpy(dtype="datetime64[s]").copy()
    known = ~np.isnat(moments)
    names = texts_of(frame, "reader")
    by_reader: dict[str, list[int]] = defaultdict(list)
    for i in np.flatnonzero(known).tolist():
        by_reader[names[i]].append(i)
    when = _when_handled(case)
    texts = texts_of(frame, "tag")
    clocks = []
    beliefs = beliefs_of(case)
    for name in sorted(by_reader):
        rows = np.array(by_reader[name], dtype=np.int64)
        stored = moments[rows].astype(np.int64).astype(np.float64)
        clock = find_clock(stored, _known(case, [texts[i] for i in rows.tolist()], when), beliefs)
        clocks.append(ReaderClock(name, rows, stored, clock))
        segment[rows] = clock.segment_of()
        if not clock.right:
            moments[rows] = np.rint(clock.corrected(stored)).astype(np.int64).astype("datetime64[s]")
    after = moments.copy()
    for one in clocks:
        after[one.rows] = _in_order_of(one.clock, moments[one.rows])
    return ReaderClocks(moments, segment, np.argsort(after, kind="stable"), tuple(clocks))


def _in_order_of(clock: Clock, moments: Moments) -> Moments:
    """Put off what seems earlier than what the memory has before it, where days left the hour open."""
    told = moments[clock.order]
    if not (np.diff(told) < np.timedelta64(0, "s")).any():
        return moments
    stamps = told.astype(np.int64).tolist()
    for k in range(1, len(stamps)):
        # a longer way back is a clock that was not understood
        if 0 < stamps[k - 1] - stamps[k] < DAY_S:
            stamps[k] = stamps[k - 1]
    found = moments.copy()
    found[clock.order] = np.array(stamps, dtype=np.int64).astype("datetime64[s]")
    return found


#: Day (seconds since 1970), time of day (seconds; NaN where missing) and number of rows that share them.
_When = tuple[float, float, int]


def _when_handled(case: Case) -> Mapping[str, list[_When]]:
    """Day and time of the rows with each text of the download."""
    if not case.season.has("handlings", "tag", "date"):
        return {}
    handlings = case.frame("handlings")
    days = handlings["date"].to_numpy(dtype="datetime64[D]")
    times = texts_of(handlings, "time")
    tags = texts_of(handlings, "tag")
    stock = texts_of(case.frame("tag_stock"), "tag") if case.season.has("tag_stock", "tag") else []
    reads = texts_of(case.frame("tag_reads"), "tag")
    _, (key_of, _, read_keys) = keys_of(case, tags, stock, reads)
    shared = Counter(zip(days.tolist(), times, strict=True))
    by_key: dict[str, list[_When]] = defaultdict(list)
    for tag, day, stamp, time in zip(tags, days.tolist(), days.astype(np.int64).tolist(), times, strict=True):
        if tag and day is not None:
            minute = minutes_of(time)
            by_key[key_of[tag]].append((stamp * DAY_S, minute * _MINUTE_S, shared[day, time]))
    return {text: by_key[key] for text, key in read_keys.items() if key in by_key}


def _known(case: Case, texts: list[str], when: Mapping[str, list[_When]]) -> Known:
    limits = case.declared.rules["reader"].limits
    lag, day_slack = (float(limits[name].value) * _MINUTE_S for name in ("lag_minutes", "day_slack_minutes"))
    a_bird = float(limits["bird_minutes"].value) * _MINUTE_S
    wrong, by_day = float(limits["wrong_share"].value), float(limits["time_wrong_share"].value)
    made: list[tuple[int, float, float, float, float, bool]] = []
    for i, text in enumerate(texts):
        rows = when.get(text, [])
        share = (1 - wrong) / max(len(rows), 1)
        for day, time, of in rows:
            timed = not np.isnan(time)
            if timed:
                around = a_bird * of if of > 1 else 0.0
                low, high = day + time - around, day + time + around + _MINUTE_S
                made.append((i, low, high, lag, share * (1 - by_day), of == 1))
            made.append((i, day, day + DAY_S, day_slack, share * (by_day if timed else 1.0), False))
    read, low_s, high_s, spread, weight, exact = list(zip(*made, strict=True)) or [(), (), (), (), (), ()]
    numbers = (np.array(values, dtype=np.float64) for values in (low_s, high_s, spread, weight))
    low_at, high_at, spreads, weights = numbers
    return Known(
        np.array(read, dtype=np.int64), low_at, high_at, spreads, weights, np.array(exact, dtype=bool)
    )


def beliefs_of(case: Case) -> ClockBeliefs:
    """Gather what is believed of clocks beforehand."""
    limits = case.declared.rules["reader"].limits

    def number(name: str, unit: float = 1.0) -> float:
        return float(limits[name].value) * unit

    starts = np.array(limits["start_dates"].value, dtype="datetime64[s]").astype(np.int64)
    return ClockBeliefs(
        wrong=number("wrong_share"),
        span=number("wrong_days", DAY_S),
        reads_a_day=number("reads_a_day"),
        explained=number("explained"),
        change=number("cost_change"),
        change_at_step=number("cost_change_at_step"),
        costs={"right": 0.0} | {name: number(f"cost_{name}") for name in _KINDS},
        as_it_stands=number("as_it_stands_minutes", _MINUTE_S),
        pause=number("pause_minutes", _MINUTE_S),
        leap=number("leap_days", DAY_S),
        starts=tuple(float(value) for value in starts),
        started=number("started_days", DAY_S),
        hour_within=number("hour_within_minutes", _MINUTE_S),
        hours_within=number("hours_within_minutes", _MINUTE_S),
        days_within=number("days_within_minutes", _MINUTE_S),
        most_hours=number("most_hours", _HOUR_S),
        drift_most=number("drift_most") / DAY_S,
        drift_sure=number("drift_sure"),
        drift_least=number("drift_least"),
        drift_days=number("drift_days"),
    )
