"""Labels of boxes joined in several ways: a habit is read, a slip is asked about."""

from __future__ import annotations

import pytest
from sheets import text_file

from audit.checking import check
from audit.declarations import load_declarations
from audit.intake import read
from audit.intake.grid import RawCell
from audit.intake.joined_labels import joined_as_usual

DECLARED = load_declarations()


def season(tmp_path, boxes):
    rows = [("2026-05-04", box, f"SV010{i:02d}", "201") for i, box in enumerate(boxes)]
    return read(text_file(tmp_path / "handlings.csv", [("date", "box", "ring", "wing_mm"), *rows]), DECLARED)


def test_a_habit_is_read_as_most_write_it_and_said(tmp_path):
    boxes = ["SL-01", "SL-01", "SL01", '"', "SL-02", "sl 02", "SL-03", "SL-03", "SL03", "SL-04", "SL-04"]
    read_in = season(tmp_path, boxes)
    frame, typed = read_in.frame("handlings")["box"], read_in.tables["handlings"].typed["box"]
    assert frame.tolist() == ["SL-01"] * 4 + ["SL-02"] * 2 + ["SL-03"] * 3 + ["SL-04"] * 2
    assert typed.tolist() == boxes
    (said,) = read_in.notices
    assert said == (
        "Sheet 'handlings': box SL01 was read as SL-01, as most rows write such labels; "
        "2 other labels were read so, too (3 rows)."
    )
    assert not [one for one in check(read_in).findings if one.rule.startswith("boxes.")]


def test_of_a_single_label_it_is_said_so(tmp_path):
    (said,) = season(tmp_path, ["SL-01"] * 4 + ["SL01"] * 3 + ["SL-02"]).notices
    assert said == "Sheet 'handlings': box SL01 was read as SL-01, as most rows write it (3 rows)."


def test_a_slip_is_left_to_a_rule(tmp_path):
    read_in = season(tmp_path, ["SL-01", "SL-01", "SL01", "SL-02", "SL-02", "SL-03", "SL-03", "SL-04"])
    assert read_in.frame("handlings")["box"].tolist().count("SL01") == 1
    assert read_in.notices == ()
    (finding,) = [one for one in check(read_in).findings if one.rule.startswith("boxes.")]
    assert (finding.rule, finding.suspects[0].suggested) == ("boxes.spelling", "SL-01")


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        # signs between two figures count, and so do leading zeros and other letters
        (["1-12"] * 4 + ["11-2"] * 3, {}),
        (["SL-01"] * 4 + ["SL-1"] * 3, {}),
        (["SL-01"] * 4 + ["SK01"] * 3, {}),
        (["SL-01"] * 4 + ["SL_01"] * 3, {"SL_01": "SL-01"}),
        # of two ways that are as common the one with more rows of this box
        (["A1"] * 3 + ["A-1"] * 4, {"A1": "A-1"}),
        (["Old barn"] * 4 + ["Old-barn"] * 3, {}),
    ],
)
def test_what_is_a_joint(typed, meant):
    cells, found, rows = joined_as_usual([RawCell(text, text) for text in typed], 3)
    assert found == meant
    assert rows == sum(text in meant for text in typed)
    assert [cell.text for cell in cells] == typed
