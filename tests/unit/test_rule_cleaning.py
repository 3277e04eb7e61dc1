"""Cleaning and gear."""

from __future__ import annotations

import copy

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from invented import Style, invented_season
from typed_season import ask, blamed, typed_season

from audit.declarations import load_declarations
from audit.findings import NotRun
from audit.rules.cleaning import RULE

DECLARED = load_declarations()
BOXES = [f"SL-{i:02d}" for i in range(1, 7)]


def ringing(box, date="2026-06-13"):
    return {"date": date, "box": box, "ring": f"SV0{box[-2:]}01"}


def visit(box, date, cleaned=None, **more):
    return {"date": date, "box": box, "cleaned": cleaned, **more}


def season(handlings=None, visits=None, **tables):
    return {
        "handlings": [ringing(box) for box in BOXES] if handlings is None else handlings,
        "visits": [visit(box, "2026-10-03", cleaned=True) for box in BOXES] if visits is None else visits,
        **tables,
    }


def answers_to(tables):
    return ask(RULE, typed_season(DECLARED, **tables), DECLARED)


def test_every_box_cleaned_after_ringing_is_right():
    assert not answers_to(season())


@pytest.mark.parametrize("tick", [False, None])
def test_a_forgotten_tick(tick):
    tables = season()
    tables["visits"][3]["cleaned"] = tick
    (answer,) = answers_to(tables)
    assert blamed([answer]) == {("visits!5", "cleaned"): ("cleaning.not_ticked", "yes")}
    assert answer.message == (
        "Box SL-04 is not marked as cleaned after the last ringing on 2026-06-13, but 5 of 6 boxes are."
    )


def test_cleaned_before_ringing_only():
    tables = season()
    tables["visits"][3]["cleaned"] = False
    tables["visits"].append(visit("SL-04", "2026-03-02", cleaned=True))
    (answer,) = answers_to(tables)
    assert blamed([answer]) == {("visits!5", "cleaned"): ("cleaning.not_ticked", "yes")}


def test_an_empty_box_may_be_cleaned_in_spring():
    tables = season(handlings=[ringing(box) for box in BOXES[1:]])
    tables["visits"][0]["date"] = "2026-03-02"
    assert not answers_to(tables)


def test_a_box_never_visited_again_is_a_note():
    tables = season()
    tables["visits"][3] = visit("SL-04", "2026-06-13", cleaned=False)
    (answer,) = answers_to(tables)
    assert (answer.rule, answer.severity) == ("cleaning.not_visited", "note")
    assert answer.message == "No visit after the last ringing of 2026, so no cleaning: SL-04."


def test_a_season_still_running_is_one_note():
    tables = season(visits=[visit(box, "2026-06-13", cleaned=False) for box in BOXES])
    (answer,) = answers_to(tables)
    assert (answer.rule, answer.severity) == ("cleaning.to_clean", "note")
    assert answer.message == (
        "In 2026 0 of 6 boxes are marked as cleaned after ringing; "
        "left: SL-01, SL-02, SL-03, SL-04, SL-05, SL-06."
    )


def test_each_year_counts_for_itself():
    tables = season()
    tables["visits"] += [visit(box, "2025-10-04", cleaned=True) for box in BOXES]
    tables["visits"][2]["cleaned"] = False
    (answer,) = answers_to(tables)
    assert blamed([answer]) == {("visits!4", "cleaned"): ("cleaning.not_ticked", "yes")}


def test_cleaned_with_young_inside_is_a_note():
    tables = season()
    for row in tables["visits"]:
        row["alive"] = 0
    tables["visits"].append(visit("SL-02", "2026-06-13", cleaned=True, alive=4))
    (answer,) = answers_to(tables)
    assert (answer.rule, answer.severity) == ("cleaning.with_young", "note")
    assert answer.message == (
        "Box SL-02 is marked as cleaned on 2026-06-13, when 4 young were in it; "
        "boxes are cleaned when they are empty."
    )


def test_gear_is_looked_after_once_a_year():
    boxes = [{"box": box, "antennas": 2, "camera": box < "SL-03"} for box in BOXES]
    tables = season(boxes=boxes)
    for row in tables["visits"]:
        row.update(camera_cleaned=row["box"] != "SL-02", logger_downloaded=True, entrance_checked=False)
    answers = answers_to(tables)
    assert {answer.severity for answer in answers} == {"note"}
    assert [answer.message for answer in answers] == [
        "In 2026 the camera is not marked as cleaned at SL-02.",
        "In 2026 the entrance is not marked as checked at SL-01, SL-02, SL-03, SL-04, SL-05, SL-06.",
    ]


@pytest.mark.parametrize(
    ("there", "tick"), [({"antennas": 2}, {"camera_cleaned": False}), ({"camera": True}, {})]
)
def test_gear_that_is_not_listed_or_not_ticked_is_not_asked_for(there, tick):
    tables = season(boxes=[{"box": box, **there} for box in BOXES])
    for row in tables["visits"]:
        row.update(tick)
    assert not answers_to(tables)


def test_cleaned_on_the_day_of_ringing_is_before_the_young_had_flown():
    tables = season()
    tables["visits"][3]["date"] = "2026-06-13"
    (answer,) = answers_to(tables)
    assert answer.rule == "cleaning.not_visited"


def test_what_could_not_run():
    tables = season(visits=[{"date": "2026-06-13", "box": "SL-01"}])
    assert answers_to(tables) == [NotRun("cleaning.not_ticked", "The visits have no column for cleaning.")]
    assert "visits" in RULE.missing(typed_season(DECLARED, handlings=[ringing("SL-01")]))


@pytest.mark.parametrize("seed", range(4))
def test_a_clean_season_gives_nothing(seed):
    assert not answers_to(invented_season(seed, Style()))


CLEAN = invented_season(3, Style(boxes=30))


@settings(max_examples=30, deadline=None)
@given(pick=st.integers(0, 29))
def test_any_forgotten_tick_is_blamed_alone(pick):
    tables = copy.deepcopy(CLEAN)
    rounds = [i for i, row in enumerate(tables["visits"]) if row["cleaned"]]
    i = rounds[pick % len(rounds)]
    tables["visits"][i]["cleaned"] = False
    assert set(blamed(answers_to(tables))) == {(f"visits!{i + 2}", "cleaned")}
