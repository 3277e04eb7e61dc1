"""Visits out of the order of days of a sheet, looked for on two engines; the seasons are invented."""

from __future__ import annotations

import pandas as pd
import pytest
from archive_rows import DECLARED, ENGINES, kept, relation, worked_out

from audit.archive.day_orders import DayLimits, days_out_of_order, rows_beside, visits_beside

LIMITS = DayLimits(float(DECLARED.settings["archive.company.falls_share"].value))
#: Boxes of two birds, two boxes a day.
BIRDS, BOXES = 2, 2


@pytest.fixture(params=ENGINES)
def engine(request):
    return request.param


def season(visits, team="A", **days):
    """A sheet of some visits, kept day by day; ``v3=40`` puts the third visit from 0 on day 40."""
    return [
        {
            "season": "2019",
            "scheme": "R",
            "team": team,
            "box": f"SL-{visit:02}",
            "day": float(days.get(f"v{visit}", 20 + visit // BOXES)),
        }
        for visit in range(visits)
        for _ in range(BIRDS)
    ]


def marks(rows, engine):
    return relation(pd.DataFrame(rows).assign(at=range(len(rows))), engine)


def odd(rows, engine):
    found = worked_out(days_out_of_order(marks(rows, engine), LIMITS))["at"]
    return sorted({int(at) // BIRDS for at in found})


@pytest.mark.parametrize(
    ("days", "found"),
    [
        ({}, []),
        ({"v9": 16}, [9]),
        ({"v9": 31}, [9]),
        ({"v19": 30}, []),
        ({"v0": 50}, [0]),
        # either may be the one, and where two stand wrong neither alone mends it
        ({"v9": 25, "v10": 24}, [9, 10]),
        ({"v8": 40, "v9": 41}, [9, 10]),
    ],
)
def test_the_visit_without_which_the_days_do_not_go_back(engine, days, found):
    assert odd(season(20, **days), engine) == found


def test_a_team_that_types_by_box_and_one_after_another_are_in_order(engine):
    by_box = season(20, "B", **{f"v{visit}": 20 + visit % 3 for visit in range(20)})
    assert odd(by_box, engine) == []
    assert odd([*season(20), *season(20, "B")], engine) == []
    # what is odd of one team stays odd beside another that types in no order
    assert odd([*season(20, v9=16), *by_box], engine) == [9]


def test_a_visit_without_a_day_is_in_no_order(engine):
    rows = season(20)
    for row in rows[18:20]:
        row["day"] = None
    assert odd(rows, engine) == []


def test_rows_beside_some_rows_stand_once_and_begin_with_the_first():
    assert rows_beside(pd.Series([1, 2, 9]), 2)["at"].tolist() == [0, 1, 2, 3, 4, 7, 8, 9, 10, 11]


def test_whole_visits_and_one_of_each_page_go_along(engine):
    rows = [*season(20, v9=16), *season(4, "B")]
    some, strange = (relation(pd.DataFrame({"at": at}), engine) for at in ([17, 20, 40], [18, 19]))
    told = worked_out(
        visits_beside(marks(rows, engine), some, strange, lambda found, _: kept(found), pages=2)
    )
    # pages are of visits 6 and 7, of 8, of 9, of 10 and 11, of 12 and 13; rows 17 and 20 are of 8 and 10
    assert sorted({int(at) // BIRDS for at in told["at"]}) == [6, 8, 9, 10, 12]
    assert len(told) == 5 * BIRDS
    assert set(told["team"]) == {"A"}
