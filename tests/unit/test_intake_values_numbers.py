"""Numbers as people type them."""

from __future__ import annotations

import datetime as dt
import math

import babel.numbers
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from typed_column import column, moment, one, plain, values

from audit.intake.arithmetic import work_out
from audit.intake.grid import RawCell

READ = [
    # typed, value in mm, kind
    (205, 205.0, ""),
    ("205", 205.0, ""),
    ("205.5", 205.5, ""),
    ("205,5", 205.5, ""),
    ("205.", 205.0, ""),
    (".5", 0.5, ""),
    ("'205", 205.0, ""),
    ("−5", -5.0, ""),
    ("+5", 5.0, ""),
    ("1 234,5", 1234.5, ""),
    ("1\u202f234,5", 1234.5, ""),
    ("1\u00a0234", 1234.0, ""),
    ("1'234.5", 1234.5, ""),
    ("1.234,5", 1234.5, ""),
    ("1,234.5", 1234.5, ""),
    ("1.234.567", 1234567.0, ""),
    ("٢٠٥", 205.0, ""),
    ("２０５", 205.0, ""),
    ("22½", 22.5, ""),
    ("22 ½", 22.5, ""),
    ("½", 0.5, ""),
    ("22¼", 22.25, ""),
    ("22 1/2", 22.5, ""),
    ("205mm", 205.0, ""),
    ("205 mm.", 205.0, ""),
    ("205 Millimeter", 205.0, ""),
    ("20.5cm", 205.0, "unit_converted"),
    ("20,5 cm", 205.0, "unit_converted"),
    ("0.205 m", 205.0, "unit_converted"),
    # international inch: 25.4 mm
    ("8 in", 203.2, "unit_converted"),
    ("~205", 205.0, "uncertain_mark"),
    ("≈ 205", 205.0, "uncertain_mark"),
    ("205?", 205.0, "uncertain_mark"),
    ("205 (?)", 205.0, "uncertain_mark"),
    (">300", 300.0, "uncertain_mark"),
    ("<5", 5.0, "uncertain_mark"),
    ("≥ 205", 205.0, "uncertain_mark"),
    ("ca. 205", 205.0, "uncertain_mark"),
    ("ca205", 205.0, "uncertain_mark"),
    ("c. 205 mm", 205.0, "uncertain_mark"),
    ("(205)", 205.0, "uncertain_mark"),
    ("205*", 205.0, "uncertain_mark"),
    ("205±2", 205.0, "uncertain_mark"),
    ("~20.5cm?", 205.0, "uncertain_mark"),
    ("395-22", 373.0, "arithmetic"),
    ("=395-22", 373.0, "arithmetic"),
    ("=205", 205.0, ""),
    ("395 − 22", 373.0, "arithmetic"),
    ("395 - 22 = 373", 373.0, "arithmetic"),
    ("2*(100+2,5)", 205.0, "arithmetic"),
    ("820/4", 205.0, "arithmetic"),
    ("2O5", 205.0, "letter_in_number"),
    ("2o5", 205.0, "letter_in_number"),
    ("l05", 105.0, "letter_in_number"),
    ("I05", 105.0, "letter_in_number"),
    ("20S", 205.0, "letter_in_number"),
    ("2O,5 cm", None, "unreadable"),
    ("?", None, ""),
    ("-", None, ""),
    ("–", None, ""),
    ("n/a", None, ""),
    ("k.A.", None, ""),
    ("nm", None, ""),
    ("", None, ""),
    ("   ", None, ""),
    (None, None, ""),
    (float("nan"), None, ""),
    ("205 g", None, "unreadable"),
    ("200-205", None, "unreadable"),
    ("395-22=374", None, "unreadable"),
    ("205 left", None, "unreadable"),
    ("left 205 right 206", None, "unreadable"),
    ("B2", None, "unreadable"),
    ("20..5", None, "unreadable"),
    ("x", None, "unreadable"),
    ("five", None, "unreadable"),
    ("1 2", None, "unreadable"),
    ("12,34,5", None, "unreadable"),
    ("5/0", None, "unreadable"),
    ("#REF!", None, "unreadable"),
    ("#WERT!", None, "unreadable"),
    (True, None, "unreadable"),
    (float("inf"), None, "unreadable"),
    (1e300, None, "unreadable"),
    ("1e300", None, "unreadable"),
    (float(2**53), float(2**53), ""),
    (10**400, None, "unreadable"),
    (dt.time(20, 5), None, "unreadable"),
    (dt.timedelta(hours=20), None, "unreadable"),
]


@pytest.mark.parametrize(("typed", "value", "kind"), READ, ids=lambda x: repr(x)[:20])
def test_numbers_as_typed(typed, value, kind):
    assert one("wing_mm", typed)[:2] == (value, kind)


@pytest.mark.parametrize(
    ("typed", "suggested"),
    [("205 left", "205"), ("20..5", "20.5"), ("B2", ""), ("left 205 right 206", ""), ("O", "0"), ("x", "")],
    ids=repr,
)
def test_what_was_probably_meant(typed, suggested):
    assert one("wing_mm", typed) == (None, "unreadable", suggested)


@pytest.mark.parametrize(
    ("typed", "value", "kind"),
    [
        ("0.373 kg", 373.0, "unit_converted"),
        ("373g", 373.0, ""),
        ("373 Gramm", 373.0, ""),
        ("395-22 g", 373.0, "arithmetic"),
        ("395g-22g", 373.0, "arithmetic"),
        ("373000 mg", 373.0, "unit_converted"),
        # one avoirdupois ounce is 28.349523125 g
        ("13 oz", 368.543800625, "unit_converted"),
        ("37 cm", None, "unreadable"),
    ],
    ids=repr,
)
def test_masses(typed, value, kind):
    assert one("net_g", typed)[:2] == (value, kind)


def test_a_header_in_other_units():
    read = column("wing_mm", 20.5, "20,3", "203 mm", "20.3 cm", None, scale=10)
    assert plain(read) == [205.0, 203.0, 203.0, 203.0, None]
    assert [(r.label, r.kind) for r in read.readings] == [("handlings!4", "unit_converted")]
    # 12.02 * 10 is 120.19999999999999 in floating point
    assert plain(column("wing_mm", 12.02, 20.5, scale=10)) == [120.2, 205.0]
    assert plain(column("wing_mm", "12.02 cm", "12.02", scale=10)) == [120.2, 120.2]


@pytest.mark.parametrize(
    ("typed", "company", "value", "kind"),
    [
        ("1,234", ["20,5"], 1.234, ""),
        ("1,234", ["20.5"], 1234.0, ""),
        ("1.234", ["20.5"], 1.234, ""),
        ("1.234", ["20,5"], 1234.0, ""),
        ("1.234", ["20,5", "20.5"], 1.234, ""),
        ("0.234", ["20,5"], 0.234, ""),
        ("1,234", [], 1.234, "decimal_mark"),
    ],
    ids=repr,
)
def test_the_column_decides_between_decimals_and_thousands(typed, company, value, kind):
    assert one("net_g", typed, *company)[:2] == (value, kind)


def test_a_closed_range_decides_too():
    assert one("latitude", "52,123", table="boxes")[:2] == (52.123, "")


@pytest.mark.parametrize(
    ("typed", "value"),
    [
        ("52.5 N", 52.5),
        ("N 52,5", 52.5),
        ("0.5 W", -0.5),
        ("33.9° S", -33.9),
        ("52°30'N", 52.5),
        ("52°30'36\"", 52.51),
        ("-0°30'", -0.5),
        ("52°75'", None),
    ],
    ids=repr,
)
def test_positions(typed, value):
    read = one("latitude", typed, table="boxes")[0]
    assert read == (None if value is None else pytest.approx(value, abs=1e-9))


@pytest.mark.parametrize(
    ("typed", "value", "kind"),
    [
        (4, 4, ""),
        (4.0, 4, ""),
        ("4", 4, ""),
        ("4.0", 4, ""),
        ("4,000", 4, ""),
        ("4 eggs", None, "unreadable"),
        ("4.5", None, "unreadable"),
        (4.5, None, "unreadable"),
        ("4+1", 5, "arithmetic"),
        ("3-4", None, "unreadable"),
        ("~4", 4, "uncertain_mark"),
        ("none", 0, ""),
        ("keine", 0, ""),
        ("aucun", 0, ""),
        ("-", None, ""),
        (moment(2026, 5, 3), None, "unreadable"),
    ],
    ids=repr,
)
def test_counts(typed, value, kind):
    assert one("brood_size", typed)[:2] == (value, kind)
    assert str(values(column("brood_size", typed)).dtype) == "Int64"


@pytest.mark.parametrize(
    ("held", "suggested"),
    [
        # a spreadsheet with German settings takes 3.5 for the third of May of the running year
        (moment(2026, 5, 3), "3.5"),
        (dt.date(2026, 5, 20), "20.5"),
        # the first of a month may have been 1.5 or a month and year
        (moment(2026, 5, 1), ""),
        # day number 373, counted from 1899-12-30 (openpyxl.utils.datetime.from_excel(373) is 1901-01-07)
        (moment(1901, 1, 7), "373"),
        (moment(2026, 5, 3, 9, 30), ""),
        # the same in a text file that a spreadsheet saved as shown
        ("2026-05-03", "3.5"),
        ("2026-05-03 00:00:00", "3.5"),
        ("03. Mai", "3.5"),
        ("3-May", "3.5"),
        ("20-Mai-26", "20.5"),
        ("1-May", ""),
        ("1901-01-07", "373"),
        ("03/05/2026", ""),
        ("12-5-20", ""),
        ("20:30", ""),
    ],
    ids=repr,
)
def test_numbers_in_the_clothes_of_a_date(held, suggested):
    assert one("wing_mm", held) == (None, "unreadable", suggested)


def test_formulas_are_never_run():
    stored = RawCell(373, "=F3-G3", formula="=F3-G3")
    summed = RawCell(373, "=395-22", formula="=395-22")
    unsaved = RawCell(None, "=F3-G3", formula="=F3-G3")
    unsaved_sum = RawCell(None, "=395-22", formula="=395-22")
    broken = RawCell("#REF!", "=F3-#REF!", formula="=F3-#REF!")
    read = column("net_g", stored, summed, unsaved, unsaved_sum, broken)
    assert plain(read) == [373.0, 373.0, None, 373.0, None]
    assert [r.kind for r in read.readings] == ["arithmetic", "unreadable", "arithmetic", "unreadable"]
    assert "save it" in read.readings[1].remark


@given(
    st.recursive(
        st.integers(0, 999).map(str),
        lambda inner: st.tuples(inner, st.sampled_from("+-*/"), inner).map(
            lambda parts: f"({''.join(parts)})"
        ),
        max_leaves=8,
    )
)
def test_sums_agree_with_another_calculator(text):
    # pandas.eval, python engine
    ours = work_out(text, float, 1000)
    if not any(sign in text for sign in "+-*/"):
        assert ours is None
        return
    try:
        theirs = float(pd.eval(text, engine="python", parser="python"))
    except ZeroDivisionError:
        assert ours is None
        return
    assert ours == pytest.approx(theirs) if math.isfinite(theirs) else ours is None


@pytest.mark.parametrize(
    "text",
    [
        "__import__('os')",
        "1+",
        "(1+2",
        "1+2)",
        "()",
        "1 2+3",
        "a+1",
        "9" * 81 + "+1",
        "1+2;3",
        "**",
        "1**2",
        "",
        "1/0",
        "9*" * 60 + "9",
    ],
    ids=repr,
)
def test_what_is_no_sum(text):
    assert work_out(text, float, 80) is None


LOCALES = ["en_GB", "en_US", "de_DE", "fr_FR", "es_ES", "nl_NL", "de_CH", "de_AT"]


@given(st.decimals(min_value=0, max_value=99999, places=2), st.sampled_from(LOCALES))
def test_any_number_in_any_locale_is_read_back(number, locale):
    # Babel 2.18 writes numbers by Unicode CLDR: comma or point, points, blanks, narrow blanks and quotes
    # as groups
    typed = babel.numbers.format_decimal(number, locale=locale)
    company = babel.numbers.format_decimal(0.25, locale=locale)
    assert one("net_g", typed, company)[:2] == (float(number), "")


@given(
    st.decimals(min_value=0, max_value=999, places=1),
    st.sampled_from([(1, "g"), (1000, "kg"), (1, " g"), (1, " Gramm"), (1000, " kg"), (1, "")]),
    st.sampled_from(["", "~", "ca. ", ">", "("]),
    st.sampled_from([".", ","]),
)
def test_any_number_with_unit_and_mark_is_read_back(number, unit, before, mark):
    factor, word = unit
    typed = f"{before}{str(number).replace('.', mark)}{word}{')' if before == '(' else ''}"
    value, kind, _ = one("net_g", typed)
    assert value == pytest.approx(float(number) * factor)
    assert kind == ("uncertain_mark" if before else "unit_converted" if factor != 1 else "")


def test_messages():
    read = column("wing_mm", "20.5cm", "2O5", "200-205", "205 left", moment(2026, 5, 3), "~205", "395-22")
    assert [reading.remark for reading in read.readings] == [
        "'20.5cm' was read as 205 mm",
        "'2O5' has the letter O for 0; it was read as 205 mm",
        "'200-205' is a range; type one number",
        "'205 left' cannot be read as a number; type the number alone, and words into the remarks",
        (
            "2026-05-03 is what a spreadsheet makes of 3.5, but this column holds numbers; set the "
            "cell to the format "
            "'number' and retype it"
        ),
        "'~205' was read as 205 mm; its mark of doubt or limit is kept as typed only",
        "'395-22' was worked out as 373 mm",
    ]
