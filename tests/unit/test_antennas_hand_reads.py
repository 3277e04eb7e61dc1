"""Whole hours by which a logger was off, told by tags that were read by hand at its box."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from audit import heard, passages, read_season
from audit.declarations.load import load_declarations
from audit.rules.hand_reads import hand_reads

DEMO = Path("notebooks/demo/sallow-levels-2026.xlsx")
HOUR = 3_600_000
DAY = 24 * HOUR
BOXES = ("SL-43", "SL-06", "SL-07")


@pytest.fixture(scope="module")
def season():
    return read_season(DEMO)


@pytest.fixture(scope="module")
def read(season):
    found = hand_reads(season, load_declarations())
    return {box: found[box] for box in BOXES}


def _log(read, ahead, path):
    """Nestlings put back are heard some minutes after they were read by hand, and by night; no marker."""
    random, rows = np.random.default_rng(11), []
    for box, reads in read.items():
        for tag, at in reads:
            rows.append((at + random.uniform(2, 11) * 60_000, box, "inner", tag))
            nights = at // DAY * DAY + (np.arange(1, 13)[:, None] + random.uniform(-0.1, 0.2, (12, 3))) * DAY
            rows += [
                (moment + 2000 * k, box, side, tag)
                for moment in nights.ravel()
                for k, side in enumerate(random.permutation(["inner", "outer"]))
            ]
    rows = [(at + ahead.get(box, 0) * HOUR, box, side, tag) for at, box, side, tag in rows]
    frame = pd.DataFrame(sorted(rows), columns=["detected_at", "box", "antenna", "tag"])
    frame["detected_at"] = pd.to_datetime(frame["detected_at"].round(), unit="ms").dt.strftime(
        "%Y-%m-%dT%H:%M:%S"
    )
    frame.to_csv(path, index=False)
    return path


def test_every_hand_read_is_at_the_box_of_its_row(season, read):
    rows = season.frame("handlings")
    for box, each in read.items():
        days = {str(day)[:10] for day in rows.loc[rows["box"] == box, "date"]}
        assert {str(np.datetime64(at, "ms"))[:10] for _, at in each} <= days


@pytest.mark.parametrize("hours", [1, -1, 2])
def test_a_logger_whole_hours_off_is_set_right(hours, read, tmp_path):
    found = passages(_log(read, {"SL-06": hours}, tmp_path / "log.csv"), anchors=read, by_hours=True)
    (off,) = [one for one in found.record.clocks if one.changed]
    assert (off.box, off.reference, off.offset_s) == ("SL-06", "visits", hours * 3600)


def test_right_loggers_are_left_alone(read, tmp_path):
    found = passages(_log(read, {}, tmp_path / "log.csv"), anchors=read, by_hours=True)
    assert not any(one.changed for one in found.record.clocks)


def test_loggers_that_all_keep_another_time_are_told_of_and_left(read, tmp_path):
    log = _log(read, dict.fromkeys(BOXES, -1), tmp_path / "log.csv")
    found = passages(log, anchors=read, by_hours=True)
    assert not any(one.changed for one in found.record.clocks)
    assert any("run 60 min behind the times on the sheet" in told for told in found.record.told)


def test_a_season_beside_its_log_hands_them_over(season, read, tmp_path):
    beside = heard(_log(read, {"SL-43": 1}, tmp_path / "log.csv"), season)
    assert [one.box for one in beside.passed.record.clocks if one.changed] == ["SL-43"]
