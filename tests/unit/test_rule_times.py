"""Times of day in the order in which birds were handled."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from typed_season import ask, blamed, typed_season

from audit.declarations import load_declarations
from audit.findings import Finding
from audit.rules.times import RULE

DECLARED = load_declarations()
DAYS = [dt.date(2026, 6, 6), dt.date(2026, 6, 13)]
LABEL = "handlings!14"


def sheet(times: dict[int, str] | None = None, *, boxes: int = 4, birds: int = 4) -> list[dict[str, Any]]:
    """Two days, on each of which some boxes are visited, five minutes a bird and half an hour on the way."""
    rows = []
    for day in DAYS:
        clock = dt.datetime(day.year, day.month, day.day, 9, 30)
        for box in range(boxes):
            for _ in range(birds):
                number = len(rows)
                rows.append(
                    {
                        "date": day,
                        "time": f"{clock:%H:%M}",
                        "box": f"SL-{box + 1:02d}",
                        "ring": f"SV{1000 + number:05d}",
                        "tag": f"999104{number:09d}",
                    }
                )
                clock += dt.timedelta(minutes=4 + number % 3)
            clock += dt.timedelta(minutes=20 + 7 * (box % 3))
    for row, time in (times or {}).items():
        rows[row]["time"] = time
    return rows


def reads(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """The reader's log: a minute after the time written."""
    return [
        {
            "read_at": dt.datetime.combine(row["date"], dt.time.fromisoformat(row["time"]))
            + dt.timedelta(minutes=1),
            "tag": row["tag"],
        }
        for row in rows
    ]


def test_a_sheet_in_order_is_left_alone() -> None:
    assert ask(RULE, typed_season(DECLARED, handlings=sheet()), DECLARED) == []


def test_one_wrong_digit() -> None:
    rows = sheet()
    assert [rows[k]["time"] for k in (11, 12, 13)] == ["11:11", "11:51", "11:55"]
    (finding,) = ask(RULE, typed_season(DECLARED, handlings=sheet({12: "15:51"})), DECLARED)
    assert isinstance(finding, Finding)
    suspect = finding.suspects[0]
    assert (finding.rule, finding.severity, suspect.cell.label) == ("times.order", "suspect", LABEL)
    assert suspect.suggested == "11:51"
    assert suspect.p_error > 0.8
    assert finding.message == (
        "The time 15:51 is out of order beside 11:11 in the row above and 11:55 in the row below of the same"
        " day: 11:51 was probably meant."
    )
    assert [cell.label for cell in finding.witnesses] == ["handlings!13", "handlings!15"]


def test_the_readers_clock_tells_of_a_slip_that_keeps_the_order() -> None:
    true = sheet()
    last = 15
    assert true[last]["time"] == "12:06"
    rows = sheet({last: "15:06"})
    assert ask(RULE, typed_season(DECLARED, handlings=rows), DECLARED) == []
    (finding,) = ask(RULE, typed_season(DECLARED, handlings=rows, tag_reads=reads(true)), DECLARED)
    assert isinstance(finding, Finding)
    assert finding.rule == "times.reader"
    assert finding.message == (
        "The time says 15:06, but the tag of this row was read at 12:07: 12:06 was probably meant."
    )


def test_a_time_of_something_else_is_told_though_no_slip_leads_to_it() -> None:
    true = sheet()
    assert true[12]["time"] == "11:51"
    rows = sheet({12: "05:36"})
    (finding,) = ask(RULE, typed_season(DECLARED, handlings=rows, tag_reads=reads(true)), DECLARED)
    assert isinstance(finding, Finding)
    assert blamed([finding]).keys() == {(LABEL, "time")}
    assert finding.message.startswith(
        "The time 05:36 is out of order beside 11:11 in the row above and 11:55"
    )
    assert finding.suspects[0].p_error > 0.9


def test_a_reader_whose_clock_is_wrong_throughout() -> None:
    rows = sheet()
    log = [{**read, "read_at": read["read_at"] + dt.timedelta(hours=2)} for read in reads(rows)]
    assert ask(RULE, typed_season(DECLARED, handlings=rows, tag_reads=log), DECLARED) == []


def test_an_afternoon_break() -> None:
    rows = sheet()
    for row in rows[8:16]:
        hours, minutes = row["time"].split(":")
        row["time"] = f"{int(hours) + 4:02d}:{minutes}"
    assert ask(RULE, typed_season(DECLARED, handlings=rows), DECLARED) == []


def test_a_second_team_written_below_the_first() -> None:
    rows = sheet()
    for row, first in zip(rows[8:16], rows[:8], strict=True):
        row["time"] = first["time"]
    assert ask(RULE, typed_season(DECLARED, handlings=rows), DECLARED) == []


def test_a_sheet_kept_by_box() -> None:
    rows = sorted(sheet(), key=lambda row: (row["box"], row["date"]))
    assert ask(RULE, typed_season(DECLARED, handlings=rows), DECLARED) == []
    mixed = sorted(sheet(), key=lambda row: (row["date"], int(row["ring"][-1]), row["ring"]))
    assert ask(RULE, typed_season(DECLARED, handlings=mixed), DECLARED) == []


def test_a_bird_written_down_late() -> None:
    rows = sheet()
    rows[:16] = [*rows[:3], *rows[4:16], rows[3]]
    assert blamed(ask(RULE, typed_season(DECLARED, handlings=rows), DECLARED)) == {}


def test_times_at_the_start_of_a_visit_only() -> None:
    rows = sheet()
    for number, row in enumerate(rows):
        if number % 4:
            row["time"] = None
    assert ask(RULE, typed_season(DECLARED, handlings=rows), DECLARED) == []


@pytest.mark.parametrize("few", [3, 9])
def test_few_rows_show_no_order(few: int) -> None:
    rows = sheet()[:few]
    rows[1]["time"] = "08:34"
    assert ask(RULE, typed_season(DECLARED, handlings=rows), DECLARED) == []


@pytest.mark.parametrize(("rows", "told"), [(21, 0), (22, 1)])
def test_twenty_steps_from_row_to_row_of_a_day_show_an_order(rows: int, told: int) -> None:
    # the step from one day to the next is none
    kept = sheet({12: "21:51"})[:rows]
    assert len(blamed(ask(RULE, typed_season(DECLARED, handlings=kept), DECLARED))) == told


@pytest.mark.parametrize(("boxes", "told"), [(6, 2), (4, 0)])
def test_one_step_back_in_twenty_may_be_slips(boxes: int, told: int) -> None:
    # 2 of 46 steps are fewer than one in twenty, 2 of 30 more
    rows = sheet({5: "15:51", 12: "15:51"}, boxes=boxes)
    assert len(blamed(ask(RULE, typed_season(DECLARED, handlings=rows), DECLARED))) == told


def test_a_cell_in_doubt_is_no_witness() -> None:
    season = typed_season(DECLARED, handlings=sheet({12: "15:51"}))
    doubted = frozenset({(LABEL, "time")})
    assert ask(RULE, season, declared=DECLARED, doubted=doubted) == []
