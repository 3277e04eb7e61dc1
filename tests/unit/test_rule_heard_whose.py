"""Whose is each tag that the antennas heard?"""

from __future__ import annotations

import datetime as dt

from heard_season import BOX, OTHER, brood, heard, heard_season, tag
from typed_season import ask, blamed

from audit.rules.heard_whose import RULE

STRANGER = "528140000795552"


def home():
    return [line for number in (10, 11, 12) for line in heard(tag(number), BOX)]


def told(declared, *lines, **tables):
    season = heard_season(declared, brood(3), [*home(), *(line for some in lines for line in some)], **tables)
    return ask(RULE, season)


def test_the_birds_of_the_sheet_are_known(declared):
    assert told(declared) == []


def test_a_bird_from_elsewhere_is_worth_a_note(declared):
    (finding,) = told(declared, heard(STRANGER, BOX), heard(STRANGER, OTHER, nights=2))
    assert (finding.rule, finding.severity) == ("heard_whose.of_nobody", "note")
    assert finding.message == (
        f"Tag {STRANGER} is neither in stock nor on a bird, and was heard at box SL-01 on 10 nights from "
        "2026-06-03 "
        "on and at 1 other box: a bird from elsewhere, or a tag fixed beside the antenna."
    )


def test_many_strangers_are_counted(declared):
    codes = [f"5281400007{i:05d}" for i in range(0, 90000, 9973)]
    findings = told(declared, *(heard(code, BOX) for code in codes))
    assert len(findings) == 7
    assert findings[-1].message == f"4 more such tags are heard, the next is {sorted(codes)[6]}."


def test_noise_is_not_told(declared):
    misread = f"{tag(10)[:-1]}7"
    assert told(declared, heard(STRANGER, BOX, nights=1, reads=2)) == []
    many = [line | {"reads": 60} for line in heard(tag(10), BOX)]
    noisy = [*many, *heard(misread, BOX, nights=3, reads=1)]
    stock = [{"tag": tag(number), "batch": "B1"} for number in (10, 11, 12)]
    assert ask(RULE, heard_season(declared, brood(1), noisy, tag_stock=stock)) == []


def test_a_tag_of_the_stock_on_no_bird_is_worth_a_note(declared):
    (finding,) = told(declared, heard(tag(44), OTHER))
    assert (finding.rule, finding.severity) == ("heard_whose.in_stock", "note")


def test_a_tag_one_slip_from_the_stock_blames_the_list(declared):
    stock = [{"tag": tag(number), "batch": "B1"} for number in (10, 11, 12)]
    stock.append({"tag": "999104555000321", "batch": "B1"})
    (finding,) = told(declared, heard("999104555000921", OTHER), tag_stock=stock)
    assert blamed([finding]) == {("tag_stock!5", "tag"): ("heard_whose.slip_of_stock", "999104555000921")}
    assert finding.message == (
        "Tag 999104555000321 of the stock is on no bird and never heard, but 999104555000921, one slip "
        "away, was "
        "heard at box SL-02 on 10 nights from 2026-06-03 on."
    )


def test_a_bird_of_an_earlier_season_is_named(declared):
    before = [
        {"date": dt.date(2025, 6, 1), "box": "SL-09", "ring": "SV00321", "tag": STRANGER, "event": "ringed"}
    ]
    (finding,) = told(declared, heard(STRANGER, OTHER), earlier=before)
    assert (finding.rule, finding.severity) == ("heard_whose.known_before", "note")
    assert finding.message == (
        f"Tag {STRANGER} was heard at box SL-02 on 10 nights from 2026-06-03 on; SV00321 had it on "
        "2025-06-01 at "
        "box SL-09."
    )


def test_a_tag_taken_for_a_mistyped_one_is_not_told_twice(declared):
    rows = brood(3)
    rows[0]["tag"] = "999104000000910"
    assert ask(RULE, heard_season(declared, rows, home())) == []
