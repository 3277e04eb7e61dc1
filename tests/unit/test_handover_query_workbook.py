from __future__ import annotations

import openpyxl
import pytest
from asked_season import asks, label, rows, season_of
from query_files import headings_at, rows_of

from audit.handover.query.sheet import make_query
from audit.handover.query.words import ANSWER, BY_WHOM, IDENTITY, MARKS, REMARK
from audit.handover.query.workbook import write_workbook


@pytest.fixture
def written(tmp_path, declared):
    season = season_of(rows())
    log = asks(season, [(label(3), "net_g")], [(label(7), "ring")], [(label(9), "tag")])
    sheet = make_query(season, declared, log)
    write_workbook(sheet, tmp_path / "q.xlsx")
    return tmp_path / "q.xlsx", sheet


def columns(page):
    top = headings_at([[str(cell.value or "") for cell in row] for row in page.iter_rows()]) + 1
    return top, {page.cell(top, j).value: j for j in range(1, page.max_column + 1)}


def test_there_is_one_line_for_each_question_in_page_order(written):
    path, sheet = written
    lines = rows_of(path)
    top = headings_at(lines)
    at = lines[top].index(IDENTITY)
    assert [line[at] for line in lines[top + 1 :]] == [one.identity for one in sheet.questions]
    assert [line[0] for line in lines[top + 1 :]] == ["1", "2", "3"]
    assert lines[-1][1:5] == [
        "2026-06-13 (Saturday), box SL-10",
        "bird 2 of 3, ring SV01002, 11:04, between SV01001 and SV01003 (handlings I3)",
        "net_g",
        "302",
    ]


def test_only_answers_may_be_written(written):
    page = openpyxl.load_workbook(written[0]).worksheets[0]
    top, at = columns(page)
    assert page.protection.sheet
    assert page.protection.password is None
    open_heads = {ANSWER, BY_WHOM, REMARK, *MARKS}
    for row in range(top + 1, top + 4):
        for heading, column in at.items():
            assert page.cell(row, column).protection.locked is (heading not in open_heads)


def test_every_cell_is_text_and_answers_are_empty(written):
    page = openpyxl.load_workbook(written[0]).worksheets[0]
    top, at = columns(page)
    for row in range(top + 1, top + 4):
        for heading, column in at.items():
            cell = page.cell(row, column)
            assert cell.number_format == "@"
            if heading in {ANSWER, BY_WHOM, REMARK, *MARKS}:
                assert cell.value is None


def test_a_text_that_looks_like_a_formula_stays_text(written):
    page = openpyxl.load_workbook(written[0]).worksheets[0]
    top, at = columns(page)
    cells = [page.cell(row, at["typed"]) for row in range(top + 1, top + 4)]
    ring = next(cell for cell in cells if cell.value == "=SV01006")
    assert ring.data_type == "s"


def test_marks_offer_yes_and_nothing_else(written):
    page = openpyxl.load_workbook(written[0]).worksheets[0]
    top, at = columns(page)
    (rule,) = page.data_validations.dataValidation
    assert rule.formula1 == '"yes"'
    for row in range(top + 1, top + 4):
        for mark in MARKS:
            assert page.cell(row, at[mark]).coordinate in rule.sqref
        assert page.cell(row, at[ANSWER]).coordinate not in rule.sqref
    assert page.cell(top, at[MARKS[0]]).coordinate not in rule.sqref


def test_the_identity_can_be_seen(written):
    page = openpyxl.load_workbook(written[0]).worksheets[0]
    _, at = columns(page)
    letter = page.cell(1, at[IDENTITY]).column_letter
    assert not page.column_dimensions[letter].hidden
    assert page.column_dimensions[letter].width > 10


def test_what_was_probably_meant_stands_nowhere_in_the_workbook(tmp_path, declared):
    from dataclasses import replace

    from audit.findings import Finding, Suspect

    season = season_of(rows())
    said = "Gross 302 g less bag 24 g is 278 g, but net says 302 g."
    (ask,) = asks(season, [(label(3), "net_g")])
    suspects = (Suspect(season.cell(label(3), "net_g"), "278", 0.9, 0.9),)
    finding = Finding("tare.x", "error", suspects, said, identity="finding1")
    sheet = make_query(season, declared, [replace(ask, asked=said)], [finding], suggestions=True)
    write_workbook(sheet, tmp_path / "q.xlsx")
    assert not any("278" in text for line in rows_of(tmp_path / "q.xlsx") for text in line)


def test_a_sheet_without_questions_can_be_written(tmp_path, declared):
    write_workbook(make_query(season_of(rows()), declared, []), tmp_path / "q.xlsx")
    lines = rows_of(tmp_path / "q.xlsx")
    assert headings_at(lines) == len(lines) - 1
