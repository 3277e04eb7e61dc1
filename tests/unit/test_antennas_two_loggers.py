"""Two loggers at each entrance, one for each antenna, with clocks of their own: from files to passages."""

from __future__ import annotations

import csv

import numpy as np
import pandas as pd
import pytest
from simulated_detections import SEASON, Sky, by_events

from audit.cli import main

MARKER = 999_000_000_109_999


@pytest.fixture(scope="module")
def sky():
    return by_events(Sky(seed=71, boxes=2, nights=14, nestlings=0, rests=0.0))


def _rows(sky, ahead_s, *, marker=False):
    reads = sky.reads
    frame = pd.DataFrame(
        {
            "box": reads.box,
            "antenna": reads.antenna,
            "at": reads.at,
            "tag": 999_000_000_100_000 + reads.tag.astype("int64"),
        }
    )
    if marker:
        beats = SEASON - SEASON % 86_400_000 + 12 * 3_600_000 + np.arange(14 * 96) * 900_000
        frame = pd.concat(
            [frame]
            + [
                pd.DataFrame({"box": box, "antenna": side, "at": beats, "tag": MARKER - side})
                for box in (0, 1)
                for side in (0, 1)
            ]
        )
    frame["at"] += np.where(frame["antenna"] == 1, ahead_s * 1000, 0)
    return frame.sort_values("at", kind="stable")


def _told(frame, folder):
    """Write one file for each antenna of each box, and ask the command line."""
    (folder / "log").mkdir()
    for (box, side), each in frame.groupby(["box", "antenna"]):
        name = "outer" if side == 0 else "inner"
        moments = pd.to_datetime(each["at"], unit="ms").dt.strftime("%Y-%m-%dT%H:%M:%S")
        table = pd.DataFrame(
            {"box": f"SL-{box + 1:02d}", "antenna": name, "detected_at": moments, "tag": each["tag"]}
        )
        table.to_csv(folder / "log" / f"SL-{box + 1:02d}-{name}.csv", index=False)
    assert main(["passages", str(folder / "log"), "--out", str(folder / "out")]) == 0
    with (folder / "out" / "passages.csv").open(encoding="utf-8", newline="") as stream:
        passed = list(csv.DictReader(stream))
    clocks = folder / "out" / "logger_clock.csv"
    if not clocks.exists():
        return passed, []
    with clocks.open(encoding="utf-8", newline="") as stream:
        return passed, list(csv.DictReader(stream))


def _share(passed, sky):
    """Share of true passages that are told with their direction within half a minute."""
    truth = sky.truth
    given = {}
    for row in passed:
        key = row["box"], int(row["tag"]) - 999_000_000_100_000, row["direction"]
        moment = pd.Timestamp(row["passage_at"]).value // 1_000_000
        given.setdefault(key, []).append(moment)
    right = 0
    each = zip(
        truth.box.tolist(), truth.tag.tolist(), truth.at.tolist(), truth.direction.tolist(), strict=True
    )
    for box, tag, at, direction in each:
        key = f"SL-{box + 1:02d}", tag, ("in", "out")[direction]
        right += any(abs(at - moment) <= 30_000 for moment in given.get(key, ()))
    return right / len(truth.at)


@pytest.mark.parametrize("ahead_s", [47, -9, 1800])
def test_birds_that_cross_tell_how_far_the_inner_logger_is_ahead(ahead_s, sky, tmp_path):
    passed, clocks = _told(_rows(sky, ahead_s), tmp_path)
    off = [one for one in clocks if one["moments"] == "set right"]
    assert [(one["box"], one["antenna"], one["reference"]) for one in off] == [
        ("SL-01", "inner", "outer antenna"),
        ("SL-02", "inner", "outer antenna"),
    ]
    assert [float(one["offset_s"]) for one in off] == pytest.approx([ahead_s] * 2, abs=2)
    assert _share(passed, sky) > 0.95


def test_loggers_that_agree_are_left_alone(sky, tmp_path):
    passed, clocks = _told(_rows(sky, 0), tmp_path)
    assert not any(one["moments"] == "set right" for one in clocks)
    assert _share(passed, sky) > 0.95


def test_markers_of_either_antenna_tell_both_loggers(sky, tmp_path):
    passed, clocks = _told(_rows(sky, 130, marker=True), tmp_path)
    off = [one for one in clocks if one["moments"] == "set right"]
    assert {(one["antenna"], one["reference"]) for one in off} == {("inner", "marker on the round")}
    assert [float(one["offset_s"]) for one in off] == pytest.approx([130] * 2, abs=2)
    assert _share(passed, sky) > 0.95
