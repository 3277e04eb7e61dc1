"""The blank sheet: its orders, what it says, and that it is read back as it was typed into."""

from __future__ import annotations

import csv

import numpy as np
import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import audit
from audit.cli import main
from audit.declarations import load_declarations
from audit.practice.measuring.blank import GIVEN, make_blank
from audit.practice.measuring.sheet import NO_MEASURE, measured_table
from audit.refusal import Refusal


@pytest.fixture(scope="module")
def declared():
    return load_declarations()


MEASURES = ("wing_mm", "gross_g", "bag_g", "net_g", "tarsus_mm", "head_bill_mm", "feather_mm", "tail_mm")


def fill_workbook(path, measured):
    """Type into the workbook as people would, number by number; returns what it holds in the end."""
    book = openpyxl.load_workbook(path)
    for sheet in book.worksheets[1:]:
        heads = [cell.value for cell in sheet[1]]
        for row in sheet.iter_rows(min_row=2):
            bird, who, time = (row[heads.index(name)].value for name in GIVEN)
            for name, cell in zip(heads, row, strict=True):
                if "(" in name:
                    cell.value = measured(bird, who, int(time), name)
    book.save(path)


def fill_table(path, measured, *, comma=False):
    with path.open(encoding="utf-8", newline="") as stream:
        head, *rows = csv.reader(stream)
    for row in rows:
        bird, who, time = row[:3]
        for place, name in enumerate(head):
            if "(" in name:
                told = str(measured(bird, who, int(time), name))
                row[place] = told.replace(".", ",") if comma else told
    with path.open("w", encoding="utf-8", newline="") as stream:
        csv.writer(stream, delimiter=";" if comma else ",").writerows([head, *rows])


# what is planned


@given(st.integers(3, 20), st.integers(1, 4), st.integers(1, 3), st.integers(0, 999))
@settings(max_examples=25)
def test_each_page_holds_each_bird_once_in_an_order_of_its_own(birds, people, repeats, seed):
    declared = load_declarations()
    names = [f"A{chr(ord('A') + number)}" for number in range(people)]
    if people * repeats == 1:
        with pytest.raises(Refusal, match="tells nothing of repeats"):
            make_blank(birds, names, declared, repeats=repeats, seed=seed)
        return
    blank = make_blank(birds, names, declared, repeats=repeats, seed=seed)
    assert blank == make_blank(birds, names, declared, repeats=repeats, seed=seed)
    assert [(page.observer, page.repeat) for page in blank.pages] == [
        (who, time) for time in range(1, repeats + 1) for who in names
    ]
    wanted = {str(number) for number in range(1, birds + 1)}
    for page in blank.pages:
        assert len(page.birds) == birds
        assert set(page.birds) == wanted
    if birds > 5:
        # of three birds there are only six orders
        assert len({page.birds for page in blank.pages}) == len(blank.pages)
        pairs = zip(blank.pages, blank.pages[1:], strict=False)
        assert all(page.birds[-1] != after.birds[0] for page, after in pairs)


def test_the_code_tells_one_round_from_another(declared):
    made = [
        make_blank(6, ["AB", "MK"], declared),
        make_blank(6, ["AB", "MK"], declared, seed=2),
        make_blank(7, ["AB", "MK"], declared),
        make_blank(6, ["AB", "IP"], declared),
        make_blank(6, ["AB", "MK"], declared, measures=["wing_mm"]),
    ]
    assert len({blank.code for blank in made}) == len(made)


def test_a_living_bird_is_not_measured_too_often(declared):
    few = audit.measuring_sheet(["AB", "MK", "IP"], 6, schemas=declared)
    much = audit.measuring_sheet(["AB", "MK"], 6, repeats=2, schemas=declared)
    assert "take specimens for this round" not in repr(few)
    for said in (repr(much), much._repr_html_()):
        assert "A living bird should bear no more than 3 measures: take specimens for this round" in said


@pytest.mark.parametrize(
    ("birds", "people", "more", "what"),
    [
        (12, ["AB"], {}, "tells nothing of repeats"),
        (2, ["AB", "MK"], {}, "A round of 2 birds cannot be planned"),
        (61, ["AB", "MK"], {}, "A round of 61 birds cannot be planned"),
        (["SV1", "SV2", "SV1"], ["AB", "MK"], {}, "SV1 stands twice"),
        (["SV1", " ", "SV2"], ["AB", "MK"], {}, "A bird without a number"),
        (12, [], {}, "Nobody is named"),
        (12, ["AB", "ab"], {}, "named twice"),
        (12, ["A B", "MK"], {}, "'A B' are no initials"),
        (12, ["AB", "MK"], {"repeats": 0}, "0 measures of each bird"),
        (12, ["AB", "MK"], {"repeats": 10}, "10 measures of each bird"),
        (12, ["AB", "MK"], {"measures": ["wing"]}, "There is no measure 'wing'"),
        (12, ["AB", "MK"], {"measures": ["bag_g"]}, "Of the bag alone nothing is told"),
    ],
)
def test_rounds_that_would_tell_nothing_are_refused(birds, people, more, what, declared):
    with pytest.raises(Refusal, match=what) as refused:
        audit.measuring_sheet(people, birds, schemas=declared, **more)
    assert refused.value.cure


# what is written


def test_the_page_is_for_one_person_at_a_time(declared, tmp_path):
    sheet = audit.measuring_sheet(["AB", "MK"], 5, repeats=2, schemas=declared)
    page, *_ = sheet.write(tmp_path, paper="letter")
    text = page.read_text(encoding="utf-8")
    assert text.count('<section class="blank">') == 4
    assert "break-before:page" in text
    assert "size:letter" in text
    first = text.split('<section class="blank">')[1]
    assert "Measured by AB, round 1 of 2" in first
    assert "MK" not in first
    for said in ("licence", "distress or cold", "how long a bird may be out of the nest", sheet.blank.code):
        assert said in text
    assert "<script" not in text
    assert "http:" not in text
    assert "https:" not in text
    with pytest.raises(Refusal, match="no paper 'a3'"):
        sheet.write(tmp_path, paper="a3")


def test_what_was_typed_is_never_written_over(declared, tmp_path):
    sheet = audit.measuring_sheet(["AB", "MK"], 5, schemas=declared)
    page, book, table = sheet.write(tmp_path)
    fill_workbook(book, lambda *_: 1)
    table.write_text("typed", encoding="utf-8")
    before = book.read_bytes()
    assert sheet.write(tmp_path) == [page]
    assert book.read_bytes() == before
    assert table.read_text(encoding="utf-8") == "typed"


def test_rings_from_a_frame_are_escaped(declared):
    sheet = audit.measuring_sheet(["AB", "MK"], ["<b>1", "2", "3"], schemas=declared)
    assert "<b>1" not in sheet._repr_html_()


# what is read back


@pytest.mark.parametrize("kind", ["workbook", "table", "table with commas"])
def test_it_is_read_back_as_it_was_typed(kind, declared, tmp_path):
    sheet = audit.measuring_sheet(
        ["AB", "MK"], [f"SV{n:05d}" for n in range(1, 8)], repeats=2, measures=MEASURES, schemas=declared
    )
    _, book, table = sheet.write(tmp_path)
    rng = np.random.default_rng(5)
    given_values = {}

    def measured(bird, who, time, head):
        value = round(float(rng.normal(200, 20)), 1)
        if head == "bag (g)":
            value = 20.5
        elif head == "net (g)":
            value = round(given_values[bird, who, time, "gross (g)"] - 20.5, 1)
        given_values[bird, who, time, head] = value
        return value

    source = book if kind == "workbook" else table
    if kind == "workbook":
        fill_workbook(book, measured)
    else:
        fill_table(table, measured, comma=kind == "table with commas")
    told = audit.measuring(source, schemas=declared)
    assert told.sheet.notices == ()
    fields = [one.repeats.measure.field for one in told.accounts]
    assert fields == [name for name in MEASURES if name not in NO_MEASURE]
    for one in told.accounts:
        unit = one.repeats.measure.unit
        head = f"{one.repeats.measure.field.removesuffix(f'_{unit}').replace('_', ' ')} ({unit})"
        wanted = sorted(
            (bird, who, value) for (bird, who, _, name), value in given_values.items() if name == head
        )
        found = sorted(
            (one.repeats.birds[bird], one.repeats.observers[who], float(value))
            for bird, who, value in zip(
                one.repeats.bird, one.repeats.observer, one.repeats.values, strict=True
            )
        )
        assert found == wanted
        assert [name for name, _ in one.own] == ["AB", "MK"]


def test_every_measure_of_the_sheet_is_known_by_its_heading(declared):
    known = {field.name for field in measured_table(declared).fields if field.kind == "number"}
    assert known == set(MEASURES)


def test_a_sheet_that_nobody_typed_into_yet(declared, tmp_path):
    _, book, table = audit.measuring_sheet(["AB", "MK"], 5, schemas=declared).write(tmp_path)
    for source in (book, table):
        with pytest.raises(Refusal, match="No measure stands in this sheet yet") as refused:
            audit.measuring(source, schemas=declared)
        assert "Write into its cells what was measured" in refused.value.cure


def test_from_the_command_line(tmp_path, capsys):
    out = str(tmp_path / "out")
    assert main(["measuring", "--blank", "AB,MK", "--birds", "SV1,SV2,SV3", "--out", out]) == 0
    said = capsys.readouterr().out
    assert "To measure again: 3 birds, by AB and MK." in said
    assert sorted(path.suffix for path in (tmp_path / "out").iterdir()) == [".csv", ".html", ".xlsx"]
    assert main(["measuring", "--out", out]) == 2
    assert "No sheet is named." in capsys.readouterr().err
    assert main(["measuring", "a.csv", "--blank", "AB,MK", "--out", out]) == 2
    assert "one of both" in capsys.readouterr().err
    assert main(["measuring", "--blank", "AB,MK", "--birds", "2", "--out", out]) == 2
    assert "cure:" in capsys.readouterr().err
