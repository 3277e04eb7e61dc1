"""Does each bird grow and age as birds do between visits? Golden sentences and innocent look-alikes."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from simulated_broods import mass_at, wing_at
from typed_season import ask, blamed, typed_season

from audit.declarations import load_declarations
from audit.findings import Finding
from audit.rules.history import RULE

Row = dict[str, Any]
DECLARED = load_declarations()
FIRST, SECOND, THIRD = "handlings!2", "handlings!3", "handlings!4"


def day(month: int, number: int, year: int = 2026) -> dt.date:
    return dt.date(year, month, number)


def life(*meetings: Row, **shared: Any) -> list[Row]:
    bird = {"box": "SL-01", "species": "barn owl", "ring": "SV01001", "age": "1", **shared}
    return [{**bird, **meeting} for meeting in meetings]


def findings(rows: list[Row], **kwargs: Any) -> list[Finding]:
    return [
        answer for answer in ask(RULE, typed_season(handlings=rows), **kwargs) if isinstance(answer, Finding)
    ]


def only(rows: list[Row]) -> Finding:
    (finding,) = findings(rows)
    return finding


def cells(finding: Finding) -> list[tuple[str, str, str]]:
    return [(suspect.cell.label, suspect.cell.field, suspect.suggested) for suspect in finding.suspects]


GROWING = (
    {"date": day(6, 1), "wing_mm": 130, "net_g": 310},
    {"date": day(6, 15), "wing_mm": 200, "net_g": 350},
)


@pytest.mark.parametrize(
    "innocent",
    [
        life(*GROWING),
        life(*GROWING, tag="999000000000001"),
        # a full-grown nestling hardly grows, and a reading may be 2 mm short
        life(
            {"date": day(6, 1), "wing_mm": 284, "net_g": 330},
            {"date": day(6, 15), "wing_mm": 282, "net_g": 320},
        ),
        # nestling, fledged, one year old, older
        life(
            {"date": day(6, 1)},
            {"date": day(8, 15), "age": "3"},
            {"date": day(6, 15, 2027), "age": "5"},
            {"date": day(6, 15, 2028), "age": "6"},
        ),
        life({"date": day(6, 1), "age": "4", "sex": "F"}, {"date": day(6, 15), "age": "4", "sex": "U"}),
        life({"date": day(6, 1), "age": "2"}, {"date": day(6, 15), "age": "4"}),
        # the same bird written twice on one day is another rule's business
        life({"date": day(6, 1), "wing_mm": 130}, {"date": day(6, 1), "wing_mm": 200}),
        life({"date": day(6, 1), "condition": "weak"}, {"date": day(6, 15)}),
        life({"date": day(6, 1)}, {"date": day(6, 15), "condition": "dead"}),
        # a meal in between
        life(
            {"date": day(6, 1), "wing_mm": 205, "net_g": 350},
            {"date": day(6, 3), "wing_mm": 213, "net_g": 390},
        ),
    ],
)
def test_ordinary_lives_are_left_alone(innocent: list[Row]) -> None:
    assert findings(innocent) == []


def test_a_wing_that_shrinks_blames_the_one_that_does_not_fit_its_mass() -> None:
    rows = life(GROWING[0], {**GROWING[1], "wing_mm": 120})
    finding = only(rows)
    assert finding.rule == "history.wing_shrinks"
    assert finding.severity == "error"
    assert cells(finding) == [(SECOND, "wing_mm", "210")]
    assert finding.message == (
        "The wing of ring SV01001 went from 130 to 120 mm in 14 days: wings do not become shorter; "
        "210 mm on 2026-06-15 would fit."
    )


def test_of_three_wings_the_odd_one_is_blamed() -> None:
    rows = life(
        {"date": day(6, 1), "wing_mm": 180, "net_g": 340},
        {"date": day(6, 15), "wing_mm": 120, "net_g": 350},
        {"date": day(6, 22), "wing_mm": 262, "net_g": 345},
    )
    finding = only(rows)
    assert {label for label, _, _ in cells(finding)} == {SECOND}
    assert [witness.label for witness in finding.witnesses] == [FIRST, THIRD]


def test_two_wings_that_fit_equally_badly_share_the_blame() -> None:
    rows = life(GROWING[0], {**GROWING[1], "wing_mm": 250}, tag="999000000000001")
    finding = only(rows)
    assert finding.rule == "history.wing_pace"
    assert {(label, field) for label, field, _ in cells(finding)} == {(FIRST, "wing_mm"), (SECOND, "wing_mm")}
    assert sum(suspect.p_error for suspect in finding.suspects) <= 1
    assert finding.message == (
        "The wing of ring SV01001 went from 130 to 250 mm in 14 days, 8.6 mm a day, where about 206 mm is "
        "expected; either may be wrong."
    )


def test_another_wing_and_another_tag_are_another_bird() -> None:
    rows = life(
        {**GROWING[0], "tag": "999000000000001"}, {**GROWING[1], "wing_mm": 250, "tag": "999000000000002"}
    )
    finding = only(rows)
    assert finding.rule == "history.ring"
    assert cells(finding) == [(SECOND, "ring", "")]
    assert finding.message == (
        "Ring SV01001 has a wing of 130 mm on 2026-06-01 and of 250 mm on 2026-06-15, and another tag each "
        "time: these are probably two birds, and one ring was misread."
    )


def test_a_species_without_a_curve_is_told_only_what_is_sure() -> None:
    shrunk = life(
        {"date": day(6, 1), "wing_mm": 120}, {"date": day(6, 10), "wing_mm": 100}, species="kestrel"
    )
    assert only(shrunk).rule == "history.wing_shrinks"
    fast = life({"date": day(6, 1), "wing_mm": 60}, {"date": day(6, 5), "wing_mm": 160}, species="kestrel")
    assert only(fast).rule == "history.wing_pace"
    assert (
        findings(
            life({"date": day(6, 1), "wing_mm": 60}, {"date": day(6, 10), "wing_mm": 125}, species="kestrel")
        )
        == []
    )


def test_a_brood_may_be_in_the_nest_over_new_year() -> None:
    assert findings(life({"date": day(12, 20)}, {"date": day(1, 6, 2027)})) == []


def test_a_full_grown_wing_does_not_change() -> None:
    rows = life({"date": day(6, 1), "wing_mm": 290}, {"date": day(7, 1), "wing_mm": 260}, age="4")
    assert {field for _, field, _ in cells(only(rows))} == {"wing_mm"}
    assert (
        findings(life({"date": day(6, 1), "wing_mm": 290}, {"date": day(7, 1), "wing_mm": 284}, age="4"))
        == []
    )


@pytest.mark.parametrize(
    ("rows", "rule", "blame", "message"),
    [
        (
            life({"date": day(6, 1), "age": "4"}, {"date": day(6, 15)}),
            "history.age_code",
            [(FIRST, "age", ""), (SECOND, "age", "")],
            (
                "Ring SV01001 has age code 4 on 2026-06-01 and 1 on 2026-06-15: "
                "a full-grown bird does not become a nestling."
            ),
        ),
        (
            life({"date": day(6, 1), "age": "4", "wing_mm": 130}, {"date": day(6, 15), "wing_mm": 200}),
            "history.age_code",
            [(FIRST, "age", "")],
            (
                "Ring SV01001 has age code 4 on 2026-06-01 and 1 on 2026-06-15: "
                "a full-grown bird does not become a nestling."
            ),
        ),
        (
            life({"date": day(6, 1), "age": "3"}, {"date": day(6, 15), "age": "5"}),
            "history.age_code",
            [(FIRST, "age", ""), (SECOND, "age", "")],
            "Ring SV01001 has age code 3 on 2026-06-01 and 5 on 2026-06-15: both cannot be true.",
        ),
        (
            life({"date": day(6, 1)}, {"date": day(6, 15, 2027)}),
            "history.nestling_too_long",
            [(SECOND, "age", "")],
            (
                "Ring SV01001 is on a nestling on 2026-06-01 and again 379 days later: a barn owl has long "
                "left the box by then; the later age code is the likelier mistake."
            ),
        ),
        (
            life({"date": day(4, 1)}, {"date": day(8, 15)}),
            "history.nestling_too_long",
            [(SECOND, "ring", "")],
            (
                "Ring SV01001 is on a nestling on 2026-04-01 and again 136 days later: a barn owl has long "
                "left the box by then; the later ring is the likelier mistake."
            ),
        ),
        (
            life({"date": day(6, 1), "sex": "M"}, {"date": day(6, 15), "sex": "F"}, age="4"),
            "history.sex",
            [(FIRST, "sex", "F"), (SECOND, "sex", "M")],
            "Ring SV01001 is M on 2026-06-01 but F on 2026-06-15.",
        ),
        (
            life(
                {"date": day(6, 1), "sex": "F"},
                {"date": day(6, 15), "sex": "M"},
                {"date": day(6, 25), "sex": "F"},
                age="4",
            ),
            "history.sex",
            [(SECOND, "sex", "F")],
            "Ring SV01001 is F on 2026-06-01 but M on 2026-06-15.",
        ),
        (
            life({"date": day(6, 1)}, {"date": day(6, 15), "species": "kestrel"}),
            "history.species",
            [(FIRST, "species", ""), (SECOND, "species", "")],
            (
                "Ring SV01001 stands on two species, barn owl and common kestrel, on 2026-06-01 and "
                "2026-06-15: a ring was misread or a species is wrong."
            ),
        ),
        (
            life({"date": day(6, 1), "condition": "found dead"}, {"date": day(6, 15)}),
            "history.alive_after_dead",
            [(SECOND, "ring", ""), (FIRST, "condition", "")],
            (
                "Ring SV01001 was on a dead bird on 2026-06-01 and on a live one on 2026-06-15: "
                "either the later ring or the earlier condition is wrong."
            ),
        ),
        (
            life(
                {"date": day(6, 1), "wing_mm": 205, "net_g": 450},
                {"date": day(6, 10), "wing_mm": 245, "net_g": 190},
            ),
            "history.mass_change",
            [(FIRST, "net_g", ""), (SECOND, "net_g", "")],
            (
                "The mass of ring SV01001 went from 450 to 190 g in 9 days: nestlings do not change so much; "
                "either may be wrong."
            ),
        ),
    ],
)
def test_what_cannot_be(rows: list[Row], rule: str, blame: list[tuple[str, str, str]], message: str) -> None:
    finding = only(rows)
    assert finding.rule == rule
    assert cells(finding) == blame
    assert finding.message == message
    assert sum(suspect.p_error for suspect in finding.suspects) <= 1 + 1e-9


def test_a_species_that_stands_alone_beside_a_brood_is_blamed() -> None:
    brood = life({"date": day(6, 1)}, {"date": day(6, 15), "species": "kestrel"})
    siblings = life({"date": day(6, 1)}, {"date": day(6, 15)}, ring="SV01002")
    finding = only([*brood, *siblings])
    assert cells(finding) == [(SECOND, "species", "barn owl")]


def test_one_finding_for_one_ring() -> None:
    rows = life(
        {"date": day(6, 1), "sex": "M", "age": "4", "wing_mm": 290},
        {"date": day(6, 15), "sex": "F", "age": "1", "wing_mm": 120},
    )
    assert len(findings(rows)) == 1


def test_a_cell_in_doubt_is_no_witness() -> None:
    rows = life(GROWING[0], {**GROWING[1], "wing_mm": 120})
    for cell in ((SECOND, "wing_mm"), (SECOND, "ring")):
        assert findings(rows, doubted=frozenset({cell})) == []


def test_birds_met_once_say_nothing() -> None:
    assert findings(life({"date": day(6, 1), "wing_mm": 130})) == []
    assert findings([{"date": day(6, 1), "box": "SL-01", "ring": None} for _ in range(3)]) == []


@settings(max_examples=40, deadline=None)
@given(
    st.integers(12, 50),
    st.integers(4, 20),
    st.floats(-8, 8),
    st.floats(-8, 8),
    st.floats(0.85, 1.2),
)
def test_ordinary_growth_is_left_alone(age: int, gap: int, first: float, second: float, heavy: float) -> None:
    rows = life(
        *(
            {
                "date": day(6, 1) + dt.timedelta(days=t - age),
                "wing_mm": float(round(wing_at(t) + off * min(t, 12) / 12)),
                "net_g": float(round(heavy * mass_at(t))),
            }
            for t, off in ((age, first), (age + gap, max(second, first - 2)))
        )
    )
    assert blamed(ask(RULE, typed_season(DECLARED, handlings=rows), DECLARED)) == {}


def test_a_meeting_under_another_species_says_nothing_about_the_wings() -> None:
    rows = life(
        {"date": day(6, 1), "wing_mm": 190.0, "net_g": 340.0},
        {"date": day(6, 8), "wing_mm": 200.0, "net_g": 350.0, "species": "common_kestrel"},
        {"date": day(6, 15), "wing_mm": 120.0, "net_g": 350.0},
        age="1",
        species="barn_owl",
    )
    blame = {
        field for finding in findings(rows) for suspect in finding.suspects for field in [suspect.cell.field]
    }
    assert blame <= {"wing_mm", "species", "ring"}
    assert blame
