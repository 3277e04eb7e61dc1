"""Days and times that cannot be read: what rows beside them, visits and the reader say of them."""

from __future__ import annotations

import datetime as dt
from typing import Any

import numpy as np
import pandas as pd
import pytest

from audit.checking import read_season
from audit.declarations import load_declarations
from audit.explain.unread_days import DayBeliefs
from audit.explain.unread_sheet import Belief, Tables
from audit.explain.unread_times import TimeBeliefs
from audit.explain.unread_witnesses import Witnesses
from audit.rules.plain import plain_text

DECLARED = load_declarations()
FIRST = dt.date(2026, 6, 6)


def seen(**tables: list[dict[str, Any]]) -> Witnesses:
    frames = {name: pd.DataFrame(rows).map(plain_text) for name, rows in tables.items()}
    laid = Tables(read_season(frames, schemas=DECLARED), DECLARED, frozenset())
    sheet = laid.sheet("handlings")
    assert sheet is not None
    return Witnesses(laid, sheet)


def setting(name: str) -> Any:
    return DECLARED.settings[f"explain.unread.{name}"].value


def told(belief: Belief | None, meant: str) -> str:
    assert belief is not None
    return belief.because(belief.plain.index(meant))


def likeliest(belief: Belief | None) -> str:
    assert belief is not None
    return belief.plain[int(np.argmax(belief.log_prior))]


def chance(belief: Belief | None, meant: str) -> float:
    assert belief is not None
    weights = np.exp(belief.log_prior - belief.log_prior.max())
    return float(weights[belief.plain.index(meant)] / weights.sum())


def at(day: dt.date, minute: int) -> dt.datetime:
    return dt.datetime.combine(day, dt.time()) + dt.timedelta(minutes=minute)


# times of day


def day_of(*times: str | None, boxes: str = "") -> list[dict[str, Any]]:
    """Birds of one day; boxes are told by a letter each."""
    letters = boxes or "A" * len(times)
    return [
        {"date": FIRST, "box": f"SL-{ord(letter):02d}", "ring": f"SV{1000 + i:05d}", "time": time}
        for i, (letter, time) in enumerate(zip(letters, times, strict=True))
    ]


@pytest.mark.parametrize(
    ("times", "meant", "said"),
    [
        (("09:35", None, "09:45"), "09:40", "the row stands between 09:35 and 09:45"),
        (("09:35", None, "09:45"), "09:35", "the row stands between 09:35 and 09:45"),
        (("09:35", None, "09:45"), "09:45", "the row stands between 09:35 and 09:45"),
        (("09:35", None, "09:45"), "09:46", "the row above says 09:35"),
        (("09:35", None, "09:45"), "09:34", "the row below says 09:45"),
        (("09:35", None, "09:35"), "09:35", "the rows above and below say 09:35"),
        (("09:45", None, "09:35"), "09:40", ""),
        (("09:35", None), "09:35", "the row above says 09:35"),
        (("09:35", None), "09:34", ""),
        ((None, "09:45"), "09:45", "the row below says 09:45"),
        ((None, "09:45"), "09:46", ""),
    ],
)
def test_rows_of_the_day_tell_a_time(times: tuple[str | None, ...], meant: str, said: str) -> None:
    belief = TimeBeliefs(seen(handlings=day_of(*times))).time(times.index(None))
    assert told(belief, meant) == said


def test_times_of_another_day_are_no_neighbours() -> None:
    rows = day_of("09:35", None, "09:45")
    rows[0]["date"] = FIRST - dt.timedelta(days=1)
    belief = TimeBeliefs(seen(handlings=rows)).time(1)
    assert told(belief, "09:40") == "the row below says 09:45"


def test_without_any_time_nothing_is_believed() -> None:
    assert TimeBeliefs(seen(handlings=day_of(None, None))).time(0) is None


def lone_visits(*, times: bool = False, reads: bool = False) -> Witnesses:
    """One bird on each of twelve days, six minutes after the visit began, two before its tag was read."""
    days = [FIRST + dt.timedelta(days=i) for i in range(12)]
    minutes = [570 + 17 * i for i in range(12)]
    tables: dict[str, list[dict[str, Any]]] = {
        "handlings": [
            {
                "date": day,
                "box": f"SL-{i + 1:02d}",
                "ring": f"SV{1000 + i:05d}",
                "tag": f"99900000000{1000 + i}",
                "time": None if i == 11 else f"{at(day, minute):%H:%M}",
            }
            for i, (day, minute) in enumerate(zip(days, minutes, strict=True))
        ]
    }
    if times:
        tables["visits"] = [
            {"date": day, "box": f"SL-{i + 1:02d}", "time": f"{at(day, minute - 6):%H:%M}"}
            for i, (day, minute) in enumerate(zip(days, minutes, strict=True))
        ]
    if reads:
        tables["tag_reads"] = [
            {"read_at": at(day, minute + 2), "tag": f"99900000000{1000 + i}"}
            for i, (day, minute) in enumerate(zip(days, minutes, strict=True))
        ]
    return seen(**tables)


def test_a_bird_is_in_the_hand_as_long_after_the_visit_began_as_others() -> None:
    belief = TimeBeliefs(lone_visits(times=True)).time(11)
    assert likeliest(belief) == "12:37"
    assert told(belief, "12:37") == "the visit began at 12:31"
    without = TimeBeliefs(lone_visits()).time(11)
    assert told(without, "12:37") == ""
    assert chance(belief, "12:37") > 10 * chance(without, "12:37")


def test_a_tag_is_read_as_long_after_the_bird_as_others() -> None:
    belief = TimeBeliefs(lone_visits(reads=True)).time(11)
    read = 12 * 60 + 37 + 2
    # the reader's clock is held against the same rows, and may be put right by minutes
    minutes = int(likeliest(belief)[:2]) * 60 + int(likeliest(belief)[3:])
    assert abs(minutes - (read - 2)) <= 2
    said = told(belief, likeliest(belief))
    assert said.startswith("its tag was read at 12:3")
    reach = int(setting("reader_minutes"))
    assert told(belief, f"{at(FIRST, read + reach + 3):%H:%M}") == ""
    assert told(belief, f"{at(FIRST, read - reach - 5):%H:%M}") == ""


# days


def rows_of(*days: int | None, boxes: str = "") -> list[dict[str, Any]]:
    """One bird a row, so many days after the first."""
    letters = boxes or "".join(chr(65 + i) for i in range(len(days)))
    return [
        {
            "date": None if day is None else FIRST + dt.timedelta(days=day),
            "box": f"SL-{ord(letter):02d}",
            "ring": f"SV{1000 + i:05d}",
            "tag": f"99900000000{1000 + i}",
        }
        for i, (letter, day) in enumerate(zip(letters, days, strict=True))
    ]


@pytest.mark.parametrize(
    ("days", "boxes", "meant", "said"),
    [
        ((0, None, 0), "ABC", 0, "the rows above and below say 2026-06-06"),
        ((0, None, 3), "ABC", 0, "the row above says 2026-06-06"),
        ((0, None, 3), "AAC", 0, "the row above, of the same box SL-65, says 2026-06-06"),
        ((0, None, 3), "ABC", 3, "the row below says 2026-06-09"),
        ((0, None, 3), "ACC", 3, "the row below, of the same box SL-67, says 2026-06-09"),
        ((0, None, 3), "ABC", 2, "the row stands between 2026-06-06 and 2026-06-09"),
        ((0, None, 3), "ABC", 4, ""),
        ((3, None, 0), "ABC", 2, ""),
        ((0, None), "AB", 1, ""),
    ],
)
def test_rows_beside_it_tell_a_day(days: tuple[int | None, ...], boxes: str, meant: int, said: str) -> None:
    belief = DayBeliefs(seen(handlings=rows_of(*days, boxes=boxes))).date(1)
    assert told(belief, (FIRST + dt.timedelta(days=meant)).isoformat()) == said


def test_visits_to_the_box_and_reads_of_the_tag_tell_a_day() -> None:
    handlings = rows_of(*[3 * i for i in range(8)], None, 30)
    visits = [{"date": row["date"], "box": row["box"]} for row in handlings if row["date"]]
    visits.append({"date": FIRST + dt.timedelta(days=25), "box": handlings[8]["box"]})
    on = FIRST + dt.timedelta(days=26)
    reads = [{"read_at": at(row["date"] or on, 600), "tag": row["tag"]} for row in handlings]
    # by the rows around alone it goes on by three days, as always
    assert likeliest(DayBeliefs(seen(handlings=handlings)).date(8)) == "2026-06-30"
    by_visit = DayBeliefs(seen(handlings=handlings, visits=visits)).date(8)
    assert likeliest(by_visit) == "2026-07-01"
    assert told(by_visit, "2026-07-01") == f"box {handlings[8]['box']} was visited on 2026-07-01"
    by_read = DayBeliefs(seen(handlings=handlings, tag_reads=reads)).date(8)
    assert likeliest(by_read) == "2026-07-02"
    assert told(by_read, "2026-07-02") == "its tag was read on 2026-07-02"


def test_days_are_those_of_the_season_and_a_margin_beyond() -> None:
    margin = int(setting("margin_days"))
    belief = DayBeliefs(seen(handlings=rows_of(0, None, 20, 21))).date(1)
    assert belief is not None
    assert belief.plain[0] == (FIRST - dt.timedelta(days=margin)).isoformat()
    assert belief.plain[-1] == (FIRST + dt.timedelta(days=21 + margin)).isoformat()
    # a day of another season is no day of this one
    far = int(setting("season_days")) + 30
    again = DayBeliefs(seen(handlings=rows_of(0, None, 20, 21, far))).date(1)
    assert again is not None
    assert again.plain == belief.plain


def test_without_any_day_nothing_is_believed() -> None:
    assert DayBeliefs(seen(handlings=rows_of(None, None))).date(0) is None


def test_the_time_of_a_row_tells_whether_it_is_of_the_day_of_its_neighbour() -> None:
    rows = rows_of(*[i // 4 for i in range(40)], None, 11)
    for i, row in enumerate(rows):
        row["time"] = f"{at(FIRST, 570 + 8 * (i % 4)):%H:%M}"
    # row 40 follows the last of the tenth day: a time before that one's is of a later day
    rows[40]["time"] = "09:30"
    later = DayBeliefs(seen(handlings=rows)).date(40)
    rows[40]["time"] = "10:02"
    same = DayBeliefs(seen(handlings=rows)).date(40)
    tenth = (FIRST + dt.timedelta(days=9)).isoformat()
    assert chance(same, tenth) > 2 * chance(later, tenth)
