"""What is said against a text before it is taken: exact sentences, innocent look-alikes, hostile texts."""

from __future__ import annotations

from functools import cache

import pandas as pd
import pytest
from end_to_end.test_any_input import HOSTILE
from hypothesis import given
from hypothesis import strategies as st

from audit.checking import read_season
from audit.declarations import load_declarations
from audit.findings import SEVERITIES
from audit.intake.amending import amend
from audit.refusal import SeasonRefusal
from audit.review.objections import objections
from audit.review.typed_cell import typed_cell
from audit.rules.plain import plain_text

DECLARED = load_declarations()
BIRD = {
    "date": "2026-05-30",
    "time": "09:30",
    "box": "SL-01",
    "species": "barn_owl",
    "ring": "SV01001",
    "ring_leg": "R",
    "tag": "999000000000011",
    "age": "1",
    "event": "ringed",
    "gross_g": "326",
    "bag_g": "24",
    "net_g": "302",
    "wing_mm": "130",
    "brood_size": "2",
    "sex": "U",
    "remarks": "wet",
}
BIRDS = [
    BIRD,
    {**BIRD, "time": "09:35", "ring": "SV01002", "tag": "999000000000012"},
    {**BIRD, "time": "10:35", "ring": "SV01003", "tag": "999000000000013", "box": "SL-02", "bag_g": ""},
    {**BIRD, "date": "2026-06-09", "event": "re-encountered"},
]
TABLES = {
    "handlings": BIRDS,
    "visits": [
        {"date": "2026-05-30", "box": "SL-01"},
        {"date": "2026-05-30", "box": "SL-02"},
        {"date": "2026-06-09", "box": "SL-01"},
    ],
    "boxes": [{"box": "SL-01"}, {"box": "SL-02"}, {"box": "SL-03"}],
    "ring_stock": [{"prefix": "SV", "first": "01001", "last": "01100"}],
    "ring_losses": [{"ring": "SV01050", "fate": "destroyed"}],
    "tag_stock": [{"tag": f"9990000000000{number}"} for number in range(11, 20)],
}
#: First row, second, third, and the first bird when it was met again.
FIRST, SECOND, THIRD, AGAIN = (f"handlings!{row}" for row in range(2, 6))


@cache
def season(*without):
    tables = {name: pd.DataFrame(rows) for name, rows in TABLES.items() if name not in without}
    return read_season(tables, schemas=DECLARED)


def said(label, field, typed, *without):
    return [
        (one.severity, one.message) for one in objections(season(*without), DECLARED, label, field, typed)
    ]


# nothing to object to


@pytest.mark.parametrize(
    ("label", "field", "typed"),
    [
        (FIRST, "wing_mm", "131"),
        (FIRST, "wing_mm", " 131.0 "),
        (FIRST, "ring", "SV01007"),
        (FIRST, "ring", "sv01007"),
        (AGAIN, "ring", "SV01001"),
        (FIRST, "tag", "999000000000017"),
        (AGAIN, "tag", "999000000000011"),
        (FIRST, "date", "2026-06-09"),
        (FIRST, "box", "SL-02"),
        (FIRST, "species", "Barn owl"),
        (FIRST, "remarks", "two lines\nof text"),
        (THIRD, "gross_g", "400"),
        (FIRST, "net_g", "302"),
    ],
)
def test_what_is_plain_and_fits_is_taken_without_a_word(label, field, typed):
    assert said(label, field, typed) == []


def test_the_bird_itself_met_again_is_no_other_bird():
    # its ring and tag stand in row 5 too
    assert said(FIRST, "ring", "SV01001") == said(FIRST, "tag", "999000000000011") == []


# emptied


def test_a_needed_cell_cannot_be_emptied():
    for typed, how in (("  ", "The cell is emptied"), ("?", "'?' is read as an empty cell")):
        assert said(FIRST, "ring", typed) == [
            (
                "error",
                f"{how}, but 'ring' may not be empty: type what stands in the notebook, or ask for it.",
            )
        ]


def test_what_an_emptied_cell_means():
    told = "The cell is emptied: nothing will be known of 'tag' in row 2 of 'handlings'."
    assert said(FIRST, "tag", "") == [("suspect", told)]
    assert said(THIRD, "bag_g", "") == []


# read


@pytest.mark.parametrize(
    ("field", "typed", "told"),
    [
        ("wing_mm", "20.5 cm", "'20.5 cm' was read as 205 mm."),
        ("wing_mm", "½", "'½' is read as 0.5 mm."),
        ("time", "9.30", "'9.30' is read as 09:30."),
        ("date", "9.6.2026", "'9.6.2026' is read as 2026-06-09."),
    ],
)
def test_how_a_text_is_understood(field, typed, told):
    assert said(FIRST, field, typed) == [("note", told)]


@pytest.mark.parametrize(
    ("field", "typed", "told"),
    [
        (
            "wing_mm",
            "wide",
            "'wide' cannot be read as a number; type the number alone, and words into the remarks.",
        ),
        ("date", "2026-02-30", "'2026-02-30' is no day of the calendar; look the date up in the notebook."),
        ("time", "24:61", "'24:61' cannot be read as a time of day; type it as 09:30."),
        ("brood_size", "2.5", "'2.5' is no whole number, but this column counts; type a whole number."),
    ],
)
def test_what_cannot_be_read_cannot_be_taken(field, typed, told):
    assert said(FIRST, field, typed) == [("error", told)]


def test_signs_that_nobody_sees_cannot_be_taken():
    told = "The text holds signs that cannot be seen (U+202E): type it anew instead of pasting it."
    assert said(FIRST, "ring", "SV\u202e01007") == [("error", told)]
    assert said(FIRST, "remarks", "a" * 32_768)[0] == (
        "error",
        "The text has 32,768 signs, and a workbook's cell holds 32,767: shorten it.",
    )


# declared


@pytest.mark.parametrize(
    ("field", "typed", "told"),
    [
        ("wing_mm", "-20", "-20 mm is below 0 mm, the least that 'wing_mm' can be: look again."),
        ("event", "seen", "'seen' is none of ringed and re-encountered: type one of them."),
        ("sex", "x", "'x' is none of M, F and U: type one of them."),
    ],
)
def test_what_is_out_of_range_or_set_cannot_be_taken(field, typed, told):
    assert said(FIRST, field, typed) == [("error", told)]


def test_a_label_that_may_stand_once_stands_already():
    told = "SL-02 stands in row 3 already, and may stand once."
    assert [
        (one.severity, one.message) for one in objections(season(), DECLARED, "boxes!2", "box", "SL-02")
    ] == [("error", told)]


# rings and tags


def test_a_ring_on_another_bird():
    told = "Ring SV01002 is on another bird in row 3: it was put on there, too, on 2026-05-30 in box SL-01."
    assert ("suspect", told) in said(FIRST, "ring", "SV01002")
    told = "that one has tag 999000000000012, this one 999000000000011."
    assert said(AGAIN, "ring", "SV01002") == [
        ("suspect", f"Ring SV01002 is on another bird in row 3: {told}")
    ]


def test_a_ring_that_is_lost_or_was_not_issued():
    assert said(FIRST, "ring", "SV01050") == [
        ("suspect", "Ring SV01050 is among the losses as destroyed (row 2): look again.")
    ]
    told = "Ring SV01101 is in no string of the stock: look again, or mend that list."
    assert said(FIRST, "ring", "SV01101") == [("suspect", told)]
    assert said(AGAIN, "ring", "SV01101") == said(FIRST, "ring", "SV01101", "ring_stock") == []


def test_a_tag_on_another_bird_or_in_no_stock():
    told = "Tag 999000000000012 is on another bird in row 3: that one has ring SV01002, this one SV01001."
    assert said(FIRST, "tag", "999000000000012") == [("suspect", told)]
    told = "Tag 999000000000021 is not in the stock of tags: look again, or mend that list."
    assert said(FIRST, "tag", "999000000000021") == [("suspect", told)]
    assert said(FIRST, "tag", "999000000000021", "tag_stock") == []
    told = "Tag 99900000000001 is no tag number in any known form: count its digits."
    assert ("suspect", told) in said(FIRST, "tag", "99900000000001")


# the row and other sheets


def test_a_sum_that_does_not_come_out():
    told = (
        "Gross 326 g less bag 24 g is 302 g, but net says 303 g: another of the three is wrong, or this one."
    )
    assert said(FIRST, "net_g", "303") == [("suspect", told)]
    assert said(FIRST, "bag_g", "24.0") == []


def test_days_that_cannot_or_need_not_be():
    assert said(FIRST, "date", "2126-05-30")[0][0] == "error"
    told = (
        "No visits of box SL-01 are written down for 2026-06-03, but for 2026-05-30, 2026-06-09: look again."
    )
    assert said(FIRST, "date", "2026-06-03") == [("suspect", told)]
    told = (
        "No birds of box SL-01 are written down for 2026-06-03, but for 2026-05-30, 2026-06-09: look again."
    )
    assert said(FIRST, "date", "2026-06-03", "visits") == [("suspect", told)]
    told = "No other row has a day of 2025; most have one of 2026: look again."
    assert said(FIRST, "date", "2025-05-30")[0] == ("suspect", told)
    told = "2026-01-04 lies outside the months 2 to 11 in which boxes are visited: look again."
    assert said(FIRST, "date", "2026-01-04")[0] == ("suspect", told)


def test_a_box_that_is_not_there_or_was_not_visited():
    told = "There is no box SL-04 in the table of boxes; SL-01 or SL-02 or SL-03 would be one: look again."
    assert said(FIRST, "box", "SL-04") == [("suspect", told)]
    told = "No visits of box SL-03 are written down for any day: look again."
    assert said(FIRST, "box", "SL-03") == [("suspect", told)]


def test_a_species_that_nobody_declared():
    told = "'Dodo' is the name of no declared species: look again, or declare the species."
    assert said(FIRST, "species", "Dodo") == [("suspect", told)]


def test_errors_stand_first():
    told = [severity for severity, _ in said(FIRST, "date", "31.12.9999")]
    assert told == sorted(told, key=SEVERITIES.index)
    assert told[0] == "error"


# whatever is typed


FIELDS = sorted(BIRD)


def refused_or_taken(field, typed):
    told = objections(season(), DECLARED, FIRST, field, typed)
    for one in told:
        assert one.severity in SEVERITIES
        assert one.message.endswith(".")
        assert len(one.message) < 400
        one.message.encode()
    if not any(one.severity == "error" for one in told):
        # what can be taken can be read again, and be written to any file
        typed.encode()
        after = amend(season(), DECLARED, FIRST, field, typed)
        kept = after.frame("handlings")[field]
        assert kept.notna().iloc[0] or any(one.severity == "suspect" for one in told)


@pytest.mark.parametrize("field", FIELDS)
def test_hostile_texts_are_answered(field):
    for typed in HOSTILE:
        if isinstance(typed, str):
            refused_or_taken(field, typed)


@given(st.sampled_from(FIELDS), st.text(max_size=12))
def test_any_text_is_answered(field, typed):
    refused_or_taken(field, typed)


@given(st.sampled_from(FIELDS), st.text(alphabet="0123456789SVLI-. ,:/", max_size=16))
def test_any_text_like_a_code_or_number_is_answered(field, typed):
    refused_or_taken(field, typed)


def test_a_place_that_is_none_is_refused():
    with pytest.raises(SeasonRefusal, match="no row"):
        objections(season(), DECLARED, "handlings!99", "ring", "SV01007")
    with pytest.raises(SeasonRefusal, match="no column"):
        objections(season(), DECLARED, FIRST, "condition", "good")


LONG_TEXTS = {
    "ring": ("SV1234", '"', "sv 99999", "1e5", ""),
    "date": ("3.4.2026", "4.5.", "2026-05-31", "31/5/26", '"', "5/13/2026", "nothing"),
}


@pytest.mark.parametrize("field", sorted(LONG_TEXTS))
@pytest.mark.parametrize("form", ["%d.%m.%Y", "%m/%d/%y", "%Y-%m-%d"])
def test_long_sheets_are_read_as_the_whole_column(field, form):
    days = pd.date_range("2026-04-25", periods=60)
    rows = [
        {**BIRD, "ring": f"SV{number:05}", "date": days[number // 50].strftime(form)}
        for number in range(1, 2500)
    ]
    long = read_season({"handlings": pd.DataFrame(rows)}, schemas=DECLARED)
    for label in ("handlings!2", "handlings!1200", "handlings!2500"):
        for typed in LONG_TEXTS[field]:
            cell, whole = (
                typed_cell(long, DECLARED, label, field, typed),
                amend(long, DECLARED, label, field, typed),
            )
            assert cell.text == plain_text(whole.frame("handlings").loc[label, field])
            read = [one for one in whole.readings if (one.label, one.field) == (label, field)]
            assert read == ([] if cell.reading is None else [cell.reading])
