"""Does each visit fall on a weekday on which this team goes out?"""

from __future__ import annotations

import datetime as dt

import pytest
from typed_season import ask, typed_season

from audit.findings import Finding, NotRun
from audit.rules.weekday import RULE

# 2026-05-02 is a Saturday (proleptic Gregorian calendar, as ISO 8601 has it).
SATURDAYS = [dt.date(2026, 5, 2) + dt.timedelta(days=7 * i) for i in range(14)]


def rows(days: list[dt.date]) -> list[dict]:
    return [
        {"date": day, "box": f"SL-{i + 1:02d}", "ring": f"SV{1000 + 2 * i + k:05d}"}
        for i, day in enumerate(days)
        for k in range(2)
    ]


def test_a_team_that_goes_out_on_saturdays() -> None:
    assert ask(RULE, typed_season(handlings=rows(SATURDAYS))) == []


def test_a_day_off_the_habit_is_a_note() -> None:
    days = [*SATURDAYS[:6], SATURDAYS[6] + dt.timedelta(days=1), *SATURDAYS[7:]]
    (finding,) = ask(RULE, typed_season(handlings=rows(days)))
    assert isinstance(finding, Finding)
    assert (finding.severity, finding.suspects[0].cell.address) == ("note", "A14")
    assert finding.message == (
        "2026-06-14 is a Sunday, but 13 of 14 days in the field are Saturdays: "
        "is the date of its 2 rows right?"
    )
    assert [cell.label for cell in finding.witnesses] == ["handlings!15"]


def test_a_team_without_a_habit_is_left_alone() -> None:
    days = [dt.date(2026, 5, 1) + dt.timedelta(days=9 * i) for i in range(14)]
    assert ask(RULE, typed_season(handlings=rows(days))) == []


def test_few_days_show_no_habit() -> None:
    (answer,) = ask(RULE, typed_season(handlings=rows(SATURDAYS[:5])))
    assert answer == NotRun("weekday.unusual", "days in the field: 5, too few to show a habit of weekdays")


def test_a_date_in_doubt_is_no_day() -> None:
    season = typed_season(handlings=rows([*SATURDAYS, SATURDAYS[3] + dt.timedelta(days=3)]))
    doubted = frozenset({("handlings!30", "date"), ("handlings!31", "date")})
    assert ask(RULE, season, doubted=doubted) == []
    assert len(ask(RULE, season)) == 1


def on_weekdays(counts: tuple[int, ...]) -> list[dt.date]:
    """So many Saturdays, Sundays, Mondays and so on."""
    return sorted(SATURDAYS[0] + dt.timedelta(days=7 * i + k) for k, n in enumerate(counts) for i in range(n))


@pytest.mark.parametrize(
    ("counts", "odd"),
    [
        # twelve days show a habit
        ((11, 1), 1),
        # three weekdays may be one, four are none
        ((10, 9, 8, 1), 1),
        ((9, 8, 7, 6, 1), 0),
        # nine in ten are a habit, so that the tenth is odd; what comes before is not enough
        ((9, 9, 2), 2),
        ((9, 8, 3), 0),
    ],
)
def test_how_many_days_and_weekdays_make_a_habit(counts: tuple[int, ...], odd: int) -> None:
    answers = ask(RULE, typed_season(handlings=rows(on_weekdays(counts))))
    assert [isinstance(answer, Finding) for answer in answers] == [True] * odd


def test_eleven_days_show_no_habit() -> None:
    (answer,) = ask(RULE, typed_season(handlings=rows(SATURDAYS[:11])))
    assert isinstance(answer, NotRun)
