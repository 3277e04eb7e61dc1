"""Marker tags that beat at round moments, and clocks that are off by the phase of their beats."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from audit import passages
from audit.antennas.clock_numbers import clock_numbers
from audit.antennas.round_markers import RoundMarkers
from audit.declarations.load import load_declarations
from audit.models.marker_phase import MarkerPhase, Setting, phase_of
from audit.models.round_weighing import weigh_phases

NUMBERS = clock_numbers(load_declarations())
LIMITS = NUMBERS.rounds
DAY_MS = 86_400_000
START = 1_777_593_600_000  # 2026-05-01, midnight


def _weighed(*off, every=900.0):
    return weigh_phases([MarkerPhase(float(one), float(every)) for one in off], LIMITS)


@pytest.mark.parametrize("ahead_s", [0.0, 78.3, -449.0, 449.9, -0.4])
def test_a_phase_is_how_far_a_clock_is_off(ahead_s):
    beats = START + np.arange(200) * 900_000.0 + ahead_s * 1000
    assert phase_of(beats, 900.0).off_s == pytest.approx(ahead_s, abs=1e-3)


def test_an_interval_that_does_not_divide_a_day_is_never_on_the_round():
    assert not phase_of(START + np.arange(200) * 700_000.0, 700.0).divides_day
    assert _weighed(0.1, every=700).p == (0.0,)


def test_clocks_that_are_right_tell_markers_on_the_round():
    assert _weighed(0.5).p_round > 0.95
    found = _weighed(0.5, 0.2, -156)
    assert found.p_round > 0.99
    assert found.p[2] > LIMITS.sure


def test_one_phase_is_the_surer_the_nearer_it_lies_to_a_round_moment_compared_with_the_interval():
    p = [_weighed(200, every=every).p[0] for every in (600, 900, 1800, 3600)]
    assert p == sorted(p)
    assert p[0] < LIMITS.sure < LIMITS.certain < p[-1]
    p = [_weighed(off).p[0] for off in (0, 20, 80, 200, 400)]
    assert p == sorted(p, reverse=True)


def test_bayes_rule_for_one_kind_of_clock():
    # worked by hand: one marker, every clock off by a normal error of 60 s, prior 3 to 1: the density at 60 s
    # is 0.3989 / 60 * exp(-0.5) = 0.004032, that of any moment in an hour 1 / 3600; 3 * 14.52 = 43.55 to 1
    limits = replace(LIMITS, before=0.75, together=0.0001, scales_s=(60.0,), beyond=0.0, trusted=0.5)
    found = weigh_phases([MarkerPhase(60.0, 3600.0)], limits)
    assert found.p_round == pytest.approx(43.55 / 44.55, abs=1e-3)
    assert found.p[0] == pytest.approx(found.p_round, abs=1e-6)


def test_an_error_longer_than_the_interval_leaves_open_which_beat_it_was():
    # errors of 200 s and a beat a minute: any phase is as likely, and so is any of seven beats
    random = np.random.default_rng(3)
    found = _weighed(*((random.normal(0, 200, 12) + 30) % 60 - 30), every=60)
    assert max(found.p) < LIMITS.sure


def test_markers_that_beat_together_beside_the_round_tell_whose_clock_is_off():
    found = _weighed(210.3, 210.1, 209.9, 210.2, 240, every=700)
    assert found.p_together > 0.9
    assert found.shift_s[4] == pytest.approx(210.1, abs=2)
    assert min(found.p[:4]) > LIMITS.sure


def test_already_two_that_beat_together_tell_and_two_apart_tell_the_contrary():
    alone = _weighed(200.0).p_together
    two = _weighed(200.0, 200.4).p_together
    assert _weighed(200.0, 200.4, 199.8).p_together > 0.5
    assert two > 5 * alone > alone > _weighed(200.0, -130.0).p_together


def test_a_clock_set_meanwhile_to_a_round_phase_tells_that_it_was_off_before():
    alone = weigh_phases([MarkerPhase(-130.0, 900.0)], LIMITS).p[0]
    put_right = weigh_phases([MarkerPhase(-130.0, 900.0, (Setting(130.2, 130.2),))], LIMITS).p[0]
    elsewhere = weigh_phases([MarkerPhase(-130.0, 900.0, (Setting(-200.0, -200.0),))], LIMITS).p[0]
    assert put_right > max(alone, elsewhere) + 0.02


def test_phases_all_over_the_interval_speak_against_round_moments_and_near_ones_for_them():
    # by Bayes' rule the mean belief over all logs is the share of logs; each kind of log moves it its own way
    random = np.random.default_rng(7)
    free, near = [], []
    for _ in range(9):
        free.append(_weighed(*random.uniform(-900, 900, 5), every=1800).p_round)
        near.append(_weighed(*random.normal(0, 100, 5), every=1800).p_round)
    assert np.median(free) < LIMITS.before - 0.05
    assert np.median(near) > 0.99


def test_who_declares_that_markers_were_started_at_any_moment_has_no_clock_set_by_them():
    rounds = RoundMarkers("no", LIMITS)
    phase = MarkerPhase(120.0, 3600.0)
    rounds.weigh({7}, {(0, -1): phase})
    assert rounds.ahead((0, -1), phase) is None


@pytest.mark.parametrize(("every_s", "at_h", "ahead_s"), [(86_400, 12, 69.0), (21_600, 20, -46.0)])
def test_a_marker_that_beats_once_in_hours_beats_at_full_hours(every_s, at_h, ahead_s):
    beats = START + (at_h * 3600 + np.arange(20) * every_s + ahead_s) * 1000.0
    phase = phase_of(beats, float(every_s))
    assert (phase.off_s, phase.every_s) == (pytest.approx(ahead_s, abs=1e-3), 3600.0)
    assert weigh_phases([phase], LIMITS).p[0] > LIMITS.certain


def test_two_antennas_that_read_one_marker_are_no_two_that_beat_together():
    apart = {
        (0, 0): MarkerPhase(-36.0, 900.0),
        (0, 1): MarkerPhase(-36.4, 900.0),
        (1, 0): MarkerPhase(-30.0, 900.0),
    }
    rounds = RoundMarkers("weigh", LIMITS)
    rounds.weigh({7}, apart)
    alone = weigh_phases([apart[0, 0], apart[1, 0]], LIMITS)
    assert rounds.found == alone
    assert [rounds.ahead(place, one).pieces[0][1] for place, one in apart.items()] == pytest.approx(
        [-36, -36.4, -30]
    )


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
