"""The list of changes: one line for each cell that was decided or follows from one."""

from __future__ import annotations

import csv
import io
from dataclasses import replace

import pandas as pd
import pytest
from decided_book import AT_TIME, SHEET, at, decided, declared, write_book

from audit.checking import read_season
from audit.handover.clean.change_list import change_list_part, changes_of
from audit.intake.amending import amend
from audit.review.decisions import Decision
from audit.review.places import decided_cell
from audit.review.replay import replay

COLUMNS = [
    *("sheet", "cell", "row", "column", "field", "box", "date", "ring", "tag", "typed", "now"),
    *("who", "at", "why", "rule", "looked_at", "how", "decision", "note"),
]


@pytest.fixture(scope="module")
def source(tmp_path_factory):
    return write_book(tmp_path_factory.mktemp("changes") / "round.xlsx")


def lines_of(season, folder):
    part = change_list_part(season)
    assert list(part.files) == ["changes.csv"]
    part.files["changes.csv"](folder / "changes.csv")
    text = (folder / "changes.csv").read_text(encoding="utf-8")
    return list(csv.DictReader(io.StringIO(text))), part.told


def test_a_line_says_where_what_who_when_and_why(source, tmp_path):
    season = decided(
        source,
        {
            (at(5), "gross_g"): "401.5",
            (at(3), "remarks"): "=1+1",
            (at(4), "net_g"): "290",
            (at(6), "wing_mm"): None,
        },
    )
    lines, told = lines_of(season, tmp_path)
    assert told == ()
    assert list(lines[0]) == COLUMNS
    # in the order of the sheet
    assert [(line["cell"], line["how"]) for line in lines] == [
        ("L3", "amend"),
        ("H4", "amend"),
        ("F5", "amend"),
        ("H5", "recalculated"),
        ("I6", "keep"),
    ]
    assert lines[2] == {
        "sheet": SHEET,
        "cell": "F5",
        "row": "5",
        "column": "Gross (g)",
        "field": "gross_g",
        "box": "SL-01",
        "date": "2026-06-01",
        "ring": "SV01002",
        "tag": "999000000123002",
        "typed": "302",
        "now": "401.5",
        "who": "AB",
        "at": AT_TIME,
        "why": "as in the field notebook",
        "rule": "tare.arithmetic",
        "looked_at": "Gross less bag is not net.",
        "how": "amend",
        "decision": "decision1",
        "note": "",
    }
    assert (lines[0]["typed"], lines[0]["now"]) == ("", "'=1+1")  # guarded: no program runs it
    assert lines[1]["typed"] == "'=F4-G4"
    assert lines[1]["note"] == "The value takes the place of the formula =F4-G4."
    assert (lines[3]["typed"], lines[3]["now"], lines[3]["who"]) == ("280", "379.5", "")
    assert lines[3]["why"] == "Cells were changed that the formula =F5-G5 depends on."
    assert (lines[4]["typed"], lines[4]["now"]) == ("12.5", "12.5")
    assert lines[4]["decision"] == "decision4"


def test_a_cell_mended_in_the_sheet_since_is_listed_with_what_stood_there(source, tmp_path):
    read = read_season(source, schemas=declared())
    former = amend(read, declared(), at(5), "gross_g", "999")
    decision = Decision("one", AT_TIME, "IP", "accept", (decided_cell(former, at(5), "gross_g", "302"),))
    season = replace(decided(source, {}, season=read), replayed=replay(read, declared(), [decision]))
    lines, _ = lines_of(season, tmp_path)
    assert [(line["cell"], line["typed"], line["now"], line["how"], line["who"]) for line in lines] == [
        ("F5", "999", "302", "mended", "IP")
    ]


def test_two_people_who_came_to_the_same_are_both_named(source, tmp_path):
    read = read_season(source, schemas=declared())
    both = [
        Decision(name, AT_TIME, name, "amend", (decided_cell(read, at(5), "ring", "SV01099"),), reason=why)
        for name, why in (("AB", "notebook"), ("MK", "photograph"))
    ]
    asked = Decision("q", AT_TIME, "IP", "ask", (decided_cell(read, at(5), "ring", None),), reason="which?")
    lines, _ = lines_of(decided(source, {}, season=read, extra=[*both, asked]), tmp_path)
    (line,) = lines
    assert (line["who"], line["why"], line["decision"]) == ("AB; MK", "notebook; photograph", "AB; MK")


def test_formulas_without_a_result_are_told(source, tmp_path):
    season = decided(source, {(at(5), "gross_g"): "unknown"})
    lines, told = lines_of(season, tmp_path)
    assert [(line["cell"], line["now"]) for line in lines] == [("F5", "unknown"), ("H5", "")]
    assert "no result" in lines[1]["note"]
    assert told[0].startswith("1 formula could not be worked out anew after cells were changed")


def test_the_same_decisions_in_any_order_give_the_same_list(source):
    texts = {(at(5), "gross_g"): "401.5", (at(3), "remarks"): "x", (at(4), "net_g"): "290"}
    season = decided(source, texts)
    turned = replay(season.typed, declared(), season.decisions[::-1])
    assert changes_of(replace(season, replayed=turned)) == changes_of(season)


def test_a_season_of_data_frames_has_a_list_as_well(tmp_path):
    frame = pd.DataFrame([{"date": "2026-06-12", "box": "SL-01", "ring": "SV01001", "wing_mm": "201"}])
    lines, _ = lines_of(decided({"handlings": frame}, {("handlings!2", "wing_mm"): "210"}), tmp_path)
    assert [(line["cell"], line["typed"], line["now"]) for line in lines] == [("D2", "201", "210")]
