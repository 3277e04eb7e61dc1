"""The reader's memory beside the sheet: its clock, tags read twice, on no row, or not at all.

Tags and rings are invented; those that begin with 985 stand with made-up numbers.
"""

from __future__ import annotations

import datetime as dt
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from invented import Style, invented_season
from typed_season import ask as ask_rule
from typed_season import typed_season as build

from audit.declarations import load_declarations
from audit.rules import RULES
from audit.rules.case import Case
from audit.rules.download import download_of
from audit.rules.layouts import Layouts
from audit.rules.reader import RULE
from audit.rules.reader_clock import clocks_of
from audit.rules.round import ask_all

START = dt.datetime(2026, 6, 1, 9, 30)
FIRST = 985_104_000_000_100


@cache
def shipped():
    return load_declarations()


def rows(days=6, boxes=2, birds=4, *, timed=True):
    """Some days, every other day, on each of which some boxes are visited."""
    made = []
    for day in range(days):
        clock = START + dt.timedelta(days=2 * day)
        for box in range(boxes):
            for _ in range(birds):
                n = len(made)
                row = {
                    "date": clock.date(),
                    "box": f"SL-{day * boxes + box + 1:02d}",
                    "ring": f"SV{1001 + n:05d}",
                    "tag": str(FIRST + 37 * n),
                    "event": "ringed",
                }
                if timed:
                    row["time"] = f"{clock:%H:%M}"
                made.append({**row, "_at": clock})
                clock += dt.timedelta(minutes=5)
            clock += dt.timedelta(minutes=30)
    return made


def reads(made, reader=None):
    return [
        {"read_at": row["_at"] + dt.timedelta(seconds=70), "tag": row["tag"], "reader": reader}
        for row in made
    ]


def season(made, stored, **tables):
    handlings = [{k: v for k, v in row.items() if k != "_at"} for row in made]
    return build(shipped(), handlings=handlings, tag_reads=stored, **tables)


def ask(made, stored):
    return ask_rule(RULE, season(made, stored), shipped())


def said(made, stored):
    return [(finding.rule, finding.message) for finding in ask(made, stored)]


def shifted(stored, **by):
    return [{**read, "read_at": read["read_at"] + dt.timedelta(**by)} for read in stored]


@pytest.mark.parametrize("timed", [True, False])
def test_a_right_clock_and_every_tag_read_say_nothing(timed):
    made = rows(timed=timed)
    assert ask(made, reads(made)) == []


def test_an_hour():
    made = rows()
    assert said(made, shifted(reads(made), hours=1)) == [
        (
            "reader.clock_off",
            "The reader's clock was 1 h ahead (daylight saving?): its moments were read less as much.",
        )
    ]


def test_an_hour_until_somebody_set_the_clock():
    made = rows()
    stored = reads(made)
    assert said(made, shifted(stored[:24], hours=-1) + stored[24:]) == [
        (
            "reader.clock_off",
            (
                "The reader's clock was 1 h behind until 2026-06-05 (daylight saving?): its moments were"
                " read plus as much."
            ),
        )
    ]


def test_another_zone():
    made = rows()
    assert said(made, shifted(reads(made), hours=5, minutes=30)) == [
        (
            "reader.clock_off",
            ("The reader's clock was 5 h 30 min ahead (another zone?): its moments were read less as much."),
        )
    ]


def test_a_day_as_far_as_days_tell():
    made = rows(timed=False)
    assert said(made, shifted(reads(made), days=1)) == [
        (
            "reader.clock_off",
            (
                "The reader's clock was 1 day ahead (its date set wrong?): its moments were read less as"
                " much; the days of the sheet allow 10 h 36 min to 1 day 9 h 31 min."
            ),
        )
    ]


def test_a_flat_battery():
    made = rows()
    stored = reads(made)
    stored[24:] = [
        {**read, "read_at": dt.datetime(2000, 1, 1, 0, 10) + (read["read_at"] - stored[24]["read_at"])}
        for read in stored[24:]
    ]
    assert said(made, stored) == [
        (
            "reader.clock_reset",
            (
                "The reader's clock began anew from 2026-06-07 on, at first it showed 2000-01-01 00:10 (a"
                " flat battery?): its moments were read plus 9654 days 9 h 20 min."
            ),
        )
    ]


def test_day_and_month_exchanged():
    made = rows()
    stored = [
        {**read, "read_at": read["read_at"].replace(month=read["read_at"].day, day=6)} for read in reads(made)
    ]
    assert said(made, stored) == [
        (
            "reader.calendar_exchanged",
            (
                "The download has day and month exchanged: 2026-01-06 is 2026-06-01; its days were read"
                " the other way round."
            ),
        )
    ]


def test_a_drift():
    made = rows(days=16)
    stored = [
        {**read, "read_at": read["read_at"] + dt.timedelta(seconds=4.0 * (read["read_at"] - START).days)}
        for read in reads(made)
    ]
    ((rule, message),) = said(made, stored)
    assert rule == "reader.clock_drifts"
    assert message == ("The reader's clock gains 4.0 s a day (46 ppm), 2 min from 2026-06-01 to 2026-07-01.")


def test_two_readers_have_clocks_of_their_own():
    made = rows()
    stored = shifted(reads(made[:24], "A"), hours=1) + shifted(reads(made[24:], "B"), hours=-2)
    assert said(made, stored) == [
        (
            "reader.clock_off",
            ("The clock of reader A was 1 h ahead (daylight saving?): its moments were read less as much."),
        ),
        (
            "reader.clock_off",
            ("The clock of reader B was 2 h behind (another zone?): its moments were read plus as much."),
        ),
    ]


def test_a_tag_held_to_the_reader_twice():
    made = rows()
    stored = reads(made)
    stored.insert(4, {**stored[3], "read_at": stored[3]["read_at"] + dt.timedelta(seconds=20)})
    assert said(made, stored) == [
        (
            "reader.read_twice",
            (
                "A tag was stored more than once while the bird was in the hand, 985104000000211 on"
                " 2026-06-01: each was counted once."
            ),
        )
    ]


def test_a_tag_of_the_test_range_is_set_aside():
    made = rows()
    stored = [{"read_at": START - dt.timedelta(minutes=9), "tag": "999000000000001"}, *reads(made)]
    assert said(made, stored) == [
        (
            "reader.test_tag_read",
            (
                "Tag 999000000000001 lies in the test range 999 and was read on 2026-06-01: it was taken"
                " for one that tests the reader."
            ),
        )
    ]


def test_a_tag_read_on_every_day_and_on_no_row_is_set_aside():
    made = rows()
    marker = [
        {"read_at": START + dt.timedelta(days=2 * day, minutes=-9), "tag": "985104000099999"}
        for day in range(6)
    ]
    stored = sorted([*marker, *reads(made)], key=lambda read: read["read_at"])
    assert said(made, stored) == [
        (
            "reader.test_tag_read",
            (
                "Tag 985104000099999 stands on no row and was read on 6 days: it was taken for one that"
                " tests the reader."
            ),
        )
    ]


def test_a_read_without_row():
    made = rows()
    lost = made.pop(10)
    assert said(made, reads([*made[:10], lost, *made[10:]])) == [
        (
            "reader.read_without_row",
            f"Tag {lost['tag']} was read on 2026-06-03 at 09:41 and stands on no row of that day.",
        )
    ]


def test_a_visit_without_any_row():
    made = rows()
    lost = made[16:24]
    assert said(made[:16] + made[24:], reads(made)) == [
        ("reader.read_without_row", "8 tags were read on 2026-06-05, but that day has no row.")
    ]
    assert lost[0]["date"] == dt.date(2026, 6, 5)


def test_a_row_without_read():
    made = rows()
    stored = reads(made)
    del stored[9]
    assert said(made, stored) == [
        (
            "reader.row_without_read",
            f"Tag {made[9]['tag']} was not read on 2026-06-03, though the others of box SL-03 were.",
        )
    ]


def test_many_rows_without_read_are_told_once():
    made = rows()
    assert said(made, [read for i, read in enumerate(reads(made)) if i % 4]) == [
        (
            "reader.row_without_read",
            (
                "12 of 48 tags on the sheet were not read that day, though others of their visits were,"
                f" the first {FIRST} on 2026-06-01."
            ),
        )
    ]


def test_a_slip_that_other_rules_tell_is_not_told_again():
    made = rows()
    stored = reads(made)
    made[10]["tag"] = made[10]["tag"][:-1] + "7"
    assert said(made, stored) == []


def test_nothing_is_blamed():
    assert {outcome.severity for outcome in shipped().rules["reader"].outcomes.values()} == {"note"}


def test_without_moments_or_handlings():
    made = rows()
    assert said(made, [{"tag": read["tag"]} for read in reads(made)]) == []
    alone = build(shipped(), tag_reads=reads(made))
    assert ask_rule(RULE, alone, shipped()) == []


# the download beside the sheet


def laid(made, stored):
    built = season(made, stored)
    return download_of(Case(built, shipped(), shipped().rules["reader"]))


def test_each_read_finds_its_row():
    made = rows()
    download = laid(made, reads(made))
    assert [read.row for read in download.reads] == [f"handlings!{i + 2}" for i in range(len(made))]
    assert {read.role for read in download.reads} == {"bird"}
    assert download.unread == ()
    assert download.of_row["handlings!5"].moment == "2026-06-01T09:46:10"


def test_a_slip_is_paired_at_its_place():
    made = rows()
    stored = reads(made)
    made[10]["tag"] = made[10]["tag"][:-1] + "7"
    read = laid(made, stored).reads[10]
    assert (read.role, read.row) == ("slip", "handlings!12")


def test_of_two_rows_one_slip_away_the_one_at_the_place_is_paired():
    made = rows()
    stored = reads(made)
    tag = made[10]["tag"]
    made[10]["tag"], made[13]["tag"] = tag[:-1] + "7", tag[:-1] + "8"
    del stored[13]
    download = laid(made, stored)
    assert [read.row for read in download.reads if read.tag == tag] == ["handlings!12"]


def test_an_empty_cell_is_paired_at_its_place():
    made = rows()
    stored = reads(made)
    made[10]["tag"] = None
    read = laid(made, stored).reads[10]
    assert (read.role, read.row) == ("slip", "handlings!12")


def test_reads_in_any_order_are_laid_in_the_same():
    made = rows()
    stored = shifted(reads(made), days=3, hours=2)
    expected = [(read.tag, read.moment, read.row) for read in laid(made, stored).reads]
    for other in (stored[::-1], sorted(stored, key=lambda read: read["tag"][::-1])):
        assert [(read.tag, read.moment, read.row) for read in laid(made, other).reads] == expected


# a clock off is mended as well as one that was right


@cache
def slipped(seed):
    """Make a season with some tags mistyped and some dates wrong, and its reads."""
    tables = invented_season(seed, Style(boxes=10))
    for i, row in enumerate(tables["handlings"]):
        if row["tag"] and i % 9 == 4:
            row["tag"] = row["tag"][:9] + str((int(row["tag"][9]) + 3) % 10) + row["tag"][10:]
    return tables


def found(tables):
    filled = {name: rows for name, rows in tables.items() if rows}
    answers = ask_all(build(shipped(), **filled), shipped(), RULES, Layouts())
    return sorted(
        (finding.rule, suspect.cell.label, suspect.cell.field, suspect.suggested)
        for answer in answers
        for finding in answer.findings
        for suspect in finding.suspects
        if suspect.cell.label.startswith("handlings") and finding.severity != "note"
    )


@cache
def slipped_and_found(seed, timed):
    """Make such a season without a list of stock, so that the download is all there is; and what is found."""
    tables = {name: rows for name, rows in slipped(seed).items() if name != "tag_stock"}
    if not timed:
        tables["handlings"] = [{k: v for k, v in row.items() if k != "time"} for row in tables["handlings"]]
    right = found(tables)
    assert any(rule.startswith("tag_code") for rule, *_ in right)
    return tables, right


@settings(deadline=None, max_examples=8)
@given(st.integers(0, 1), st.integers(-40_000_000, 40_000_000), st.booleans())
def test_shifting_all_reads_changes_nothing_on_the_sheet(seed, seconds, timed):
    tables, right = slipped_and_found(seed, timed)
    assert found({**tables, "tag_reads": shifted(tables["tag_reads"], seconds=seconds)}) == right


def test_the_clock_is_found_once_for_all_rules():
    made = rows()
    built = season(made, reads(made))
    layouts = Layouts()
    one, other = (
        Case(built, shipped(), shipped().rules[slug], doubted, layouts)
        for slug, doubted in (("times", frozenset()), ("reader", frozenset({("handlings!2", "date")})))
    )
    assert clocks_of(one) is clocks_of(other)
