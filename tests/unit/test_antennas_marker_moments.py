"""Markers that beat once in hours at any minute: they tell the time where it is declared when they beat."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from audit import passages
from audit.antennas.clock_numbers import clock_numbers
from audit.antennas.round_markers import RoundMarkers
from audit.declarations.load import load_declarations
from audit.models.marker_phase import MarkerPhase, phase_of

DAY = 86_400.0
START = 1_777_593_600_000  # 2026-05-01, midnight
MARKER = "999000000109999"
ODD = 13 * 3600 + 37 * 60.0
LIMITS = clock_numbers(load_declarations()).rounds


def _log(folder, *, ahead, moment=ODD, every=DAY, nights=16):
    """One box, two birds, and a marker; what its clock shows is so many seconds ahead."""
    random, rows = np.random.default_rng(13), []
    rows += [(at, "inner", MARKER) for at in np.arange(nights * DAY // every) * every + moment % every]
    for bird in range(2):
        for night in range(nights):
            for nr, at in enumerate(np.sort(random.uniform(0, 8 * 3600, 6)) + night * DAY + 75_600):
                sides = ("outer", "inner") if nr % 2 else ("inner", "outer")
                rows += [(at + 1.5 * k, side, f"99900000010000{bird}") for k, side in enumerate(sides)]
    frame = pd.DataFrame(sorted(rows), columns=["at", "antenna", "tag"])
    shown = np.rint((frame.pop("at") + ahead) * 1000).astype("int64") + START
    frame["detected_at"] = pd.to_datetime(shown, unit="ms").dt.strftime("%Y-%m-%dT%H:%M:%S.%f")
    frame.assign(box="SL-01").to_csv(folder / "log.csv", index=False)
    return folder / "log.csv"


def _declared(folder, value):
    (own := folder / "own").mkdir()
    (own / "loggers.yaml").write_text(f"reading: {{marker_moments: {{value: {value}}}}}", encoding="utf-8")
    return own


@pytest.mark.parametrize("ahead", [0.0, 240.0, 1380.0])
def test_a_lone_marker_once_a_day_moves_no_moment_and_is_told(ahead, tmp_path):
    # 1380 s ahead it seems to beat at 14:00
    found = passages(_log(tmp_path, ahead=ahead))
    assert not found.clock()["moments"].eq("set right").any()
    assert any("Declare when it beats" in one for one in found.record.told) is (ahead < 1380)


@pytest.mark.parametrize("ahead", [7.0, -15.0, 200.0])
def test_a_lone_marker_tells_the_time_only_close_to_a_full_hour(ahead, tmp_path):
    found = passages(_log(tmp_path, ahead=ahead, moment=14 * 3600))
    (told,) = found.clock().itertuples()
    if abs(ahead) <= LIMITS.rare_near_s:
        assert (told.moments, told.offset_s) == ("set right", pytest.approx(ahead, abs=2))
    else:
        assert told.moments == "as logged"
        assert any("Declare when it beats" in one for one in found.record.told)


@pytest.mark.parametrize("ahead", [0.0, 240.0, -3600.0, 30_000.0, -30_000.0])
@pytest.mark.parametrize("value", ["['13:37']", "{'999 000 000 109 999': ['13:37']}"])
def test_a_declared_moment_sets_the_clock_right_however_far_it_was_off(ahead, value, tmp_path):
    found = passages(_log(tmp_path, ahead=ahead), schemas=_declared(tmp_path, value))
    (told,) = found.clock().itertuples()
    assert (told.moments, told.reference) == ("set right" if ahead else "as logged", "marker moments")
    assert (told.offset_s, told.p_offset) == (pytest.approx(ahead, abs=2), 1.0)
    assert not any("Declare when it beats" in one for one in found.record.told)
    assert any("at the moments that are declared" in one for one in found.record.told) is (ahead != 0)


def test_one_moment_is_enough_for_a_marker_that_beats_oftener(tmp_path):
    # every quarter of an hour, two minutes past, by a clock four minutes ahead
    log = _log(tmp_path, ahead=240, moment=120, every=900)
    (told,) = passages(log, schemas=_declared(tmp_path, "['00:02']")).clock().itertuples()
    assert told.offset_s == pytest.approx(240, abs=2)


def test_hours_that_hand_reads_tell_besides_are_not_counted_twice(tmp_path):
    log = _log(tmp_path, ahead=3600)
    reads = pd.read_csv(log, dtype=str)
    own = reads[(reads["tag"] != MARKER) & (reads["antenna"] == "inner")]
    hand = [
        (one.tag, int(pd.Timestamp(one.detected_at).timestamp() * 1000) - 3_600_000 - 300_000)
        for one in own.iloc[::9].itertuples()
    ]
    found = passages(log, schemas=_declared(tmp_path, "['13:37']"), anchors={"SL-01": hand}, by_hours=True)
    assert found.clock()["offset_s"].tolist() == pytest.approx([3600], abs=2)
    assert passages(log, anchors={"SL-01": hand}, by_hours=True).clock()["offset_s"].tolist() == [3600]


def test_the_phase_is_of_the_nearest_declared_moment():
    beats = START + (ODD + np.arange(20) * DAY + 7200) * 1000
    phase = phase_of(beats, DAY, (int(ODD),))
    assert (phase.off_s, phase.every_s, phase.declared) == (pytest.approx(7200), DAY, True)
    # of two a day one may never be heard
    phase = phase_of(beats, DAY, (int(ODD) - 43_200, int(ODD)))
    assert (phase.off_s, phase.every_s) == (pytest.approx(7200), DAY / 2)
    # 700 s do not divide a day
    assert not phase_of(beats, 700.0, (int(ODD),)).declared


def test_rare_markers_of_several_loggers_support_each_other():
    def told(*off):
        phases = {(nr, -1): MarkerPhase(float(one), 3600.0, rare=True) for nr, one in enumerate(off)}
        rounds = RoundMarkers("weigh", LIMITS)
        rounds.weigh({7}, phases)
        return [rounds.ahead(place, one) for place, one in phases.items()], rounds.unsure(2.0)

    assert told(41) == ([None], told(41)[1])
    assert told(41)[1][0].rare
    ahead, unsure = told(0.3, -1.2, 41)
    assert [one.pieces[0][1] for one in ahead] == pytest.approx([0.3, -1.2, 41])
    assert not unsure
    # each at a minute of its own: none is moved, each is told
    ahead, unsure = told(-1380, 512, 1490)
    assert ahead == [None, None, None]
    assert set(unsure) == {0, 1, 2}
    # all loggers set alike to half past, and one clock off
    ahead, _ = told(1799.7, -1799.5, 1799.9, -1740)
    assert (ahead[3].pieces[0][1], ahead[3].why) == (pytest.approx(60, abs=2), "markers together")


def test_visits_are_believed_where_declared_moments_contradict_them():
    rounds = RoundMarkers("weigh", LIMITS)
    phases = {(0, -1): MarkerPhase(3600.0, DAY, sd_s=5.0, declared=True)}
    rounds.weigh({7}, phases)
    assert rounds.ahead((0, -1), phases[0, -1]) is None
    assert rounds.unsure(2.0)[0].declared


def test_a_clock_that_was_a_day_ahead_is_told_so_beside_a_marker_once_a_day(tmp_path):
    log = _log(tmp_path, ahead=0.0)
    frame = pd.read_csv(log, dtype=str)
    at = pd.to_datetime(frame["detected_at"])
    day = pd.to_timedelta(np.where(at < at.min() + pd.Timedelta(days=7.3), 1, 0), unit="D")
    frame["detected_at"] = (at + day).dt.strftime("%Y-%m-%dT%H:%M:%S.%f")
    frame.to_csv(log, index=False)
    found = passages(log, schemas=_declared(tmp_path, "['13:37']"))
    assert found.clock()["offset_s"].tolist() == pytest.approx([DAY, 0], abs=2)
    assert any("set back by whole days" in one for one in found.record.told)
