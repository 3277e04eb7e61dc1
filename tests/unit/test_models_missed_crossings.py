"""How well antennas hear, by what is missed between crossings: against chances that are known."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest

from audit.declarations.load import load_declarations
from audit.models.box_log import Heard
from audit.models.health_beliefs import HealthBeliefs
from audit.models.missed_crossings import Turns, efficiencies, pairs_of, resting
from audit.models.read_groups import BOTH, INNER_ONLY, LOOK_IN, OUTER_ONLY, WAY_IN, WAY_OUT


@pytest.fixture(scope="module")
def beliefs():
    settings = load_declarations().settings
    return HealthBeliefs(
        **{one.name: settings[f"antennas.health.{one.name}"].value for one in fields(HealthBeliefs)}
    )


def _groups(outer, inner, *, looks=0.0, n=20_000, seed=1):
    """Crossings in turn, each heard by chance, with looks of a bird that is outside at the outer antenna."""
    random = np.random.default_rng(seed)
    by = np.stack([random.random(n) < outer, random.random(n) < inner])
    kind = np.where(by.all(axis=0), np.where(np.arange(n) % 2, WAY_OUT, WAY_IN), OUTER_ONLY)
    kind[~by[0]] = INNER_ONLY
    at = np.arange(n, dtype=np.int64) * 600_000
    look = np.flatnonzero(random.random(n) < looks)
    at, kind = np.append(at, at[look] + 300_000), np.append(kind, np.full(len(look), OUTER_ONLY))
    by = np.append(by, np.array([[True], [False]]).repeat(len(look), axis=1), axis=1)
    order = np.argsort(at)
    order = order[by[:, order].any(axis=0)]
    return Heard(
        np.zeros(len(order), dtype=np.int32), at[order], at[order], by[:, order], kind[order].astype(np.int8)
    )


@pytest.mark.parametrize(("outer", "inner"), [(0.95, 0.93), (0.7, 0.55), (0.9, 0.6), (0.5, 0.95)])
# looks lie more often in the longer pairs: what that does to a weak antenna is said in the notes
@pytest.mark.parametrize(("looks", "within"), [(0.0, 0.04), (0.1, 0.08)])
def test_chances_are_found_again(outer, inner, looks, within, beliefs):
    groups = _groups(outer, inner, looks=looks)
    found = efficiencies(pairs_of(groups, np.ones(len(groups.tag), dtype=bool), beliefs).turns(), beliefs)
    assert found == pytest.approx((outer, inner), abs=within)


def test_the_share_of_pairs_the_same_way_is_the_geometric_one(beliefs):
    # by hand: both 0.6 * 0.5 = 0.3; odd numbers of misses come with 0.7 / 1.7
    groups = _groups(0.6, 0.5)
    turns = pairs_of(groups, np.ones(len(groups.tag), dtype=bool), beliefs).turns()
    assert turns.missed / (turns.taken + turns.missed) == pytest.approx(0.7 / 1.7, abs=0.02)


def test_rests_and_doubts_leave_a_turn_open(beliefs):
    kind = np.array([WAY_IN, -1, WAY_OUT, WAY_IN, LOOK_IN, WAY_OUT, WAY_IN], dtype=np.int8)
    at = np.arange(7, dtype=np.int64) * 600_000
    stop = at + np.array([0, 0, 0, 0, 20_000, 0, 0])
    groups = Heard(np.zeros(7, dtype=np.int32), at, stop, np.ones((2, 7), dtype=bool), kind)
    all_ = np.ones(7, dtype=bool)
    assert pairs_of(groups, all_, beliefs).turns() == Turns(2, 0, 0, 0, 0, 0)
    deaf = all_ & (np.arange(7) != 5)
    assert pairs_of(groups, deaf, beliefs).turns() == Turns(1, 0, 0, 0, 0, 0)


def test_birds_are_not_mixed_and_nothing_tells_nothing(beliefs):
    kind = np.array([WAY_IN, WAY_IN], dtype=np.int8)
    two = Heard(
        np.array([1, 2], dtype=np.int32), np.zeros(2, int), np.zeros(2, int), np.ones((2, 2), bool), kind
    )
    turns = pairs_of(two, np.ones(2, dtype=bool), beliefs).turns()
    assert turns == Turns(0, 0, 0, 0, 0, 0)
    assert np.isnan(efficiencies(turns, beliefs)).all()
    assert BOTH == 2


def test_nestlings_beside_the_inner_antenna_do_not_turn_the_chances_round(beliefs):
    parents = _groups(0.7, 0.55, n=4000)
    rng = np.random.default_rng(7)
    # now and then a nestling that cannot fly sits inside for minutes; each read is a group, and some look in
    sits, reads = 400, 8
    at = np.repeat(np.sort(rng.integers(0, 2_000_000_000, sits)), reads)
    at = at + np.tile(np.arange(reads) * 20_000, sits)
    kind = np.where(rng.random(len(at)) < 0.15, WAY_IN, INNER_ONLY).astype(np.int8)
    by = np.stack([kind == WAY_IN, np.ones(len(at), dtype=bool)])
    groups = Heard(
        np.append(parents.tag, np.ones(len(at), dtype=np.int32)),
        np.append(parents.begin, at),
        np.append(parents.stop, at),
        np.append(parents.by, by, axis=1),
        np.append(parents.kind, kind),
    )
    turns = pairs_of(groups, np.ones(len(groups.tag), dtype=bool), beliefs).turns()
    assert efficiencies(turns, beliefs) == pytest.approx((0.7, 0.55), abs=0.06)


def test_what_is_a_rest_is_declared(beliefs):
    # five groups half a minute apart, then one a minute and a half later
    at = np.array([0, 30, 60, 90, 120, 210], dtype=np.int64) * 1000
    groups = Heard(
        np.zeros(6, dtype=np.int32), at, at + 1000, np.ones((2, 6), dtype=bool), np.full(6, WAY_IN, np.int8)
    )
    assert resting(groups, beliefs).tolist() == [True] * 5 + [False]
    assert not resting(groups, replace(beliefs, pass_row=5)).any()
    assert resting(groups, replace(beliefs, pass_beside_s=100)).all()
    assert not resting(groups, replace(beliefs, pass_beside_s=20)).any()
    assert resting(groups, replace(beliefs, pass_row=5, pass_s=0.5)).all()


def test_few_turns_leave_what_is_declared(beliefs):
    few = replace(beliefs, turns_worth=2.0, turns_missed=0.25)
    # by hand: (0 + 2 * 0.25) / (1 + 2) = 1 / 6 of pairs lack one: both hear (1 - 2 / 6) / (1 - 1 / 6) = 0.8
    outer, inner = efficiencies(Turns(1, 0, 0, 0, 0, 0), few)
    assert outer * inner == pytest.approx(0.8)
    assert outer == pytest.approx(inner)
    # by hand: never less than (1 - 2 * 0.4) / (1 - 0.4) = 1 / 3
    outer, inner = efficiencies(Turns(0, 50, 0, 0, 0, 0), replace(beliefs, turns_most=0.4))
    assert outer * inner == pytest.approx(1 / 3)
