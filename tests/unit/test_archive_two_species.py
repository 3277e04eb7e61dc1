"""One ring on two species: what the birds of the two visits say of it."""

from __future__ import annotations

import pytest
from archive_rows import DECLARED

from audit.archive.clash_findings import clash_finding

LATER = {
    "at": "9",
    "file": "2020.csv",
    "row": "9",
    "ring": "SV00100",
    "species": "nuthatch",
    "box": "SL-02",
    "date": "2020-05-20",
    "event": "re-encountered",
}
EARLIER = LATER | {
    "at": "3",
    "file": "2019.csv",
    "row": "5",
    "species": "great tit",
    "box": "SL-01",
    "date": "2019-05-20",
    "event": "ringed",
}


def mates(row, species, many=3):
    return [
        row | {"at": f"1{n}", "row": f"1{n}", "ring": f"SV002{n:02}", "species": species} for n in range(many)
    ]


def blamed(rows, later=LATER, earlier=EARLIER):
    found = clash_finding("two_species", later, earlier, [later, earlier], DECLARED, rows)
    cells = {(one.cell.sheet, one.cell.row, one.cell.field): one.suggested for one in found.suspects}
    return cells, found.message


def test_a_bird_met_again_among_its_own_species_bears_another_ring():
    cells, message = blamed(mates(LATER, "nuthatch"))
    assert cells == {("2020.csv", 9, "ring"): ""}
    assert message == (
        "Ring SV00100 is on a nuthatch here, and on a great tit in box SL-01 on 2019-05-20 "
        "(row 5 of 2019.csv), and the birds beside this one are of its species: "
        "it probably bears another ring."
    )


def test_a_bird_among_others_of_the_species_of_its_ring_has_a_wrong_species():
    cells, message = blamed(mates(LATER, "Great Tit"))
    assert cells == {("2020.csv", 9, "species"): "great tit"}
    assert message.endswith("(row 5 of 2019.csv), like all birds beside this one.")


def test_the_earlier_row_is_the_wrong_one_where_its_own_visit_says_so():
    cells, message = blamed(mates(EARLIER, "nuthatch"))
    assert cells == {("2019.csv", 5, "species"): "nuthatch"}
    assert message.endswith("(row 5 of 2019.csv), unlike all birds beside that one.")


@pytest.mark.parametrize(
    ("rows", "more"),
    [
        ([], {}),
        # of another day, and of several species
        (mates(LATER | {"date": "2020-06-03"}, "nuthatch"), {}),
        ([*mates(LATER, "nuthatch", 1), *mates(LATER, "great tit", 1)], {}),
        # two first ringings, and a bird with its tag
        (mates(LATER, "nuthatch"), {"event": "ringed"}),
        (mates(LATER, "nuthatch"), {"tag": "999000000000100"}),
    ],
)
def test_else_nothing_tells(rows, more):
    cells, message = blamed(rows, LATER | more, EARLIER | {"tag": "999000000000100"})
    assert cells == {("2020.csv", 9, "species"): "", ("2019.csv", 5, "species"): ""}
    assert message.endswith("(row 5 of 2019.csv).")
