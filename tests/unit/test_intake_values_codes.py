"""Codes, and what spreadsheets do to them."""

from __future__ import annotations

import datetime as dt
import io

import openpyxl
import pandas as pd
import pycountry
import pytest
from hypothesis import given
from hypothesis import strategies as st
from typed_column import column, moment, one, plain, reading_at

from audit.intake.grid import RawCell, stored_text

TAG = "985121004515220"

# What a file holds after the typed code went through a program with default settings. Measured with
# LibreOffice
# 7.4 (.csv opened, saved as .csv; with and without "detect special numbers"), pandas 3.1.1 (read_csv) and
# openpyxl 3.1.5 (.xlsx). Columns: what the file holds; value read; kind of reading; what is shown or
# suggested.
DAMAGE = [
    # kept by all three
    (TAG, TAG, "", ""),
    (int(TAG), TAG, "", ""),
    ("0110ABCDEF", "0110ABCDEF", "", ""),
    ("3E7.0000000539", "3E7.0000000539", "", ""),
    ("8000842098B29BA0", "8000842098B29BA0", "", ""),
    ("528 140000795552", "528140000795552", "", ""),
    ("985.121.004.515.220", TAG, "restored_code", TAG),
    # pandas: a blank elsewhere in the column makes floats
    (985121004515220.0, TAG, "", ""),
    ("985121004515220.0", TAG, "restored_code", TAG),
    # LibreOffice and pandas: the leading nought goes
    ("40000012345678", "040000012345678", "restored_code", "040000012345678"),
    (40000012345678, "040000012345678", "restored_code", "040000012345678"),
    # the same with read-only tags of 10 and 14 digits: nothing shows how many noughts there were
    ("40856634", "40856634", "", ""),
    (4335823930, "4335823930", "", ""),
    # LibreOffice default keeps it as text (overflow); "detect special numbers" and pandas do not
    ("01234E5678", "01234E5678", "", ""),
    ("123456E789", "123456E789", "", ""),
    ("1.79769313486232E+308", None, "damaged_code", ""),
    ("inf", None, "damaged_code", ""),
    (float("inf"), None, "damaged_code", ""),
    (1.7976931348623157e308, None, "damaged_code", ""),
    # 0000001E25
    ("1E+025", None, "damaged_code", ""),
    ("1.00E+25", None, "damaged_code", ""),
    ("1e+25", None, "damaged_code", ""),
    (1e25, None, "damaged_code", ""),
    # 1E5 and 12E10: a short whole number may be just that; ten noughts at the end may not
    ("1.00E+05", None, "damaged_code", ""),
    ("1.20E+11", None, "damaged_code", ""),
    ("120000000000", None, "damaged_code", ""),
    (120000000000.0, None, "damaged_code", ""),
    ("100000", "100000", "", ""),
    # thousands marks
    ("985,121,004,515,220", TAG, "restored_code", TAG),
    # LibreOffice with German settings: 111,27706 becomes a number
    ("111,27706", "111,27706", "", ""),
    (111.27706, None, "damaged_code", ""),
    # 001.27706 in all three
    (1.27706, None, "damaged_code", ""),
    ("1.27706", None, "damaged_code", "001.27706"),
    # an apostrophe in a .csv stays a character in all three
    ("'985121004515220", TAG, "restored_code", TAG),
    # blanks around it are trimmed
    (" 985121004515220 ", TAG, "", ""),
    # sixteen digits: LibreOffice shortens, pandas keeps an integer exactly
    ("9.8512100451522E+015", None, "damaged_code", ""),
    (9851210045152201, "9851210045152201", "", ""),
    (float(9851210045152201), None, "damaged_code", ""),
    # from .xlsx, LibreOffice saves "as shown"
    ("9.85E+14", None, "damaged_code", ""),
    ("985121004515220.00", TAG, "restored_code", TAG),
    ("9007199254740990", "9007199254740990", "", ""),
    (9007199254740992, None, "damaged_code", ""),
    (1e16, None, "damaged_code", ""),
    # General format shows six significant digits from twelve digits on (american.edu, training tips);
    # read back
    ("9.85121E+14", None, "damaged_code", ""),
    ("9,85121E+14", None, "damaged_code", ""),
    (985121000000000, None, "damaged_code", ""),
    ("985121000000000", None, "damaged_code", ""),
]


@pytest.mark.parametrize(("held", "value", "kind", "shown"), DAMAGE, ids=repr)
def test_every_measured_damage_is_undone_or_told(held, value, kind, shown):
    assert one("tag", held) == (value, kind, shown)


@pytest.mark.parametrize("typed", [TAG, "040000012345678", "0110ABCDEF", "01234E5678", "0000001E25", "12E10"])
@pytest.mark.parametrize("company", [[], [""], ["3E7.0000000539"]], ids=repr)
def test_what_pandas_makes_of_a_csv_is_never_read_as_another_tag(typed, company):
    # pandas.read_csv with default settings, run here
    text = "tag,box\n" + "".join(f"{code},SL-01\n" for code in [typed, *company])
    stored = pd.read_csv(io.StringIO(text))["tag"].tolist()
    read = column("tag", *stored)
    reading = reading_at(read, 0)
    assert plain(read)[0] == typed or (reading and reading.kind == "damaged_code")


def test_what_pandas_and_spreadsheets_cannot_tell_stays_as_typed():
    # 1E5 becomes 100000 and 0040856634 becomes 40856634: no trace is left, so nothing is guessed
    stored = pd.read_csv(io.StringIO("tag\n1E5\n"))["tag"].tolist()
    assert plain(column("tag", *stored)) == ["100000"]
    stored = pd.read_csv(io.StringIO("tag\n0040856634\n"))["tag"].tolist()
    assert plain(column("tag", *stored)) == ["40856634"]


@pytest.mark.parametrize(
    ("value", "number_format", "meant"),
    [
        (40000012345678, "000000000000000", "040000012345678"),
        (985121004515220, "0.00E+00", TAG),
        (985121004515220, "#,##0", TAG),
        (985121004515220, "0.00", TAG),
        (985121004515220, "0", TAG),
        (TAG, "@", TAG),
    ],
    ids=repr,
)
def test_number_formats_of_a_workbook(value, number_format, meant):
    # openpyxl 3.1.5, run here: the format is the only place that holds the nought
    book = openpyxl.Workbook()
    book.active["A1"] = value
    book.active["A1"].number_format = number_format
    file = io.BytesIO()
    book.save(file)
    cell = openpyxl.load_workbook(file).active["A1"]
    read = column("tag", RawCell(cell.value, stored_text(cell.value), cell.number_format))
    assert plain(read) == [meant]


def test_a_format_of_letters_and_noughts_is_part_of_the_ring():
    cell = RawCell(1001, "1001", '"SV"00000')
    assert one("ring", cell) == ("SV01001", "restored_code", "SV01001")


def test_a_nought_is_put_back_only_for_a_country_below_100():
    # ISO 3166-1 numeric, from pycountry
    below = {int(country.numeric) for country in pycountry.countries if int(country.numeric) < 100}
    for prefix in range(10, 100):
        code = f"{prefix}012345678901"
        value, kind, _ = one("tag", code)
        assert (value, kind) == (("0" + code, "restored_code") if prefix in below else (code, ""))


def test_a_nought_is_not_put_back_where_another_digit_may_be_missing():
    # 090 is a country, but every other tag here begins with 900: a nought may be missing elsewhere
    whole = "900073000123456"
    assert one("tag", "90073000123456", whole)[0] == "90073000123456"
    assert one("tag", "90073000123456")[0] == "090073000123456"
    # national numbers have 38 bits (ISO 11784): 274877906944 does not fit
    assert one("tag", "40274877906943")[0] == "040274877906943"
    assert one("tag", "40274877906944")[0] == "40274877906944"


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("98512I004515220", TAG),
        ("98512l004515220", TAG),
        ("9851210O45I5220", TAG),
        ("9B5121004515220", TAG),
        ("98S121004515220", TAG),
        ("O11OABCDEF", "0110ABCDEF"),
        ("9Z0000000001337", "920000000001337"),
    ],
    ids=repr,
)
def test_letters_for_digits_in_a_tag(typed, meant):
    assert one("tag", typed) == (meant, "letter_in_code", meant)


@pytest.mark.parametrize(
    "typed", ["0110ABCDEF", "3E7.0000000539", "XY12", "98512A004515220", "BAG"], ids=repr
)
def test_tags_whose_letters_are_their_own_or_tell_nothing(typed):
    assert one("tag", typed) == (typed, "", "")


@pytest.mark.parametrize("field", ["ring", "box"])
@pytest.mark.parametrize(
    "typed", ["SVO1001", "S1O", "IO1", "1E5", "SV-01001", "SL-01", "O1234567", "I123456789"], ids=repr
)
def test_letters_of_rings_and_boxes_stay(field, typed):
    assert one(field, typed) == (typed, "", "")


@pytest.mark.parametrize(
    "typed",
    ["sv01001", "SV 01001", " SV01001", "SV\u00a001001", "SV\u200b01001", "ＳＶ０１００１", "SV\t01001"],
    ids=repr,
)
def test_blanks_invisible_signs_and_small_letters_go_without_a_word(typed):
    assert one("ring", typed) == ("SV01001", "", "")


@pytest.mark.parametrize("typed", ["SL-01", "SL–01", "SL‑01", "sl − 01", "SL—01"], ids=repr)
def test_every_dash_of_a_box_is_a_hyphen(typed):
    assert one("box", typed) == ("SL-01", "", "")


@pytest.mark.parametrize(
    "typed", ["", " ", "?", "-", "–", "n/a", "k.A.", "none", "ohne", "sans", "geen", "NaN", None], ids=repr
)
def test_no_tag(typed):
    assert one("tag", typed) == (None, "", "")


def test_words_for_none_are_names_elsewhere():
    assert one("box", "OHNE")[0] == "OHNE"


@pytest.mark.parametrize("typed", ["SV01001?", "(SV01001)", "?SV01001", "SV01001 (?)", "SV01001*"], ids=repr)
def test_a_mark_of_doubt_is_told(typed):
    assert one("ring", typed) == ("SV01001", "uncertain_mark", "SV01001")


@pytest.mark.parametrize("field", ["ring", "tag", "box"])
@pytest.mark.parametrize(
    "held", [moment(2026, 5, 3), dt.date(2026, 5, 3), dt.time(3, 5), True, 1.5, "#REF!", "#NV"], ids=repr
)
def test_what_is_no_code_at_all(field, held):
    assert one(field, held)[:2] == (None, "damaged_code")


@pytest.mark.parametrize(
    "typed", ["985-121004515220", "985.121004515220", "985-121-004-515-220", "985 121 004 515 220"]
)
def test_what_sets_off_the_digits_of_a_tag_goes_without_a_word(typed):
    assert one("tag", typed) == (TAG, "", "")
    assert one("tag", "985-121") == ("985-121", "", "")


def test_a_power_of_ten_with_all_its_digits_is_undone():
    assert one("tag", "9.85121004515220E+14") == (TAG, "restored_code", TAG)
    # one digit short: a dropped digit is mostly a nought, but that is a guess
    assert one("tag", "9.8512100451522E+14") == (None, "damaged_code", TAG)


@given(st.integers(min_value=100, max_value=998), st.integers(min_value=0, max_value=274877906943))
def test_no_tag_is_ever_changed_into_another(prefix, number):
    tag = f"{prefix}{number:012}"
    shortened = tag.endswith("0" * 9)
    for held in (tag, int(tag), float(tag), f"{int(tag):,}", f"{tag}.0", f"'{tag}", f"{tag[:3]} {tag[3:]}"):
        value, kind, _ = one("tag", held)
        assert (value, kind) == (None, "damaged_code") if shortened else value == tag
    # shown with six significant digits, as a spreadsheet does
    assert one("tag", f"{float(tag):.5E}")[:2] == (None, "damaged_code")


@given(st.from_regex(r"[0-9A-F]{10}|[0-9A-F]{16}", fullmatch=True))
def test_hexadecimal_text_stays(code):
    value, kind, _ = one("tag", code)
    assert value == code or (code.isdigit() and kind == "damaged_code")


def test_messages():
    assert [
        reading.remark for reading in column("tag", "9.85E+14", "'" + TAG, "98512I004515220").readings
    ] == [
        (
            "'9.85E+14' is what a spreadsheet shows of a code of 15 digits; the last ones are gone; "
            "take it from the "
            "reader's download or the notebook, into a cell of text"
        ),
        f'"\'{TAG}" was read as {TAG}, without the apostrophe in front of it',
        f"'98512I004515220' has the letter I for 1; it was read as {TAG}",
    ]
