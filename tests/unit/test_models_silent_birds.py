"""What each silent bird may have done, and what all of them say of the logger: by hand and against scipy."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from scipy.stats import beta, nbinom

from audit.declarations.load import load_declarations
from audit.models.box_habits import BoxHabits, BoxSilence
from audit.models.box_log import DAY_MS
from audit.models.health_beliefs import HealthBeliefs
from audit.models.night_habits import Habits
from audit.models.silence import Silence
from audit.models.silent_birds import Usual, absences_of, silent_birds
from audit.models.silent_boxes import Learnt, odds_of_dead

_NIGHTS = 30
_USUAL = Usual(missed=3.0, asked=400.0, ends=1.0, dead=1.0, nights=300.0, away=0.008)


def _declared():
    told = load_declarations().settings
    return HealthBeliefs(
        **{one.name: told[f"antennas.health.{one.name}"].value for one in fields(HealthBeliefs)}
    )


_BELIEFS = _declared()


@pytest.fixture(scope="module")
def beliefs():
    return _BELIEFS


def _silent(mass, rate, *, beside=0.0, by_pause=0.0, where="within", neighbours=(0, 0), night=10):
    rate = np.array(rate, dtype=float)
    each = np.ones(len(rate))
    start = 0 if where == "opens" else night * DAY_MS
    silence = Silence(start, int(start + mass * DAY_MS), where == "opens", where == "closes")
    return BoxSilence(silence, mass, rate, by_pause * each, beside * each, neighbours, each, 0 * each, 0.5)


def _box(rate, *silent, spread=0.3, begun=0.0, nights=_NIGHTS):
    birds = len(rate)
    bouts = np.repeat(np.array(rate, dtype=float).reshape(-1, 1), nights, axis=1)
    habits = Habits(
        0, 0, np.linspace(0, 1, 49), np.arange(birds, dtype=np.int64), bouts, np.ones(nights, dtype=np.bool_)
    )
    each = np.ones(birds)
    by_chance = nbinom.pmf(0, 1 / spread, 1 / (1 + spread * np.array(rate, dtype=float)))
    return BoxHabits(habits, spread * each, begun * each, (nights - 2) * each, by_chance, spread, silent)


def _odds(beliefs, rate, mass, *, usual=_USUAL, of=None, **more):
    silent = _silent(mass, rate, **more)
    return odds_of_dead(Learnt([of or _box(rate, silent)], usual), 0, silent.silence, beliefs)[0]


def test_without_birds_there_is_nothing_to_tell(beliefs):
    silent = _silent(2.0, [])
    told = silent_birds(_box([], silent), silent, _USUAL, beliefs)
    assert told.absent.shape == told.missed.shape == told.gone.shape == (0,)
    assert _odds(beliefs, [], 2.0) == -np.inf
    # birds that were heard on one side of the silence only tell nothing, either
    assert _odds(beliefs, [0.0, 0.0], 2.0) == -np.inf


def test_how_often_a_bird_stays_away_is_the_mean_of_scipys_beta(beliefs):
    silent = _silent(1.0, [500.0])
    box = _box([500.0], silent)
    # what is seen of all birds, on top of half an absence and nights by the declared share
    of_all = beta(_USUAL.missed + 0.5, _USUAL.asked - _USUAL.missed + 0.5 / beliefs.away - 0.5).mean()
    drawn = beliefs.worth_away * of_all + beliefs.away_yet
    own = beta(drawn, beliefs.worth_away - drawn + box.asked[0]).mean()
    told = silent_birds(box, silent, _USUAL, beliefs)
    # a bird that comes 500 times a night is never missed by chance, so that only its absence is left
    assert told.absent[0] == pytest.approx(own, rel=1e-6)
    assert told.missed[0] < 1e-6


@pytest.mark.parametrize("worth", [5.0, 30.0, 500.0])
@pytest.mark.parametrize("begun", [0.0, 2.0])
def test_how_much_all_birds_are_worth_for_one(worth, begun, beliefs):
    moved = replace(beliefs, worth_away=worth)
    silent = _silent(1.0, [500.0])
    box = _box([500.0], silent, begun=begun)
    of_all = beta(_USUAL.missed + 0.5, _USUAL.asked - _USUAL.missed + 0.5 / beliefs.away - 0.5).mean()
    hits = worth * of_all + beliefs.away_yet + begun
    expected = beta(hits, worth + box.asked[0] - hits).mean()
    assert silent_birds(box, silent, _USUAL, moved).absent[0] == pytest.approx(expected, rel=1e-4)


def test_other_silences_of_a_box_count_as_absences_and_the_one_asked_about_does_not(beliefs):
    asked = replace(_silent(1.0, [500.0]), away=np.array([0.2]))
    other = replace(_silent(1.0, [500.0], night=20), away=np.array([0.9]))
    alone = silent_birds(_box([500.0], asked), asked, _USUAL, beliefs).absent[0]
    beside = silent_birds(_box([500.0], asked, other), asked, _USUAL, beliefs).absent[0]
    nights = beliefs.worth_away + _NIGHTS - 2
    assert beside - alone == pytest.approx(0.9 / nights)
    # what the silence itself is thought to be was counted among all absences, and is taken out of them
    believed = replace(asked, away=np.array([0.7]))
    usual = replace(_USUAL, missed=_USUAL.missed + 0.5)
    told = silent_birds(_box([500.0], believed), believed, usual, beliefs).absent[0]
    assert told == pytest.approx(alone)


@pytest.mark.parametrize("nights", [1, 2, 5])
@pytest.mark.parametrize("rate", [0.5, 3.0, 12.0])
def test_nights_are_steps_of_a_chain_of_two_states(nights, rate, beliefs):
    silent = _silent(float(nights), [rate])
    told = silent_birds(_box([rate], silent), silent, _USUAL, beliefs)
    busy = _silent(1.0, [1e9])
    away = float(silent_birds(_box([rate], busy), busy, _USUAL, beliefs).absent[0])
    unheard = nbinom.pmf(0, 1 / 0.3, 1 / (1 + 0.3 * rate))
    # rows: about and not heard, away; numpy's powers of matrices are the reference
    step = np.array([[(1 - away) * unheard, away], [0.0, beliefs.stays]])
    expected = np.array([(1 - away) * unheard, away]) @ np.linalg.matrix_power(step, nights - 1)
    assert [told.missed[0], told.absent[0]] == pytest.approx(expected.tolist(), rel=1e-6)


def test_a_bird_that_was_away_before_may_stay_so(beliefs):
    silent = _silent(1.0, [500.0], beside=1.5)
    told = silent_birds(_box([500.0], silent), silent, _USUAL, beliefs)
    assert told.gone[0] == pytest.approx(1.0, rel=1e-4)
    assert told.absent[0] == pytest.approx(beliefs.stays, rel=1e-4)
    # one that comes seldom merely was not heard then
    seldom = _silent(1.0, [0.01], beside=1.5)
    assert silent_birds(_box([0.01], seldom), seldom, _USUAL, beliefs).gone[0] < 0.02


@settings(max_examples=40)
@given(
    rate=st.lists(st.floats(0.05, 40), min_size=1, max_size=5),
    mass=st.floats(0.85, 8),
    more=st.floats(0, 3),
    spread=st.floats(0.02, 3),
    beside=st.floats(0, 3),
)
def test_a_longer_silence_is_never_likelier_for_a_bird_that_is_about(rate, mass, more, spread, beside):
    def chance(lasts):
        silent = _silent(lasts, rate, beside=beside)
        told = silent_birds(_box(rate, silent, spread=spread), silent, _USUAL, _BELIEFS)
        each = np.stack([told.absent, told.missed])
        assert ((each >= 0) & (each <= 1)).all()
        assert (each.sum(axis=0) <= 1 + 1e-9).all()
        return each.sum(axis=0)

    # the last fiftieth of a night is none
    assert (chance(mass + 0.03 + more) <= chance(mass) * (1 + 1e-2)).all()


@settings(max_examples=60)
@given(
    rate=st.lists(st.floats(4, 40), min_size=1, max_size=6), mass=st.floats(0.85, 4), more=st.floats(0.03, 4)
)
@example(rate=[5.0], mass=1.84, more=0.03)
def test_a_longer_silence_is_never_less_dead(rate, mass, more):
    assert _odds(_BELIEFS, rate, mass + more) >= _odds(_BELIEFS, rate, mass) - 0.01


@settings(max_examples=40)
@given(rate=st.lists(st.floats(0.1, 40), min_size=1, max_size=5), another=st.floats(0.1, 40))
def test_one_more_silent_bird_is_never_less_dead(rate, another):
    # how birds that are about may all be missed together is asked of their sum, so it may gain a little
    assert _odds(_BELIEFS, [*rate, another], 1.0) >= _odds(_BELIEFS, rate, 1.0) - 0.7


@settings(max_examples=20)
@given(rate=st.lists(st.floats(0.1, 40), min_size=2, max_size=6), seed=st.integers(0, 99))
def test_birds_may_stand_in_any_order(rate, seed):
    moved = np.random.default_rng(seed).permutation(rate).tolist()
    assert _odds(_BELIEFS, rate, 1.4) == pytest.approx(_odds(_BELIEFS, moved, 1.4))


def test_birds_that_are_often_away_tell_less(beliefs):
    rate = [15.0, 15.0]
    silent = _silent(1.0, rate)
    # nights that hardly differ, so that nobody is missed by chance
    by_absences = [
        _odds(beliefs, rate, 1.0, of=_box(rate, silent, spread=0.05, begun=float(begun)))
        for begun in range(0, 28, 4)
    ]
    assert by_absences == sorted(by_absences, reverse=True)
    # birds that are as good as never there say that the logger was awake
    assert by_absences[-1] < 0 < by_absences[0]


@settings(max_examples=40)
@given(
    rate=st.lists(st.floats(0.1, 40), min_size=1, max_size=5), beside=st.floats(0, 1.9), more=st.floats(0, 3)
)
def test_birds_that_were_away_before_tell_less_of_the_logger(rate, beside, more):
    told = [_odds(_BELIEFS, rate, 1.0, beside=one) for one in (beside, beside + more)]
    assert told[1] <= told[0] + 1e-9
    # all of them away for long is as good as nobody in the box
    assert _odds(_BELIEFS, rate, 1.0, beside=30.0) <= _odds(_BELIEFS, rate, 1.0)


def test_how_often_loggers_die_is_the_mean_of_scipys_beta(beliefs):
    def dying(dead, **changed):
        moved = replace(beliefs, **changed)
        # the silence itself is thought to be half dead, and does not count for itself
        usual = replace(_USUAL, dead=dead + 0.5)
        return np.exp(_odds(moved, [10.0, 10.0], 1.0, usual=usual))

    def mean(dead, worth):
        return beta(beliefs.dead * worth + dead, (1 - beliefs.dead) * worth + _USUAL.nights - dead).mean()

    # the chance for a night is a factor of the odds; all else is the same
    for dead in (4.0, 6.0, 9.0):
        assert dying(dead) / dying(5.0) == pytest.approx(
            mean(dead, beliefs.dead_worth) / mean(5.0, beliefs.dead_worth)
        )
    for worth in (20.0, 300.0):
        assert dying(8.0, dead_worth=worth) / dying(8.0) == pytest.approx(
            mean(8.0, worth) / mean(8.0, beliefs.dead_worth)
        )
    # never less than was believed before, nor more than the most
    assert dying(0.0) == pytest.approx(dying(3.0) * beliefs.dead / mean(3.0, beliefs.dead_worth))
    assert dying(250.0) == pytest.approx(dying(3.0) * beliefs.dead_most / mean(3.0, beliefs.dead_worth))
    lower = beliefs.dead_most / 2
    assert dying(250.0, dead_most=lower) == pytest.approx(dying(250.0) / 2)


def test_at_an_end_of_the_log_a_silence_does_not_speak_for_loggers_that_die(beliefs):
    # the silences counted as dead lie within logs, so nothing is taken out of them
    def odds(dead):
        return _odds(beliefs, [10.0, 10.0], 1.0, where="closes", usual=replace(_USUAL, dead=dead))

    def mean(dead):
        worth = beliefs.dead_worth
        return beta(beliefs.dead * worth + dead, (1 - beliefs.dead) * worth + _USUAL.nights - dead).mean()

    assert np.exp(odds(8.0) - odds(4.0)) == pytest.approx(mean(8.0) / mean(4.0))


def test_boxes_that_were_left_make_an_end_less_dead(beliefs):
    by_ends = [
        _odds(beliefs, [10.0, 10.0], 3.0, where="closes", usual=replace(_USUAL, ends=0.5 + ends))
        for ends in (0.0, 1.0, 3.0, 9.0)
    ]
    assert by_ends == sorted(by_ends, reverse=True)
    assert by_ends[0] > _odds(beliefs, [10.0, 10.0], 3.0) - 5
    # half of those counted is the end that is asked about, which does not speak for itself
    silent = replace(_silent(3.0, [10.0, 10.0], where="closes"), dead=1.0)
    alone = _odds(
        beliefs,
        [10.0, 10.0],
        3.0,
        where="closes",
        usual=replace(_USUAL, ends=0.0),
        of=_box([10.0, 10.0], silent),
    )
    assert alone == pytest.approx(by_ends[0])
    within = [_odds(beliefs, [10.0, 10.0], 3.0, usual=replace(_USUAL, ends=ends)) for ends in (0.5, 9.5)]
    assert within[0] == within[1]


def test_a_storm_is_told_by_the_boxes_beside(beliefs):
    by_neighbours = []
    for silent in range(5):
        one = _silent(1.0, [10.0, 10.0], neighbours=(silent, 4))
        known = Learnt([_box([10.0, 10.0], one, spread=0.05)], _USUAL)
        by_neighbours.append(odds_of_dead(known, 0, one.silence, beliefs)[0])
    assert by_neighbours == sorted(by_neighbours, reverse=True)
    assert by_neighbours[-1] < 0 < by_neighbours[0]


@settings(max_examples=40)
@given(begun=st.floats(0, 20), away=st.floats(0.0001, 0.5), rate=st.floats(0.01, 40))
def test_what_is_likely_by_chance_is_hardly_an_absence(begun, away, rate):
    box = _box([rate], begun=begun)
    told = float(absences_of(box, away)[0])
    # by Bayes' theorem: of nights without it, those in which it was away
    unheard = nbinom.pmf(0, 1 / 0.3, 1 / (1 + 0.3 * rate))
    assert told == pytest.approx(begun * away / (away + (1 - away) * unheard))
    assert 0 <= told <= begun


def test_birds_that_hardly_came_do_not_make_an_end_deader(beliefs):
    def odds(rate):
        silent = _silent(2.0, rate, where="closes")
        usual = replace(_USUAL, ends=0.5)
        return _odds(beliefs, rate, 2.0, where="closes", usual=usual, of=_box(rate, silent, spread=0.05))

    two = odds([20.0, 20.0])
    assert odds([20.0, 20.0, *[0.1] * 6]) == pytest.approx(two, abs=0.1)
    # six more that came every night would have to leave with them
    assert odds([20.0] * 8) > two + 0.4
