"""What the download says of a written tag by the place of a read in its visit, and innocent look-alikes.

Tags and rings are invented; the tags begin with 985 and made-up numbers.
"""

from __future__ import annotations

import datetime as dt
from functools import cache

import numpy as np
import pytest
from typed_season import ask, blamed, typed_season

from audit.declarations import load_declarations
from audit.rules import dates, tag_twice, times
from audit.rules.tag_code import RULE

START = dt.datetime(2026, 6, 1, 9, 30)


@cache
def shipped():
    return load_declarations()


@cache
def tags():
    numbers = np.random.default_rng(4).choice(np.arange(104_000_010_000, 104_000_090_000), 400, replace=False)
    return [f"985{number}" for number in numbers]


def visits(days=10, boxes=3, birds=4, again=False):
    """Broods on their days; `again` sees each a second time ten days later. Rows and their moments."""
    made = []
    for day in range(days):
        clock = START + dt.timedelta(days=day)
        for box in range(boxes):
            for bird in range(birds):
                n = (day * boxes + box) * birds + bird
                for later in (0, 20) if again else (0,):
                    at = clock + dt.timedelta(days=later)
                    made.append(
                        {
                            "date": at.date(),
                            "time": f"{at:%H:%M}",
                            "box": f"SL-{day * boxes + box + 1:02d}",
                            "ring": f"SV{1001 + n:05d}",
                            "tag": tags()[n],
                            "event": "re-encountered" if later else "ringed",
                            "at": at,
                        }
                    )
                clock += dt.timedelta(minutes=5)
            clock += dt.timedelta(minutes=30)
    return sorted(made, key=lambda row: row["at"])


def reads(rows):
    return [{"read_at": row["at"] + dt.timedelta(seconds=80), "tag": row["tag"]} for row in rows]


def told(rows, stored, rule=RULE):
    handlings = [{name: value for name, value in row.items() if name != "at"} for row in rows]
    answers = ask(rule, typed_season(shipped(), handlings=handlings, tag_reads=stored), shipped())
    return blamed(answers), [one.message for one in answers if hasattr(one, "message")]


def test_any_other_tag_where_the_read_at_its_place_stands_on_no_row():
    rows = visits()
    stored = reads(rows)
    meant = rows[41]["tag"]
    rows[41]["tag"] = other = tags()[390]
    cells, messages = told(rows, stored)
    assert cells == {("handlings!43", "tag"): ("tag_code.one_slip_from_read", meant)}
    lacking = f"Tag {other} is not in the download of the reader"
    assert messages == [f"{lacking}; {meant} was read that day and stands on no other row."]


def test_a_bird_whose_tag_of_the_other_visit_was_read():
    rows = visits(again=True)
    stored = reads(rows)
    place = next(i for i, row in enumerate(rows) if row["event"] == "re-encountered") + 2
    meant, rows[place]["tag"] = rows[place]["tag"], tags()[390]
    ringed = next(row["date"] for row in rows if row["ring"] == rows[place]["ring"])
    cells, messages = told(rows, stored)
    assert cells == {(f"handlings!{place + 2}", "tag"): ("tag_code.one_slip_from_read", meant)}
    lacking = f"Tag {tags()[390]} is not in the download of the reader"
    assert messages == [f"{lacking}; {meant} is this bird's tag on {ringed} and was read that day."]


def test_a_tag_that_the_reader_missed_is_left_alone():
    rows = visits()
    stored = reads(rows)
    del stored[41]
    assert told(rows, stored)[0] == {}


def test_a_missed_read_beside_a_slip_of_another_row():
    """One read lacks a row, two rows lack a read: it is that of the row one slip away, at its place."""
    rows = visits()
    meant = rows[41]["tag"]
    digit = str((int(meant[9]) + 5) % 10)
    rows[43]["tag"] = meant[:-1] + str((int(meant[-1]) + 1) % 10)
    stored = reads(rows)
    del stored[43]
    rows[41]["tag"] = meant[:9] + digit + meant[10:]
    cells, _ = told(rows, stored)
    assert cells == {("handlings!43", "tag"): ("tag_code.one_slip_from_read", meant)}


def test_two_rows_without_a_read_and_one_read_on_no_row_blame_none():
    rows = visits()
    stored = reads(rows)
    stored[41] = {**stored[41], "tag": tags()[390]}
    del stored[42]
    assert told(rows, stored)[0] == {}


def test_the_read_of_a_row_with_the_tag_from_above_is_not_that_of_a_bird_without_one():
    """The last bird of a box got the tag of the row above, the last bird of the next box has none."""
    rows = visits()
    stored = reads(rows)
    del stored[43]
    rows[39]["tag"], rows[43]["tag"], rows[43]["event"] = rows[38]["tag"], None, "re-encountered"
    assert ("handlings!45", "tag") not in told(rows, stored)[0]


def test_a_tag_left_out_beside_a_bird_that_has_none():
    """A nestling and, last of the visit, an old bird have no tag; the read stands at the nestling's place."""
    rows = visits()
    stored = reads(rows)
    del stored[43]
    meant, rows[41]["tag"] = rows[41]["tag"], None
    rows[43] |= {"tag": None, "event": "re-encountered"}
    assert told(rows, stored)[0] == {("handlings!43", "tag"): ("tag_code.left_out", meant)}


def test_the_read_of_a_tag_in_doubt_is_not_that_of_a_bird_without_one():
    """The intake has read a letter as a digit, so the tag is in doubt, but it has its row."""
    rows = visits()
    stored = reads(rows)
    del stored[43]
    rows[43] |= {"tag": None, "event": "re-encountered"}
    handlings = [{name: value for name, value in row.items() if name != "at"} for row in rows]
    season = typed_season(shipped(), handlings=handlings, tag_reads=stored)
    assert blamed(ask(RULE, season, shipped(), frozenset({("handlings!43", "tag")}))) == {}


def test_the_tag_from_above_stands_for_the_one_read_at_its_place():
    """Two reads stand on no row that day; the one at the place of the row is meant, the other is far away."""
    rows = visits()
    stored = reads(rows)
    meant, rows[38]["tag"] = rows[38]["tag"], rows[37]["tag"]
    rows[46]["tag"] = None
    cells, _ = told(rows, stored, tag_twice.RULE)
    assert cells == {("handlings!40", "tag"): ("tag_twice.on_two_rings", meant)}


def test_a_tag_left_out_at_both_visits_of_a_bird():
    rows = visits(again=True)
    stored = reads(rows)
    ring, meant = rows[5]["ring"], rows[5]["tag"]
    places = [i for i, row in enumerate(rows) if row["ring"] == ring]
    for i in places:
        rows[i]["tag"] = None
    cells, messages = told(rows, stored)
    assert cells == {(f"handlings!{i + 2}", "tag"): ("tag_code.left_out", meant) for i in places}
    message = (
        f"No tag is given, but the reader stored {meant} that day, which stands on no row and was read "
        "between those of the rows around it."
    )
    assert messages == [message] * len(places)


@pytest.mark.parametrize("by", [{"hours": 7}, {"days": -3}, {"days": 400, "hours": 5}])
def test_a_wrong_clock_tells_the_same(by):
    rows = visits()
    stored = reads(rows)
    rows[41]["tag"], rows[7]["tag"] = tags()[390], None
    off = [{**read, "read_at": read["read_at"] + dt.timedelta(**by)} for read in stored]
    assert told(rows, off) == told(rows, stored)
    assert len(told(rows, off)[0]) == 2


def test_a_sheet_sorted_by_ring_is_told_by_the_visit():
    rows = visits()
    stored = reads(rows)
    meant = rows[41]["tag"]
    rows[41]["tag"] = meant[:-1] + str((int(meant[-1]) + 1) % 10)
    mixed = sorted(rows, key=lambda row: (row["ring"][-1], row["ring"]))
    cells, _ = told(mixed, stored)
    assert list(cells.values()) == [("tag_code.one_slip_from_read", meant)]


# the other rules that ask when a tag was read


def asked(rule, rows, stored):
    handlings = [{name: value for name, value in row.items() if name != "at"} for row in rows]
    return blamed(ask(rule, typed_season(shipped(), handlings=handlings, tag_reads=stored), shipped()))


def winter_until(stored, n):
    """Let the clock be an hour behind until somebody sets it."""
    return [
        {**read, "read_at": read["read_at"] - dt.timedelta(hours=1)} if i < n else read
        for i, read in enumerate(stored)
    ]


def test_a_time_is_told_by_a_clock_that_was_set_half_way():
    rows = visits()
    stored = reads(rows)
    place = 83
    # the last bird of its day: no step back shows it
    assert rows[place]["date"] != rows[place + 1]["date"]
    meant = rows[place]["time"]
    rows[place]["time"] = f"{int(meant[:2]) + 5}{meant[2:]}"
    expected = {(f"handlings!{place + 2}", "time"): ("times.reader", meant)}
    assert asked(times.RULE, rows, stored) == expected
    assert asked(times.RULE, rows, winter_until(stored, 60)) == expected


def test_a_date_is_told_by_a_clock_that_was_days_off():
    rows = visits()
    stored = reads(rows)
    # the box was not visited on that day: the rows around say nothing that the reader does not
    for row in rows[44:48]:
        row["date"] = dt.date(2026, 7, 4)
    right = asked(dates.RULE, rows, stored)
    assert {cell: meant for cell, (_, meant) in right.items()} == {
        (f"handlings!{i + 2}", "date"): "2026-06-04" for i in range(44, 48)
    }
    off = [{**read, "read_at": read["read_at"] - dt.timedelta(days=200)} for read in stored]
    assert asked(dates.RULE, rows, off) == right
