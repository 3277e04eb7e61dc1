"""Legs of ring and tag: each fault, each innocent look-alike, and the exact sentence."""

from __future__ import annotations

import datetime as dt
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from invented import invented_season
from typed_season import ask, blamed, typed_season

from audit.declarations import load_declarations
from audit.rules import tag_leg

DAY = dt.date(2026, 6, 3)

shipped = cache(load_declarations)


def season(declared, changes, n=40, *, extra=(), without=()):
    rows = [
        {
            "date": DAY,
            "box": f"SL-{i // 4 + 1:02d}",
            "species": "barn_owl",
            "ring": f"SV{1001 + i:05d}",
            "ring_leg": "R",
            "tag": f"999104000000{100 + i}",
            "tag_leg": "L",
            "event": "ringed",
            "ringer": "AB",
        }
        for i in range(n)
    ]
    for i, changed in changes.items():
        rows[i].update(changed)
    rows += list(extra)
    return typed_season(
        declared, handlings=[{k: v for k, v in row.items() if k not in without} for row in rows]
    )


def messages(answers):
    return [answer.message for answer in answers if hasattr(answer, "message")]


def again(i, **changed):
    return {
        "date": DAY + dt.timedelta(days=14),
        "box": "SL-01",
        "species": "barn_owl",
        "ring": f"SV{1001 + i:05d}",
        "ring_leg": "R",
        "tag": f"999104000000{100 + i}",
        "tag_leg": "L",
        "event": "re-encountered",
        "ringer": "AB",
    } | changed


def test_a_clean_season_gives_nothing(declared):
    assert ask(tag_leg.RULE, season(declared, {}), declared) == []


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_invented_seasons_are_innocent(declared, seed):
    assert ask(tag_leg.RULE, typed_season(declared, **invented_season(seed)), declared) == []


@pytest.mark.parametrize(
    ("changed", "field", "says"),
    [
        (
            {"tag_leg": "R"},
            "tag_leg",
            "Ring and tag are both noted on the right leg; the tag of the others is on the left.",
        ),
        (
            {"ring_leg": "L"},
            "ring_leg",
            "Ring and tag are both noted on the left leg; the ring of the others is on the right.",
        ),
    ],
)
def test_never_both_on_one_leg(declared, changed, field, says):
    answers = ask(tag_leg.RULE, season(declared, {7: changed}), declared)
    assert messages(answers) == [says]
    assert blamed(answers) == {
        ("handlings!9", field): ("tag_leg.same_leg", "L" if field == "tag_leg" else "R")
    }


def test_both_legs_exchanged_are_one_finding(declared):
    answers = ask(tag_leg.RULE, season(declared, {7: {"ring_leg": "L", "tag_leg": "R"}}), declared)
    assert messages(answers) == [
        (
            "The ring is noted on the left leg and the tag on the right; 39 of 40 birds have it the "
            "other way round."
        )
    ]
    assert set(blamed(answers)) == {("handlings!9", "ring_leg"), ("handlings!9", "tag_leg")}


def test_the_tag_alone_against_the_habit(declared):
    answers = ask(tag_leg.RULE, season(declared, {7: {"tag_leg": "R"}}, without=("ring_leg",)), declared)
    assert messages(answers) == ["The tag is noted on the right leg; 39 of 40 birds have it on the left."]
    assert blamed(answers) == {("handlings!9", "tag_leg"): ("tag_leg.against_habit", "L")}


def test_without_a_habit_both_cells_share_the_blame(declared):
    answers = ask(tag_leg.RULE, season(declared, {2: {"tag_leg": "R"}}, n=6), declared)
    assert messages(answers) == [
        "Ring and tag are both noted on the right leg, and nothing tells which of the two is wrong."
    ]
    assert [suspect.p_error for suspect in answers[0].suspects] == [0.5, 0.5]


def test_the_birds_other_visits_decide(declared):
    extra = [again(2), again(2, date=DAY + dt.timedelta(days=20), tag_leg="R")]
    answers = ask(tag_leg.RULE, season(declared, {}, n=6, extra=extra), declared)
    assert blamed(answers) == {("handlings!9", "tag_leg"): ("tag_leg.same_leg", "L")}
    extra[1]["ring_leg"] = None
    answers = ask(tag_leg.RULE, season(declared, {}, n=6, extra=extra), declared)
    assert messages(answers) == [
        "SV01003 has its tag on the right leg here, on the other leg at its other visits."
    ]


def test_a_bird_noted_so_twice_is_innocent(declared):
    legs = {"ring_leg": "L", "tag_leg": "R"}
    assert ask(tag_leg.RULE, season(declared, {2: legs}, extra=[again(2, **legs)]), declared) == []


def test_a_bird_from_elsewhere_is_innocent(declared):
    stranger = again(0, ring="QX00001", tag="999104000000999", ring_leg="L", tag_leg="R")
    assert ask(tag_leg.RULE, season(declared, {}, extra=[stranger]), declared) == []


def test_a_ringer_with_a_habit_of_his_own_is_innocent(declared):
    other = {"ring_leg": "L", "tag_leg": "R", "ringer": "IP"}
    changes = dict.fromkeys(range(12), other)
    assert ask(tag_leg.RULE, season(declared, changes, n=200), declared) == []


def test_a_species_with_a_habit_of_its_own_is_innocent(declared):
    other = {"ring_leg": "L", "tag_leg": "R", "species": "common_kestrel", "ringer": None}
    changes = dict.fromkeys(range(12), other)
    assert ask(tag_leg.RULE, season(declared, changes, n=200), declared) == []


def test_a_mixed_season_has_no_habit(declared):
    changes = {i: {"ring_leg": "L", "tag_leg": "R"} for i in range(0, 40, 3)}
    assert ask(tag_leg.RULE, season(declared, changes), declared) == []


def test_a_leg_without_a_tag_says_nothing(declared):
    assert ask(tag_leg.RULE, season(declared, {3: {"tag": None, "tag_leg": "R"}}), declared) == []


def test_cells_in_doubt_are_left_alone(declared):
    doubted = frozenset({("handlings!9", "ring_leg")})
    assert ask(tag_leg.RULE, season(declared, {7: {"ring_leg": "L"}}), declared, doubted) == []


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 39), st.sampled_from(["ring_leg", "tag_leg"]))
def test_only_the_changed_cell_is_blamed(place, field):
    declared = shipped()
    right = "R" if field == "ring_leg" else "L"
    wrong = "L" if right == "R" else "R"
    answers = ask(tag_leg.RULE, season(declared, {place: {field: wrong}}), declared)
    assert blamed(answers) == {(f"handlings!{place + 2}", field): ("tag_leg.same_leg", right)}
