"""One bird of a visit under another ringer than its siblings."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from clean_round import clean_round
from hypothesis import given, settings
from hypothesis import strategies as st
from typed_season import ask, typed_season

from audit.findings import Finding, NotRun
from audit.rules.ringer import RULE

Row = dict[str, Any]


def visits(number: int = 20, birds: int = 4, **more: Any) -> list[Row]:
    """Visits, two a day, by AB on one day and by IP on the next, each with a string of his own."""
    used = {"AB": 1030, "IP": 4030}
    rows = []
    for visit in range(number):
        name = "AB" if visit // 2 % 2 else "IP"
        for _ in range(birds):
            used[name] += 1
            rows.append(
                {
                    "date": dt.date(2026, 6, 6) + dt.timedelta(days=visit // 2),
                    "box": f"SL-{visit + 1:02d}",
                    "ring": f"SV{used[name]:05d}",
                    "event": "ringed",
                    "ringer": name,
                    **more,
                }
            )
    return rows


def change(rows: list[Row], *places: int, **cells: Any) -> list[Row]:
    return [{**row, **cells} if i in places else row for i, row in enumerate(rows)]


def findings(rows: list[Row]) -> list[Finding]:
    return [answer for answer in ask(RULE, typed_season(handlings=rows)) if isinstance(answer, Finding)]


def told(rows: list[Row]) -> list[tuple[str, str, str]]:
    return [(f.rule, f.suspects[0].cell.label, f.suspects[0].suggested) for f in findings(rows)]


def test_one_ringer_a_visit() -> None:
    assert findings(visits()) == []


@pytest.mark.parametrize("seed", range(6))
def test_a_clean_round_of_two_ringers(seed: int) -> None:
    assert findings(clean_round(seed=seed)["handlings"]) == []


@pytest.mark.parametrize("place", [4, 5, 6, 7, 70])
def test_one_bird_under_another_name(place: int) -> None:
    rows = visits()
    meant = rows[place]["ringer"]
    typed = "IP" if meant == "AB" else "AB"
    assert told(change(rows, place, ringer=typed)) == [("ringer.other_hand", f"handlings!{place + 2}", meant)]


def test_the_sentence_says_what_the_rings_tell() -> None:
    (finding,) = findings(change(visits(), 6, ringer="AB"))
    assert finding.message == (
        "AB is the ringer of this row alone, IP that of the other 3 rows of this visit to box SL-02, and the "
        "rings next to this one were put on by IP."
    )
    assert [cell.label for cell in finding.witnesses] == ["handlings!6", "handlings!7", "handlings!9"]


def test_the_sentence_of_birds_seen_again() -> None:
    (finding,) = findings(change(visits(event="re-encountered"), 6, ringer="AB"))
    assert finding.message == (
        "AB is the ringer of this row alone, IP that of the other 3 rows of this visit to box SL-02, and AB "
        "handled no other bird that day."
    )


def test_a_single_bird_in_its_box_is_told_by_its_ring() -> None:
    rows = change(visits(), 5, box="SL-40", ringer="AB")
    assert told(rows) == [("ringer.other_hand", "handlings!7", "IP")]
    assert told([{**row, "event": "re-encountered"} for row in rows]) == []


def test_initials_that_occur_once() -> None:
    rows = change(visits(birds=2), 6, ringer="AN")
    (finding,) = findings(rows)
    assert (finding.rule, finding.suspects[0].suggested) == ("ringer.initials", "AB")
    assert finding.message.endswith("were put on by AB; AN occurs nowhere else.")


def test_points_and_case_are_no_other_ringer() -> None:
    assert findings(change(visits(), 5, 6, ringer="i. p.")) == []


@pytest.mark.parametrize("typed", ["AB/IP", "IP + AB", "ip und ab", "AB, IP", "AB/MK"])
def test_a_row_that_two_share_tells_nothing(typed: str) -> None:
    assert findings(change(visits(), 5, ringer=typed)) == []
    # both are named nowhere else
    assert told(change(visits(), 5, ringer="XY/MK")) == [("ringer.other_hand", "handlings!7", "IP")]


def test_two_who_share_the_work() -> None:
    rows = visits(event="re-encountered")
    for number, row in enumerate(rows):
        if number % 12 in (3, 6, 7):
            row["ringer"] = "MK"
    assert findings(rows) == []


def test_the_one_bird_of_a_guest_from_his_own_string() -> None:
    rows = change(visits(), 6, ringer="MK", ring="SV07003")
    rows = change(rows, 40, 41, 42, ringer="MK")
    for place, number in ((40, 7001), (41, 7002), (42, 7004)):
        rows = change(rows, place, ring=f"SV{number:05d}")
    assert told(rows) == []


def test_rings_beside_tell_less_where_strings_go_from_hand_to_hand() -> None:
    rows = change(visits(), 9, ringer="IP", event="re-encountered")
    (alone,) = findings(change(visits(birds=3), 4, ringer="AB"))
    handed = change(visits(birds=3), 21, 22, ringer="IP")
    for finding in findings(change(handed, 4, ringer="AB")):
        assert finding.suspects[0].p_error < alone.suspects[0].p_error
    assert len(findings(rows)) == 1


def test_half_a_brood_each_and_three_names_tell_nothing() -> None:
    assert findings(change(visits(event="re-encountered"), 5, 6, ringer="MK")) == []
    rows = visits(event="re-encountered")
    rows[5]["ringer"], rows[6]["ringer"] = "MK", "JR"
    assert findings(rows) == []


def test_small_broods_show_nothing_without_rings() -> None:
    assert findings(change(visits(birds=2, event="re-encountered"), 2, ringer="MK")) == []


def test_a_single_ringer() -> None:
    rows = [{**row, "ringer": "AB"} for row in visits()]
    (answer,) = ask(RULE, typed_season(handlings=rows))
    assert isinstance(answer, NotRun)
    assert answer.reason == "all rows bear the same initials, or none"


@settings(max_examples=12, deadline=None)
@given(st.lists(st.sampled_from(["AB", "IP", "MK"]), min_size=80, max_size=80))
def test_whoever_is_next_takes_the_next_bird(names: list[str]) -> None:
    # initials drawn row by row: there is no ringer of a visit, unless they happen to agree
    rows = visits(event="re-encountered")
    for row, name in zip(rows, names, strict=True):
        row["ringer"] = name
    broods = [names[i : i + 4] for i in range(0, 80, 4)]
    halves = sum(sorted(brood.count(name) for name in set(brood)) == [2, 2] for brood in broods)
    if halves > 1:
        assert findings(rows) == []
