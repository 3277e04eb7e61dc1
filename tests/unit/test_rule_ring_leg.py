"""Is the metal ring on the usual leg?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from clean_round import broods, seen_again
from typed_season import ask, blamed, typed_season

from audit.declarations import load_declarations
from audit.findings import Finding, NotRun
from audit.rules.ring_leg import RULE

if TYPE_CHECKING:
    from pathlib import Path

SIZES = [5] * 6


def change(rows: list[dict], *indices: int, **cells: object) -> list[dict]:
    return [{**row, **cells} if i in indices else row for i, row in enumerate(rows)]


def test_a_ring_on_the_other_leg() -> None:
    answers = ask(RULE, typed_season(handlings=change(broods(*SIZES), 7, ring_leg="R")))
    assert blamed(answers) == {("handlings!9", "ring_leg"): ("ring_leg.other_leg", "L")}
    (finding,) = [a for a in answers if isinstance(a, Finding)]
    assert finding.message == (
        "The metal ring is said to be on the right leg, but 29 of 30 birds have it on the left leg."
    )


def test_without_a_habit_the_rule_says_so() -> None:
    rows = change(broods(*SIZES), *range(0, 30, 2), ring_leg="R")
    (answer,) = ask(RULE, typed_season(handlings=rows))
    assert isinstance(answer, NotRun)


def test_a_ringer_with_a_habit_of_his_own_is_innocent() -> None:
    rows = change(broods(*[5] * 40), *range(8), ring_leg="R", ringer="MK")
    assert ask(RULE, typed_season(handlings=rows)) == []


def test_a_ring_of_another_scheme_may_be_on_either_leg() -> None:
    rows = change(broods(*SIZES), 7, ring_leg="R", ring="DEK123456", event="re-encountered")
    assert ask(RULE, typed_season(handlings=rows)) == []


def test_a_bird_that_always_has_it_there_is_innocent() -> None:
    rows = broods(*SIZES)
    rows = change(rows + seen_again(rows), 7, 37, ring_leg="R")
    assert ask(RULE, typed_season(handlings=rows)) == []


def test_a_ring_does_not_change_legs() -> None:
    rows = broods(*SIZES)
    rows = change(rows + seen_again(rows) + seen_again(rows, days=28), 37, ring_leg="R")
    answers = ask(RULE, typed_season(handlings=rows))
    assert blamed(answers) == {("handlings!39", "ring_leg"): ("ring_leg.leg_changed", "L")}
    (finding,) = [a for a in answers if isinstance(a, Finding)]
    assert finding.message == (
        "Ring SV01038 is on the left leg in 2 rows and on the right leg in 1: "
        "a closed ring does not change legs."
    )


def test_of_two_rows_the_habit_tells_which_is_wrong() -> None:
    rows = broods(*SIZES)
    rows = change(rows + seen_again(rows), 7, ring_leg="R")
    answers = ask(RULE, typed_season(handlings=rows))
    assert set(blamed(answers)) == {("handlings!9", "ring_leg")}


def test_a_prescribed_leg_needs_no_habit(tmp_path: Path) -> None:
    (tmp_path / "rings.yaml").write_text(
        "legs:\n  ring: {value: L, source: rules of the Sallow Levels round, grade: common practice}\n"
    )
    declared = load_declarations(tmp_path)
    season = typed_season(handlings=change(broods(3), 1, ring_leg="R"))
    assert ask(RULE, season) != ask(RULE, season, declared)
    (finding,) = [a for a in ask(RULE, season, declared) if isinstance(a, Finding)]
    assert blamed([finding]) == {("handlings!3", "ring_leg"): ("ring_leg.other_leg", "L")}
    assert finding.message == (
        "The metal ring is said to be on the right leg, but metal rings go on the left leg here."
    )


def test_a_changed_leg_is_told_by_the_habit_of_who_ringed() -> None:
    # AB rings on the left, IP on the right: no habit of the team, but one of each
    rows = [
        {
            "ring": f"SV{i:05d}",
            "ring_leg": "L" if i % 2 else "R",
            "event": "ringed",
            "ringer": "AB" if i % 2 else "IP",
        }
        for i in range(40)
    ]
    again = [{**row, "event": "re-encountered", "ringer": "AB"} for row in rows]
    again[6]["ring_leg"] = "L"
    season = typed_season(handlings=rows + again)
    (finding,) = [answer for answer in ask(RULE, season) if hasattr(answer, "suspects")]
    assert blamed([finding]) == {("handlings!48", "ring_leg"): ("ring_leg.leg_changed", "R")}


def without_ringer(rows: list[dict]) -> list[dict]:
    return [{name: cell for name, cell in row.items() if name != "ringer"} for row in rows]


@pytest.mark.parametrize("times", [1, 2])
def test_where_nothing_tells_the_leg_either_may_be_wrong(times: int) -> None:
    bird = {"ring": "SV00001", "event": "ringed"}
    rows = [{**bird, "ring_leg": leg} for leg in "LR" for _ in range(times)]
    for season in (
        typed_season(handlings=rows),
        typed_season(handlings=[{**row, "ringer": "AB"} for row in rows]),
    ):
        (finding,) = [answer for answer in ask(RULE, season) if isinstance(answer, Finding)]
        told = {(one.cell.label, one.suggested, one.p_error, one.p_fix) for one in finding.suspects}
        assert told == {(f"handlings!{i + 2}", "", 0.5, None) for i in range(2 * times)}


def test_legs_are_told_without_a_column_for_the_ringer() -> None:
    rows = without_ringer(broods(*SIZES))
    answers = ask(RULE, typed_season(handlings=change(rows, 7, ring_leg="R")))
    assert blamed(answers) == {("handlings!9", "ring_leg"): ("ring_leg.other_leg", "L")}
    rows = rows + without_ringer(seen_again(broods(*SIZES)))
    answers = ask(RULE, typed_season(handlings=change(rows, 7, ring_leg="R")))
    assert set(blamed(answers)) == {("handlings!9", "ring_leg")}


@pytest.mark.parametrize(("odd", "blames"), [((7,), 1), ((7, 12), 0)])
def test_nineteen_of_twenty_are_a_habit(odd: tuple[int, ...], blames: int) -> None:
    rows = without_ringer(broods(*[5] * 4))
    answers = ask(RULE, typed_season(handlings=change(rows, *odd, ring_leg="R")))
    assert len(blamed(answers)) == blames


@pytest.mark.parametrize(
    ("ringed", "left", "told"), [(8, 8, True), (7, 7, False), (10, 9, True), (9, 8, False)]
)
def test_eight_birds_show_the_leg_of_a_ringer_who_keeps_to_it_nine_times_in_ten(
    ringed: int, left: int, *, told: bool
) -> None:
    rows = [
        {"ring": f"SV{i:05d}", "ring_leg": "L" if i < left else "R", "event": "ringed", "ringer": "AB"}
        for i in range(ringed)
    ]
    again = {**rows[0], "event": "re-encountered", "ring_leg": "R"}
    (finding,) = [a for a in ask(RULE, typed_season(handlings=[*rows, again])) if isinstance(a, Finding)]
    again_alone = {(f"handlings!{ringed + 2}", "ring_leg"): ("ring_leg.leg_changed", "L")}
    assert (blamed([finding]) == again_alone) is told
