"""The clock of a box logger: marker tags, visits, steps, two loggers."""

from __future__ import annotations

from dataclasses import fields

import numpy as np
import pytest

from audit.declarations.load import load_declarations
from audit.models.clock_limits import Anchors, ClockLimits
from audit.models.logger_clock import logger_clock
from audit.models.two_loggers import ApartLimits, clocks_apart
from audit.models.visit_anchors import AnchorLimits, visit_anchors

HOUR = 3_600_000
DAY = 24 * HOUR
#: 2026-04-01
START = 20544 * DAY
DAYS = 40
NEAR = AnchorLimits(30, 4, 26, 3, 0.01)
APART = ApartLimits(2, 30, 7200, 6)


@pytest.fixture(scope="module")
def limits():
    settings = load_declarations().settings
    told = {one.name: settings[f"antennas.clock.{one.name}"].value for one in fields(ClockLimits)}
    return ClockLimits(
        **{name: tuple(value) if isinstance(value, list) else value for name, value in told.items()}
    )


def _log(seed, *, ahead=0.0, ppm=0.0, wobble=0.0, steps=(), minutes=15, visits=(5, 20, 33), visit_sd=1.0):
    """True moments in order, what the clock showed, positions of beats, and visits."""
    random = np.random.default_rng(seed)
    beats = START + random.uniform(0, minutes * 60_000) + np.arange(0, DAYS * 1440, minutes) * 60_000.0
    beats = beats[random.random(len(beats)) < 0.94] + random.normal(0, 150)
    birds = START + np.floor(random.uniform(0, DAYS, 2000)) * DAY + random.uniform(20, 28, 2000) * HOUR
    known = START + np.array(visits) * DAY + 10 * HOUR
    true = np.concatenate([beats, birds, known])
    kind = np.repeat([0, 1, 2], [len(beats), len(birds), len(known)])
    order = np.argsort(true, kind="stable")
    true, kind = true[order], kind[order]
    off = ahead * 1000 + ppm * 1e-6 * (true - START) + wobble * 1000 * np.sin((true - START) / (6 * DAY))
    for day, seconds in steps:
        off = off + np.where(true >= START + day * DAY, seconds * 1000.0, 0.0)
    at = np.flatnonzero(kind == 2)
    anchors = Anchors(at, true[at] + random.normal(0, visit_sd * 1000, len(at)))
    return true, np.rint(true + off).astype(np.int64), np.flatnonzero(kind == 0), anchors


@pytest.mark.parametrize(
    "steps",
    [
        (),
        ((10.42, 3600),),
        ((10.42, -3600),),
        ((10.42, 1234),),
        ((10.42, -500),),
        ((10.42, 3600), (25.3, -3600)),
        ((12.4, -26.25 * 365.25 * 86400),),
    ],
)
@pytest.mark.parametrize("minutes", [1, 15])
def test_every_read_is_right_within_two_seconds_where_a_marker_beats(steps, minutes, limits):
    true, stored, beats, anchors = _log(1, ahead=47, ppm=30, wobble=2, steps=steps, minutes=minutes)
    clock = logger_clock(stored, limits, beats=beats, anchors=anchors)
    assert len(clock.pieces) == 1 + len(steps)
    assert all(piece.known for piece in clock.pieces)
    assert np.abs(clock.corrected(stored) - true).max() < 2000


@pytest.mark.parametrize(("minutes", "ppm"), [(1440, -25), (1440, 40), (360, -45), (60, 100)])
def test_a_marker_that_beats_rarely_beats_at_what_its_timer_was_set_to(minutes, ppm, limits):
    # 25 ppm is 2.16 s a day: by such a clock a marker that beats daily beats every 86,398 s
    true, stored, beats, _ = _log(11, ppm=ppm, minutes=minutes, visits=())
    clock = logger_clock(stored, limits, beats=beats)
    assert clock.beat_s == 60 * minutes
    off = clock.corrected(stored) - true
    assert np.ptp(off) < 2500


def test_a_marker_tag_held_to_an_antenna_between_its_beats_sets_no_clock(limits):
    # at three visits, at one of them twice, and once more when the log was fetched
    _, stored, beats, held = _log(12, minutes=1440, visits=(4.2, 20.3, 20.31, 39.4))
    assert held.place[-1] > beats[-1]
    clock = logger_clock(stored, limits, beats=np.union1d(beats, held.place))
    assert [piece.kind for piece in clock.pieces] == ["right"]


@pytest.mark.parametrize("step", [130, -400, 700])
def test_a_clock_set_while_its_logger_slept_was_set_by_little(step, limits):
    true, stored, beats, _ = _log(13, steps=((12.5, step),), minutes=30, visits=())
    awake = (true - START) % DAY // HOUR
    awake = (awake < 8) | (awake >= 19)
    is_beat = np.zeros(len(true), dtype=bool)
    is_beat[beats] = True
    clock = logger_clock(stored[awake], limits, beats=np.flatnonzero(is_beat[awake]))
    off = (clock.offset[-1] - clock.offset[0]) / 1000
    assert off == pytest.approx(step, abs=2)


@pytest.mark.parametrize("off_days", [2.2, 4.4])
def test_a_clock_set_while_its_logger_was_off_for_days_was_set_by_little(off_days, limits):
    # beside a marker once in six hours, of which half is slept through
    true, stored, beats, _ = _log(14, steps=((20.5, 138),), minutes=360, visits=())
    hour = (true - START) % DAY / HOUR
    kept = ((hour < 8) | (hour >= 19.5)) & ~(
        (true > START + 20.5 * DAY) & (true < START + (20.5 + off_days) * DAY)
    )
    is_beat = np.zeros(len(true), dtype=bool)
    is_beat[beats] = True
    clock = logger_clock(stored[kept], limits, beats=np.flatnonzero(is_beat[kept]))
    off = (clock.offset[-1] - clock.offset[0]) / 1000
    assert off == pytest.approx(138, abs=2)


def test_the_worked_drift_of_thirty_parts_in_a_million(limits):
    # worked out beforehand: set on day 0, ahead 78 s on day 30: 2.6 s a day, 30.1 ppm; 32.5 s on day 12.5
    shown = START + np.array([0, 12.5, 30]) * DAY
    off = np.array([0, 32.5, 78]) * 1000
    stored = (shown + np.array([0, 0, 78_000])).astype(np.int64)
    clock = logger_clock(stored, limits, anchors=Anchors(np.array([0, 2]), (stored - off)[[0, 2]]))
    assert clock.pieces[0].drift * 1e6 == pytest.approx(30.1, abs=0.05)
    assert clock.offset[1] / 1000 == pytest.approx(32.5, abs=0.01)


def test_pieces_are_named(limits):
    _, stored, beats, anchors = _log(2, steps=((10.42, 3600), (20.4, -3600)), visits=(5, 15, 33))
    clock = logger_clock(stored, limits, beats=beats, anchors=anchors)
    assert [piece.kind for piece in clock.pieces] == ["right", "hour", "right"]
    _, stored, beats, anchors = _log(2, steps=((12.4, -26.25 * 365.25 * 86400),))
    assert [one.kind for one in logger_clock(stored, limits, beats=beats, anchors=anchors).pieces] == [
        "right",
        "reset",
    ]


def test_day_and_month_exchanged(limits):
    # 3 May 2026 shown as 5 March 2026
    may, march = (np.datetime64(day, "ms").astype(np.int64) for day in ("2026-05-03T21", "2026-03-05T21"))
    true = may + np.arange(0, 6) * HOUR // 2
    stored = march + np.arange(0, 6) * HOUR // 2
    clock = logger_clock(stored, limits, anchors=Anchors(np.array([2]), true[[2]].astype(float)))
    assert [piece.kind for piece in clock.pieces] == ["exchanged"]
    assert (clock.corrected(stored) == true).all()


def test_without_anything_known_nothing_is_changed(limits):
    _, stored, _, _ = _log(3)
    clock = logger_clock(stored, limits)
    assert (clock.corrected(stored) == stored).all()


def test_a_leap_that_nothing_measures_is_not_known(limits):
    stored = np.concatenate([START + np.arange(5) * HOUR, np.arange(5) * HOUR + 946_684_800_000]).astype(
        np.int64
    )
    clock = logger_clock(stored, limits)
    assert [piece.known for piece in clock.pieces] == [True, False]
    assert np.isnan(clock.pieces[1].offset_s)
    assert (clock.corrected(stored) == stored).all()


def test_one_visit_far_off_does_not_move_the_others(limits):
    true, stored, beats, anchors = _log(4, ahead=20, visits=(3, 8, 15, 22, 30))
    wrong = anchors.true.copy()
    wrong[2] += 9000
    clock = logger_clock(stored, limits, beats=beats, anchors=Anchors(anchors.place, wrong))
    assert np.abs(clock.corrected(stored) - true).max() < 2500


@pytest.mark.parametrize("ahead", [0, 95, 3600, -7200])
def test_tags_read_by_hand_and_by_the_logger_at_one_visit(ahead):
    random = np.random.default_rng(5)
    hand_tag = np.repeat(np.arange(4), 2)
    visits = START + np.array([10, 20])[np.tile([0, 1], 4)] * DAY + 11 * HOUR
    hand_at = visits + random.uniform(0, 600_000, 8)
    birds = np.sort(START + random.uniform(0, 30, 3000) * DAY)
    at = np.concatenate([birds, hand_at + random.normal(0, 3000, 8)])
    tag = np.concatenate([random.integers(0, 9, 3000), hand_tag])
    order = np.argsort(at)
    stored = np.rint(at[order] + ahead * 1000).astype(np.int64)
    found = visit_anchors(hand_tag, hand_at, tag[order], stored, NEAR)
    assert len(found.place) == 2
    assert ((stored[found.place] - found.true) / 1000).tolist() == pytest.approx([ahead, ahead], abs=4)


def test_tags_that_were_never_read_together_tell_nothing():
    random = np.random.default_rng(6)
    stored = np.sort(START + random.uniform(0, 30, 3000) * DAY).astype(np.int64)
    tag = random.integers(0, 9, 3000)
    hand_at = START + 10 * DAY + random.uniform(0, HOUR, 3)
    found = visit_anchors(np.arange(3), hand_at, tag, stored, NEAR)
    assert len(found.place) == 0


@pytest.mark.parametrize("ahead", [0.0, 0.5, 2.0, -47.0, 3600.0])
def test_two_loggers_are_held_together_by_the_birds(ahead):
    random = np.random.default_rng(7)
    moments = np.sort(START + random.uniform(0, 20, 400) * DAY)
    tag = random.integers(0, 5, 400)
    # a log-normal crossing with a median of half a second, as assumed in the worked example
    crossing = random.lognormal(np.log(500), 0.5, 400) * np.where(np.arange(400) % 2, 1, -1)
    outer, inner = random.random((2, 400)) < 0.85
    found = clocks_apart(
        tag[outer],
        np.rint(moments[outer] / 1000).astype(np.int64) * 1000,
        tag[inner],
        np.rint((moments + crossing + ahead * 1000)[inner] / 1000).astype(np.int64) * 1000,
        APART,
    )
    assert found is not None
    assert found.offset_s == pytest.approx(ahead, abs=0.3)


@pytest.mark.parametrize("ahead", [0.0, 0.4, -47.0])
def test_birds_that_stay_in_the_box_do_not_draw_two_clocks_apart(ahead):
    random = np.random.default_rng(71)
    moments = np.sort(START + random.uniform(0, 14, 600) * DAY)
    tag = random.integers(0, 6, 600)
    crossing = 1500 + random.normal(0, 200, 600)
    inwards = np.arange(600) % 2 == 0
    inner = moments + np.where(inwards, crossing, -crossing)
    # who went in turns about inside and is heard there again; nobody waits before the box
    again = np.repeat(inner[inwards], 3) + random.uniform(2_000, 20_000, 900)
    found = clocks_apart(
        tag,
        np.rint(moments).astype(np.int64),
        np.concatenate([tag, np.repeat(tag[inwards], 3)]),
        np.rint(np.concatenate([inner, again]) + ahead * 1000).astype(np.int64),
        APART,
    )
    assert found is not None
    assert found.offset_s == pytest.approx(ahead, abs=0.3)


def test_birds_that_never_cross_tell_nothing_of_two_clocks():
    random = np.random.default_rng(8)
    moments = (START + random.uniform(0, 20, (2, 300)) * DAY).astype(np.int64)
    assert (
        clocks_apart(random.integers(0, 5, 300), moments[0], random.integers(0, 5, 300), moments[1], APART)
        is None
    )


@pytest.mark.parametrize("minutes", [15, 60])
@pytest.mark.parametrize("days", [1, 2])
@pytest.mark.parametrize("beside_s", [0.0, 130.0])
def test_a_clock_set_back_by_whole_days_was_ahead_before(minutes, days, beside_s, limits):
    ahead = days * 86_400 + beside_s
    true, stored, beats, _ = _log(14, ahead=ahead, steps=((10.42, -ahead),), minutes=minutes, visits=())
    clock = logger_clock(stored, limits, beats=beats)
    off = (clock.corrected(stored) - true) / 1000
    # what is left over beside whole days is for the phase of the marker to tell
    assert np.abs(off - np.round(off[-1])).max() < 2
    assert clock.set_back
    # other loggers ended together, and this one a day sooner by its clock: it was set wrongly
    late = logger_clock(stored, limits, beats=beats, ended=-days * 86_400_000.0)
    assert not late.set_back
    assert late.offset[0] == pytest.approx(0, abs=2000)


@pytest.mark.parametrize("step", [-1800.0, -3600.0, -79_200.0])
def test_a_clock_set_back_by_less_was_right_before(step, limits):
    _, stored, beats, _ = _log(15, steps=((10.42, step),), visits=())
    clock = logger_clock(stored, limits, beats=beats)
    assert not clock.set_back
    assert clock.offset[0] == pytest.approx(0, abs=2000)


def test_beats_that_show_moments_shown_before_are_not_taken_for_missed(limits):
    # whole seconds, so that a day's beats stand twice, and the log leaves out the second ones
    true = START + np.arange(0, 18 * 1440, 15) * 60_000
    true = true[np.random.default_rng(16).random(len(true)) < 0.95]
    stored = np.where(true < START + 9.4 * DAY, true + DAY, true).astype(np.int64)
    _, first = np.unique(stored, return_index=True)
    kept = np.sort(first)
    clock = logger_clock(stored[kept], limits, beats=np.arange(len(kept)))
    assert (clock.corrected(stored[kept]) == true[kept]).all()


@pytest.mark.parametrize("days", [1, 3])
def test_a_clock_put_on_by_days_and_back_again_was_right_before(days, limits):
    ahead = days * 86_400.0
    true, stored, beats, _ = _log(17, steps=((9.4, ahead), (12.6, -ahead)), visits=())
    clock = logger_clock(stored, limits, beats=beats)
    assert [round(piece.offset_s / 86_400) for piece in clock.pieces] == [0, days, 0]
    assert np.abs(clock.corrected(stored) - true).max() < 2000
    assert not clock.set_back
