"""Pieces of antennas, silences, waits and nestlings, each against plain counting."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from simulated_detections import SEASON, Sky, by_events

from audit.declarations import load_declarations
from audit.models.passage_hearing import Hearing, no_spells
from audit.models.passage_missed import between
from audit.models.passage_places import place
from audit.models.passage_waits import bin_of, waits_from
from audit.models.passages import Limits, passages
from audit.models.reads import INNER, Reads, Spells

LIMITS = Limits(
    **{
        key.rpartition(".")[2]: limit.value
        for key, limit in load_declarations().settings.items()
        if key.startswith("antennas.passages.")
    }
)

BOUNDS = (0.01, 0.999)


def spells_of(*rows):
    """Rows of box, antenna, start and end in seconds, state, efficiency."""
    box, antenna, start, end, state, heard = (np.array(column) for column in zip(*rows, strict=True))
    return Spells(
        box.astype(np.int32),
        antenna.astype(np.int8),
        (start * 1000).astype(np.int64),
        (end * 1000).astype(np.int64),
        state.astype(np.int8),
        heard.astype(float),
    )


STATES = st.lists(st.integers(0, 3), min_size=6, max_size=6)


@settings(max_examples=40, deadline=None)
@given(STATES, STATES, st.integers(0, 60), st.integers(0, 60))
def test_silence_is_counted_second_by_second(outer, inner, one, other):
    # reference: the definition, every second by itself
    since, until = sorted((one, other))
    spells = spells_of(
        *[(0, 0, 10 * k, 10 * k + 10, state, 0.9) for k, state in enumerate(outer)],
        *[(0, 1, 10 * k, 10 * k + 10, state, 0.8) for k, state in enumerate(inner)],
        (4, 0, 0, 60, 2, 0.0),
        (4, 1, 0, 60, 2, 0.0),
    )
    found = Hearing.at(
        spells,
        np.zeros(1, np.int32),
        np.array([since * 1000]),
        np.array([until * 1000], dtype=np.int64),
        BOUNDS,
    )
    off = [outer[t // 10] in (1, 2) and inner[t // 10] in (1, 2) for t in range(60)]
    slept = [outer[t // 10] == 1 and inner[t // 10] == 1 for t in range(60)]
    assert found.silent.tolist() == [sum(off[since:until])]
    assert found.slept.tolist() == [sum(slept[since:until])]


def test_each_group_has_the_pieces_of_its_moment():
    spells = spells_of((3, 0, 0, 50, 0, 0.9), (3, 0, 50, 99, 2, 0.0), (3, 1, 0, 99, 0, 0.8))
    at = np.array([10_000, 60_000, 200_000, 10_000])
    found = Hearing.at(spells, np.array([3, 3, 3, 8], dtype=np.int32), at, at, BOUNDS)
    told = found.told[found.pairs[:, found.pair]]
    assert told[:, 0].tolist() == [0.9, 0.8]
    assert told[:, 1] == pytest.approx([0.01, 0.8])
    # behind the last piece, and at a box of which nothing is told
    assert np.isnan(told[:, 2:]).all()


def test_without_spells_each_antenna_is_one_piece():
    at = np.array([0, 1000, 0])
    found = Hearing.at(no_spells(), np.array([0, 0, 5], dtype=np.int32), at, at, BOUNDS)
    assert len(found.told) == 4
    assert found.pair.tolist() == [0, 0, 1]


def test_missed_crossings_add_waits():
    # reference: sums of simulated waits; two lognormals of one and of twenty minutes
    rng = np.random.default_rng(4)
    visits, trips = rng.lognormal(np.log(60), 0.4, 40_000), rng.lognormal(np.log(1200), 0.4, 40_000)
    seen = np.concatenate([trips, visits])
    weights = np.zeros((2, len(seen)))
    weights[0, : len(trips)], weights[1, len(trips) :] = 1, 1
    waits = waits_from(bin_of(seen), weights, 1e-4)
    edges = 1.25 ** np.arange(waits.density.shape[1] + 1)
    widths, middles = np.diff(edges), np.sqrt(edges[1:] * edges[:-1])
    found = between(waits, np.arange(len(widths)), np.ones((2, len(widths)))).one[0] * widths
    assert found.sum() == pytest.approx(1, abs=0.02)
    # learnt densities are smooth, hence a little wide
    assert (found * middles).sum() == pytest.approx((visits + trips).mean(), rel=0.05)
    reached = np.cumsum(found)
    for share in (0.25, 0.5, 0.75):
        quantile = np.interp(share, reached, np.log(edges[1:]))
        assert quantile == pytest.approx(np.log(np.quantile(visits + trips, share)), abs=0.1)


def test_a_missed_crossing_is_placed_by_the_short_wait():
    rng = np.random.default_rng(4)
    trips, visits = rng.lognormal(np.log(1200), 0.5, 5000), rng.lognormal(np.log(60), 0.3, 5000)
    weights = np.zeros((2, 10_000))
    weights[0, :5000], weights[1, 5000:] = 1, 1
    waits = waits_from(bin_of(np.concatenate([trips, visits])), weights, 1e-4)
    moment, p = place(waits, np.array([0]), np.array([1500.0]), 30)
    # a bird that was away comes in about a minute before it leaves again
    assert 1500 - moment[0] == pytest.approx(60, abs=20)
    # reference: the same from simulated pairs whose sum is close
    some = np.abs(trips + visits - 1500) < 60
    true = (np.abs(visits[some] - (1500 - moment[0])) <= 30).mean()
    assert p[0] == pytest.approx(true, abs=0.1)


def test_nestlings_do_not_pass_before_their_first_flight():
    log = by_events(Sky(seed=931, boxes=4, nights=12, nestlings=4, detection=(0.7, 0.55), once=True))
    found = passages(log.reads, None, LIMITS)
    first = {}
    for tag, at in zip(log.truth.tag.tolist(), log.truth.at.tolist(), strict=True):
        first[tag] = min(at, first.get(tag, at))
    early = [at < first.get(tag, np.inf) - 60_000 for tag, at in zip(found.tag, found.at, strict=True)]
    assert sum(early) <= 0.01 * len(early)


def test_a_night_without_any_antenna_gives_no_passage():
    log = by_events(Sky(seed=933, boxes=1, nights=10, dead=((0, 2, 4, 3),)))
    found = passages(log.reads, log.spells, LIMITS)
    dead = (found.at > SEASON + 4 * 86_400_000) & (found.at < SEASON + 7 * 86_400_000)
    assert dead.sum() == 0


@pytest.mark.parametrize("n", [1, 2, 5])
def test_few_visits_are_told_as_well(n):
    rows = [
        (0, 0, k * 3_600_000 + step, side)
        for k in range(n)
        for step, side in ((0, 0), (900, 1), (300_000, 1), (300_800, 0))
    ]
    box, tag, at, antenna = (np.array(column) for column in zip(*rows, strict=True))
    reads = Reads(box.astype(np.int32), tag.astype(np.int32), at.astype(np.int64), antenna.astype(np.int8))
    found = passages(reads, None, LIMITS)
    assert found.direction.tolist() == [0, 1] * n
    assert found.how.tolist() == [0, 0] * n


def test_with_one_antenna_dead_the_other_one_still_tells():
    log = by_events(
        Sky(
            seed=934,
            boxes=2,
            nights=10,
            nestlings=0,
            looks=0.0,
            rests=0.0,
            visit_spread=0.3,
            dead=((0, INNER, 3, 3),),
        )
    )
    found = passages(log.reads, log.spells, LIMITS)
    low, high = SEASON + 3 * 86_400_000, SEASON + 6 * 86_400_000
    told = (found.box == 0) & (found.at > low) & (found.at < high)
    true = (log.truth.box == 0) & (log.truth.at > low) & (log.truth.at < high)
    assert told.sum() >= 0.95 * true.sum()
    assert (found.how[told] == 1).all()


def test_an_antenna_that_could_not_store_a_tag_stands_as_off_at_that_group_alone():
    box = np.array([4, 4, 9], dtype=np.int32)
    at = np.array([1000, 2000, 3000])
    plain = Hearing.at(no_spells(), box, at, at, BOUNDS)
    held = np.array([[False, False, False], [False, True, False]])
    found = plain.held_off(held, np.array([0, 0, 1]), 0.01)
    pieces = found.pairs[:, found.ready]
    assert found.off[pieces].tolist() == held.tolist()
    assert found.told[pieces][held].tolist() == [0.01]
    assert found.side[pieces].tolist() == [[0, 0, 0], [1, 1, 1]]
    # all else is as it was
    assert pieces[~held].tolist() == plain.pairs[:, plain.pair][~held].tolist()
    assert found.pair.tolist() == plain.pair.tolist()
    assert plain.held_off(np.zeros_like(held), np.array([0, 0, 1]), 0.01) is plain
