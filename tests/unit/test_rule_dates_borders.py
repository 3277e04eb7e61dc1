"""Rings at the border of two strings: whose days they tell, and whose not."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from typed_season import ask, blamed, typed_season

from audit.declarations import load_declarations
from audit.findings import Finding
from audit.rules.dates import RULE

Row = dict[str, Any]

BEGUN = dt.date(2026, 5, 20)
#: Boxes near each other in the sheet are far from each other in the round.
SCATTERED = 37


def brood(box: int, day: dt.date, first: int, ringer: str, size: int = 5) -> list[Row]:
    return [
        {
            "date": day,
            "box": f"SL-{box * SCATTERED % 97:02d}",
            "species": "barn owl",
            "ring": f"SV{first + place:05d}",
            "age": "1",
            "event": "ringed",
            "ringer": ringer,
        }
        for place in range(size)
    ]


def string(first: int, boxes: int, day: dt.date, ringer: str, every: int = 2) -> list[Row]:
    """A string of a hundred, a brood of five every few days, each in a box of its own."""
    return [
        row
        for place in range(20)
        for row in brood(
            boxes + place, day + dt.timedelta(days=every * (place // 2)), first + 5 * place, ringer
        )
    ]


def sheet(*strings: list[Row]) -> list[Row]:
    """Put the pages of several ringers on one heap, so that it has no order of days."""
    rows = [row for one in strings for row in one]
    return sorted(rows, key=lambda row: (row["box"], row["ring"]))


def suspects(rows: list[Row]) -> dict[tuple[str, str], tuple[str, str]]:
    declared = load_declarations()
    answers = ask(RULE, typed_season(declared, handlings=rows), declared)
    return blamed([one for one in answers if isinstance(one, Finding)])


def side_by_side(ringers: tuple[str, str]) -> list[Row]:
    """The second string is begun on the day of the last but one brood of the first, and lasts longer."""
    first = string(1001, 1, BEGUN, ringers[0])
    last = first[-6]["date"]
    for row in first[-5:]:
        row["date"] = last + dt.timedelta(days=2)
    return sheet(first, string(1101, 30, last, ringers[1]))


def test_the_last_brood_of_a_string_is_not_held_against_the_first_of_somebody_elses() -> None:
    assert suspects(side_by_side(("AB", "IP"))) == {}


def test_strings_that_run_side_by_side_tell_nothing_of_each_other_without_initials() -> None:
    rows = side_by_side(("", ""))
    # a third string, used in the same weeks, shows that there are several bags
    assert suspects(sheet(rows, string(1201, 55, BEGUN, ""))) == {}


@pytest.mark.parametrize("ringer", ["AB", ""])
def test_a_slip_where_one_ringer_goes_on_with_the_next_string_is_found(ringer: str) -> None:
    rows = sheet(string(1001, 1, BEGUN, ringer), string(1101, 30, BEGUN + dt.timedelta(days=19), ringer))
    assert suspects(rows) == {}
    meant = next(row["date"] for row in rows if row["ring"] == "SV01100")
    assert meant == dt.date(2026, 6, 7)
    typed = [
        {**row, "date": dt.date(2026, 7, 7)} if "SV01096" <= row["ring"] <= "SV01100" else row for row in rows
    ]
    found = suspects(typed)
    assert set(found.values()) == {("dates.slip", "2026-06-07")}
    assert len(found) == 5


def test_a_helper_at_the_end_of_a_string_does_not_end_it() -> None:
    rows = sheet(string(1001, 1, BEGUN, "AB"), string(1101, 30, BEGUN + dt.timedelta(days=19), "AB"))
    typed = [
        {**row, "date": dt.date(2026, 7, 7), "ringer": "IP"} if "SV01096" <= row["ring"] <= "SV01100" else row
        for row in rows
    ]
    assert set(suspects(typed).values()) == {("dates.slip", "2026-06-07")}
