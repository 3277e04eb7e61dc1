"""One sheet for each box, named by it."""

from __future__ import annotations

import datetime as dt

import openpyxl
import pytest
from decided_book import decided
from sheets import workbook

from audit.checking import check
from audit.declarations import load_declarations
from audit.handover.clean.clean_workbook import clean_workbook_part
from audit.intake import read
from audit.refusal import SeasonRefusal

DECLARED = load_declarations()
HEADER = ("date", "ring", "net_g", "wing_mm")


def birds(*names: str, header=HEADER):
    return {
        name: [
            header,
            *(
                (dt.date(2026, 6, 1 + k), f"SV0{k}{n:03d}", 330 - n, 150 + 5 * n)[: len(header)]
                for n in range(4)
            ),
        ]
        for k, name in enumerate(names)
    }


@pytest.fixture
def path(tmp_path):
    return workbook(tmp_path / "round.xlsx", birds("SL-01", "SL-02", "SL-11"))


def test_the_name_of_each_sheet_is_its_box(path):
    season = read(path, DECLARED)
    assert season.frame("handlings")["box"].tolist() == ["SL-01"] * 4 + ["SL-02"] * 4 + ["SL-11"] * 4
    assert season.notices[0] == (
        "3 sheets have no column for the box and the names of boxes, such as 'SL-01': the name of each was "
        "read as its box."
    )
    cell = season.cell("SL-02!4", "box")
    assert (cell.sheet, cell.row, cell.column, cell.observed) == ("SL-02", 4, "name of the sheet", "SL-02")


def test_a_finding_points_to_the_cell_of_its_sheet_and_the_right_sheet_is_amended(tmp_path):
    sheets = birds("SL-01", "SL-02", "SL-11")
    sheets["SL-02"][3] = (*sheets["SL-02"][3][:3], 1600)
    path = workbook(tmp_path / "round.xlsx", sheets)
    (finding,) = check(read(path, DECLARED), schemas=DECLARED).above_notes
    (suspect,) = finding.suspects
    assert (suspect.cell.sheet, suspect.cell.address, suspect.suggested) == ("SL-02", "D4", "160")
    season = decided(path, {("SL-02!4", "wing_mm"): "160", ("SL-11!3", "box"): "SL-02"})
    assert season.clean.frame("handlings").at["SL-11!3", "box"] == "SL-02"
    part = clean_workbook_part(season)
    for name, write in part.files.items():
        write(tmp_path / name)
    book = openpyxl.load_workbook(tmp_path / "round.clean.xlsx")
    assert book["SL-02"]["D4"].value == 160
    assert book["SL-11"]["A3"].value == dt.datetime(2026, 6, 3)
    assert part.told == (
        (
            "Row 3 of sheet 'SL-11' is of box SL-02 now, but the sheet is named by its box: "
            "move the row to the sheet 'SL-02'."
        ),
    )


def test_boxes_of_any_name_are_known_by_the_table_of_boxes(tmp_path):
    sheets = birds("Mill", "Church") | {"boxes": [("box", "latitude"), ("Mill", 51.1), ("Church", 51.2)]}
    season = read(workbook(tmp_path / "s.xlsx", sheets), DECLARED)
    assert set(season.frame("handlings")["box"]) == {"MILL", "CHURCH"}


@pytest.mark.parametrize(
    "names", [("Sheet1", "Sheet2"), ("Week 1", "Week 2"), ("2025", "2026"), ("Mill", "Church"), ("SL-01",)]
)
def test_other_names_are_no_boxes(tmp_path, names):
    with pytest.raises(SeasonRefusal, match="has no column for box"):
        read(workbook(tmp_path / "s.xlsx", birds(*names)), DECLARED)


def test_sheets_with_other_headers_are_not_taken_together(tmp_path):
    sheets = birds("SL-01", "SL-02") | birds("SL-03", header=HEADER[:3])
    with pytest.raises(SeasonRefusal, match="has no column for box"):
        read(workbook(tmp_path / "s.xlsx", sheets), DECLARED)
