"""The clocks of the hand readers, as the sheet tells them, and when each tag was really read."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.models.clock import find_clock
from audit.models.clock_beliefs import ClockBeliefs, Known
from audit.models.clock_calendar import DAY_S
from audit.models.time_of_day import minutes_of
from audit.rules.heeded import READER_CLOCK
from audit.rules.tag_keys import keys_of
from audit.season import texts_in

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from audit.models.clock_segments import Clock
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
    names = texts_in(frame, "reader")
    by_reader: dict[str, list[int]] = defaultdict(list)
    for i in np.flatnonzero(known).tolist():
        by_reader[names[i]].append(i)
    sheet = _sheet(case)
    texts = texts_in(frame, "tag")
    clocks = []
    beliefs = beliefs_of(case)
    for name in sorted(by_reader):
        rows = np.array(by_reader[name], dtype=np.int64)
        stored = moments[rows].astype(np.int64).astype(np.float64)
        clock = find_clock(stored, _known(case, [texts[i] for i in rows.tolist()], sheet), beliefs)
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


@dataclass(frozen=True, slots=True)
class _Sheet:
    """The rows with a day, by the texts of the download that are their tags.

    Attributes
    ----------
    rows_of : mapping of str to list of int
        Text to positions.
    day, time : numpy.ndarray of float
        Day and time of day in seconds; the time is NaN where missing.
    shared : numpy.ndarray of int
        How many rows have this day and time.
    """

    rows_of: Mapping[str, Sequence[int]]
    day: Floats
    time: Floats
    shared: Ints


def _sheet(case: Case) -> _Sheet:
    none = np.zeros(0)
    if not case.season.has("handlings", "tag", "date"):
        return _Sheet({}, none, none, none.astype(np.int64))
    handlings = case.frame("handlings")
    days = handlings["date"].to_numpy(dtype="datetime64[D]")
    known = ~np.isnat(days)
    day = np.where(known, days.astype(np.int64), 0) * DAY_S
    time = np.array([minutes_of(text) for text in texts_in(handlings, "time")]) * _MINUTE_S
    _, of_moment = np.unique(day + np.nan_to_num(time, nan=-1.0), return_inverse=True)
    shared = np.bincount(of_moment)[of_moment]
    rows_of: dict[str, list[int]] = defaultdict(list)
    for i, text in enumerate(_as_stored(case, texts_in(handlings, "tag"))):
        if text and known[i]:
            rows_of[text].append(i)
    return _Sheet(rows_of, day, time, shared)


def _as_stored(case: Case, tags: list[str]) -> list[str]:
    """Write the tags of the sheet as the download writes them."""
    reads = texts_in(case.frame("tag_reads"), "tag")
    stored = set(reads) - {""}
    if sum(tag in stored for tag in tags) * 2 >= sum(map(bool, tags)):
        # most are written alike
        return [tag if tag in stored else "" for tag in tags]
    stock = texts_in(case.frame("tag_stock"), "tag") if case.season.has("tag_stock", "tag") else []
    _, (key_of, _, read_keys) = keys_of(case, tags, stock, reads)
    text_of = {key: text for text, key in reversed(read_keys.items())}
    return [text_of.get(key_of[tag], "") if tag else "" for tag in tags]


def _known(case: Case, texts: list[str], sheet: _Sheet) -> Known:
    limits = case.declared.rules["reader"].limits
    lag, day_slack = (float(limits[name].value) * _MINUTE_S for name in ("lag_minutes", "day_slack_minutes"))
    a_bird = float(limits["bird_minutes"].value) * _MINUTE_S
    wrong, by_day = float(limits["wrong_share"].value), float(limits["time_wrong_share"].value)
    pairs = [
        (i, row, len(rows))
        for i, text in enumerate(texts)
        if (rows := sheet.rows_of.get(text))
        for row in rows
    ]
    read, row, of = np.array(pairs, dtype=np.int64).reshape(-1, len(("read", "row", "of"))).T
    day, time, shared = sheet.day[row], sheet.time[row], sheet.shared[row]
    share = (1 - wrong) / np.maximum(of, 1)
    timed = ~np.isnan(time)
    moment = day[timed] + time[timed]
    # a time that several rows share is known no better than all of them take
    around = np.where(shared[timed] > 1, shared[timed] * a_bird, 0.0)
    n, n_timed = len(read), len(moment)
    return Known(
        np.concatenate([read, read[timed]]),
        np.concatenate([day, moment - around]),
        np.concatenate([day + DAY_S, moment + around + _MINUTE_S]),
        np.repeat([day_slack, lag], [n, n_timed]),
        np.concatenate([np.where(timed, by_day, 1.0) * share, (1 - by_day) * share[timed]]),
        np.concatenate([np.zeros(n, dtype=bool), shared[timed] == 1]),
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
