"""What is told in one season accounts for what another one holds against the same row."""

from __future__ import annotations

import json

import pytest

from audit.archive.blamed_rows import BlamedRows
from audit.archive.lines import WITNESSES


def line(rule, row, field, finding, severity="error"):
    told = {"file": "2020.csv", "row": row, "field": field, "rule": rule, "finding": finding}
    return {**told, "severity": severity}


RING = line("earlier.ring", "7", "ring", "a")
TAG = line("archive.two_rings", "7", "tag", "b")


def test_a_contradiction_with_a_row_that_is_blamed_is_left_out():
    blamed = BlamedRows()
    assert blamed.unexplained([RING]) == [RING]
    beside = line("archive.two_rings", "9", "tag", "b")
    other = line("archive.two_rings", "8", "tag", "c")
    # with all cells of the finding, and no other finding
    assert blamed.unexplained([beside, TAG, other]) == [other]


def test_in_one_season_the_order_does_not_matter():
    assert BlamedRows().unexplained([TAG, RING]) == [RING]


def test_notes_and_cells_that_account_for_nothing_leave_it():
    for told in (line("boxes.moved", "7", "box", "a", "note"), line("growth.wing", "7", "wing_mm", "a")):
        assert BlamedRows().unexplained([told, TAG]) == [told, TAG]


def test_what_is_no_contradiction_stays():
    again = line("dates.slip", "7", "date", "d")
    assert BlamedRows().unexplained([RING, again]) == [RING, again]


@pytest.mark.parametrize(
    ("wrong", "field", "told"),
    [
        ("ring", "ring", []),
        ("date", "ring", [0]),
        ("tag", "tag", []),
        ("tag", "ring", [0]),
        ("net_g", "ring", [0]),
    ],
)
def test_an_earlier_row_that_was_wrong_holds_nothing_against_a_later_one(wrong, field, told):
    then = line("dates.slip", "7", wrong, "a") | {"file": "2019.csv"}
    now = line("earlier.event", "9", "event", "b")
    now |= {WITNESSES: json.dumps([["2019.csv", "7", field]])}
    blamed = BlamedRows()
    blamed.unexplained([then])
    assert blamed.unexplained([now]) == [[now][k] for k in told]
    # another earlier row still says so
    other = now | {WITNESSES: json.dumps([["2018.csv", "5", field], ["2019.csv", "7", field]])}
    assert blamed.unexplained([other]) == [other]
    assert BlamedRows().unexplained([now]) == [now]
