"""Edges of silences, amid what goes on in a night or at rest: against scipy, and on logs of plain birds."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import expon

from audit.declarations.load import load_declarations
from audit.models.antenna_health import DEAD, UNKNOWN, health
from audit.models.box_log import DAY_MS, HOUR_MS
from audit.models.health_beliefs import HealthBeliefs
from audit.models.night_habits import Habits
from audit.models.reads import INNER, OUTER, Reads
from audit.models.silence import Silence
from audit.models.silence_edges import edges_at_rest, near_rest

#: 2026-05-01.
_START = 20574 * DAY_MS


@pytest.fixture(scope="module")
def beliefs():
    settings = load_declarations().settings
    return HealthBeliefs(
        **{one.name: settings[f"antennas.health.{one.name}"].value for one in fields(HealthBeliefs)}
    )


def _habits(passed):
    return Habits(0, 0, np.asarray(passed), np.zeros(1, np.int64), np.ones((1, 30)), np.ones(30, np.bool_))


#: Birds that come from six to eighteen hours, evenly.
_BY_DAY = np.interp(np.arange(49) / 2, [6, 18], [0, 1])


def _edges(start_h, end_h, beliefs, *, passed=_BY_DAY, total=30.0):
    silence = Silence(10 * DAY_MS + int(start_h * HOUR_MS), 12 * DAY_MS + int(end_h * HOUR_MS))
    return edges_at_rest(_habits(passed), silence, total, beliefs)


@pytest.mark.parametrize("total", [0.7, 5.0, 60.0])
@pytest.mark.parametrize("moment", [0.03, 0.15, 0.5, 0.95, 1.0])
@pytest.mark.parametrize("part", [0.05, 0.2])
def test_the_last_bout_before_a_moment_is_that_of_scipys_exponential(moment, total, part):
    since = expon(scale=1 / total)
    rests = [
        quad(since.pdf, max(moment - rest - part, 0), moment - rest + part)[0]
        for rest in range(-3, 2)
        if moment - rest + part > 0
    ]
    assert float(near_rest(np.array(moment), total, part)) == pytest.approx(sum(rests), abs=1e-5)


def test_edges_at_rest_speak_for_birds_that_stayed_away_and_others_for_a_dead_logger(beliefs):
    rest, amid = _edges(20.0, 4.0, beliefs), _edges(11.0, 13.0, beliefs)
    one_of_both = _edges(20.0, 13.0, beliefs)
    assert rest > 2
    assert amid < 0.05
    assert amid < one_of_both < rest
    # one bird that roosted inside leaves in the morning, and nobody else comes
    assert _edges(6.5, 4.0, beliefs) == pytest.approx(rest)


def test_the_edges_are_as_likely_in_all_as_anything_is(beliefs):
    # by the two hours together, weighed as a dead logger would have them, the ratio is one in the mean
    hours = np.arange(0, 24, 0.5) + 0.25
    passed = np.interp(hours, np.arange(49) / 2, _BY_DAY)
    chance = near_rest(passed, 30.0, beliefs.rest_part).mean()
    within, amid = _edges(20.0, 4.0, beliefs) ** 0.5, _edges(11.0, 13.0, beliefs) ** 0.5
    assert chance * within + (1 - chance) * amid == pytest.approx(1.0)


def test_birds_without_a_rest_or_without_bouts_tell_nothing(beliefs):
    assert _edges(0.0, 0.0, beliefs, passed=np.linspace(0, 1, 49)) == pytest.approx(1.0)
    assert _edges(11.0, 13.0, beliefs, total=0.0) == 1.0
    assert _edges(11.0, 13.0, replace(beliefs, rest_kept=0.0)) == 1.0


def _reads(gone, *, seed=0, birds=3, days=30, visits=8, markers=0):
    """Birds that cross from five to twenty-one hours, of which some hours are gone; hours since the start."""
    random = np.random.default_rng(seed)
    rows = []
    for day in range(days):
        for bird in range(birds):
            for hour in 24 * day + 5 + 16 * random.random(random.poisson(visits)):
                rows += [(bird, hour, OUTER), (bird, hour + 2 / 3600, INNER)]
    if markers:
        rows += [(99, hour, side) for hour in np.arange(1, 24 * days, markers) for side in (OUTER, INNER)]
    rows = sorted(row for row in rows if not any(a <= row[1] < b for a, b in gone))
    tag, hour, side = (np.array(column) for column in zip(*rows, strict=True))
    at = _START + (hour * HOUR_MS).astype(np.int64)
    return Reads(np.zeros(len(at), np.int32), tag.astype(np.int32), at, side.astype(np.int8))


def _states(reads, beliefs, day, hour, **known):
    told = health(reads, beliefs, **known)
    at = _START + day * DAY_MS + hour * HOUR_MS
    return sorted(told.state[(told.start <= at) & (at < told.end)].tolist())


def test_a_day_without_birds_from_rest_to_rest_is_open_and_one_from_noon_to_noon_a_dead_logger(beliefs):
    quiet = _states(_reads([(24 * 14, 24 * 15)]), beliefs, 14, 12)
    assert quiet == [UNKNOWN, UNKNOWN]
    dead = _states(_reads([(24 * 14 + 13, 24 * 15 + 13)]), beliefs, 15, 0)
    assert dead == [DEAD, DEAD]


def test_a_rare_marker_that_neither_antenna_heard_tells_of_the_logger(beliefs):
    # of one bird that comes twice a day nothing follows
    gone = [(24 * 14 + 3, 24 * 15 + 3)]
    alone = _states(_reads(gone, birds=1, visits=2), beliefs, 14, 12)
    assert DEAD not in alone
    reads = _reads(gone, birds=1, visits=2, markers=6)
    assert _states(reads, beliefs, 14, 12, markers=(99,)) == [DEAD, DEAD]


def test_a_logger_of_which_one_antenna_woke_later_was_dead_from_the_start(beliefs):
    # both are dead for four days, and the outer one for some hours more
    reads = _reads([(24 * 10 + 13, 24 * 14 + 12)], visits=12)
    late = (reads.antenna == OUTER) & (reads.at < _START + 14 * DAY_MS + 15 * HOUR_MS)
    late &= reads.at >= _START + 14 * DAY_MS
    kept = Reads(reads.box[~late], reads.tag[~late], reads.at[~late], reads.antenna[~late])
    told = health(kept, beliefs)
    for side in (OUTER, INNER):
        dead = (told.antenna == side) & (told.state == DEAD)
        assert abs(told.start[dead].min() - (_START + 10 * DAY_MS + 13 * HOUR_MS)) < 3 * HOUR_MS


def test_parents_that_cease_to_come_when_the_last_young_have_left_are_no_dead_logger(beliefs):
    # four young come until the 12th to the 15th day, a pair until the 16th, and the log ends with the 18th
    reads = _reads([(24 * 16, 24 * 30)], birds=6)
    leaves = np.array([16, 16, 12, 13, 14, 15])[reads.tag]
    kept = reads.at < _START + leaves * DAY_MS
    reads = Reads(reads.box[kept], reads.tag[kept], reads.at[kept], reads.antenna[kept])
    span = _START, _START + 18 * DAY_MS
    assert _states(reads, beliefs, 17, 12, span=span) == [UNKNOWN, UNKNOWN]
