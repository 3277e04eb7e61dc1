"""Dead spells at the ends of a log, and what so many bouts can tell: on logs of plain busy boxes."""

from __future__ import annotations

from dataclasses import fields

import numpy as np
import pytest
from simulated_outages import DAY, HOUR, START
from simulated_pairs import pairs

from audit.declarations.load import load_declarations
from audit.models.antenna_health import DEAD, UNKNOWN, health
from audit.models.box_log import box_logs
from audit.models.deaf_spells import most_told
from audit.models.health_beliefs import HealthBeliefs
from audit.models.reads import INNER, OUTER, Reads


@pytest.fixture(scope="module")
def beliefs():
    settings = load_declarations().settings
    return HealthBeliefs(
        **{one.name: settings[f"antennas.health.{one.name}"].value for one in fields(HealthBeliefs)}
    )


@pytest.fixture(scope="module")
def log():
    # seed of development: 18 boxes, no spell before the cuts below
    made = pairs(3, quality="good", ghosts=False, once=True)
    sound = [box for box in range(made.boxes) if box not in {spell.box for spell in made.spells}]
    keep = np.isin(made.reads.box, sound)
    return _kept(made.reads, keep), sound, made.nights


def _kept(reads, keep):
    return Reads(reads.box[keep], reads.tag[keep], reads.at[keep], reads.antenna[keep])


def _without(reads, box, sides, start, end):
    off = (reads.box == box) & np.isin(reads.antenna, sides) & (reads.at >= start) & (reads.at < end)
    return _kept(reads, ~off)


def _span(reads):
    return int(reads.at.min()), int(reads.at.max()) + 1


def _state(told, box, side, at):
    mine = (told.box == box) & (told.antenna == side) & (told.start <= at) & (told.end > at)
    return told.state[mine].tolist()


def test_a_box_whose_log_has_no_ends_of_its_own_goes_from_its_first_read_to_its_last(log):
    reads = log[0]
    for one in box_logs(reads, 10.0, 600.0, np.zeros(0, dtype=np.int64), 3, None):
        assert (one.start, one.end) == _span(_kept(reads, reads.box == one.box))


def test_a_box_reaches_to_the_ends_of_the_whole_log(log, beliefs):
    reads, boxes, nights = log
    cut = _without(reads, boxes[0], (OUTER, INNER), START + (nights - 8) * DAY, START + nights * DAY)
    told = health(cut, beliefs, span=_span(reads))
    for box in boxes:
        for side in (OUTER, INNER):
            mine = (told.box == box) & (told.antenna == side)
            assert (told.start[mine].min(), told.end[mine].max()) == _span(reads)


@pytest.mark.parametrize("first", [True, False])
def test_one_night_lost_at_an_end_of_a_busy_box_is_a_dead_logger(log, beliefs, first):
    reads, boxes, nights = log
    start = START if first else START + (nights - 1) * DAY
    told = health(_without(reads, boxes[1], (OUTER, INNER), start, start + DAY), beliefs, span=_span(reads))
    for side in (OUTER, INNER):
        assert _state(told, boxes[1], side, start + 12 * HOUR) == [DEAD]
    assert set(told.box[told.state == DEAD].tolist()) == {boxes[1]}


def test_a_box_that_falls_silent_for_good_may_have_been_left(log, beliefs):
    reads, boxes, nights = log
    start = START + 4 * DAY
    told = health(
        _without(reads, boxes[1], (OUTER, INNER), start, START + nights * DAY), beliefs, span=_span(reads)
    )
    assert _state(told, boxes[1], OUTER, START + (nights - 1) * DAY + 12 * HOUR) == [UNKNOWN]
    assert not (told.state == DEAD).any()


def test_where_boxes_end_in_many_nights_an_end_tells_nothing(log, beliefs):
    reads, boxes, nights = log
    for k, box in enumerate(boxes[:-1]):
        reads = _without(reads, box, (OUTER, INNER), START + (nights - 1 - k % 4) * DAY, START + nights * DAY)
    assert not (health(reads, beliefs, span=_span(log[0])).state == DEAD).any()


def test_one_antenna_dead_from_the_start_is_found_though_parents_come_again_within_minutes(log, beliefs):
    reads, boxes, _ = log
    for side in (OUTER, INNER):
        told = health(_without(reads, boxes[2], (side,), START, START + DAY), beliefs, span=_span(reads))
        assert _state(told, boxes[2], side, START + 12 * HOUR) == [DEAD]
        assert _state(told, boxes[2], 1 - side, START + 12 * HOUR) != [DEAD]


def test_a_few_reads_before_a_dead_antenna_or_logger_do_not_hide_it(log, beliefs):
    reads, boxes, _ = log
    box = boxes[2]
    first = np.sort(reads.at[reads.box == box])[0]
    for sides in ((OUTER,), (INNER,), (OUTER, INNER)):
        # heard at the first visit, and then no more for two nights
        told = health(
            _without(reads, box, sides, first + 60_000, START + 2 * DAY), beliefs, span=_span(reads)
        )
        for side in sides:
            assert _state(told, box, side, START + DAY + 12 * HOUR) == [DEAD]
        assert set(told.box[told.state == DEAD].tolist()) == {box}
        assert set(told.antenna[told.state == DEAD].tolist()) == set(sides)


def test_what_a_silence_lacks_does_not_speak_for_it(log, beliefs):
    # one antenna dead for most of a short log: in the rest it heard nearly all
    reads, boxes, _ = log
    reads = _kept(reads, reads.at < START + 8 * DAY)
    cut = _without(reads, boxes[1], (INNER,), START + 1.5 * DAY, START + 6.5 * DAY)
    told = health(cut, beliefs, span=_span(reads))
    assert _state(told, boxes[1], INNER, START + 4 * DAY + 12 * HOUR) == [DEAD]
    assert not (told.state[(told.box != boxes[1]) | (told.antenna != INNER)] == DEAD).any()


def test_a_night_without_birds_at_all_boxes_is_weather_near_the_end_of_a_log_too(log, beliefs):
    reads, boxes, nights = log
    start = START + (nights - 2) * DAY
    for box in boxes:
        reads = _without(reads, box, (OUTER, INNER), start, start + DAY)
    assert not (health(reads, beliefs, span=_span(log[0])).state == DEAD).any()


def test_an_end_two_seasons_away_is_not_that_of_the_box(log, beliefs):
    reads, boxes, _ = log
    span = START - 400 * DAY, START + 800 * DAY
    told = health(reads, beliefs, span=span)
    for box in boxes:
        own = reads.at[reads.box == box]
        mine = told.box == box
        assert (told.start[mine].min(), told.end[mine].max()) == (own.min(), own.max() + 1)


def test_few_bouts_cannot_tell_more_than_their_bound(beliefs):
    # by hand: ln 20 = 2.996 for each bout heard with 0.95, and the head start of a log that opens
    assert most_told(np.array([1]), beliefs)[0] == pytest.approx(
        2.9957 + beliefs.sure - beliefs.sure_start, abs=1e-3
    )


def test_the_longest_stay_of_a_bout_is_one_without_a_pause_of_a_minute():
    # two crossings five minutes apart, then a rest of four minutes with a read every half minute
    at = np.concatenate([[0, 1, 300, 301], 5000 + np.arange(0, 241, 30)]).astype(np.int64) * 1000
    reads = Reads(
        np.zeros(len(at), dtype=np.int32), np.ones(len(at), dtype=np.int32), at, np.zeros(len(at), np.int8)
    )
    (one,) = box_logs(reads, 10.0, 600.0, np.zeros(0, dtype=np.int64), 3, None)
    assert one.stays.tolist() == [1000, 240_000]
    assert (one.bouts.stop - one.bouts.begin).tolist() == [301_000, 240_000]
