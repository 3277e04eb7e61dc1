"""Which differences between two typings one slip explains."""

from __future__ import annotations

import pytest

from audit.review.slip_groups import Differing, groups_of

SLID_ROWS = 6
COLUMNS = ("ring", "tag", "gross_g", "bag_g", "net_g", "wing_mm", "species", "remarks")


def groups(*cells: tuple[int, str, str, str], slid_rows: int = SLID_ROWS) -> list[int]:
    """Group differences, each given as row, field, and what either typing says."""
    differing = [
        Differing(row, row, COLUMNS.index(field), field, first, second) for row, field, first, second in cells
    ]
    return groups_of(differing, slid_rows)


def test_differences_of_their_own_are_slips_of_their_own():
    assert groups((1, "ring", "SV1", "SV2"), (2, "ring", "SV8", "SV9"), (2, "tag", "1", "2")) == [0, 1, 2]
    assert groups() == []


def test_two_cells_of_a_row_that_changed_places_are_one_slip():
    assert groups((1, "gross_g", "350", "120"), (1, "wing_mm", "120", "350")) == [0, 0]
    # not where only one of both texts moved, the other row has them, or both are empty
    assert groups((1, "gross_g", "350", "120"), (1, "wing_mm", "120", "351")) == [0, 1]
    assert groups((1, "gross_g", "350", "120"), (2, "wing_mm", "120", "350")) == [0, 1]
    assert groups((1, "species", "owl", ""), (1, "remarks", "", "owl")) == [0, 1]


@pytest.mark.parametrize(
    "cells",
    [
        # each typing may be the one that slid, and a text may come from above or below
        ((1, "ring", "SV1", "SV2"), (2, "ring", "SV2", "SV3")),
        ((1, "ring", "SV2", "SV1"), (2, "ring", "SV3", "SV2")),
    ],
)
def test_a_text_that_slid_in_its_column_is_one_slip(cells):
    assert groups(*cells) == [0, 0]
    assert groups(*reversed(cells)) == [0, 0]


@pytest.mark.parametrize(("apart", "slips"), [(1, [0, 0]), (6, [0, 0]), (7, [0, 1])])
def test_texts_slide_as_far_as_declared(apart, slips):
    assert groups((1, "ring", "SV1", "SV2"), (1 + apart, "ring", "SV2", "SV3")) == slips
    assert groups((1, "ring", "SV1", "SV2"), (3, "ring", "SV2", "SV3"), slid_rows=1) == [0, 1]


def test_columns_whose_values_repeat_do_not_slide():
    assert groups((1, "species", "owl", "tit"), (2, "species", "tit", "jay")) == [0, 1]
    # nor does an empty cell come from another one
    assert groups((1, "ring", "", "SV2"), (2, "ring", "SV3", "")) == [0, 1]


def test_slips_of_a_whole_page_hang_together():
    slid = [(row, "ring", f"SV{row}", f"SV{row + 1}") for row in range(1, 9)]
    assert groups(*slid) == [0] * 8
    assert groups((0, "tag", "1", "2"), *slid) == [0, *[1] * 8]


@pytest.mark.parametrize(
    ("cells", "slips"),
    [
        # net was worked out from a gross that was typed wrongly, in one of both typings
        (((1, "gross_g", "350", "360"), (1, "net_g", "320", "330")), [0, 0]),
        (((1, "bag_g", "30", "40"), (1, "net_g", "320", "310")), [0, 0]),
        (((1, "gross_g", "350.1", "350.2"), (1, "net_g", "320.1", "320.2")), [0, 0]),
        (((1, "gross_g", "350", "360"), (1, "net_g", "320", "331")), [0, 1]),
        (((1, "gross_g", "350", "360"), (2, "net_g", "320", "330")), [0, 1]),
        (((1, "gross_g", "350", "360"), (1, "wing_mm", "320", "330")), [0, 1]),
        (((1, "gross_g", "350", ""), (1, "net_g", "320", "")), [0, 1]),
    ],
)
def test_masses_that_are_off_by_the_same_are_one_slip(cells, slips):
    assert groups(*cells) == slips
