"""One bird of a visit under another ringer than its siblings."""

from __future__ import annotations

import datetime as dt
from typing import Any

from typed_season import ask, typed_season

from audit.findings import Finding
from audit.rules.ringer import RULE


def visits(number: int = 20, birds: int = 4) -> list[dict[str, Any]]:
    return [
        {
            "date": dt.date(2026, 6, 6) + dt.timedelta(days=visit // 4),
            "box": f"SL-{visit + 1:02d}",
            "ring": f"SV{1000 + birds * visit + bird:05d}",
            "ringer": "AB" if visit % 2 else "IP",
        }
        for visit in range(number)
        for bird in range(birds)
    ]


def test_one_ringer_a_visit() -> None:
    assert ask(RULE, typed_season(handlings=visits())) == []


def test_one_bird_under_another_name() -> None:
    rows = visits()
    rows[6]["ringer"] = "MK"
    (finding,) = ask(RULE, typed_season(handlings=rows))
    assert isinstance(finding, Finding)
    suspect = finding.suspects[0]
    assert (finding.rule, finding.severity, suspect.cell.label) == ("ringer.alone", "suspect", "handlings!8")
    assert suspect.suggested == "AB"
    assert finding.message == (
        "Ringer MK, but the 3 other birds of box SL-02 on 2026-06-06 have AB, and 19 of 20 visits have one"
        " ringer alone."
    )
    assert [cell.label for cell in finding.witnesses] == ["handlings!6", "handlings!7", "handlings!9"]


def test_two_who_share_the_work() -> None:
    rows = visits()
    for number, row in enumerate(rows):
        if number % 12 == 3:
            row["ringer"] = "MK"
    assert ask(RULE, typed_season(handlings=rows)) == []


def test_half_a_brood_each_and_three_names_tell_nothing() -> None:
    rows = visits()
    rows[5]["ringer"] = rows[6]["ringer"] = "MK"
    assert ask(RULE, typed_season(handlings=rows)) == []
    rows = visits()
    rows[5]["ringer"], rows[6]["ringer"] = "MK", "IP"
    assert ask(RULE, typed_season(handlings=rows)) == []


def test_few_visits_and_small_broods_show_no_habit() -> None:
    for rows in (visits(10), visits(20, birds=2)):
        rows[2]["ringer"] = "MK"
        assert ask(RULE, typed_season(handlings=rows)) == []
