"""Wrong, thin and odd sheets of repeated measures: one clear sentence each, and no missing number."""

from __future__ import annotations

import re

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import audit
from audit.declarations import load_declarations
from audit.practice.measuring.gist import gist
from audit.practice.measuring.told import told_of
from audit.practice.measuring.words import share
from audit.refusal import Refusal

NOT_A_NUMBER = re.compile(r"(?<![\w'-])(nan|inf|none|infinity)(?![\w'-])", re.IGNORECASE)


@pytest.fixture(scope="module")
def declared():
    return load_declarations()


def sheet(values, people=("AB", "MK"), column="wing"):
    """Lay values out, shape (people, birds)."""
    rows = [
        (f"SV{bird:05d}", who, value)
        for who, row in zip(people, values, strict=True)
        for bird, value in enumerate(row, 1)
    ]
    return pd.DataFrame(rows, columns=["ring", "observer", column])


def said(frame, declared, **wishes):
    return " ".join(repr(audit.measuring(frame, schemas=declared, **wishes)).split())


BIRDS = np.arange(11) * 7 + 160
#: Added to every other bird.
EVERY_OTHER = np.array([1, 0] * 5 + [0])


# in short


@pytest.mark.parametrize(
    ("values", "wanted"),
    [
        ([BIRDS + 2, BIRDS], "AB reads 2.0 mm longer than MK"),
        ([BIRDS - 3, BIRDS], "AB reads 3.0 mm shorter than MK"),
        ([BIRDS, BIRDS], "all repeats are equal, so measure once more with nobody seeing what was written"),
        ([BIRDS + EVERY_OTHER, BIRDS], "all goals are reached"),
        ([BIRDS + 18 * EVERY_OTHER - 9, BIRDS], "the repeats lie too far apart"),
        ([[200, 201], [200, 202]], "too few birds were measured again to tell anything of a hand"),
        (
            [[161, 167, 173, 183], [160, 167, 174, 181]],
            "nothing wrong is seen, but more birds are needed to be sure",
        ),
    ],
)
def test_one_sentence_says_what_to_practise(values, wanted, declared):
    told = audit.measuring(sheet([[int(one) for one in row] for row in values]), schemas=declared)
    wanted = f"Wings: {wanted}."
    assert gist(told.of(), declared) == wanted
    assert wanted in " ".join(repr(told).split())


# cells that cannot be used


def test_a_measure_of_nought_or_less_is_none(declared):
    values = np.array([BIRDS, BIRDS + EVERY_OTHER], dtype=float)
    values[0, 3], values[1, 5] = 0, -201
    told = audit.measuring(sheet(values), schemas=declared)
    assert told.of().error.birds == 9
    assert told.sheet.notices == (
        "measured C5: '0' is no measure and is left out.",
        "measured C18: '-201' is no measure and is left out.",
    )


def test_many_cells_of_a_column_are_counted(declared):
    frame = sheet([BIRDS, BIRDS]).astype({"wing": object})
    frame.loc[:7, "wing"] = "long"
    notices = audit.measuring(frame, schemas=declared).sheet.notices
    assert len(notices) == 6
    assert notices[-1] == "3 more cells of the column 'wing_mm' could not be used."


def test_days_that_cannot_be_read_are_told(declared):
    frame = sheet([BIRDS, BIRDS + 1]).assign(date="32.13.2026")
    notices = audit.measuring(frame, schemas=declared).sheet.notices
    assert notices[0].startswith(
        "measured D2: '32.13.2026' was not read as a date: a row without one counts as"
    )
    assert notices[-1] == "17 more cells of the column 'date' could not be used."


def test_days_in_some_rows_only(declared):
    frame = sheet([BIRDS, BIRDS + 1]).assign(date=["2026-06-01"] * 11 + [""] * 11)
    with pytest.raises(Refusal, match="twice on one day") as refused:
        audit.measuring(frame, schemas=declared)
    assert "write it into all rows" in refused.value.cure


def test_rows_without_a_bird(declared):
    frame = sheet([BIRDS, BIRDS + 1])
    frame.loc[0, "ring"] = ""
    assert "1 row names no bird and tells nothing." in said(frame, declared)


# sheets that tell little


def test_a_scatter_that_is_rounding_of_the_arithmetic_is_none(declared):
    text = said(sheet([BIRDS + 0.2, BIRDS + 0.1]), declared)
    assert "AB less MK: all 11 differences are +0.10 mm." in text
    three = said(sheet([BIRDS, BIRDS + 3, BIRDS + 6], ("AB", "MK", "IP")), declared)
    assert "MK's wings and those of the others are equal on average (11 birds)." in three


def test_own_repeats_that_never_differ(declared):
    frame = pd.concat([sheet([BIRDS, BIRDS + 1]), sheet([BIRDS, BIRDS + 2])])
    text = said(frame, declared)
    assert "AB alone repeats without any difference that a step of 1 mm can show (11 birds)." in text
    assert "0.0 to any" not in text


def test_a_repeatability_below_nought_counts_as_none(declared):
    turned = BIRDS[:6].copy()
    turned[:] = [199, 190, 199, 190, 199, 190]
    text = said(sheet([turned, 389 - turned]), declared)
    assert (
        "No repeatability is seen: repeats of a bird differ more than birds do (so it counts as 0; " in text
    )
    assert "averaging them makes up for nothing: practise the hand" in text
    assert share(-0.1) == "\N{MINUS SIGN}0.100"


def test_nobody_is_named(declared):
    frame = pd.concat([sheet([BIRDS], ("",)), sheet([BIRDS + EVERY_OTHER], ("",))])
    text = said(frame.drop(columns="observer"), declared)
    assert "22 values of 11 birds measured again, by people who are not named." in text
    assert "People not named, first less second: 95 % of the differences" in text


# whatever stands in it


cells = st.one_of(
    st.integers(0, 400),
    st.floats(0.1, 400).map(lambda value: round(value, 1)),
    st.sampled_from(["", "long", "19O", "1e400", "-3", "?", "nan"]),
)
rows = st.lists(
    st.tuples(st.sampled_from("ABCDE"), st.sampled_from(["AB", "MK", "IP", ""]), cells),
    min_size=1,
    max_size=24,
)


@given(rows)
@settings(max_examples=40)
def test_any_sheet_is_told_or_refused_in_words(made):
    declared = load_declarations()
    frame = pd.DataFrame(made, columns=["ring", "observer", "wing"])
    try:
        told = audit.measuring(frame, schemas=declared)
    except Refusal as refusal:
        told = refusal
    if isinstance(told, Refusal):
        assert told.what.endswith(".")
        assert told.cure
        return
    for account in told.accounts:
        sentences = [gist(account, declared)]
        for heading, found in told_of(account, declared).sections():
            assert heading
            sentences += found
        for sentence in sentences:
            assert not NOT_A_NUMBER.search(sentence), sentence
            assert sentence.endswith((".", "?"))
            assert sentence[0] == sentence[0].upper()
    assert not told.table()["value"].isna().any()
    assert not told.pairs()["difference"].isna().any()
