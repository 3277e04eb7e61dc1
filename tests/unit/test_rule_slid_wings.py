"""Wings that slid by a row, and what only looks like it."""

from __future__ import annotations

from functools import cache

import pandas as pd
from paged_season import season_rows, slid
from typed_season import ask, blamed, typed_season

from audit.checking import check
from audit.declarations import load_declarations
from audit.intake import read
from audit.rules import slid_wings

shipped = cache(load_declarations)


def told(rows):
    return ask(slid_wings.RULE, typed_season(shipped(), handlings=rows), shipped())


def test_a_clean_season_gives_nothing():
    assert told(season_rows()) == []


def test_wings_that_stand_one_row_too_low():
    rows = season_rows()
    (finding,) = told(slid(rows, "wing_mm", 1, 14, "down empty"))
    assert finding.rule == "slid_wings.page"
    assert finding.message.startswith("Wings of rows ")
    assert "stand one row too low: the cell of row 3 was left empty" in finding.message
    typed = slid(rows, "wing_mm", 1, 14, "down empty")
    wrong = {
        (f"handlings!{i + 2}", "wing_mm")
        for i in range(len(rows))
        if typed[i]["wing_mm"] != rows[i]["wing_mm"]
    }
    # where the broods of a page are alike nothing tells how far the slide went
    assert len(blamed([finding])) >= len(wrong) / 2
    assert blamed([finding]).keys() <= wrong


def test_a_wing_that_was_said_not_to_be_measured_was_not_left_out():
    rows = slid(season_rows(), "wing_mm", 1, 14, "down empty")
    left = next(i for i, row in enumerate(rows) if row["wing_mm"] is None)
    for written, told_of in ((None, True), ("not measured", False)):
        rows[left] = {**rows[left], "wing_mm": written}
        season = read({"handlings": pd.DataFrame(rows, dtype="object")}, shipped())
        sentences = [answer.message for answer in ask(slid_wings.RULE, season, shipped())]
        assert any(f"row {left + 2} was left empty" in one for one in sentences) == told_of


def test_a_wrong_year_makes_no_slide_of_the_wings_beside_it():
    rows = season_rows()
    rows[6] = {**rows[6], "date": rows[6]["date"].replace(year=2016)}
    report = check(typed_season(shipped(), handlings=rows), schemas=shipped())
    assert {(s.cell.row, s.cell.field) for f in report.above_notes for s in f.suspects} == {(8, "date")}


def test_a_sheet_of_one_row_has_no_slide():
    assert told(season_rows()[:1]) == []
