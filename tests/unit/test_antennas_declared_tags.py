"""Marker and test tags that are declared and that the log does not have: said, with what may be meant."""

from __future__ import annotations

import pandas as pd
import pytest

from audit import passages

START = pd.Timestamp("2026-05-01")
TEST, BEATS = "999000000109990", "999000000209995"
HELD = "2026-05-05 14:05:10"


@pytest.fixture(scope="module")
def log(tmp_path_factory):
    """One box and a bird; a marker every quarter of an hour, and a test tag held there once."""
    hours = [(nr * 0.25, "inner", BEATS) for nr in range(96 * 8)]
    hours += [(24 * 4 + 14 + 5 / 60 + 10 / 3600 + step / 3600, "outer", TEST) for step in (0, 3)]
    for night in range(8):
        hours += [
            (24 * night + 21 + nr, side, "999000000100001") for nr, side in enumerate(("outer", "inner"))
        ]
        hours += [
            (24 * night + 21.001 + nr, side, "999000000100001") for nr, side in enumerate(("inner", "outer"))
        ]
    frame = pd.DataFrame(sorted(hours), columns=["h", "antenna", "tag"])
    moments = START + pd.to_timedelta(frame.pop("h"), unit="h")
    frame["detected_at"] = moments.dt.round("1s").dt.strftime("%Y-%m-%dT%H:%M:%S")
    path = tmp_path_factory.mktemp("log") / "log.csv"
    frame.assign(box="SL-01").to_csv(path, index=False)
    return path


def _told(log, folder, reading):
    (folder / "loggers.yaml").write_text(f"reading: {{{reading}}}", encoding="utf-8")
    words = ("loggers.yaml", "was held there")
    return [one for one in passages(log, schemas=folder).record.told if any(word in one for word in words)]


@pytest.mark.parametrize(
    "reading",
    [
        f"held_tags: {{value: {{'{TEST}': {{SL-01: ['{HELD}'], SL-09: ['{HELD}']}}}}}}",
        # of another season
        f"held_tags: {{value: {{'{TEST}': {{SL-01: ['{HELD}', '2025-05-05 14:05:10']}}}}}}",
        f"marker_moments: {{value: {{'{BEATS[:3]} {BEATS[3:]}': ['00:00']}}}}",
        f"marker_tags: {{value: ['{BEATS}']}}",
    ],
)
def test_what_is_met_is_not_mentioned(reading, log, tmp_path):
    assert _told(log, tmp_path, reading) == []


def test_a_digit_amiss_is_told_with_the_tag_that_may_be_meant(log, tmp_path):
    slip = TEST.replace("1099", "1089")
    (told,) = _told(log, tmp_path, f"held_tags: {{value: {{'{slip}': {{SL-01: ['{HELD}']}}}}}}")
    assert told == (
        f"{slip}, declared in loggers.yaml (reading.held_tags), was never read in this log; one slip away "
        f"from it is {TEST}, which was. If that is the tag, mend loggers.yaml: until then it tells nothing "
        "by what is declared."
    )
    slip = BEATS.replace("2099", "2909")
    (told,) = _told(log, tmp_path, f"marker_moments: {{value: {{'{slip}': ['00:00']}}}}")
    assert "(reading.marker_moments)" in told
    assert BEATS in told


def test_tags_of_other_logs_are_told_in_one_line(log, tmp_path):
    others = [f"99900000099{nr:04d}" for nr in range(8)]
    (told,) = _told(log, tmp_path, f"marker_tags: {{value: {others}}}")
    assert told.startswith("Declared in loggers.yaml (reading.marker_tags) and never read in this log: ")
    assert told.endswith(f"{others[5]} and 2 more.")


def test_a_visit_without_a_read_is_told(log, tmp_path):
    reading = f"held_tags: {{value: {{'{TEST}': {{SL-01: ['{HELD}', '2026-05-07 16:00:00']}}}}}}"
    (told,) = _told(log, tmp_path, reading)
    assert told.startswith(f"SL-01: {TEST} was held there at 2026-05-07T16:00:00 as declared")
    assert "no read of it within a day" in told


def test_a_test_tag_read_at_a_box_without_a_visit_is_told(log, tmp_path):
    (told,) = _told(log, tmp_path, f"held_tags: {{value: {{'{TEST}': {{SL-10: ['{HELD}']}}}}}}")
    assert told.startswith(f"SL-01: the test tag {TEST} was read here, first at 2026-05-05T14:05:10")
    assert "no visit to this box is declared" in told


def test_a_visit_that_two_reads_may_be_is_told(log, tmp_path):
    frame = pd.read_csv(log, dtype=str)
    again = frame[frame["tag"] == TEST].head(1).assign(detected_at="2026-05-05T20:00:00")
    both = pd.concat([frame, again]).sort_values("detected_at", kind="stable")
    both.to_csv(tmp_path / "twice.csv", index=False)
    reading = f"held_tags: {{value: {{'{TEST}': {{SL-01: ['{HELD}']}}}}}}"
    (told,) = _told(tmp_path / "twice.csv", tmp_path, reading)
    assert "it was read more than once" in told
