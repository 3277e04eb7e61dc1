"""Looks that were half missed, states that mix in silence, waits: against counting, and against scipy."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pytest
from scipy.linalg import expm

from audit.declarations import load_declarations
from audit.models.passage_events import likelihoods
from audit.models.passage_learnt_manners import heard_back, learn_manners
from audit.models.passage_manners import LOOK, MANY, PASSAGE, first_manners
from audit.models.passage_missed import between
from audit.models.passage_sights import SIGHTS
from audit.models.passage_silence import over_silence
from audit.models.passage_waits import bin_of, density_of, waits_from
from audit.models.passages import Limits

LIMITS = Limits(
    **{
        key.rpartition(".")[2]: limit.value
        for key, limit in load_declarations().settings.items()
        if key.startswith("antennas.passages.")
    }
)
#: Sights by what was heard: the near antenna alone, the far one alone, and ten orders of both.
HEARD = 12
NEAR, FAR = 0, 1
#: An antenna that always hears again.
READY = np.ones(1)


def by_heard(table):
    return table.reshape(*table.shape[:-1], HEARD, SIGHTS // HEARD).sum(axis=-1)


def order(first, last):
    return 2 + 3 * first + last


@pytest.mark.parametrize(("near", "ready"), [(0.55, 1.0), (0.95, 1.0), (0.95, 0.3), (0.7, 0.6)])
def test_half_of_a_look_may_be_missed(near, ready):
    # reference: a look drawn a million times: near, far, near, each heard or not
    far, reach = 0.7, 0.6
    manners = first_manners(LIMITS, 0.2)
    sharp = np.full((MANY, 10), 1e-9)
    sharp[PASSAGE, order(NEAR, FAR) - 2] = 1
    sharp[LOOK, order(NEAR, NEAR) - 2] = 1
    manners = replace(manners, orders=sharp, reach=reach)
    rng = np.random.default_rng(3)
    n = 1_000_000
    there, back = rng.random(n) < near, rng.random(n) < near
    # a logger that stored a bird may not store it again so soon
    back &= ~there | (rng.random(n) < ready)
    beyond = rng.random(n) < reach * far
    heard = there | back | beyond
    counted = {
        NEAR: (there | back) & ~beyond,
        FAR: beyond & ~there & ~back,
        order(NEAR, NEAR): there & beyond & back,
        order(NEAR, FAR): there & beyond & ~back,
        order(FAR, NEAR): ~there & beyond & back,
    }
    found = by_heard(likelihoods(manners, np.array([[near], [far]]), np.array([ready])))[0, LOOK, 0]
    for sight, which in counted.items():
        assert found[sight] == pytest.approx(which.sum() / heard.sum(), abs=0.003)


def test_orders_of_looks_are_learnt_from_those_heard_there_and_back():
    near, far = 0.55, 0.7
    start = first_manners(LIMITS, 0.2)
    counts = np.zeros((2, MANY, 1, HEARD, SIGHTS // HEARD))
    efficiency = np.array([[near], [far]])
    counts[0, LOOK] = 10_000 * likelihoods(start, efficiency, READY)[0, LOOK].reshape(1, HEARD, -1)
    learnt = learn_manners(start, counts.reshape(2, MANY, 1, SIGHTS), efficiency, READY, start, LIMITS)
    # what looks were made with is learnt again
    assert learnt.orders[LOOK] == pytest.approx(start.orders[LOOK], abs=0.01)
    assert learnt.reach == pytest.approx(start.reach, abs=0.01)


def test_how_often_an_antenna_is_ready_again_is_learnt_of_looks():
    start, ready = first_manners(LIMITS, 0.2), 0.3
    efficiency = np.array([[0.8], [0.7]])
    counts = 1000 * likelihoods(start, efficiency, np.array([ready]))
    believed = np.array([0.9])
    for _ in range(200):
        again, looked = heard_back(start, counts, efficiency, believed)
        believed = again / looked
    assert believed[0] == pytest.approx(ready, abs=0.01)
    # each look is counted once
    again, looked = heard_back(start, counts, efficiency, np.array([ready]))
    assert again == pytest.approx(ready * looked, rel=0.01)


def test_looks_begin_and_end_beside_the_near_antenna():
    # a bird that is inside does not look out past the outer antenna first, however many are taken for looks
    start, efficiency = first_manners(LIMITS, 0.2), np.array([[0.9], [0.9]])
    counts = np.zeros((2, MANY, 1, HEARD, SIGHTS // HEARD))
    counts[0, LOOK, 0, order(FAR, NEAR), 4] = 1000
    learnt = learn_manners(start, counts.reshape(2, MANY, 1, SIGHTS), efficiency, READY, start, LIMITS)
    assert learnt.orders[LOOK, [1, 3, 4, 5, 7]].sum() <= LIMITS.look_elsewhere * 1.001
    assert learnt.orders[LOOK].sum() == pytest.approx(1)


def test_long_rests_alone_teach_no_long_passages():
    start = first_manners(LIMITS, 0.2)
    efficiency = np.array([[0.9], [0.9]])
    counts = np.zeros((2, MANY, 1, HEARD, SIGHTS // HEARD))
    # two rests of a minute, a tenth of each taken for a passage
    counts[0, :, 0, order(NEAR, FAR), -10] = [0.2, 0.0, 1.8, 0.0, 0.0]
    learnt = learn_manners(start, counts.reshape(2, MANY, 1, SIGHTS), efficiency, READY, start, LIMITS)
    assert learnt.lasting[PASSAGE, 1, -10] <= 1.001 * start.lasting[PASSAGE, 1, -10]
    # among many short passages it is learnt that some are long
    counts[0, PASSAGE, 0, order(NEAR, FAR), 4] = 500
    learnt = learn_manners(start, counts.reshape(2, MANY, 1, SIGHTS), efficiency, READY, start, LIMITS)
    assert learnt.lasting[PASSAGE, 1, -10] * 520 == pytest.approx(0.2, abs=0.06)


def test_passages_that_nobody_heard_are_what_is_missing():
    efficiency = np.array([[0.7, 0.2], [0.55, 0.9]])
    table = likelihoods(first_manners(LIMITS, 0.2), efficiency, np.ones(2))
    whole = table[:, PASSAGE].sum(axis=-1)
    assert whole == pytest.approx(np.tile(1 - (1 - efficiency[0]) * (1 - efficiency[1]), (2, 1)), abs=1e-6)
    for state in (0, 1):
        outer, inner, *both = np.moveaxis(by_heard(table)[state, PASSAGE], -1, 0)
        assert outer + sum(both) == pytest.approx(efficiency[0], abs=1e-6)
        assert inner + sum(both) == pytest.approx(efficiency[1], abs=1e-6)


def test_a_logger_whose_antennas_wait_together_hears_a_crossing_at_the_first_one():
    near, far, follows = 0.9, 0.8, 0.3
    table = likelihoods(first_manners(LIMITS, 0.2), np.array([[near], [far]]), READY, np.array([follows]))
    first, second, *both = by_heard(table)[0, PASSAGE, 0]
    # the chances of three events that exclude each other, by counting
    assert first == pytest.approx(near * (1 - follows * far), abs=1e-6)
    assert second == pytest.approx((1 - near) * far, abs=1e-6)
    assert sum(both) == pytest.approx(near * follows * far, abs=1e-6)


def test_reads_of_one_stamp_have_no_length_of_their_own():
    # where all reads have one stamp, order and length are one thing seen, and must not count twice
    manners, efficiency = first_manners(LIMITS, 0.2), np.array([[0.7], [0.55]])
    at_once = HEARD - 1
    for did in (PASSAGE, LOOK):
        together = by_heard(likelihoods(manners, efficiency, READY))[0, did, 0, 2:].sum()
        seen = likelihoods(manners, efficiency, READY)[0, did, 0].reshape(HEARD, -1)[at_once]
        assert seen.max() == pytest.approx(seen.sum(), abs=1e-9)
        if did == PASSAGE:
            assert seen.max() == pytest.approx(together * manners.orders[PASSAGE, -1], abs=1e-9)
    counts = np.zeros((2, MANY, 1, HEARD, SIGHTS // HEARD))
    counts[0, PASSAGE, 0, at_once, 2] = 1000
    learnt = learn_manners(manners, counts.reshape(2, MANY, 1, SIGHTS), efficiency, READY, manners, LIMITS)
    assert learnt.lasting[PASSAGE] == pytest.approx(manners.lasting[PASSAGE])
    assert learnt.orders[PASSAGE, -1] > 0.97


@dataclass
class _Hearing:
    silent: np.ndarray
    slept: np.ndarray


@dataclass
class _Chains:
    hearing: _Hearing
    wait: np.ndarray


def learnt_waits():
    rng = np.random.default_rng(1)
    seen = np.concatenate([rng.exponential(1200, 3000), rng.exponential(300, 3000)])
    weights = np.zeros((2, 6000))
    weights[0, :3000], weights[1, 3000:] = 1, 1
    return waits_from(bin_of(seen), weights, 1e-4)


@pytest.mark.parametrize("silent", [60.0, 900.0, 86_400.0])
def test_states_mix_while_nobody_hears(silent):
    # reference: matrix exponential of the rates of a chain of two states (scipy.linalg.expm)
    waits, n = learnt_waits(), 1
    chains = _Chains(_Hearing(np.full(n, silent), np.zeros(n)), np.zeros(n))
    passing = np.array([[0.8], [0.6]])
    stay = np.eye(2)[:, :, None]
    found = over_silence(chains, waits, np.arange(n), (passing, 0.1 * passing), stay, true=0.5)[:, :, 0]
    rate = passing[:, 0] / waits.mean
    expected = expm(np.array([[-rate[0], rate[0]], [rate[1], -rate[1]]]) * silent)
    assert 2 * found == pytest.approx(expected, abs=1e-9)


def test_a_sleep_told_from_silence_may_have_been_none():
    waits = learnt_waits()
    chains = _Chains(_Hearing(np.array([80_000.0]), np.array([80_000.0])), np.array([100.0]))
    passing = np.array([[0.8], [0.6]])
    stay = np.eye(2)[:, :, None]
    args = chains, waits, np.array([0]), (passing, 0.1 * passing), stay
    never, ever, perhaps = (over_silence(*args, true=true)[:, :, 0] for true in (0.0, 1.0, 0.3))
    assert perhaps == pytest.approx(0.7 * never + 0.3 * ever)
    awake = between(waits, bin_of(np.array([80_100.0])), 0.1 * passing)
    states = np.array([[awake.stay[0], awake.change[0]], [awake.change[1], awake.stay[1]]])[:, :, 0]
    assert never == pytest.approx(states / states.sum())


def test_missed_crossings_are_counted_as_they_add_up():
    # reference: the sum over numbers of missed crossings, written out
    waits = learnt_waits()
    bins, unheard = bin_of(np.array([100.0, 2000.0, 9000.0])), np.array([[0.3, 0.2, 0.1], [0.2, 0.4, 0.3]])
    found = between(waits, bins, unheard)
    for k, place in enumerate(bins):
        for state in (0, 1):
            terms = []
            for missed in range(6):
                chance = 1.0
                for step in range(missed):
                    chance *= unheard[(state + step) % 2, k]
                terms.append(chance * waits.missed[state, missed, place])
            stay, change = sum(terms[::2]), sum(terms[1::2])
            assert found.stay[state, k] == pytest.approx(stay)
            assert found.change[state, k] == pytest.approx(change)
            assert found.lost_staying[state, k] * stay == pytest.approx(terms[2] + 2 * terms[4])
            assert found.lost_changing[state, k] * change == pytest.approx(
                terms[1] + 2 * terms[3] + 3 * terms[5]
            )
            assert found.back_changing[state, k] * change == pytest.approx(terms[3] + 2 * terms[5])


def test_waits_of_few_are_drawn_towards_all():
    edges = 1.25 ** np.arange(learnt_waits().density.shape[1] + 1)
    bins = bin_of(np.array([100.0, 1000.0]))
    few, all_ = (density_of(bins, np.array([1.0, 0.0]), worth, 1e-9) * np.diff(edges) for worth in (1.0, 1e6))
    near = slice(bins[0] - 2, bins[0] + 3)
    assert few[near].sum() == pytest.approx(0.75, abs=0.01)
    assert all_[near].sum() == pytest.approx(0.5, abs=0.01)


def test_a_wait_lies_between_the_edges_of_its_bin():
    waits = np.geomspace(1.01, 5e6, 200)
    found = bin_of(waits)
    assert (1.25**found <= waits).all()
    assert (waits < 1.25 ** (found + 1)).all()
    assert bin_of(np.array([0.0, 1e12])).tolist() == [0, learnt_waits().density.shape[1] - 1]
