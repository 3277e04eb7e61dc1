"""Marker tags that beat at round moments, and clocks that are off by the phase of their beats."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from audit import passages
from audit.models.marker_phase import MarkerPhase, RoundLimits, on_the_round, phase_of

LIMITS = RoundLimits(0.7, 1.0, (60.0, 300.0), (0.05, 0.2, 0.4, 0.6, 0.8, 0.95))
DAY_MS = 86_400_000
START = 1_777_593_600_000  # 2026-05-01, midnight


@pytest.mark.parametrize("ahead_s", [0.0, 78.3, -449.0, 449.9, -0.4])
def test_a_phase_is_how_far_a_clock_is_off(ahead_s):
    beats = START + np.arange(200) * 900_000.0 + ahead_s * 1000
    assert phase_of(beats, 900.0).off_s == pytest.approx(ahead_s, abs=1e-3)


def test_an_interval_that_does_not_divide_a_day_has_no_phase():
    assert phase_of(START + np.arange(200) * 700_000.0, 700.0) is None


def test_clocks_that_are_right_tell_markers_on_the_round():
    assert on_the_round([MarkerPhase(0.5, 900.0)], LIMITS) >= 0.9
    assert (
        on_the_round([MarkerPhase(0.5, 900.0), MarkerPhase(0.2, 900.0), MarkerPhase(-256, 900)], LIMITS)
        > 0.99
    )


def test_one_phase_beside_the_round_leaves_it_open():
    assert 0.1 < on_the_round([MarkerPhase(78.0, 900.0)], LIMITS) < 0.9


def test_markers_started_at_any_moment_are_seldom_taken_for_round():
    # by Bayes' rule at most (1 - 0.9) / 0.9 * 0.7 / 0.3 = 0.26 of such logs; here far fewer
    random = np.random.default_rng(7)
    taken = 0
    for _ in range(1000):
        every = float(random.choice([300, 600, 900, 1800, 3600]))
        phases = [MarkerPhase(off, every) for off in random.uniform(-every / 2, every / 2, 4)]
        taken += on_the_round(phases, LIMITS) >= 0.9
    assert taken <= 40


@pytest.fixture
def log(tmp_path):
    """Three boxes, a marker every quarter of an hour; the clock of the last one is 200 s ahead."""
    random, rows = np.random.default_rng(5), []
    for nr, ahead in enumerate((0, 0, 200)):
        box = f"SL-0{nr + 1}"
        rows += [
            (START + beat * 900_000 + ahead * 1000, box, "outer", "999000000109999")
            for beat in range(10 * 96)
            if random.random() < 0.94
        ]
        for night in range(10):
            for pass_nr in range(6):
                at = START + night * DAY_MS + 72_000_000 + pass_nr * 1_800_000 + ahead * 1000
                sides = ("outer", "inner") if pass_nr % 2 else ("inner", "outer")
                rows += [(at + 2000 * k, box, side, f"99900000010000{nr}") for k, side in enumerate(sides)]
    frame = pd.DataFrame(sorted(rows), columns=["at", "box", "antenna", "tag"])
    frame["detected_at"] = pd.to_datetime(frame.pop("at"), unit="ms").dt.strftime("%Y-%m-%dT%H:%M:%S")
    path = tmp_path / "log.csv"
    frame.to_csv(path, index=False)
    return path


def test_a_clock_off_from_its_first_reads_on_is_set_right_by_the_others(log):
    found = passages(log)
    (off,) = [one for one in found.record.clocks if one.changed]
    assert (off.box, off.reference) == ("SL-03", "marker on the round")
    assert off.offset_s == pytest.approx(200, abs=2)
    assert any("beat at round moments" in told for told in found.record.told)
    shown = found.record.passages
    moments = shown.at[shown.box == 2]  # noqa: PD008 - no frame
    seconds = (moments - START) / 1000 % 1800
    assert (np.minimum(seconds, 1800 - seconds) <= 4).all()
