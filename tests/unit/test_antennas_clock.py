"""Clocks of loggers set right in a log as it stands in files."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from simulated_detections import DAY, HOUR, SEASON, Sky, by_events

from audit.antennas.clock import Clocks
from audit.antennas.followed import without_repeats
from audit.antennas.legal_changes import legal_changes
from audit.antennas.log import open_log
from audit.declarations.load import load_declarations

MARKER = 999_000_000_109_999
WHEN = SEASON + 8.6 * DAY


@pytest.fixture(scope="module")
def true():
    reads = by_events(Sky(seed=61, boxes=1, nights=16, nestlings=0, rests=0.0)).reads
    random = np.random.default_rng(61)
    beats = SEASON + np.arange(0, 16 * 1440, 15) * 60_000.0
    beats = np.rint(beats[random.random(len(beats)) < 0.94]).astype(np.int64)
    rows = pd.DataFrame(
        {"at": reads.at, "tag": 999_000_000_100_000 + reads.tag.astype(np.int64), "antenna": reads.antenna}
    )
    marks = pd.DataFrame({"at": beats, "tag": MARKER, "antenna": 1})
    return pd.concat([rows, marks]).sort_values("at", kind="stable", ignore_index=True)


def _judged(true, ahead_ms, tmp_path, *, change=True):
    """Moments by tag and antenna, as set right, and the clocks."""
    shown = np.rint(true["at"] + ahead_ms).astype("int64")
    path = tmp_path / "log.csv"
    pd.DataFrame(
        {
            "box": "SL-01",
            "antenna": np.where(true["antenna"] == 0, "outer", "inner"),
            "detected_at": pd.to_datetime(shown, unit="ms").dt.strftime("%Y-%m-%dT%H:%M:%S.%f"),
            "tag": true["tag"],
        }
    ).to_csv(path, index=False)
    declared = load_declarations()
    with open_log(path, declared) as log:
        clocks = Clocks(declared, log.engine, log.boxes, log.tags, change=change)
        (logged,) = (without_repeats(chunk) for chunk in log.chunks())
        found = clocks.set_right(logged, {log.tags.index(str(MARKER))}, 10.0)
    return logged, found, clocks.told.get(0, [])


@pytest.mark.parametrize(
    ("step_ms", "drift"),
    [(HOUR, 0), (-HOUR, 0), (437_000, 0), (946_684_800_000 - WHEN, 0), (0, 30.1e-6)],
)
def test_reads_are_right_within_two_seconds_where_a_marker_beats(step_ms, drift, true, tmp_path):
    # 30.1 parts in a million are 2.6 s a day, as worked out beforehand
    ahead = np.where(true["at"] >= WHEN, step_ms, 0.0) + drift * (true["at"] - true["at"].min())
    logged, found, told = _judged(true, ahead, tmp_path)
    assert len(found.at) == len(logged.at)
    # a read that shows the very millisecond of another one of its tag an hour before counts as repeated
    assert len(true) - len(found.at) <= 6
    # each tag is compared read by read where none is lost
    for nr, (_, mine) in enumerate(true.sort_values("at").groupby("tag")):
        right = mine["at"].to_numpy()
        at = np.sort(found.at[found.tag == nr])  # noqa: PD008 - no frame
        if len(at) == len(right):
            assert np.abs(at - right).max() <= 2000
        assert np.abs(at[[0, -1]] - right[[0, -1]]).max() <= 2000
    assert len(told) == 1 + bool(step_ms)
    if drift:
        assert told[0].drift_s_per_day == pytest.approx(2.6, abs=0.05)


def test_a_right_clock_and_an_hour_without_power_change_nothing(true, tmp_path):
    logged, found, told = _judged(true, 0 * true["at"], tmp_path)
    assert found is logged
    assert [one.changed for one in told] == [False]
    off = true[(true["at"] < WHEN) | (true["at"] >= WHEN + HOUR)]
    logged, found, _ = _judged(off, 0 * off["at"], tmp_path)
    assert found is logged


def test_a_clock_wanted_as_logged_is_told_and_left(true, tmp_path):
    logged, found, told = _judged(true, np.where(true["at"] >= WHEN, HOUR, 0), tmp_path, change=False)
    assert found is logged
    assert [round(one.offset_s) for one in told] == [0, 3600]
    assert not any(one.changed for one in told)


def test_clocks_are_changed_on_the_last_sundays_of_march_and_october():
    # directive 2000/84/EC of the European Union, from memory: 01:00 UTC, 02:00 and 03:00 by these clocks
    forward, back = legal_changes(["Europe/Berlin"], [2026])
    shown = [str(np.datetime64(int(one), "ms"))[:16] for one in (*forward, *back)]
    assert shown == ["2026-03-29T02:00", "2026-10-25T03:00"]
