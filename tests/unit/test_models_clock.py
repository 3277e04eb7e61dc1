"""The clock of a reader: two points, calendar, resets, hours, drift, and wrong pairs that must not fool it.

Check values of the two-point clock are worked by hand: 78 s in 30 days is 2.6 s a day and 30.1 ppm; 20 ppm is
1.73 s a day and 51.8 s in 30 days. Robust slopes are held against `scipy.stats.theilslopes`.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import theilslopes

from audit.declarations import load_declarations
from audit.models.clock import find_clock
from audit.models.clock_beliefs import Known
from audit.models.clock_calendar import DAY_S, exchange_day_and_month, true_moment
from audit.rules.case import Case
from audit.rules.reader_clock import beliefs_of
from audit.season import Season

HOUR = 3600.0
DECLARED = load_declarations()
BELIEFS = beliefs_of(Case(Season("none", {}), DECLARED, DECLARED.rules["reader"]))
JUNE = float(np.datetime64("2026-06-03T09:30", "s").astype(np.int64))


def stamps(*texts):
    return np.array(texts, dtype="datetime64[s]").astype(np.int64).astype(float)


def handled(days=12, a_day=8, every=4.0, seed=1):
    """True moments of birds, in order: some days, some birds a day five minutes apart."""
    rng = np.random.default_rng(seed)
    moments = [
        JUNE + round(day * every) * DAY_S + bird * 300 + float(rng.integers(0, 60))
        for day in range(days)
        for bird in range(a_day)
    ]
    return np.array(moments)


def known(true, *, timed=True, wrong=None):
    """What a sheet says: the minute and the day of each, or the day alone; some of it wrong."""
    told = true if wrong is None else wrong
    n = len(told)
    day = np.floor(told / DAY_S) * DAY_S
    every = np.arange(n)
    days = Known(every, day, day + DAY_S, np.full(n, 300.0), np.full(n, 0.95), np.zeros(n, bool))
    if not timed:
        return days
    minute = np.floor(told / 60) * 60
    return Known(
        np.tile(every, 2),
        np.concatenate([minute, day]),
        np.concatenate([minute + 60, day + DAY_S]),
        np.repeat([600.0, 300.0], n),
        np.repeat([0.855, 0.095], n),
        np.repeat([True, False], n),
    )


def kinds(clock):
    return [segment.kind for segment in clock.segments]


# two points


def test_the_two_point_clock():
    shown_at, true_at = (0.0, 30 * DAY_S + 78), (0.0, 30 * DAY_S)
    shown = 12.5 * DAY_S
    assert shown - true_moment(shown, shown_at, true_at) == pytest.approx(32.5, abs=0.01)
    later = shown + DAY_S
    gained = 1 - (true_moment(later, shown_at, true_at) - true_moment(shown, shown_at, true_at)) / DAY_S
    assert gained * DAY_S == pytest.approx(2.6, abs=0.001)
    assert gained * 1e6 == pytest.approx(30.1, abs=0.05)


def test_twenty_parts_per_million_in_thirty_days():
    fast = (0.0, 30 * DAY_S * (1 + 20e-6))
    assert fast[1] - true_moment(fast[1], fast, (0.0, 30 * DAY_S)) == pytest.approx(51.8, abs=0.05)


# day and month


def test_day_and_month_are_exchanged_where_the_day_may_be_a_month():
    stored = stamps(
        "2026-03-06T10:00:01", "2026-06-13T23:59:59", "2026-06-06T00:00:00", "2000-01-12T05:00:00"
    )
    turned = stamps(
        "2026-06-03T10:00:01", "2026-06-13T23:59:59", "2026-06-06T00:00:00", "2000-12-01T05:00:00"
    )
    assert exchange_day_and_month(stored).tolist() == turned.tolist()
    assert exchange_day_and_month(turned).tolist() == stored.tolist()


@given(st.integers(-2_000_000_000, 4_000_000_000))
def test_exchanging_twice_changes_nothing(second):
    stored = np.array([float(second)])
    assert exchange_day_and_month(exchange_day_and_month(stored)).tolist() == stored.tolist()


# a right clock


@pytest.mark.parametrize("timed", [True, False])
def test_a_right_clock_stands(timed):
    true = handled()
    clock = find_clock(true + 95, known(true, timed=timed), BELIEFS)
    assert clock.right
    assert clock.corrected(true + 95).tolist() == (true + 95).tolist()


@pytest.mark.parametrize("timed", [True, False])
def test_one_page_under_a_wrong_date_is_no_clock(timed):
    true = handled()
    sheet = true.copy()
    sheet[16:24] += 2 * DAY_S
    assert find_clock(true, known(true, timed=timed, wrong=sheet), BELIEFS).right


def test_wrong_times_and_dates_here_and_there_are_no_clock():
    true = handled()
    sheet = true + np.random.default_rng(2).choice([0, 0, 0, 0, 3600, -DAY_S, 30 * DAY_S], len(true))
    assert find_clock(true, known(true, wrong=sheet), BELIEFS).right


def test_nothing_known_says_nothing():
    none = np.zeros(0)
    nothing = Known(none.astype(int), none, none, none, none, none.astype(bool))
    true = handled()
    assert find_clock(true, nothing, BELIEFS).right
    assert find_clock(none, nothing, BELIEFS).segments == ()


# other clocks

OFF = [
    (HOUR, "hour"),
    (-HOUR, "hour"),
    (-2 * HOUR, "hours"),
    (5.5 * HOUR, "half_hours"),
    (12 * HOUR, "hours"),
    (DAY_S, "days"),
    (-400 * DAY_S, "days"),
    (-365 * DAY_S, "year"),
    (1234567.0, "other"),
]


@pytest.mark.parametrize(("offset", "kind"), OFF)
def test_an_offset_is_found_and_named(offset, kind):
    true = handled()
    clock = find_clock(true + offset + 95, known(true), BELIEFS)
    (segment,) = clock.segments
    assert segment.kind == kind
    assert abs(segment.offset - offset) <= 130
    assert np.abs(clock.corrected(true + offset) - true).max() <= 130
    assert segment.sd < 60
    assert segment.n == len(true)


@pytest.mark.parametrize("offset", [DAY_S, -400 * DAY_S, 9_000_000.0, -1_234_567.0])
def test_days_alone_set_the_day_right(offset):
    true = handled()
    clock = find_clock(true + offset, known(true, timed=False), BELIEFS)
    (segment,) = clock.segments
    assert segment.low <= offset <= segment.high
    assert (clock.corrected(true + offset) // DAY_S == true // DAY_S).all()


def test_an_hour_that_no_day_shows_stands():
    true = handled()
    assert find_clock(true + HOUR, known(true, timed=False), BELIEFS).right


@pytest.mark.parametrize("timed", [True, False])
@pytest.mark.parametrize("start", ["2000-01-01", "1970-01-01"])
def test_a_flat_battery_begins_anew(timed, start):
    true = handled()
    stored = true + 60
    stored[48:] = stamps(start)[0] + 5 * HOUR + (true[48:] - true[48])
    clock = find_clock(stored, known(true, timed=timed), BELIEFS)
    assert kinds(clock) == ["right", "reset"]
    assert clock.segments[1].first == 48
    assert (clock.corrected(stored) // DAY_S == true // DAY_S).all()
    turned = find_clock(stored[::-1].copy(), _reversed(known(true, timed=timed), len(true)), BELIEFS)
    assert turned.corrected(stored[::-1])[::-1].tolist() == clock.corrected(stored).tolist()
    by_time = np.argsort(stored)
    place = np.argsort(by_time)
    told = known(true, timed=timed)
    other = find_clock(stored[by_time], replace(told, read=place[told.read]), BELIEFS)
    assert kinds(other) == ["reset", "right"]
    assert (other.corrected(stored[by_time])[place] // DAY_S == true // DAY_S).all()


def _reversed(told, n):
    return replace(told, read=n - 1 - told.read)


def test_a_clock_that_is_set_right_half_way():
    true = handled()
    stored = true + np.where(np.arange(len(true)) < 40, HOUR, 0.0) + 60
    clock = find_clock(stored, known(true), BELIEFS)
    assert kinds(clock) == ["hour", "right"]
    assert clock.segments[0].last == 39


def test_a_date_set_with_day_and_month_exchanged_runs_on():
    true = handled(every=5.0)
    shown = exchange_day_and_month(true[:1])[0]
    clock = find_clock(true + (shown - true[0]), known(true), BELIEFS)
    assert kinds(clock) == ["exchanged"]


@pytest.mark.parametrize("timed", [True, False])
def test_a_download_with_day_and_month_exchanged(timed):
    true = handled(days=16, every=3.0)
    stored = exchange_day_and_month(true)
    clock = find_clock(stored, known(true, timed=timed), BELIEFS)
    assert clock.exchanged
    assert clock.corrected(stored).tolist() == true.tolist()


@pytest.mark.parametrize("a_day", [2.6, -3.5])
def test_a_drift_is_measured_as_another_estimator_does(a_day):
    true = handled(days=16)
    rng = np.random.default_rng(3)
    stored = true + a_day * (true - true[0]) / DAY_S + 100 + rng.normal(0, 15, len(true))
    (segment,) = find_clock(stored, known(true), BELIEFS).segments
    other = theilslopes(stored - true, true).slope
    assert segment.drift * DAY_S == pytest.approx(a_day, abs=0.5)
    assert segment.drift == pytest.approx(other, abs=4 * segment.drift_sd + 0.1 / DAY_S)
    assert segment.kind == "right"


def test_a_drift_is_told_in_spite_of_wrong_times():
    true = handled(days=16)
    stored = true + 2.6 * (true - true[0]) / DAY_S
    sheet = true.copy()
    sheet[::9] += 2 * HOUR
    (segment,) = find_clock(stored, known(true, wrong=sheet), BELIEFS).segments
    assert segment.drift * DAY_S == pytest.approx(2.6, abs=0.5)


@settings(deadline=None, max_examples=40)
@given(st.integers(-4_000, 4_000), st.integers(0, 23), st.booleans(), st.integers(0, 5))
def test_any_clock_gives_the_same_days(days, hours, timed, seed):
    true = handled(seed=seed)
    stored = true + days * DAY_S + hours * HOUR
    clock = find_clock(stored, known(true, timed=timed), BELIEFS)
    assert (clock.corrected(stored) // DAY_S == true // DAY_S).all() or abs(days * 24 + hours) < 14


@settings(deadline=None, max_examples=40)
@given(
    st.lists(
        st.tuples(st.integers(-(10**10), 10**10), st.integers(-(10**10), 10**10)), min_size=1, max_size=30
    )
)
def test_nothing_makes_it_fail(pairs):
    stored, true = (np.array(values, dtype=float) for values in zip(*pairs, strict=True))
    clock = find_clock(stored, known(true), BELIEFS)
    assert np.isfinite(clock.corrected(stored)).all()
    assert sorted(clock.order.tolist()) == list(range(len(stored)))
    assert [one.first for one in clock.segments][1:] == [one.last + 1 for one in clock.segments][:-1]
    assert clock.segments[0].first == 0
    assert clock.segments[-1].last == len(stored) - 1
