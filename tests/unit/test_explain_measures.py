"""Gross, bag, net and wing weighed together: which slip, which cell, what was meant, how sure."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from invented import Style, invented_season
from typed_season import typed_season

from audit.checking import check
from audit.declarations import load_declarations
from audit.explain.account import NOTHING
from audit.explain.measures import weigh_together
from audit.explain.surroundings import MEASURES, surroundings_of

DECLARED = load_declarations()
ROWS = invented_season(31, Style(boxes=25, second_visit=0.5))["handlings"]
#: A nestling barn owl in the middle of a brood, weighed to the gram.
AT = next(
    i
    for i, row in enumerate(ROWS)
    if i > 40
    and row["species"] == "barn_owl"
    and row["age"] == "1"
    and ROWS[i + 1]["box"] == row["box"]
    and ROWS[i - 1]["box"] == row["box"]
)


def season_with(change: dict[str, float | None], drop: tuple[str, ...] = ()) -> list[dict]:
    rows = [{key: value for key, value in row.items() if key not in drop} for row in ROWS]
    rows[AT] = {**rows[AT], **change}
    return rows


def found(change: dict[str, float | None], drop: tuple[str, ...] = ()) -> list:
    """Findings above a note on the changed row."""
    report = check(typed_season(DECLARED, handlings=season_with(change, drop)), schemas=DECLARED)
    return [
        finding
        for finding in report.above_notes
        if any(suspect.cell.label == f"handlings!{AT + 2}" for suspect in finding.suspects)
    ]


def told(change: dict[str, float | None], drop: tuple[str, ...] = ()) -> dict[str, tuple[str, str]]:
    return {
        suspect.cell.field: (finding.rule, suspect.suggested)
        for finding in found(change, drop)
        for suspect in finding.suspects
    }


GROSS, BAG, NET, WING = (float(ROWS[AT][field]) for field in MEASURES)


def plain(value: float) -> str:
    return f"{value:g}"


def test_the_row_is_fine_as_it_was_measured():
    assert GROSS - BAG == NET
    assert found({}) == []


def test_the_sentence_says_what_happened_and_how_sure_that_is():
    # common practice: gross 395 g less a 22 g bag is 373 g
    row = {**ROWS[AT], "gross_g": 395.0, "bag_g": 22.0, "net_g": 395.0, "wing_mm": 205.0}
    birds = [
        {
            **ROWS[AT],
            "gross_g": 380.0 + k,
            "bag_g": 22.0,
            "net_g": 358.0 + k,
            "wing_mm": 200.0 + k,
            "ring": f"SV0{7000 + k}",
            "tag": None,
        }
        for k in range(6)
    ]
    report = check(typed_season(DECLARED, handlings=[*birds, row]), schemas=DECLARED)
    (finding,) = (f for f in report.above_notes if f.rule.startswith("tare"))
    start = "Gross 395 g less bag 22 g is 373 g, but net says 395 g: the bag was not subtracted ("
    assert finding.message.startswith(start)
    assert finding.message.endswith(" %).")
    (suspect,) = finding.suspects
    assert (suspect.cell.field, suspect.suggested) == ("net_g", "373")
    assert suspect.p_fix is not None
    assert suspect.p_fix > 0.95


@pytest.mark.parametrize(
    ("change", "rule", "meant"),
    [
        ({"net_g": GROSS}, "tare.not_subtracted", {"net_g": NET}),
        ({"net_g": GROSS - 2 * BAG}, "tare.subtracted_twice", {"net_g": NET}),
        ({"net_g": GROSS + BAG}, "tare.added", {"net_g": NET}),
        ({"gross_g": GROSS * 10}, "tare.decimal", {"gross_g": GROSS}),
        ({"net_g": NET / 1000}, "tare.unit", {"net_g": NET}),
        ({"gross_g": BAG, "bag_g": GROSS}, "tare.exchanged", {"gross_g": GROSS, "bag_g": BAG}),
        ({"bag_g": NET, "net_g": BAG}, "tare.exchanged", {"bag_g": BAG, "net_g": NET}),
        ({"net_g": WING, "wing_mm": NET}, "tare.wing_exchanged", {"net_g": NET, "wing_mm": WING}),
        ({"wing_mm": WING / 10}, "growth.centimetres", {"wing_mm": WING}),
    ],
)
def test_each_slip_is_named_and_undone(change, rule, meant):
    assert told(change) == {field: (rule, plain(value)) for field, value in meant.items()}


def test_without_a_net_the_birds_of_the_day_tell_gross_from_bag():
    blamed = told({"gross_g": GROSS * 10}, drop=("net_g",))
    assert blamed["gross_g"] == ("growth.tenfold", plain(GROSS))
    assert "bag_g" not in blamed
    blamed = told({"bag_g": BAG * 10}, drop=("net_g",))
    assert blamed["bag_g"][1] == plain(BAG)
    assert "gross_g" not in blamed


def test_two_slips_in_one_row_are_two_findings():
    blamed = told({"net_g": GROSS, "wing_mm": WING * 10})
    assert blamed["net_g"] == ("tare.not_subtracted", plain(NET))
    assert blamed["wing_mm"] == ("growth.tenfold", plain(WING))


def test_two_equally_good_explanations_are_both_named():
    # ten grams more in gross or ten less in net: one digit each
    (finding,) = found({"gross_g": GROSS + 10})
    assert {suspect.cell.field for suspect in finding.suspects} <= {"gross_g", "net_g", "bag_g"}
    chances = [suspect.p_error for suspect in finding.suspects]
    assert sum(chances) <= 1 + 1e-9
    if len(chances) > 1:
        assert " or " in finding.message


def test_the_net_alone_hides_a_bag_that_was_not_subtracted():
    report = check(
        typed_season(DECLARED, handlings=season_with({"net_g": NET + BAG}, ("gross_g", "bag_g"))),
        schemas=DECLARED,
    )
    assert not [f for f in report.above_notes if f.suspects[0].cell.label == f"handlings!{AT + 2}"]
    assert "Net mass alone cannot show a bag that was not subtracted." in {n.reason for n in report.not_run}


numbers = st.one_of(
    st.none(),
    st.floats(0, 900).map(lambda x: round(x, 1)),
    st.sampled_from([0.0, 1e9, 0.01, GROSS, NET, BAG]),
)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.fixed_dictionaries(dict.fromkeys(MEASURES, numbers)))
def test_whatever_stands_there_nothing_wrong_and_no_known_reason_compete(change):
    rows = season_with(change)[max(AT - 30, 0) : AT + 10]
    season = typed_season(DECLARED, handlings=rows)
    around = surroundings_of(season, DECLARED, frozenset())
    position = AT - max(AT - 30, 0)
    (posterior,) = weigh_together(around, [position])
    kinds = [account.kind for account in posterior.accounts]
    assert kinds.count(NOTHING) == 1
    if np.isfinite(around.typed[position]).any():
        assert "unknown" in kinds or all(share == 0 for _, share in posterior.by_cells())
    assert sum(posterior.shares) == pytest.approx(1)
    # deterministic
    (again,) = weigh_together(around, [position])
    assert again.accounts == posterior.accounts


@pytest.mark.parametrize(("wing", "asked"), [(205.0, False), (229.0, True), (239.0, True)])
def test_a_wing_is_asked_about_by_how_many_days_it_lies_beyond_those_of_its_siblings(wing, asked):
    # from one ringed sibling to the next lie 11 days at most (236 gaps of Swiss broods); here 9, 14 and 16
    brood = [
        {
            **ROWS[AT],
            "box": "SL-90",
            "brood_size": 4,
            "gross_g": net + 28,
            "bag_g": 28.0,
            "net_g": net,
            "wing_mm": long,
            "ring": f"SV0{7000 + k}",
            "tag": None,
        }
        for k, (net, long) in enumerate([(348.0, 162.0), (331.0, 156.0), (328.0, 141.0), (288.0, wing)])
    ]
    rows = [row for row in ROWS if row["box"] != ROWS[AT]["box"]] + brood
    report = check(typed_season(DECLARED, handlings=rows), schemas=DECLARED)
    assert any(f"Wing {wing:g} mm" in finding.message for finding in report.findings) == asked
