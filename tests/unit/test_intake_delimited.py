"""Text files of separated values, as programs in several countries write them."""

from __future__ import annotations

import pytest
from sheets import BIRDS, HEADER, text_file

from audit.intake.delimited import read_delimited
from audit.refusal import SeasonRefusal

KNOWN = {"date", "box", "ring", "wingmm", "gross", "tag", "remarks", "datum", "kasten"}


def rows_of(path):
    return [[cell.text for cell in row] for row in read_delimited(path, KNOWN, 20).rows]


def written(tmp_path, data):
    path = tmp_path / "handlings.csv"
    path.write_bytes(data if isinstance(data, bytes) else data.encode())
    return path


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_the_separator_and_the_encoding_are_found(tmp_path, delimiter, encoding):
    path = text_file(
        tmp_path / "handlings.csv", [HEADER, *BIRDS, ("x", "Ø", "é", "1", "ß")], delimiter, encoding
    )
    assert rows_of(path) == [
        list(HEADER),
        ["2026-05-04", "SL-01", "SV01001", "201", "all well"],
        ["2026-05-04", "SL-01", "SV01002", "199"],
        ["2026-05-05", "SL-02", "SV01003", "188", "wet"],
        ["x", "Ø", "é", "1", "ß"],
    ]


@pytest.mark.parametrize(
    "text",
    [
        "box;gross\nSL-01;395,5\nSL-02;401,0\n",
        "gross\n395,5\n401,0\n",
        "box;remarks\nSL-01;wet, cold, hungry\nSL-02;a, b, c\n",
        "box\tremarks\nSL-01\twet; cold, hungry\n",
        "Season 2026, second round, sheet 1\nbox;gross\nSL-01;395,5\n",
        "unknown;other\n1,5;2,5\n3,5;4,5\n",
    ],
)
def test_decimal_commas_and_lists_in_remarks_do_not_mislead(tmp_path, text):
    separator = "\t" if "\t" in text else ";"
    rows = rows_of(written(tmp_path, text))
    lines = text.splitlines()
    assert rows == [line.split(separator) for line in lines]


def test_windows_1252_is_read_and_said(tmp_path):
    sheet = read_delimited(
        written(tmp_path, "Datum;Kasten\n4.5.2026;Höhle – 3 °\n".encode("cp1252")), KNOWN, 20
    )
    assert sheet.rows[1][1].text == "Höhle – 3 °"
    assert sheet.notices == ("File 'handlings.csv' is not UTF-8; its letters were read as Windows-1252.",)


def test_rows_count_records_as_a_spreadsheet_does(tmp_path):
    text = (
        'box,remarks,ring\r\n\r\nSL-01,"two\r\nlines",SV01001\r\n,,\r\nSL-02,"he said ""calm""",SV01002\r\n'
    )
    rows = rows_of(written(tmp_path, text))
    assert rows == [
        ["box", "remarks", "ring"],
        [],
        ["SL-01", "two\r\nlines", "SV01001"],
        [],
        ["SL-02", 'he said "calm"', "SV01002"],
    ]


def test_the_line_that_names_the_separator_is_obeyed_and_not_counted(tmp_path):
    assert rows_of(written(tmp_path, "sep=|\nbox|ring\nSL,01|SV01001\n")) == [
        ["box", "ring"],
        ["SL,01", "SV01001"],
    ]


def test_text_stays_text(tmp_path):
    rows = rows_of(written(tmp_path, "tag,ring,box\n040000012345678,0123, SL-01 \n9.85E+14,'0110AB,1E5\n"))
    assert rows[1:] == [["040000012345678", "0123", " SL-01 "], ["9.85E+14", "'0110AB", "1E5"]]


def test_a_quotation_mark_inside_a_cell_is_kept(tmp_path):
    rows = rows_of(written(tmp_path, 'box,remarks\nSL-01,a 4" ring\nSL-02,"calm" bird\n'))
    assert rows[1] == ["SL-01", 'a 4" ring']
    assert rows[2] == ["SL-02", "calm bird"]


def test_a_quotation_mark_that_never_closes_is_refused_with_its_row(tmp_path):
    path = written(tmp_path, 'box,ring,remarks\nSL-01,SV01001,ok\nSL-01,SV01002,"calm\nSL-02,SV01003,ok\n')
    with pytest.raises(SeasonRefusal) as refusal:
        rows_of(path)
    assert refusal.value.what == "A quotation mark opens a cell here and never closes."
    assert refusal.value.where == f"{path}, row 3"


def test_rows_swallowed_between_two_stray_marks_are_said(tmp_path):
    path = written(tmp_path, 'box,ring,remarks\nSL-01,SV01002,"calm\nSL-02,SV01003,ok\nSL-02,SV01004,wet"\n')
    assert read_delimited(path, KNOWN, 20).notices == (
        "File 'handlings.csv', row 2: one cell holds whole rows; a stray quotation mark is likely.",
    )


@pytest.mark.parametrize("data", [b"\x00\x01\x02binary", b"\xff\xfea"])
def test_what_is_no_text_is_refused(tmp_path, data):
    with pytest.raises(SeasonRefusal):
        rows_of(written(tmp_path, data))


def test_one_column_needs_no_separator(tmp_path):
    assert rows_of(written(tmp_path, "tag\n999000000012345\n999000000012346\n")) == [
        ["tag"],
        ["999000000012345"],
        ["999000000012346"],
    ]


def test_a_long_remark_is_no_fault(tmp_path):
    long = "wet " * 50_000
    assert rows_of(written(tmp_path, f'box,remarks\nSL-01,"{long}"\n'))[1][1] == long


def test_the_other_byte_order_is_known(tmp_path):
    assert rows_of(written(tmp_path, b"\xfe\xff" + "box;ring\nSL-01;é\n".encode("utf-16-be")))[1] == [
        "SL-01",
        "é",
    ]
