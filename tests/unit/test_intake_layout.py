"""Titles, two-row headers, blank rows, sums and notes: what is data and what is not."""

from __future__ import annotations

import openpyxl
import pytest
from sheets import BIRDS, HEADER, as_typed, text_file, workbook

from audit.intake import read

LABELS = ["handlings!2", "handlings!3", "handlings!4"]


def season(declared, tmp_path, rows):
    return read(workbook(tmp_path / "round.xlsx", {"handlings": rows}), declared)


def labels(season):
    return list(season.frame("handlings").index)


def test_rows_keep_their_numbers_past_titles_and_blank_rows(declared, tmp_path):
    rows = [
        ("Sallow Levels box round",),
        ("Season 2026", None, "sheet 1"),
        (),
        HEADER,
        BIRDS[0],
        (),
        (),
        BIRDS[1],
    ]
    read_in = season(declared, tmp_path, rows)
    assert labels(read_in) == ["handlings!5", "handlings!8"]
    cell = read_in.cell("handlings!8", "ring")
    assert (cell.address, cell.column, cell.observed) == ("C8", "ring", "SV01002")
    assert read_in.notices == ()


def test_columns_keep_their_letters_past_blank_columns(declared, tmp_path):
    rows = [(None, *HEADER[:2], None, *HEADER[2:]), *[(None, *bird[:2], None, *bird[2:]) for bird in BIRDS]]
    read_in = season(declared, tmp_path, rows)
    assert read_in.cell("handlings!2", "wing_mm").address == "F2"
    assert read_in.notices == ()


def two_row_header(merged):
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "handlings"
    for j, (above, below) in enumerate(
        [
            ("Date", None),
            ("Box", None),
            ("Ring", "No"),
            (None, "Leg"),
            ("Mass", "gross"),
            (None, "bag"),
            (None, "net"),
        ],
        start=1,
    ):
        sheet.cell(1, j, above)
        sheet.cell(2, j, below)
    sheet.append(["2026-05-04", "SL-01", "SV01001", "L", 395, 22, 373])
    if merged:
        for cells in ("A1:A2", "B1:B2", "C1:D1", "E1:G1"):
            sheet.merge_cells(cells)
    return book


@pytest.mark.parametrize("merged", [True, False])
def test_a_header_of_two_rows_is_read_together(declared, tmp_path, merged):
    path = tmp_path / "round.xlsx"
    two_row_header(merged).save(path)
    read_in = read(path, declared)
    assert list(read_in.frame("handlings")) == [
        "date",
        "box",
        "ring",
        "ring_leg",
        "gross_g",
        "bag_g",
        "net_g",
    ]
    assert labels(read_in) == ["handlings!3"]
    assert read_in.cell("handlings!3", "ring").column == "Ring / No"
    assert read_in.cell("handlings!3", "net_g").observed == "373"


def test_a_row_of_units_belongs_to_the_header(declared, tmp_path):
    rows = [("date", "box", "ring", "wing", "net"), ("(dd.mm.yyyy)", None, None, "cm", "g")]
    read_in = season(declared, tmp_path, [*rows, ("04.05.2026", "SL-01", "SV01001", "20.1", "373")])
    assert labels(read_in) == ["handlings!3"]
    assert read_in.frame("handlings").loc["handlings!3", "wing_mm"] == 201
    assert read_in.notices == (
        (
            "Sheet 'handlings': the header 'wing' says cm; 1 value was turned into mm, such as 20.1 cm into "
            "201 mm."
        ),
    )


def test_words_may_stand_among_the_units(declared, tmp_path):
    header = ("date", "box", "ring", "age", "wing", "net", "ringer")
    hints = ("dd.mm.yy", "label", "2 + 5 signs", "EURING", "mm", "g", None)
    bird = ("04.05.2026", "SL-01", "SV01001", "1", "201", "373", "AB")
    assert labels(season(declared, tmp_path, [header, hints, bird])) == ["handlings!3"]
    # a row that holds a number is one of data, and so is one with a single unit
    for odd in (("04.05.2026", "SL-01", "SV01002", "1", "mm", "g", "AB"), (*hints[:5], None, None)):
        assert labels(season(declared, tmp_path, [header, odd, bird])) == ["handlings!2", "handlings!3"]


def test_a_header_printed_again_on_each_page_is_no_bird(declared, tmp_path):
    title = ("Sallow Levels box round",)
    read_in = season(declared, tmp_path, [title, HEADER, BIRDS[0], title, HEADER, BIRDS[1], HEADER, BIRDS[2]])
    assert labels(read_in) == ["handlings!3", "handlings!6", "handlings!8"]
    assert read_in.notices == ("Sheet 'handlings': rows 4, 5 and 7 repeat the header; not data.",)


@pytest.mark.parametrize(
    "total",
    [
        ("Total", None, None, "588"),
        ("Summe:", None, "3", "588"),
        (None, "Mittelwert", None, "196"),
        ("=COUNTA(A2:A4)", None, "=COUNTA(C2:C4)", "=AVERAGE(D2:D4)"),
    ],
)
def test_sums_at_the_foot_are_no_bird(declared, tmp_path, total):
    book = openpyxl.Workbook()
    book.active.title = "handlings"
    for row in (HEADER, *BIRDS, (), total):
        book.active.append(row)
    book.save(tmp_path / "round.xlsx")
    read_in = read(tmp_path / "round.xlsx", declared)
    assert labels(read_in) == LABELS
    assert [notice for notice in read_in.notices if "formula" not in notice] in (
        ["Sheet 'handlings': row 6 holds sums or means; not data."],
        ["Sheet 'handlings': row 6 holds nothing in the columns that are read; not data."],
    )


def test_a_note_is_no_bird_but_a_lone_box_is(declared, tmp_path):
    rows = [
        HEADER,
        BIRDS[0],
        ("second round of visits",),
        BIRDS[1],
        (None, "Chapel"),
        (),
        (None, "SL-04"),
        ("wet",),
    ]
    read_in = season(declared, tmp_path, rows)
    assert labels(read_in) == ["handlings!2", "handlings!4", "handlings!5", "handlings!7"]
    assert read_in.notices == (
        "Sheet 'handlings': row 3 was taken for a note, not data: 'second round of visits'.",
        "Sheet 'handlings': row 8 was taken for a note, not data: 'wet'.",
    )


def test_a_number_may_stand_in_a_header(declared, tmp_path):
    rows = [("date", "box", "ring", 2026), *[(*bird[:3], "x") for bird in BIRDS]]
    read_in = season(declared, tmp_path, rows)
    assert labels(read_in) == LABELS
    assert as_typed(read_in)["handlings!2", "2026"] == "x"


def test_an_optional_table_without_rows_counts_as_not_there(declared, tmp_path):
    sheets = {"handlings": [HEADER, *BIRDS], "visits": [("date", "box", "eggs")]}
    read_in = read(workbook(tmp_path / "round.xlsx", sheets), declared)
    assert set(read_in.tables) == {"handlings"}
    assert read_in.notices == ("Sheet 'visits' has a header but no rows; it counts as not there.",)


def test_rows_prepared_for_later_are_no_birds(declared, tmp_path):
    header = ("No", *HEADER)
    rows = [(i + 1, *bird) for i, bird in enumerate(BIRDS)]
    read_in = season(declared, tmp_path, [header, *rows, (4,), (5,)])
    assert labels(read_in) == LABELS
    assert read_in.notices == (
        "Sheet 'handlings': 'No' (A) is not known and not checked; kept as typed.",
        "Sheet 'handlings': rows 5 and 6 hold nothing in the columns that are read; not data.",
    )
    assert as_typed(read_in)["handlings!2", "No"] == "1"


def test_a_merged_date_alone_makes_no_bird(declared, tmp_path):
    path = workbook(tmp_path / "round.xlsx", {"handlings": [HEADER, *BIRDS]})
    book = openpyxl.load_workbook(path)
    sheet = book["handlings"]
    sheet["A3"].value = None
    sheet["A4"].value = None
    sheet["E7"] = "end"
    sheet.merge_cells("A2:A6")
    book.save(path)
    read_in = read(path, declared)
    assert labels(read_in) == [*LABELS, "handlings!7"]
    assert read_in.cell("handlings!3", "date").observed == "2026-05-04"


def test_a_row_that_only_seems_like_the_header_is_kept(declared, tmp_path):
    rows = [HEADER, *BIRDS, ("2026-05-06", "SL-03", "SV01004", "190", "remarks")]
    assert labels(season(declared, tmp_path, rows)) == [*LABELS, "handlings!5"]


def test_a_column_without_a_header_is_kept_and_said(declared, tmp_path):
    rows = [HEADER, *[(*bird, "?") for bird in BIRDS]]
    read_in = season(declared, tmp_path, rows)
    assert read_in.notices == ("Sheet 'handlings': column F has no header; its 3 cells are not checked.",)
    assert as_typed(read_in)["handlings!2", "column F"] == "?"


def test_a_text_file_counts_header_and_blank_rows_too(declared, tmp_path):
    path = text_file(tmp_path / "handlings.csv", [HEADER, [], BIRDS[0], [], [], BIRDS[1]])
    assert labels(read(path, declared)) == ["handlings!3", "handlings!6"]


def test_a_header_below_the_first_rows_is_found_whatever_stands_above(declared, tmp_path):
    above = [
        ("Date:", "4 May 2026"),
        ("Ringer:", "AB"),
        ("Box round", "Sallow Levels"),
        ("Remarks: fair weather",),
    ]
    read_in = season(declared, tmp_path, [*above, HEADER, *BIRDS])
    assert labels(read_in) == ["handlings!6", "handlings!7", "handlings!8"]


def test_a_row_that_shares_one_word_with_the_header_is_kept(declared, tmp_path):
    rows = [HEADER, *BIRDS, (None, "SL-03", None, None, "remarks")]
    assert labels(season(declared, tmp_path, rows)) == [*LABELS, "handlings!5"]


def test_a_day_without_a_year_takes_the_year_of_the_name_or_the_title(declared, tmp_path):
    rows = [("date", "box", "ring"), ("4.5.", "SL-01", "SV01001")]
    by_file = read(text_file(tmp_path / "round 2024.csv", rows, ";"), declared)
    assert str(by_file.frame("handlings")["date"].iloc[0].date()) == "2024-05-04"
    titled = text_file(tmp_path / "round 2023.csv", [("Season 2025",), *rows], ";")
    assert str(read(titled, declared).frame("handlings")["date"].iloc[0].date()) == "2025-05-04"
