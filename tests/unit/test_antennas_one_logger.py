"""A clock that drifts unevenly, and one logger that writes a file for each antenna."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from audit import passages

START = pd.Timestamp("2026-05-20 12:00:00")
DAY = 86_400.0
DAYS = 16
MARKER = "999000000900001"


def _ahead(true, wave):
    """40 s ahead, 3 s a day more, and as temperature has it."""
    return 40 + 3 * true / DAY + wave * np.sin(2 * np.pi * true / DAY / 9)


def _log(first_beat=0.0, wave=0.0):
    """Build crossings at both antennas and a marker that only the outer one hears, every half hour."""
    rng = np.random.default_rng(8)
    nights = 0.45 + np.arange(DAYS - 1)
    birds = np.sort((nights[:, None] + rng.uniform(0, 0.2, (DAYS - 1, 12))).ravel() * DAY)
    inward = np.arange(len(birds)) % 2 == 0
    beats = np.arange(first_beat, DAYS * DAY, 1800.0)
    true = np.concatenate([beats, birds, birds + 1.5])
    outer = np.concatenate([np.ones(len(beats), bool), inward, ~inward])
    tag = np.repeat([MARKER, "999000000100001"], [len(beats), 2 * len(birds)])
    shown = START + pd.to_timedelta(true + _ahead(true, wave), unit="s")
    frame = pd.DataFrame({"true": true, "box": "SL-01", "antenna": np.where(outer, "outer", "inner")})
    frame["detected_at"], frame["tag"] = shown.strftime("%Y-%m-%d %H:%M:%S.%f"), tag
    return frame.sort_values("true"), birds + 0.75


def _off(passed, birds):
    """Seconds by which passages that both antennas heard are told beside the true ones."""
    told = passed.table()
    at = (told.loc[told["how"] == "both antennas", "passage_at"] - START).dt.total_seconds().to_numpy()
    assert len(at) > 0.9 * len(birds)
    return np.abs(at[:, None] - birds).min(axis=1)


def test_one_logger_with_a_file_for_each_antenna_has_one_clock(tmp_path):
    frame, birds = _log()
    for antenna, mine in frame.groupby("antenna"):
        mine.drop(columns="true").to_csv(tmp_path / f"SL-01-{antenna}.csv", index=False)
    passed = passages(tmp_path)
    assert _off(passed, birds).max() < 2
    (told,) = passed.clock().itertuples()
    assert (told.antenna, told.offset_to_s) == ("", pytest.approx(40 + 3 * DAYS, abs=1))


def test_a_clock_drifts_before_its_first_beat_as_after_it(tmp_path):
    frame, birds = _log(first_beat=6 * DAY)
    frame.drop(columns="true").to_csv(tmp_path / "log.csv", index=False)
    assert _off(passages(tmp_path / "log.csv"), birds).max() < 2


def test_uneven_drift_is_told_by_lines_that_keep_near_it(tmp_path):
    frame, birds = _log(wave=20.0)
    frame.drop(columns="true").to_csv(tmp_path / "log.csv", index=False)
    passed = passages(tmp_path / "log.csv")
    assert _off(passed, birds).max() < 2
    told = passed.clock()
    assert len(told) > 1
    assert set(told["p"]) == {1.0}
    beats = frame[frame["tag"] == MARKER]
    shown = pd.to_datetime(beats["detected_at"]).to_numpy()
    places = np.concatenate([told["from"].to_numpy(), told["to"].to_numpy()[-1:]])
    by_line = np.interp(
        shown.astype("datetime64[ms]").astype(float),
        places.astype("datetime64[ms]").astype(float),
        [*told["offset_s"], told["offset_to_s"].iloc[-1]],
    )
    assert np.abs(by_line - _ahead(beats["true"].to_numpy(), 20.0)).max() < 2
    assert "drifted unevenly" in " ".join(repr(passed).split())


def test_beats_once_a_day_follow_a_drift_that_changes_within_days(tmp_path):
    frame, birds = _log(wave=12.0)
    rare = (frame["tag"] == MARKER) & (frame["true"] % DAY != 0)
    frame[~rare].drop(columns="true").to_csv(tmp_path / "log.csv", index=False)
    # one marker a day tells no time unless it is known when it beats
    (own := tmp_path / "own").mkdir()
    moment = str(START.time())
    (own / "loggers.yaml").write_text(f"reading: {{marker_moments: {{value: ['{moment}']}}}}", "utf-8")
    assert np.median(_off(passages(tmp_path / "log.csv", schemas=own), birds)) < 1.5
