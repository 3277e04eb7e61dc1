"""Gross, bag and net."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from invented import Style, invented_season
from typed_season import ask, blamed, typed_season

from audit.declarations import load_declarations
from audit.findings import NotRun
from audit.rules.tare import RULE

DECLARED = load_declarations()
MASSES = ("gross_g", "bag_g", "net_g")


def rows_of(gross, bag, net, siblings=3, bag_of_siblings=22):
    """One weighing to be judged, and siblings of about 380 g in the same bag after it."""
    place = {"date": "2026-06-13", "box": "SL-04", "ringer": "AB"}
    rows = [{**place, "ring": "SV01001", "gross_g": gross, "bag_g": bag, "net_g": net}]
    for i in range(siblings):
        net_of_sibling = 376 + 3 * i
        rows.append(
            {
                **place,
                "ring": f"SV0100{i + 2}",
                "gross_g": net_of_sibling + bag_of_siblings,
                "bag_g": bag_of_siblings,
                "net_g": net_of_sibling,
            }
        )
    return rows


def answers_to(*triple, **more):
    return ask(RULE, typed_season(DECLARED, handlings=rows_of(*triple, **more)), DECLARED)


def answers_of(rows):
    return ask(RULE, typed_season(DECLARED, handlings=rows), DECLARED)


def only(answers):
    assert len(answers) == 1, [a.message for a in answers]
    return answers[0]


def cells(finding):
    return {suspect.cell.field: suspect.suggested for suspect in finding.suspects}


def test_net_and_wing_exchanged():
    # Common practice: a wing of 205 mm goes with a bird of 373 g.
    rows = rows_of(395, 22, 205)
    for row, wing in zip(rows, (373, 201, 198, 210), strict=True):
        row["wing_mm"] = wing
    finding = only(answers_of(rows))
    assert finding.rule == "tare.wing_exchanged"
    assert cells(finding) == {"net_g": "373", "wing_mm": "205"}
    assert finding.message == (
        "Gross 395 g less bag 22 g is 373 g, which stands as the wing, and net says 205: "
        "net and wing are exchanged."
    )
    rows[0]["net_g"] = 395  # no wing is that long: the bag was not subtracted, and the wing is another matter
    assert only(answers_of(rows)).rule == "tare.not_subtracted"


# Common practice: a nestling of 373 g in a bag of 22 g makes the balance show 395 g.
GOLDEN = [
    (
        (395, 22, 395),
        "tare.not_subtracted",
        {"net_g": "373"},
        "Gross 395 g less bag 22 g is 373 g, but net says 395 g: the bag was not subtracted.",
    ),
    (
        (395, 22, 351),
        "tare.subtracted_twice",
        {"net_g": "373"},
        "Gross 395 g less bag 22 g is 373 g, but net says 351 g: the bag was subtracted twice.",
    ),
    (
        (395, 22, 417),
        "tare.added",
        {"net_g": "373"},
        "Gross 395 g less bag 22 g is 373 g, but net says 417 g: the bag was added instead of subtracted.",
    ),
    (
        (395, 22, 378),
        "tare.arithmetic",
        {"net_g": "373"},
        (
            "Gross 395 g less bag 22 g is 373 g, but net says 378 g: "
            "net was probably meant to be 373 g (one digit is wrong)."
        ),
    ),
    (
        (395, 62, 373),
        "tare.arithmetic",
        {"bag_g": "22"},
        (
            "Gross 395 g less bag 62 g is 333 g, but net says 373 g: "
            "bag was probably meant to be 22 g (one digit is wrong)."
        ),
    ),
    (
        (935, 22, 373),
        "tare.arithmetic",
        {"gross_g": "395"},
        (
            "Gross 935 g less bag 22 g is 913 g, but net says 373 g: "
            "gross was probably meant to be 395 g (two neighbouring digits are exchanged)."
        ),
    ),
    (
        (395, 22, 37),
        "tare.arithmetic",
        {"net_g": "373"},
        (
            "Gross 395 g less bag 22 g is 373 g, but net says 37 g: "
            "net was probably meant to be 373 g (a digit is missing)."
        ),
    ),
    (
        (395, 22, 37.3),
        "tare.decimal",
        {"net_g": "373"},
        (
            "Gross 395 g less bag 22 g is 373 g, but net says 37.3 g: "
            "the decimal point of net slipped, 373 g would be right."
        ),
    ),
    (
        (3950, 22, 373),
        "tare.decimal",
        {"gross_g": "395"},
        (
            "Gross 3950 g less bag 22 g is 3928 g, but net says 373 g: "
            "the decimal point of gross slipped, 395 g would be right."
        ),
    ),
    (
        (395, 22, 0.373),
        "tare.unit",
        {"net_g": "373"},
        (
            "Gross 395 g less bag 22 g is 373 g, but net says 0.373 g: "
            "net looks like kilograms, 373 g would be right."
        ),
    ),
    (
        (0.395, 22, 0.373),
        "tare.unit",
        {"gross_g": "395", "net_g": "373"},
        "Gross 0.395 and net 0.373 look like kilograms beside a bag of 22 g.",
    ),
    (
        (0.395, 0.022, 0.373),
        "tare.unit",
        {"gross_g": "395", "bag_g": "22", "net_g": "373"},
        "Gross 0.395, bag 0.022 and net 0.373 look like kilograms.",
    ),
    (
        (22, 395, 373),
        "tare.exchanged",
        {"gross_g": "395", "bag_g": "22"},
        "Bag 395 g less gross 22 g is net 373 g: gross and bag are exchanged.",
    ),
    (
        (395, 373, 22),
        "tare.exchanged",
        {"bag_g": "22", "net_g": "373"},
        "A bag of 373 g with a bird of 22 g is unlikely: bag and net are exchanged.",
    ),
    (
        (395, 222, 173),
        "tare.bag_range",
        {"bag_g": "22", "net_g": "373"},
        "Bag 222 g is far from the 22 g written beside it, and net was taken from it.",
    ),
    (
        (20, 22, None),
        "tare.negative",
        {"gross_g": "", "bag_g": ""},
        "Gross 20 g is no more than bag 22 g: nothing is left for the bird.",
    ),
    (
        (395, None, 410),
        "tare.negative",
        {"gross_g": "", "net_g": ""},
        "Net 410 g is more than gross 395 g, which includes the bag.",
    ),
]


@pytest.mark.parametrize(("triple", "rule", "blame", "message"), GOLDEN)
def test_each_slip_is_named_and_mended(triple, rule, blame, message):
    finding = only(answers_to(*triple))
    assert finding.rule == rule
    assert finding.severity in ("error", "suspect")
    assert cells(finding) == blame
    assert finding.message == message
    assert all(suspect.cell.label == "handlings!2" for suspect in finding.suspects)


def test_the_other_cells_are_witnesses():
    finding = only(answers_to(395, 22, 395))
    assert [(cell.label, cell.field) for cell in finding.witnesses] == [
        ("handlings!2", "gross_g"),
        ("handlings!2", "bag_g"),
    ]


def test_gross_or_net_when_nothing_tells_them_apart():
    finding = only(answers_to(375, 22, 373))
    assert cells(finding) == {"gross_g": "395", "net_g": "353"}
    assert finding.message.endswith(
        ": it would be right with gross 395 g or net 353 g."
    ) or finding.message.endswith(": it would be right with net 353 g or gross 395 g.")
    assert sum(suspect.p_error for suspect in finding.suspects) == pytest.approx(1, abs=0.05)


def test_siblings_tell_which_of_gross_and_net_is_wrong():
    """Fifteen owls of like wing at about 360 g: a net of 873 g is the wrong cell, not the gross."""
    rows = [
        {
            "date": "2026-06-13",
            "box": f"SL-{i // 5:02d}",
            "ring": f"SV{i:05d}",
            "ringer": "AB",
            "species": "barn owl",
            "age": "1",
            "gross_g": 375.0 + i,
            "bag_g": 22.0,
            "net_g": 353.0 + i,
            "wing_mm": 200.0 + i,
        }
        for i in range(20)
    ]
    rows[7]["net_g"] += 200
    finding = only(ask(RULE, typed_season(DECLARED, handlings=rows), DECLARED))
    assert cells(finding) == {"net_g": "360"}
    assert finding.suspects[0].p_fix > 0.99


def test_one_unit_off_is_a_note_only():
    answers = answers_to(395, 22, 372)
    assert [a.rule for a in answers] == ["tare.rounding"]
    assert not blamed(answers)
    assert answers[0].message == (
        "Gross 395 g less bag 22 g is 373 g, but net says 372 g: one unit off, which may be rounding."
    )


def test_a_season_that_rounds_each_mass_on_its_own_is_left_alone():
    rng = np.random.default_rng(4)
    rows = []
    for i in range(120):
        bag, net = rng.uniform(20, 24), rng.uniform(280, 390)
        rows.append(
            {
                "date": "2026-06-13",
                "box": f"SL-{i // 4:02d}",
                "ring": f"SV{i:05d}",
                "gross_g": float(round(bag + net)),
                "bag_g": float(round(bag)),
                "net_g": float(round(net)),
            }
        )
    assert any(row["gross_g"] - row["bag_g"] != row["net_g"] for row in rows)
    assert not ask(RULE, typed_season(DECLARED, handlings=rows), DECLARED)


@pytest.mark.parametrize(
    ("changed", "wrong"),
    [({"net_g": 269.0}, {"gross_g": "269", "net_g": "299"}), ({"bag_g": 9.0}, {"bag_g": "0"})],
)
def test_a_balance_set_to_zero_with_the_bag_on_it_has_no_bag_to_blame(changed, wrong):
    masses = [299.0, 310.0, 275.0, 331.0, 288.0, 305.0, 294.0, 318.0]
    rows = [
        {
            "date": "2026-06-13",
            "box": f"SL-{i // 4:02d}",
            "ring": f"SV{i:05d}",
            "species": "barn owl",
            "age": "1",
            "gross_g": mass,
            "bag_g": 0.0,
            "net_g": mass,
        }
        for i, mass in enumerate(masses)
    ]
    assert not ask(RULE, typed_season(DECLARED, handlings=rows), DECLARED)
    rows[0] |= changed
    finding = only(ask(RULE, typed_season(DECLARED, handlings=rows), DECLARED))
    assert finding.rule == "tare.arithmetic"
    assert cells(finding) == wrong


@pytest.mark.parametrize("steps", [(5.0, 5.0), (0.5, 0.5), (1.0, 5.0)])
def test_two_balances_with_steps_of_their_own_are_left_alone(steps):
    rng = np.random.default_rng(4)
    rows = []
    for i in range(120):
        bag, net, step = rng.uniform(20, 24), rng.uniform(280, 390), steps[i % 2]
        rows.append(
            {
                "date": "2026-06-13",
                "box": f"SL-{i // 4:02d}",
                "ring": f"SV{i:05d}",
                "ringer": ("AB", "IP")[i % 2],
                "gross_g": round((bag + net) / step) * step,
                "bag_g": round(bag / step) * step,
                "net_g": round(net / step) * step,
            }
        )
    assert any(abs(row["gross_g"] - row["bag_g"] - row["net_g"]) == steps[1] for row in rows)
    assert not ask(RULE, typed_season(DECLARED, handlings=rows), DECLARED)
    rows[31]["net_g"] += 3 * steps[1]
    assert blamed(ask(RULE, typed_season(DECLARED, handlings=rows), DECLARED))


def test_net_in_whole_grams_beside_tenths_is_rounding():
    assert not answers_to(395.4, 22.1, 373)
    assert answers_to(395.4, 22.1, 374)


def test_gross_equal_to_net_without_a_bag_is_a_question_only():
    answers = answers_to(395, None, 395)
    assert [a.rule for a in answers] == ["tare.no_bag"]
    assert answers[0].message == "Gross and net are both 395 g and no bag is written: was the bag subtracted?"
    # where nobody writes a bag, the balance is set to zero with the bag on it
    assert not blamed(answers_to(395, None, 395, siblings=0))


@pytest.mark.parametrize(
    "triple",
    [
        (395, 22, 373),
        (395, 22, None),
        (395, None, 373),
        (None, 22, 373),
        (None, None, 373),
        (395, None, None),
        (None, None, None),
        (395, 0, 395),
        (395.5, 22.4, 373.1),
        (408, 35, 373),
        (397, 24, 373),
    ],
    ids=str,
)
def test_innocent_weighings(triple):
    """Balanced, parts missing, no bag used, tenths, a second bag, a wet bag."""
    assert not answers_to(*triple)


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize(
    "style",
    [Style(), Style(step_g=0.1), Style(heavy=1.2, bag_g=(10.0, 60.0)), Style(tits=0.9, boxes=30)],
    ids=["grams", "tenths", "heavy", "tits"],
)
def test_a_clean_season_gives_nothing_above_a_note(seed, style):
    answers = ask(RULE, typed_season(DECLARED, **invented_season(seed, style)), DECLARED)
    assert not blamed(answers)
    assert len(answers) <= 1


@settings(max_examples=80, deadline=None)
@given(
    net=st.integers(60, 480),
    bag=st.integers(4, 59),
    slip=st.sampled_from(["not_subtracted", "subtracted_twice", "added"]),
    siblings=st.integers(0, 4),
    tenths=st.booleans(),
)
def test_any_bag_slip_is_named_and_mended(net, bag, slip, siblings, tenths):
    scale = 10 if tenths else 1
    assume(bag / scale >= 4)  # no lighter bag is declared
    gross = net + bag
    typed = {"not_subtracted": gross, "subtracted_twice": gross - 2 * bag, "added": gross + bag}[slip]
    assume(typed > 0)
    finding = only(
        answers_to(gross / scale, bag / scale, typed / scale, siblings=siblings, bag_of_siblings=bag / scale)
    )
    assert finding.rule == f"tare.{slip}"
    assert cells(finding) == {"net_g": f"{net / scale:g}"}


@settings(max_examples=50, deadline=None)
@given(gross=st.floats(0, 5000), bag=st.floats(0, 5000), net=st.floats(0, 5000))
def test_any_three_numbers_give_one_finding_at_most(gross, bag, net):
    triple = [round(mass, 2) for mass in (gross, bag, net)]
    answers = answers_to(*triple)
    assert len([a for a in answers if a.suspects[0].cell.label == "handlings!2"]) <= 1
    for suspect in (s for a in answers for s in a.suspects):
        assert 0 <= suspect.p_error <= 1
        assert suspect.p_fix is None or 0 <= suspect.p_fix <= 1 + 1e-9
        assert not suspect.suggested or float(suspect.suggested) > 0


def test_net_alone_says_what_it_cannot_see():
    rows = [{"date": "2026-06-13", "box": "SL-04", "ring": "SV01001", "net_g": 373.0}]
    answers = ask(RULE, typed_season(DECLARED, handlings=rows), DECLARED)
    assert answers == [NotRun("tare.arithmetic", "Net mass alone cannot show a bag that was not subtracted.")]
    rows[0].update(gross_g=None, bag_g=None)
    assert ask(RULE, typed_season(DECLARED, handlings=rows), DECLARED) == answers


def test_a_cell_that_another_rule_doubts_is_the_first_to_be_blamed():
    season = typed_season(DECLARED, handlings=rows_of(375, 22, 373))
    finding = only(ask(RULE, season, DECLARED, frozenset({("handlings!2", "gross_g")})))
    assert cells(finding) == {"gross_g": "395"}


def test_a_doubted_bag_is_no_witness():
    """Were the siblings' bags trusted, the bag of the first row would be blamed."""
    season = typed_season(DECLARED, handlings=rows_of(395, 52, 373))
    doubted = frozenset((f"handlings!{row}", "bag_g") for row in (3, 4, 5))
    finding = only(ask(RULE, season, DECLARED, doubted))
    assert max(suspect.p_error for suspect in finding.suspects) < 0.9


def test_the_row_order_of_a_season_does_not_matter_to_the_verdict():
    rows = rows_of(395, 22, 395)
    turned = [*rows[1:], rows[0]]
    finding = only(ask(RULE, typed_season(DECLARED, handlings=turned), DECLARED))
    assert finding.rule == "tare.not_subtracted"
    assert finding.suspects[0].cell.label == "handlings!5"
