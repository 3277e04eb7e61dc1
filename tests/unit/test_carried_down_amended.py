"""A day or box typed anew in a sheet kept visit by visit is that of its own row alone."""

from __future__ import annotations

import csv
import datetime as dt

import pytest
from decided_book import decided
from sheets import workbook

from audit.declarations import load_declarations
from audit.handover.clean.change_list import change_list_part
from audit.handover.clean.clean_workbook import clean_workbook_part
from audit.intake import read
from audit.intake.amending import amend, amend_all
from audit.intake.held_below import edits_below

DECLARED = load_declarations()
BOXES = ["SL-01"] * 5 + ["SL-02"] * 4 + ["SL-03"] * 5
DAYS = [4] * 9 + [5] * 5
ROWS = [("date", "box", "ring", "wing_mm")] + [
    (
        dt.date(2026, 5, day) if k == 0 or day != DAYS[k - 1] else None,
        box if k == 0 or box != BOXES[k - 1] else None,
        f"SV010{k:02d}",
        201 - k,
    )
    for k, (day, box) in enumerate(zip(DAYS, BOXES, strict=True))
]


def at(row: int) -> str:
    return f"handlings!{row}"


@pytest.fixture
def path(tmp_path):
    return workbook(tmp_path / "round.xlsx", {"handlings": ROWS})


@pytest.mark.parametrize("row", range(2, 16))
def test_it_holds_for_that_bird_alone(path, row):
    season = read(path, DECLARED)
    boxes, days = list(BOXES), list(DAYS)
    boxes[row - 2], days[row - 2] = "SL-09", 11
    amended = amend(amend(season, DECLARED, at(row), "box", "SL-09"), DECLARED, at(row), "date", "2026-05-11")
    assert amended.frame("handlings")["box"].tolist() == boxes
    assert [day.day for day in amended.frame("handlings")["date"]] == days
    once = amend_all(season, DECLARED, [(at(row), "box", "SL-09"), (at(row), "date", "2026-05-11")])
    assert once.tables["handlings"].typed.equals(amended.tables["handlings"].typed)


def test_the_row_below_is_written_out_where_it_would_follow(path):
    season = read(path, DECLARED)

    def below(*edits):
        return edits_below(season, DECLARED, edits)

    assert below((at(3), "box", "SL-09")) == [((at(4), "box", "SL-01"), (at(3), "box"))]
    assert below((at(2), "box", "SL-09"), (at(3), "box", "SL-09")) == [
        ((at(4), "box", "SL-01"), (at(3), "box"))
    ]
    # a row with a day of its own needs its box, too, and so does the row below, which keeps its day
    assert below((at(8), "date", "2026-05-11")) == [
        ((at(9), "date", "2026-05-04"), (at(8), "date")),
        ((at(8), "box", "SL-02"), (at(8), "date")),
        ((at(9), "box", "SL-02"), (at(8), "date")),
    ]
    # nothing follows the last row of a visit or of the sheet, nor what is written as it was read
    assert not below((at(6), "box", "SL-09"), (at(15), "box", "SL-09"), (at(3), "box", "SL-01"))


def test_where_most_rows_are_written_out_all_are(tmp_path):
    path = workbook(tmp_path / "small.xlsx", {"handlings": ROWS[:6]})
    season = decided(path, {(at(3), "box"): "SL-09", (at(5), "box"): "SL-08"})
    for name, write in clean_workbook_part(season).files.items():
        write(tmp_path / name)
    again = read(tmp_path / "small.clean.xlsx", DECLARED)
    assert not any("first row of each visit" in notice for notice in again.notices)
    assert again.frame("handlings")["box"].tolist() == ["SL-01", "SL-09", "SL-01", "SL-08", "SL-01"]
    assert again.frame("handlings")["date"].notna().all()


def test_the_clean_workbook_and_the_list_of_changes_say_so(path, tmp_path):
    season = decided(path, {(at(3), "box"): "SL-09", (at(8), "date"): "2026-05-11"})
    for name, write in clean_workbook_part(season).files.items():
        write(tmp_path / name)
    again = read(tmp_path / "round.clean.xlsx", DECLARED).frame("handlings")
    assert again["box"].tolist() == ["SL-01", "SL-09", *BOXES[2:]]
    assert [day.day for day in again["date"]] == [*DAYS[:6], 11, *DAYS[7:]]
    assert again.equals(season.clean.frame("handlings"))
    change_list_part(season).files["changes.csv"](tmp_path / "changes.csv")
    with (tmp_path / "changes.csv").open(encoding="utf-8") as stream:
        lines = list(csv.DictReader(stream))
    assert [(line["cell"], line["how"], line["typed"], line["now"]) for line in lines] == [
        ("B3", "amend", "", "SL-09"),
        ("B4", "written out", "", "SL-01"),
        ("A8", "amend", "", "2026-05-11"),
        ("B8", "written out", "", "SL-02"),
        ("A9", "written out", "", "2026-05-04"),
        ("B9", "written out", "", "SL-02"),
    ]
    assert lines[1]["note"] == "It was read with the cell above, which was changed for its own row alone."
    assert lines[1]["decision"] == lines[0]["decision"]
