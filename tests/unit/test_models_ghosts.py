"""Codes of noise, slips of codes, and tags that only look like them."""

from __future__ import annotations

import numpy as np

from audit.models.ghosts import find_ghosts
from audit.models.reads import Reads

TAGS = ["999000000000101", "999000000000102", "999000000734201"]


def look(codes, rows, known=()):
    box, tag, at, antenna = (np.array(column) for column in zip(*sorted(rows), strict=True))
    reads = Reads(box.astype(np.int32), tag.astype(np.int32), at.astype(np.int64), antenna.astype(np.int8))
    return find_ghosts(codes, reads, 10.0, 5, 20.0, known)


def visits(tag, n, box=0):
    return [(box, tag, k * 1_000_000 + step, side) for k in range(n) for step, side in ((0, 0), (800, 1))]


def test_a_code_read_once_is_a_ghost():
    found = look([*TAGS, "414077129384756"], [*visits(0, 30), *visits(1, 30), (0, 3, 5_500_000, 1)])
    assert found.ghost.tolist() == [False, False, False, True]
    assert found.slip_of.tolist() == [-1, -1, -1, -1]


def test_a_known_tag_is_never_a_ghost():
    rows = [*visits(0, 30), (0, 2, 5_500_000, 1)]
    assert look(TAGS, rows).ghost.tolist() == [False, False, True]
    assert look(TAGS, rows, known=[TAGS[2]]).ghost.tolist() == [False, False, False]


def test_a_stranger_heard_by_both_antennas_stays():
    assert not look(TAGS, [*visits(0, 30), *visits(2, 1)]).ghost.any()


def test_a_slip_of_a_frequent_code_is_a_ghost_though_read_twice():
    codes = [TAGS[2], "999000000734701", "999000000374201"]
    found = look(codes, [*visits(0, 60), *visits(1, 1), *visits(2, 1)])
    assert found.ghost.tolist() == [False, True, True]
    assert found.slip_of.tolist() == [-1, 0, 0]


def test_neighbours_in_a_batch_are_both_tags():
    # two tags of one batch, one read often: both were read more often than a ghost is
    assert not look(TAGS[:2], [*visits(0, 400), *visits(1, 6)]).ghost.any()


def test_a_slip_belongs_to_a_code_of_the_same_box():
    found = look([TAGS[2], "999000000734701"], [*visits(0, 60), *visits(1, 1, box=1)])
    assert not found.ghost.any()


def test_a_code_nearly_as_frequent_as_its_neighbour_is_no_slip():
    codes = [TAGS[2], "999000000734701"]
    # 4 reads beside 40: a slip is rarer than that
    assert not look(codes, [*visits(0, 20), *visits(1, 2)]).ghost.any()
    assert look(codes, [*visits(0, 40), *visits(1, 2)]).ghost.tolist() == [False, True]


def test_a_slip_beside_two_codes_is_of_the_more_frequent_one():
    codes = ["999000000734201", "999000000734711", "999000000734701"]
    found = look(codes, [*visits(0, 30), *visits(1, 60), *visits(2, 1)])
    assert found.slip_of.tolist() == [-1, -1, 1]
    found = look(codes, [*visits(0, 60), *visits(1, 30), *visits(2, 1)])
    assert found.slip_of.tolist() == [-1, -1, 0]


def test_nothing_read_is_no_ghost():
    none = Reads(*(np.empty(0, dtype=kind) for kind in (np.int32, np.int32, np.int64, np.int8)))
    assert not find_ghosts(TAGS, none, 10.0, 5, 20.0).ghost.any()


def test_two_characters_make_a_slip_only_where_they_are_exchanged_side_by_side():
    # beside the first: its last two exchanged, two exchanged further apart, two mistyped, one left out
    codes = [TAGS[2], "999000000734210", "999000000437201", "999000000734312", "99900000073420"]
    found = look(codes, [*visits(0, 60), *(read for nr in (1, 2, 3, 4) for read in visits(nr, 1))])
    assert found.slip_of.tolist() == [-1, 0, -1, -1, -1]
