"""Values that may have been meant beside the one suggested: which are named, and how likely they are."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from clean_round import broods
from hypothesis import given
from hypothesis import strategies as st
from invented import Style, invented_season
from typed_season import ask, typed_season

from audit.checking import check
from audit.declarations import load_declarations
from audit.practice.planting import plant
from audit.rules import boxes as rule_boxes
from audit.rules.others import others_of

DECLARED = load_declarations()
LIMITS = {"least": 0.02, "most": 3}


def others(candidates, suggested="", typed="", room=1.0):
    return others_of(candidates, suggested=suggested, typed=typed, room=room, **LIMITS)


# what is named


def test_neither_the_suggestion_nor_what_is_typed_nor_nothing():
    told = [("SV01005", 0.6), ("SV01050", 0.2), ("SV01500", 0.1), ("", 0.1), (None, 0.1)]
    assert others(told, "SV01005", "sv01050", room=0.4) == (("SV01500", 0.1),)


@pytest.mark.parametrize("typed", ["20.5", "20,5", "20,50", " 20.50 "])
def test_a_number_written_in_another_way_is_what_is_typed(typed):
    assert others([(20.5, 0.3), (25.0, 0.2)], typed=typed) == (("25", 0.2),)


def test_codes_are_no_numbers():
    assert others([("0041", 0.3)], typed="41") == (("0041", 0.3),)


def test_parts_of_one_value_add_up():
    assert others([(373.0, 0.1), ("355", 0.15), (373, 0.1)]) == (("373", 0.2), ("355", 0.15))


def test_they_make_no_more_than_what_the_suggestion_leaves():
    # 0.95 wrong, 0.8 of it the suggestion: 0.15 is left for 0.2 and 0.1
    assert others([("a", 0.2), ("b", 0.1)], room=0.15) == (
        ("a", pytest.approx(0.1)),
        ("b", pytest.approx(0.05)),
    )
    assert others([("a", 0.2)], room=0.0) == ()


@given(
    told=st.lists(
        st.tuples(st.sampled_from(["", "1", "1.0", "12", "1,2", 12.0, None, "AB"]), st.floats(0, 1))
    ),
    suggested=st.sampled_from(["", "12", "AB"]),
    typed=st.sampled_from(["", "1.20", "ab", "1"]),
    room=st.floats(-0.5, 1),
)
def test_whatever_is_weighed(told, suggested, typed, room):
    found = others(told, suggested, typed, room)
    chances = [p for _, p in found]
    assert len(found) <= LIMITS["most"]
    assert chances == sorted(chances, reverse=True)
    assert all(p >= LIMITS["least"] for p in chances)
    assert sum(chances) <= max(room, 0) + 1e-9
    texts = [text for text, _ in found]
    assert len(texts) == len(set(texts))
    assert not set(texts) & {"", suggested}
    assert not {text.casefold() for text in texts} & {typed.casefold()}


# what a report says


@cache
def spoilt(seed):
    """A season with slips of all kinds."""
    rng = np.random.default_rng([seed, 63])
    clean = typed_season(DECLARED, **invented_season(seed, Style(boxes=24, second_visit=0.7)))
    return plant(clean, DECLARED, rng, number=30)[0]


@cache
def report(seed):
    return check(spoilt(seed), schemas=DECLARED)


@pytest.mark.parametrize("seed", [611, 612, 613])
def test_every_suspect_keeps_to_it(seed):
    named = 0
    for finding in report(seed).findings:
        for suspect in finding.suspects:
            values = [value for value, _ in suspect.others]
            chances = [p for _, p in suspect.others]
            named += bool(values)
            assert len(values) == len(set(values)) <= 3
            assert chances == sorted(chances, reverse=True)
            assert suspect.suggested not in values
            assert suspect.cell.observed.strip().casefold() not in [value.casefold() for value in values]
            if values:
                assert sum(chances) + (suspect.p_fix or 0) <= suspect.p_error + 1e-9
    assert named


def test_others_change_nothing_else(monkeypatch):
    plain = report(611)
    monkeypatch.setattr("audit.rules.case.others_of", lambda *_, **__: ())
    monkeypatch.setattr("audit.explain.unread.others_of", lambda *_, **__: ())
    without = check(spoilt(611), schemas=DECLARED)
    assert not any(suspect.others for finding in without.findings for suspect in finding.suspects)
    assert without.rows() == plain.rows()


# what a rule that cannot tell names


def test_of_two_boxes_one_slip_away_both_are_named():
    rows = broods(3, 4, 5, 3, 4)
    rows[9] = {**rows[9], "box": "SL-47"}
    # without a place in the sheet or a visit that tells, SL-46 and SL-48 are as near
    listed = [{"box": f"SL-{n:02d}"} for n in (*range(1, 6), 46, 48)]
    (finding,) = [
        answer
        for answer in ask(rule_boxes.RULE, typed_season(handlings=rows, boxes=listed))
        if getattr(answer, "rule", "") == "boxes.unknown"
    ]
    (suspect,) = finding.suspects
    assert suspect.suggested == ""
    even = DECLARED.rules["boxes"].outcomes["unknown"].p_fix / 2
    assert suspect.others == (("SL-46", pytest.approx(even)), ("SL-48", pytest.approx(even)))
