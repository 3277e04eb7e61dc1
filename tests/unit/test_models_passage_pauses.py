"""Pauses that part a group: birds that go in and come out within seconds, and those that only seem to."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from audit.declarations import load_declarations
from audit.models.passage_pauses import part_pauses
from audit.models.passages import Limits, passages
from audit.models.read_groups import group_reads
from audit.models.reads import Reads

LIMITS = Limits(
    **{
        key.rpartition(".")[2]: limit.value
        for key, limit in load_declarations().settings.items()
        if key.startswith("antennas.passages.")
    }
)
HOUR = 3_600_000


def reads_of(*rows):
    box, tag, at, antenna = (np.array(column) for column in zip(*sorted(rows), strict=True))
    return Reads(box.astype(np.int32), tag.astype(np.int32), at.astype(np.int64), antenna.astype(np.int8))


def visits(n, stay=300_000):
    """In and out, four reads at each antenna, a quarter of a second apart."""
    rows = []
    for k in range(n):
        for start, way in ((0, (0, 1)), (stay, (1, 0))):
            rows += [
                (0, 0, k * HOUR + start + 1000 * half + 250 * step, side)
                for half, side in enumerate(way)
                for step in range(4)
            ]
    return rows


@pytest.mark.parametrize("stay", [5000, 8000])
def test_in_and_out_within_seconds_are_two_passages(stay):
    start = 6 * HOUR + HOUR // 2
    rows = [*visits(12), *[(0, 0, start + at, side) for _, _, at, side in visits(1, stay)]]
    found = passages(reads_of(*rows), None, LIMITS, gap=10.0)
    near = np.abs(found.at - start) < 60_000
    assert found.direction[near].tolist() == [0, 1]
    assert found.at[near].tolist() == [start + 1000, start + stay + 1000]
    assert len(found.at) == 26


def test_birds_that_wait_before_they_cross_hide_no_short_visit():
    # one read at each antenna and crossing; now and then a bird is read 8 s before it goes in
    rows = []
    for k in range(24):
        for start, way in ((0, (0, 1)), (300_000, (1, 0))):
            rows += [(0, 0, k * HOUR + start + 1000 * half, side) for half, side in enumerate(way)]
        if k % 4 == 0:
            rows.append((0, 0, k * HOUR - 8000, 0))
    start = 6 * HOUR + HOUR // 2
    rows += [(0, 0, start + at, side) for at, side in ((0, 0), (1000, 1), (15_000, 1), (16_000, 0))]
    found = passages(reads_of(*rows), None, LIMITS, gap=30.0)
    near = np.abs(found.at - start) < 60_000
    assert found.direction[near].tolist() == [0, 1]
    assert len(found.at) == 50


def test_a_bird_that_looks_in_for_long_does_not_pass():
    start = 6 * HOUR + HOUR // 2
    look = [(0, 0, start + 250 * step, int(4 <= step < 36)) for step in range(40)]
    found = passages(reads_of(*visits(12), *look), None, LIMITS, gap=10.0)
    assert len(found.at) == 24
    assert (np.abs(found.at - start) > 60_000).all()


def test_a_slow_crossing_stays_whole():
    rows = [*visits(12), (0, 0, 20 * HOUR, 0), (0, 0, 20 * HOUR + 7000, 1)]
    reads = reads_of(*rows)
    groups = group_reads(reads, 10.0)
    assert len(part_pauses(reads, groups, LIMITS).begin) == len(groups.begin)


def test_a_rest_with_many_pauses_is_no_passage():
    rest = [(0, 0, 20 * HOUR + 3500 * k, k % 3 % 2) for k in range(60)]
    found = passages(reads_of(*visits(12), *rest), None, LIMITS, gap=10.0)
    assert len(found.at) == 24
    assert found.at.max() < 20 * HOUR


@pytest.mark.parametrize("pauses", [1, 3])
def test_a_bird_that_is_read_now_and_then_while_it_looks_in_does_not_pass(pauses):
    # one bird looks in with pauses of the length that the stays of another have
    rng = np.random.default_rng(5)
    rows = [*visits(40)]
    for k in range(40):
        at = k * HOUR + HOUR // 2
        rows += [(1, 1, at + 4000 * step + int(rng.integers(0, 900)), 0) for step in range(pauses + 1)]
    rows += [(1, 2, at, side) for _, _, at, side in visits(40)]
    found = passages(reads_of(*rows), None, LIMITS, gap=10.0)
    assert (found.tag == 1).sum() == 0
    assert len(found.at) == 160


ROWS = st.lists(
    st.tuples(
        st.integers(0, 1), st.integers(0, 2), st.integers(0, 120).map(lambda s: 500 * s), st.integers(0, 1)
    ),
    min_size=1,
    max_size=40,
    unique_by=lambda row: row[:3],
)


@settings(max_examples=40, deadline=None)
@given(ROWS)
def test_parts_hold_the_same_reads_and_look_as_if_grouped_alone(rows):
    reads = reads_of(*rows)
    groups = group_reads(reads, 10.0)
    parts = part_pauses(reads, groups, LIMITS)
    assert parts.begin.tolist() == [0, *parts.end[:-1].tolist()]
    assert parts.end[-1] == len(rows)
    # every group begins where a part does, and birds are as many
    assert set(groups.begin.tolist()) <= set(parts.begin.tolist())
    assert parts.begin[parts.fresh].tolist() == groups.begin[groups.fresh].tolist()
    # reference: each part grouped by itself
    for k, (begin, end) in enumerate(zip(parts.begin, parts.end, strict=True)):
        alone = group_reads(Reads(*(getattr(reads, name)[begin:end] for name in Reads.__slots__)), 1e6)
        for name in ("heard", "first", "last", "changes", "start", "stop", "inward", "outward"):
            assert getattr(parts, name)[k] == getattr(alone, name)[0]


def test_a_bird_that_is_stored_as_often_as_its_logger_may_has_not_left_meanwhile():
    # nestlings look out for some seconds, beside a logger that stores a tag every two seconds and a little
    rng = np.random.default_rng(7)
    rows = []
    for k in range(60):
        at = k * HOUR + 1000 * np.cumsum(2.01 + 0.25 * (rng.geometric(0.7, 7) - 1))
        rows += [(0, k % 6 + 1, int(moment), 0) for moment in at]
        rows += [(0, k % 6 + 1, int(moment), 1) for moment in (at[0] - 2300, at[-1] + 1900)]
    # parents pass with one read at each antenna
    rows += [row for row in visits(60) if row[2] % 1000 == 0]
    looks = reads_of(*rows)
    found = passages(looks, None, LIMITS, gap=10.0)
    assert (found.tag == 0).sum() == 120
    # a pause in thirty is longer than most, and parts a look for a moment
    assert (found.tag > 0).sum() <= 0.2 * 120


def _stored(rows, waits, *, together=False):
    """Leave out reads that a logger does not store, for it stored the tag at that antenna, or any, lately."""
    last, kept = {}, []
    for row in sorted(rows, key=lambda row: row[2]):
        key = 0 if together else row[3]
        if row[2] - last.get(key, -waits) >= waits:
            last[key] = row[2]
            kept.append(row)
    return kept


def test_short_stays_are_passages_where_a_logger_waits_before_it_stores_a_tag_again():
    # stays of 6 to 40 s, most of them shorter than half a minute; a logger that waits for 8 s
    rng = np.random.default_rng(11)
    rows, true = [], []
    for k in range(400):
        come, stay = k * 300_000, int(1000 * (6 + rng.exponential(9)))
        for start, way in ((come, (0, 1)), (come + stay, (1, 0))):
            for half, side in enumerate(way):
                rows += [(0, 0, start + 700 * half + 200 * step, side) for step in range(3)]
        true += [(come, 0), (come + stay, 1)]
    found = passages(reads_of(*_stored(rows, 8000)), None, LIMITS)
    told = set(zip(found.direction.tolist(), np.round(found.at / 300_000).tolist(), strict=True))
    wanted = {(way, round(at / 300_000)) for at, way in true}
    assert len(told & wanted) / len(wanted) > 0.85
    assert len(found.at) <= len(wanted)


def test_a_logger_whose_antennas_wait_together_shows_the_way_by_the_antenna_that_comes_first():
    # a logger that waits for 2 s, and birds that are through in 1.3 s, but one of eight that lingers
    rng = np.random.default_rng(12)
    rows, wanted = [], set()
    for k in range(400):
        come, stay = k * 300_000, int(1000 * (4 + rng.exponential(12)))
        for start, way in ((come, (0, 1)), (come + stay, (1, 0))):
            reads = 20 if rng.random() < 1 / 8 else 3
            for half, side in enumerate(way):
                rows += [(0, 0, start + 250 * reads * half + 200 * step, side) for step in range(reads)]
            wanted.add((way[0], start // 1000))
    found = passages(reads_of(*_stored(rows, 2000, together=True)), None, LIMITS)
    near = [
        any((way, second + off) in wanted for off in range(-10, 11))
        for way, second in zip(found.direction.tolist(), (found.at // 1000).tolist(), strict=True)
    ]
    assert sum(near) / len(wanted) > 0.9
    assert np.mean(near) > 0.95
