"""How many crossings of a box each antenna heard, against crossings whose hearing is known."""

from __future__ import annotations

import numpy as np
import pytest

from audit.declarations import load_declarations
from audit.models.paired_antennas import paired
from audit.models.passages import Limits, passages, passages_and_crossings
from audit.models.reads import INNER, OUTER, Reads, Spells

LIMITS = Limits(
    **{
        key.rpartition(".")[2]: limit.value
        for key, limit in load_declarations().settings.items()
        if key.startswith("antennas.passages.")
    }
)
HOUR, DAY = 3_600_000, 86_400_000


def heard(seed, chances, *, boxes=2, days=20, deaf=None):
    """Birds that go in and out; each antenna hears each crossing with a chance of its own, in one read."""
    random = np.random.default_rng(seed)
    rows, counts = [], np.zeros((boxes, 3))
    for box in range(boxes):
        for tag in range(2):
            at, way = tag * 600_000, 0
            while at < days * DAY:
                step = int(random.integers(400, 1_200))
                sides = (OUTER, INNER) if way == 0 else (INNER, OUTER)
                hit = random.random(2) < chances
                off = bool(deaf and deaf[0] == box and deaf[2] <= at < deaf[3])
                if off:
                    hit[deaf[1]] = False
                for nr, side in enumerate(sides):
                    if hit[side]:
                        rows.append((box, 2 * box + tag, at + nr * step, side))
                if not off:
                    counts[box] += hit.all(), hit[OUTER] & ~hit[INNER], hit[INNER] & ~hit[OUTER]
                # long stays and trips, with nothing between
                at += int(random.uniform(0.5, 2.5) * HOUR)
                way = 1 - way
    box, tag, at, side = (np.array(one) for one in zip(*sorted(rows), strict=True))
    reads = Reads(box.astype(np.int32), tag.astype(np.int32), at.astype(np.int64), side.astype(np.int8))
    return reads, counts


@pytest.mark.parametrize("chances", [(0.95, 0.93), (0.9, 0.7)])
def test_crossings_are_counted_by_who_heard_them(chances):
    reads, true = heard(71, chances)
    _, found = passages_and_crossings(reads, None, LIMITS)
    assert found.box.tolist() == [0, 0, 1, 1]
    assert found.tag.tolist() == [0, 1, 2, 3]
    told = np.stack([found.both, found.outer_only, found.inner_only], axis=1).reshape(2, 2, 3).sum(axis=1)
    assert np.abs(told - true).max() <= 0.03 * true.sum(axis=1).min()
    for box, pair in paired(found, 0.95).items():
        shares = true[box, 0] / (true[box, 0] + true[box, 2]), true[box, 0] / (true[box, 0] + true[box, 1])
        assert (pair.outer_share.value, pair.inner_share.value) == pytest.approx(shares, abs=0.03)


def test_what_was_missed_shows_in_turns():
    reads, true = heard(72, (0.8, 0.75), boxes=1, days=60)
    _, found = passages_and_crossings(reads, None, LIMITS)
    # of all crossings one in twenty was heard by none
    all_ = true.sum() / (1 - 0.2 * 0.25)
    assert found.neither.sum() == pytest.approx(0.05 * all_, rel=0.35)


def test_times_in_which_an_antenna_was_dead_do_not_count():
    reads, true = heard(73, (0.95, 0.95), deaf=(1, INNER, 5 * DAY, 9 * DAY))
    ends = [0, 5 * DAY, 9 * DAY, 21 * DAY]
    pieces = [
        (box, side, *piece)
        for box in (0, 1)
        for side in (OUTER, INNER)
        for piece in (
            [(ends[0], ends[3], 0)]
            if (box, side) != (1, INNER)
            else [(ends[0], ends[1], 0), (ends[1], ends[2], 2), (ends[2], ends[3], 0)]
        )
    ]
    box, side, start, end, state = (np.array(one) for one in zip(*pieces, strict=True))
    spells = Spells(
        box.astype(np.int32),
        side.astype(np.int8),
        start,
        end,
        state.astype(np.int8),
        np.full(len(box), np.nan),
    )
    _, found = passages_and_crossings(reads, spells, LIMITS)
    assert found.outer_only[2:].sum() <= true[1, 1] + 0.02 * true[1].sum()
    assert found.both[2:].sum() == pytest.approx(true[1, 0], rel=0.03)


@pytest.mark.parametrize("together", [True, False])
def test_antennas_that_wait_together_tell_nothing_of_each_other(together):
    random = np.random.default_rng(75)
    rows = []
    for bird in range(4):
        at = bird * 300_000
        for nr in range(300):
            last = [-9_000, -9_000]
            # it passes the one soon, and lingers at the other for some seconds
            sides = (OUTER, INNER) if nr % 2 == 0 else (INNER, OUTER)
            for step in range(40):
                side = sides[min(step // 3, 1)]
                moment = step * 200
                waited = moment - (max(last) if together else last[side])
                if random.random() < 0.9 and waited >= 2_000:
                    rows.append((0, bird, at + moment, side))
                    last[side] = moment
            at += int(random.uniform(0.5, 1.5) * HOUR)
    box, tag, at, side = (np.array(one) for one in zip(*sorted(rows), strict=True))
    reads = Reads(box.astype(np.int32), tag.astype(np.int32), at.astype(np.int64), side.astype(np.int8))
    _, found = passages_and_crossings(reads, None, LIMITS)
    assert bool(paired(found, 0.95)) is not together


def test_passages_are_those_told_without_crossings():
    reads, _ = heard(74, (0.9, 0.9), days=4)
    one, (other, _) = passages(reads, None, LIMITS), passages_and_crossings(reads, None, LIMITS)
    assert one.at.tolist() == other.at.tolist()
    assert one.p.tolist() == other.p.tolist()


def test_nothing_heard_is_nothing_crossed():
    none = Reads(*(np.empty(0, dtype=kind) for kind in (np.int32, np.int32, np.int64, np.int8)))
    _, found = passages_and_crossings(none, None, LIMITS)
    assert paired(found, 0.95) == {}
