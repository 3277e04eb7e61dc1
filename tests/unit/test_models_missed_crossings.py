"""How well antennas hear, by what is missed between crossings: against chances that are known."""

from __future__ import annotations

import numpy as np
import pytest

from audit.models.box_log import Heard
from audit.models.missed_crossings import Turns, efficiencies, turns_of
from audit.models.read_groups import BOTH, INNER_ONLY, LOOK_IN, OUTER_ONLY, WAY_IN, WAY_OUT


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
def test_chances_are_found_again(outer, inner, looks, within):
    groups = _groups(outer, inner, looks=looks)
    found = efficiencies(turns_of(groups, np.ones(len(groups.tag), dtype=bool)))
    assert found == pytest.approx((outer, inner), abs=within)


def test_the_share_of_pairs_the_same_way_is_the_geometric_one():
    # by hand: both 0.6 * 0.5 = 0.3; odd numbers of misses come with 0.7 / 1.7
    groups = _groups(0.6, 0.5)
    turns = turns_of(groups, np.ones(len(groups.tag), dtype=bool))
    assert turns.missed / (turns.taken + turns.missed) == pytest.approx(0.7 / 1.7, abs=0.02)


def test_rests_and_doubts_leave_a_turn_open():
    kind = np.array([WAY_IN, -1, WAY_OUT, WAY_IN, LOOK_IN, WAY_OUT, WAY_IN], dtype=np.int8)
    at = np.arange(7, dtype=np.int64) * 600_000
    stop = at + np.array([0, 0, 0, 0, 20_000, 0, 0])
    groups = Heard(np.zeros(7, dtype=np.int32), at, stop, np.ones((2, 7), dtype=bool), kind)
    all_ = np.ones(7, dtype=bool)
    assert turns_of(groups, all_) == Turns(2, 0, 0, 0, 0, 0)
    deaf = all_ & (np.arange(7) != 5)
    assert turns_of(groups, deaf) == Turns(1, 0, 0, 0, 0, 0)


def test_birds_are_not_mixed_and_nothing_tells_nothing():
    kind = np.array([WAY_IN, WAY_IN], dtype=np.int8)
    two = Heard(
        np.array([1, 2], dtype=np.int32), np.zeros(2, int), np.zeros(2, int), np.ones((2, 2), bool), kind
    )
    turns = turns_of(two, np.ones(2, dtype=bool))
    assert turns == Turns(0, 0, 0, 0, 0, 0)
    assert np.isnan(efficiencies(turns)).all()
    assert BOTH == 2


def test_nestlings_beside_the_inner_antenna_do_not_turn_the_chances_round():
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
    turns = turns_of(groups, np.ones(len(groups.tag), dtype=bool))
    assert efficiencies(turns) == pytest.approx((0.7, 0.55), abs=0.06)
