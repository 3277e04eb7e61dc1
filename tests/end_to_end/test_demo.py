"""The demo season: every planted slip is found, nothing else is blamed, and it can be made again.

The key beside the generator is the only thing that knows the slips; the program never reads it.
"""

from __future__ import annotations

import csv
import sys
from pathlib import Path

import openpyxl
import pytest

from audit.cli import main
from audit.demo import demo_season

KEY = Path(__file__).parents[1] / "demo" / "planted-slips.csv"

#: Slips that may be blamed without a suggestion: an age code, a wing, a tag of which nine digits are lost.
WITHOUT_SUGGESTION = {
    ("Ringing 2026", "33", "age"),
    ("Ringing 2026", "130", "wing_mm"),
    ("Ringing 2026", "188", "tag"),
}


def rows(path):
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


@pytest.fixture(scope="module")
def audited(tmp_path_factory):
    folder = tmp_path_factory.mktemp("demo")
    assert main(["demo", "--out", str(folder)]) == 0
    return folder


@pytest.fixture(scope="module")
def blamed(audited):
    lines = rows(audited / "findings.csv")
    return {(line["sheet"], line["row"], line["field"]): line for line in lines if line["severity"] != "note"}


@pytest.fixture(scope="module")
def planted():
    return {(slip["sheet"], slip["row"], slip["field"]): slip for slip in rows(KEY)}


def test_every_planted_slip_is_found_and_no_other_cell_is_blamed(planted, blamed):
    assert len(planted) == 34
    assert set(blamed) - set(planted) == set(), "false alarms"
    assert set(planted) - set(blamed) == set(), "missed"


def test_what_was_meant_is_suggested_wherever_it_can_be_told(planted, blamed):
    told = {cell for cell, line in blamed.items() if line["suggested"]}
    assert set(planted) - told <= WITHOUT_SUGGESTION
    for cell in told:
        # as the sheet writes it: Barn owl, not barn_owl
        assert blamed[cell]["suggested"].replace(" ", "_").casefold() == planted[cell]["true"].casefold()


def test_what_happens_in_a_season_is_told_and_blamed_on_no_cell(audited):
    """The reader at winter time, a tag that was not read: see `live` beside the key."""
    notes = {line["rule"]: line for line in rows(audited / "findings.csv") if line["severity"] == "note"}
    assert "1 h behind until 2026-06-03" in notes["reader.clock_off"]["message"]
    assert notes["reader.row_without_read"]["row"] == "123"


def test_a_suggestion_that_is_right_is_called_likely(blamed):
    assert min(float(line["p_error"]) for line in blamed.values()) >= 0.5
    chances = sorted(float(line["p_fix"]) for line in blamed.values() if line["suggested"])
    # a wing whose first digit is wrong may have been one of several
    assert sum(chance < 0.5 for chance in chances) <= 1
    assert sum(chances) / len(chances) > 0.85


def test_what_was_typed_is_told_as_it_was_typed(planted, blamed):
    book = openpyxl.load_workbook(demo_season()[0])
    for cell, line in blamed.items():
        value = book[line["sheet"]][line["cell"]].value
        assert value is not None
        if isinstance(value, str):
            assert line["observed"] == value
        elif cell[2] != "date":
            assert float(line["observed"]) == value == float(planted[cell]["typed"])


def test_the_marked_copy_marks_just_these_cells(audited, blamed):
    marked = openpyxl.load_workbook(audited / "sallow-levels-2026.marked.xlsx")
    for line in blamed.values():
        note = marked[line["sheet"]][line["cell"]].comment
        assert line["message"] in " ".join(note.text.split())


def test_the_demo_can_be_made_again(tmp_path):
    sys.path.insert(0, str(KEY.parent))
    try:
        import make_demo
    finally:
        sys.path.remove(str(KEY.parent))
    make_demo.main(tmp_path, tmp_path)
    assert (tmp_path / make_demo.KEY).read_text(encoding="utf-8") == KEY.read_text(encoding="utf-8")
    assert cells(tmp_path / make_demo.WORKBOOK) == cells(demo_season()[0])


def cells(path):
    return {
        (sheet.title, cell.coordinate): (cell.value, cell.number_format)
        for sheet in openpyxl.load_workbook(path)
        for row in sheet.iter_rows()
        for cell in row
        if cell.value is not None
    }
