"""Do mass and wing fit the species? Golden sentences, one slip each, and innocent look-alikes."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from simulated_broods import mass_at, wing_at
from typed_season import ask, blamed, typed_season

from audit.declarations import load_declarations
from audit.findings import Finding, NotRun
from audit.rules.growth import RULE

Row = dict[str, Any]
DAY = dt.date(2026, 6, 10)

# a Welsh brood printed by the local ringers (read): four wings and masses, nothing wrong
BROOD = [(153, 355), (169, 388), (192, 405), (207, 376)]
LAST = "handlings!5"


def brood(species: str = "barn owl", pairs: list[tuple[float, float]] = BROOD, **last: Any) -> list[Row]:
    rows: list[Row] = [
        {
            "date": DAY,
            "box": "SL-01",
            "species": species,
            "ring": f"SV010{i:02d}",
            "age": "1",
            "wing_mm": wing,
            "net_g": mass,
        }
        for i, (wing, mass) in enumerate(pairs)
    ]
    rows[-1].update(last)
    return rows


def findings(rows: list[Row], **kwargs: Any) -> list[Finding]:
    answers = ask(RULE, typed_season(handlings=rows), **kwargs)
    return [answer for answer in answers if isinstance(answer, Finding)]


def only(rows: list[Row]) -> Finding:
    (finding,) = findings(rows)
    return finding


def cells(finding: Finding) -> list[tuple[str, str, str]]:
    return [(suspect.cell.label, suspect.cell.field, suspect.suggested) for suspect in finding.suspects]


def test_how_far_a_wing_may_lie_from_those_of_its_siblings() -> None:
    # from one ringed sibling to the next lie 11 days at most (236 gaps, Swiss broods); here lie 19
    young = [(162, 348), (156, 331), (141, 328)]
    assert only(brood(pairs=[*young, (249, 288)])).message == (
        "Wing 249 mm and net 288 g: this barn owl is of another age than the others of its box; "
        "check wing, box and date, or note that it was fostered."
    )
    said = only(brood(pairs=[*young, (249, 288)], remarks="fostered from SL-03"))
    assert (said.rule, said.severity) == ("growth.stranger_said", "note")
    assert said.message.endswith('of its box; the remark "fostered from SL-03" accounts for that.')
    # 9 days before the next, and one bird after the other down a brood of seven, are no slips
    assert findings(brood(pairs=[*young, (205, 330)])) == []
    seven = [(141, 330), (156, 345), (169, 345), (182, 350), (194, 355), (207, 355), (218, 355)]
    assert findings(brood(pairs=seven)) == []


def flycatchers(*, first: list[tuple[float, float]]) -> list[Row]:
    """Twelve broods of which only the first was visited at another age than ten days."""
    usual = [(44.0, 13.9), (42.0, 14.4), (39.0, 14.6), (37.0, 13.0), (34.0, 14.2)]
    rows: list[Row] = []
    for box in range(12):
        some = brood("pied flycatcher", first if box == 0 else usual)
        rows += [
            row | {"box": f"SL-{box:02d}", "ring": f"X{box:02d}{i:03d}", "net_g": row["net_g"] + box % 3 / 10}
            for i, row in enumerate(some)
        ]
    return rows


def test_a_brood_younger_than_all_others_is_foretold_by_itself() -> None:
    # von Haartman's curve (as declared) has 4.6 g at 2.5 days and 7.6 g at 4.2 days
    young = [(15.0, 7.1), (14.0, 6.5), (14.0, 5.4), (13.0, 4.6), (12.0, 3.8)]
    assert findings(flycatchers(first=young)) == []
    # ten times as much is no young brood
    slip = only(flycatchers(first=[*young[:4], (12.0, 38.0)]))
    assert [at[:2] for at in cells(slip)] == [("handlings!6", "net_g")]


def test_a_real_brood_is_left_alone() -> None:
    assert findings(brood()) == []


@pytest.mark.parametrize(
    ("slip", "rule", "suggested", "message"),
    [
        (
            {"net_g": 37.6},
            "growth.tenfold",
            {"net_g": "376"},
            (
                "Net 37.6 g is ten times too small: a barn owl with a wing of 207 mm beside these "
                "siblings weighs about 392 g (325 to 460 g); 376 g fits."
            ),
        ),
        (
            {"net_g": 3760},
            "growth.tenfold",
            {"net_g": "376"},
            (
                "Net 3760 g is ten times too large: a barn owl with a wing of 207 mm beside these "
                "siblings weighs about 394 g (325 to 462 g); 376 g fits."
            ),
        ),
        (
            {"wing_mm": 2070},
            "growth.tenfold",
            {"wing_mm": "207"},
            (
                "Wing 2070 mm is ten times too large: a barn owl of 376 g beside these siblings "
                "measures about 173 mm (124 to 223 mm); 207 mm fits."
            ),
        ),
        (
            {"wing_mm": 20.7},
            "growth.centimetres",
            {"wing_mm": "207"},
            (
                "Wing 20.7 was typed in centimetres: a barn owl of 376 g beside these siblings "
                "measures about 174 mm (122 to 226 mm); 207 mm fits."
            ),
        ),
        (
            {"wing_mm": 376, "net_g": 207},
            "growth.columns_exchanged",
            {"wing_mm": "207", "net_g": "376"},
            (
                "Wing 376 mm and net 207 g stand in each other's column: "
                "wing 207 mm and net 376 g fit a barn owl."
            ),
        ),
        (
            {"net_g": 876},
            "growth.mass_for_wing",
            {"net_g": "376"},
            (
                "Net 876 g is unlikely: a barn owl with a wing of 207 mm beside these siblings weighs "
                "about 394 g (325 to 462 g); 376 g would fit."
            ),
        ),
        (
            {"age_days": 4},
            "growth.age_days",
            {"age_days": ""},
            "Wing 207 mm and net 376 g are those of a barn owl of about 44 days, but the age says 4 days.",
        ),
        (
            {"hatch_date": dt.date(2026, 6, 1)},
            "growth.age_days",
            {"hatch_date": ""},
            (
                "Wing 207 mm and net 376 g are those of a barn owl of about 44 days, but the hatching "
                "date makes this bird 9 days old."
            ),
        ),
        (
            {"age": "4"},
            "growth.age_code",
            {"age": "1"},
            "Wing 207 mm and net 376 g are those of a nestling, but age code 4 says full-grown.",
        ),
        (
            {"wing_mm": 0},
            "growth.nought",
            {"wing_mm": ""},
            "Wing is 0 mm: leave the cell empty when it was not measured.",
        ),
        (
            {"wing_mm": 997, "net_g": 4},
            "growth.both",
            {"wing_mm": "", "net_g": ""},
            "Wing 997 mm and net 4 g are both far from anything known of a barn owl.",
        ),
    ],
)
def test_one_slip_is_named(slip: Row, rule: str, suggested: dict[str, str], message: str) -> None:
    finding = only(brood(**slip))
    assert finding.rule == rule
    assert {at[1]: at[2] for at in cells(finding)} == suggested
    assert {at[0] for at in cells(finding)} == {LAST}
    assert finding.message == message
    assert all(0.5 < suspect.p_error <= 1 for suspect in finding.suspects)


def test_a_wing_grown_too_long_blames_wing_or_code_but_no_mass() -> None:
    finding = only(brood(wing_mm=307))
    assert finding.rule == "growth.unclear"
    assert {field for _, field, _ in cells(finding)} == {"age", "wing_mm"}
    assert sum(suspect.p_error for suspect in finding.suspects) <= 1


def test_a_wing_is_held_against_the_own_other_one_and_the_siblings_advance() -> None:
    later = [{**row, "date": DAY + dt.timedelta(days=12)} for row in brood()]
    for row, wing in zip(later, (209, 224, 243, 257), strict=True):
        row.update(wing_mm=wing, net_g=360)
    assert findings([*brood(), *later]) == []
    later[1]["wing_mm"] = 294
    finding = only([*brood(), *later])
    assert finding.rule == "growth.wing"
    assert cells(finding) == [("handlings!7", "wing_mm", "224")]
    assert finding.message == (
        "Wing 294 mm is unlikely: a barn owl of 360 g beside its other visits and siblings measures about "
        "227 mm (213 to 241 mm); 224 mm would fit."
    )


def test_an_unusual_wing_that_no_slip_explains_is_only_remarked_on() -> None:
    later = [{**row, "date": DAY + dt.timedelta(days=12)} for row in brood()]
    for row, wing in zip(later, (209, 224, 243, 257), strict=True):
        row.update(wing_mm=wing, net_g=360)
    later[2]["wing_mm"] = 268
    finding = only([*brood(), *later])
    assert finding.rule == "growth.unusual"
    assert finding.severity == "note"
    assert finding.message == (
        "Wing 268 mm is 4.7 standard deviations above what is expected: a barn owl of 360 g beside its other "
        "visits and siblings measures about 241 mm (229 to 253 mm); look again, though it may be right."
    )


@pytest.mark.parametrize(
    "innocent", [{"age_days": 44}, {"age_days": 40}, {"hatch_date": dt.date(2026, 4, 27)}]
)
def test_an_age_that_fits_is_left_alone(innocent: Row) -> None:
    assert findings(brood(**innocent)) == []


@pytest.mark.parametrize(("wing", "mass"), [(207, 250), (207, 460), (205, 373), (205, 343)])
def test_light_and_heavy_birds_are_left_alone(wing: float, mass: float) -> None:
    """Three standard deviations either way, and an unsubtracted bag of 30 g, are within what birds do."""
    assert findings(brood(wing_mm=wing, net_g=mass)) == []


def test_a_runt_is_left_alone_where_as_heavy_a_bird_is_not() -> None:
    """The lower tail is real (starving young): 155 g below is a runt, but 210 g above is a slip."""
    pairs = [(200.0, 350.0), (205.0, 360.0), (210.0, 345.0), (205.0, 355.0)]
    (remark,) = findings(brood(pairs=pairs, net_g=200))
    assert remark.severity == "note"
    assert remark.suspects[0].p_error < 0.1
    assert only(brood(pairs=pairs, net_g=565)).rule == "growth.mass_for_wing"


def test_adults_are_held_against_adults() -> None:
    adult = {"date": DAY, "box": "SL-01", "species": "barn owl", "ring": "SV00950", "age": "4"}
    good = {**adult, "wing_mm": 294, "net_g": 345}
    assert findings([*brood(), good]) == []
    assert cells(only([*brood(), {**good, "wing_mm": 29.4}])) == [("handlings!6", "wing_mm", "294")]
    assert cells(only([*brood(), {**good, "net_g": 34.5}])) == [("handlings!6", "net_g", "345")]


def test_gross_less_bag_stands_in_for_net() -> None:
    rows = brood()
    for row in rows:
        row["gross_g"], row["bag_g"] = row.pop("net_g") + 22, 22
    assert findings(rows) == []
    rows[-1]["gross_g"] = 3982
    finding = only(rows)
    assert [at[1] for at in cells(finding)] == ["gross_g"]


def test_a_net_that_an_earlier_rule_blamed_is_no_witness() -> None:
    rows = brood(net_g=3760)
    rows[-1]["gross_g"], rows[-1]["bag_g"] = 398, 22
    assert findings(rows, doubted=frozenset({(LAST, "net_g")})) == []


def test_net_worked_out_from_a_wrong_gross_blames_both() -> None:
    rows = brood(net_g=3760, gross_g=3782, bag_g=22)
    finding = only(rows)
    assert {field: meant for _, field, meant in cells(finding)} == {"net_g": "376", "gross_g": "398"}


def test_mass_and_wing_of_another_species_blame_the_species() -> None:
    adult = {"date": DAY, "ring": "SV00950", "age": "4"}
    rows = [
        *brood(),
        {**adult, "box": "SL-02", "species": "great tit", "wing_mm": 75, "net_g": 18.1},
        {**adult, "box": "SL-03", "species": "great tit", "wing_mm": 291, "net_g": 340},
    ]
    finding = only(rows)
    assert finding.rule == "growth.species"
    assert cells(finding) == [("handlings!7", "species", "barn owl")]
    assert finding.message == "Wing 291 mm and net 340 g fit a barn owl, not a great tit."


def test_wings_of_a_species_without_a_curve_are_held_against_siblings() -> None:
    pairs = [(112.0, 199.0), (108.0, 190.0), (115.0, 205.0), (110.0, 195.0)]
    assert findings(brood("kestrel", pairs)) == []
    finding = only(brood("kestrel", pairs, wing_mm=11.2))
    assert cells(finding) == [(LAST, "wing_mm", "112")]


def test_what_could_not_be_run_is_said_once() -> None:
    pairs = [(112.0, 199.0), (108.0, 190.0)]
    answers = ask(RULE, typed_season(handlings=[*brood("kestrel", pairs), *brood("kestrel", pairs)]))
    assert answers == [
        NotRun(
            "growth.wing",
            (
                "no growth curve is declared for wings of the common kestrel: in nestlings they were "
                "only held against siblings and the largest adult"
            ),
        )
    ]


def test_a_sheet_without_species_is_taken_for_owls_and_says_so() -> None:
    rows = brood(net_g=3760)
    for row in rows:
        del row["species"]
    answers = ask(RULE, typed_season(handlings=rows))
    assert answers[0] == NotRun(
        "growth.species", "there is no species column: every bird was taken for a barn owl"
    )
    assert set(blamed(answers)) == {(LAST, "net_g")}


def test_an_unknown_species_is_left_out_and_named() -> None:
    answers = ask(RULE, typed_season(handlings=brood("phoenix")))
    assert answers == [
        NotRun("growth.species", "no declared species is called 'phoenix': 4 rows were left out")
    ]


def test_without_masses_and_wings_nothing_runs() -> None:
    rows = [{"date": DAY, "box": "SL-01", "ring": "SV01001"}]
    assert ask(RULE, typed_season(handlings=rows)) == [
        NotRun("growth.mass", "there is no column of masses or wings")
    ]


def test_a_habit_of_noughts_is_no_slip() -> None:
    rows = brood()
    for row in rows[:3]:
        row["wing_mm"] = 0
    answers = ask(RULE, typed_season(handlings=rows))
    assert NotRun("growth.nought", "0 stands 3 times for wing: it was taken for not measured") in answers
    assert blamed(answers) == {}


DECLARED = load_declarations()


@settings(max_examples=40, deadline=None)
@given(
    st.integers(12, 60),
    st.lists(st.integers(0, 9), min_size=1, max_size=5),
    st.floats(0.85, 1.2),
    st.floats(-1.5, 1.5),
)
def test_ordinary_broods_are_left_alone(oldest: int, gaps: list[int], heavy: float, luck: float) -> None:
    pairs = []
    age = float(oldest)
    for gap in (0, *gaps):
        age = max(age - gap, 8.0)
        mass = heavy * (mass_at(age) + luck * min(2.5 + 1.35 * age, 35) * 0.6)
        pairs.append((float(round(wing_at(age))), float(round(mass))))
    rows = brood(pairs=pairs)
    assert blamed(ask(RULE, typed_season(DECLARED, handlings=rows), DECLARED)) == {}


@settings(max_examples=25, deadline=None)
@given(st.integers(20, 60), st.sampled_from(["wing_mm", "net_g"]), st.sampled_from([10.0, 0.1]))
def test_a_tenfold_slip_is_always_found_beside_siblings(age: int, field: str, times: float) -> None:
    ages = (age, age - 2, age - 5, age - 6)
    pairs = [(float(round(wing_at(t))), float(round(mass_at(t)))) for t in reversed(ages)]
    right = pairs[-1][0] if field == "wing_mm" else pairs[-1][1]
    rows = brood(pairs=pairs)
    rows[-1][field] = round(right * times, 1)
    found = blamed(ask(RULE, typed_season(DECLARED, handlings=rows), DECLARED))
    assert set(found) == {(LAST, field)}
    # a lost nought may as well be another lost digit; a point in a column of whole numbers may not
    offered = found[LAST, field][1]
    assert offered in ((f"{right:.0f}",) if rows[-1][field] % 1 else (f"{right:.0f}", ""))


def test_a_wing_without_a_curve_is_held_against_the_siblings():
    brood = [
        {"date": "2026-07-01", "box": "SL-17", "species": "common_kestrel", "ring": f"SK0910{i}", "age": "1"}
        | {"wing_mm": wing, "net_g": net}
        for i, (wing, net) in enumerate([(105, 196), (98, 172), (101, 191), (110, 200)], 1)
    ]
    assert blamed(ask(RULE, typed_season(handlings=brood))) == {}
    late = [*brood[:3], brood[3] | {"wing_mm": 72, "net_g": 150}]
    assert blamed(ask(RULE, typed_season(handlings=late))) == {}
    short = [*brood[:2], brood[2] | {"wing_mm": 10}, brood[3]]
    (cell,) = blamed(ask(RULE, typed_season(handlings=short)))
    assert cell == ("handlings!4", "wing_mm")


def test_a_bird_of_known_sex_among_unsexed_young_is_full_grown() -> None:
    rows = []
    for visit in range(6):
        place = {"box": f"SL-{visit:02d}", "date": DAY + dt.timedelta(days=visit)}
        young = [{**row, **place, "ring": f"SV02{visit}{i:02d}", "sex": "U"} for i, row in enumerate(brood())]
        mother = {"age": "4", "sex": "F", "wing_mm": 290.0, "net_g": 350.0, "ring": f"SV03{visit}00"}
        rows += [*young, {**young[0], **mother}]
    assert findings(rows) == []
    # 294 with the first digit left out
    rows[-1]["wing_mm"] = 94.0
    assert [at[1] for at in cells(only(rows))] == ["wing_mm"]
