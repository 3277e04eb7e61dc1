"""The figures of the benchmark, each against a case worked by hand."""

from __future__ import annotations

import pytest
from benchmarks.scoring import (
    Blame,
    calibration_error,
    fate_of,
    judge_cells,
    reliability,
    same_value,
    share,
    summed,
)

NET, GROSS, WING = (("handlings!7", name) for name in ("net_g", "gross_g", "wing_mm"))
FAR_NET = ("handlings!9", "net_g")


def blame(place, p=0.9, suggested="", p_fix=None, group="g", witnesses=()):
    return Blame("rule", "suspect", place, p, p_fix, suggested, group, "", frozenset(witnesses))


def test_calibration_error_worked_by_hand():
    # ten bins: 0.92 and 0.98 share the last (said 0.95, seen 0.5), 0.41, 0.45 and 0.49 the fifth
    # (said 0.45, seen 1/3), 0.1 the second (said 0.1, seen 0):
    # (2 * 0.45 + 3 * 0.11667 + 1 * 0.1) / 6 = 0.225
    said = [0.92, 0.98, 0.41, 0.45, 0.49, 0.1]
    seen = [True, False, True, False, False, False]
    assert calibration_error(said, seen, 10) == pytest.approx(0.225)
    # twenty bins part 0.92 (off by 0.08) from 0.98 (0.98), and 0.41 (0.59) from 0.45 and 0.49 (2 * 0.47)
    assert calibration_error(said, seen, 20) == pytest.approx((0.59 + 0.94 + 0.08 + 0.98 + 0.1) / 6)


def test_calibration_error_of_the_well_calibrated_and_of_nothing():
    assert calibration_error([0.75] * 4, [True, True, True, False], 10) == pytest.approx(0.0)
    assert calibration_error([], [], 10) is None


@pytest.mark.parametrize("bins", [10, 20])
def test_an_edge_belongs_to_the_bin_above_it_and_one_to_the_last(bins):
    edges = [number / bins for number in range(bins + 1)]
    table = reliability(edges, [True] * len(edges), bins)
    assert [line["n"] for line in table] == [1] * (bins - 1) + [2]
    assert [line["low"] for line in table] == pytest.approx(edges[:-1])


def test_a_slip_is_found_where_one_of_its_cells_is_blamed():
    fate = fate_of({NET: "373"}, [blame(NET, suggested="373.0", p_fix=0.9)])
    assert (fate.found, fate.right_cell, fate.first_right, fate.mended) == (True, True, True, True)


def test_the_likeliest_cell_of_the_group_counts_as_first():
    blames = [blame(NET, 0.4, "373", 0.4), blame(GROSS, 0.6, "400", 0.6)]
    fate = fate_of({NET: "373"}, blames)
    assert (fate.found, fate.right_cell, fate.first_right, fate.mended) == (True, False, False, True)


def test_a_slip_that_is_only_a_witness_against_another_cell_is_touched_but_not_found():
    fate = fate_of({NET: "373"}, [blame(GROSS, witnesses=[NET])])
    assert (fate.found, fate.touched, fate.right_cell) == (False, True, False)


def test_a_witness_against_another_row_touches_nothing():
    assert not fate_of({NET: "373"}, [blame(FAR_NET, witnesses=[NET])]).touched


def test_a_wrong_suggestion_finds_but_does_not_mend():
    fate = fate_of({NET: "373"}, [blame(NET, suggested="337", p_fix=0.9)])
    assert (fate.found, fate.right_cell, fate.first_right, fate.mended) == (True, True, False, False)


def test_a_slip_over_two_cells_is_mended_when_both_are():
    truth = {NET: "373", WING: "190"}
    one = [blame(NET, 0.9, "373", 0.9)]
    fate = fate_of(truth, one)
    assert fate.first_right
    assert not fate.mended
    assert fate_of(truth, [*one, blame(WING, 0.8, "190", 0.8)]).mended


def test_each_blamed_cell_is_judged_once_by_its_likeliest_blame():
    blames = [blame(NET, 0.4, "1", 0.4), blame(NET, 0.9, "373", 0.8), blame(FAR_NET, 0.5)]
    cells = judge_cells(blames, {NET: "373"}, {"handlings!7"})
    assert [(c.blame.p_error, c.wrong, c.fix_right, c.row_innocent) for c in cells] == [
        (0.9, True, True, False),
        (0.5, False, False, True),
    ]


def test_a_suggestion_for_an_innocent_cell_is_wrong_whatever_it_says():
    (cell,) = judge_cells([blame(GROSS, suggested="", p_fix=0.9)], {NET: "373"}, {"handlings!7"})
    assert not cell.wrong
    assert not cell.fix_right


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        ("373", "373.0", True),
        ("sv 01001", "SV01001", True),
        ("999000012345678", "999000012345679", False),
        ("0373", "373", False),
        ("0.5", "0.50", True),
        ("", "", True),
        ("", "0", False),
        ("2026-05-04", "2026-05-04", True),
        ("A", "B", False),
    ],
)
def test_two_texts_say_the_same(one, other, same):
    assert same_value(one, other) is same


def test_shares_of_all_and_of_those_found():
    fates = [
        {"found": True, "touched": True, "right_cell": True, "first_right": True, "mended": True},
        {"found": True, "touched": True, "right_cell": False, "first_right": False, "mended": False},
        {"found": False, "touched": True, "right_cell": False, "first_right": False, "mended": False},
        {"found": False, "touched": False, "right_cell": False, "first_right": False, "mended": False},
    ]
    figures = summed(fates)
    assert figures["n"] == 4
    assert figures["recall"] == figures["right_cell"] * 2 == 0.5
    assert figures["right_cell_of_touched"] == pytest.approx(1 / 3)
    assert figures["first_right"] == 0.25
    assert figures["first_right_of_found"] == 0.5
    assert share(1, 0) is None
