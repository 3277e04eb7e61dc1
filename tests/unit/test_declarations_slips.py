"""Declared shares of slips: one place for them, overlaid key by key, refused with file and line."""

from __future__ import annotations

import textwrap

import pytest

from audit.declarations import load_declarations
from audit.declarations.limit import GRADES
from audit.refusal import DeclarationRefusal

DECLARED = load_declarations()
SLIPS = DECLARED.slips


def own(folder, text):
    (folder / "slips.yaml").write_text(textwrap.dedent(text).lstrip("\n"), encoding="utf-8")
    return load_declarations(folder).slips


def refused(folder, text):
    with pytest.raises(DeclarationRefusal) as caught:
        own(folder, text)
    return caught.value


def test_every_share_has_a_source_and_a_grade():
    assert SLIPS.limits
    assert all(limit.source.strip() and limit.grade in GRADES for limit in SLIPS.limits.values())


def test_shares_of_the_whole_make_one():
    assert sum(SLIPS.group("codes").values()) == pytest.approx(1)
    assert sum(SLIPS.group("measures").values()) == pytest.approx(1)
    assert "weight" not in SLIPS.group("codes")


def test_parts_are_shares_of_all_wrong_measurements():
    assert SLIPS.share("gross_net.not_subtracted") == pytest.approx(0.2 * 0.46)
    parts = ("not_subtracted", "subtracted_twice", "added", "borrow")
    assert sum(SLIPS.share(f"gross_net.{part}") for part in parts) == pytest.approx(0.2)
    with pytest.raises(KeyError):
        SLIPS.share("gross_net.doubled")


def test_rates_lie_within_the_ranges_they_may_be_learnt_in():
    for name, (least, most) in SLIPS.ranges.items():
        assert least < SLIPS.share(f"rates.{name}") < most
    # pooled single entry 0.29 % (Garza et al. 2025), research settings 0.55-3.6 % (Barchard et al. 2020)
    least, most = SLIPS.ranges["field"]
    assert all(least <= rate <= most for rate in (0.0029, 0.0055, 0.036))


def test_no_rule_repeats_a_share():
    """Shares of slips once stood in the declaration of the weighing, too."""
    assert not set(DECLARED.rules["tare"].limits) & set(SLIPS.group("codes"))
    assert "slip_rate" not in DECLARED.rules["tare"].limits


def test_a_team_writes_only_what_differs(tmp_path):
    found = own(
        tmp_path,
        """
        codes:
          digit: {value: 0.7}
          neighbours: {value: 0.13, source: our log, grade: computed}
        """,
    )
    assert (found.share("codes.digit"), found.share("codes.neighbours")) == (0.7, 0.13)
    assert found.share("codes.twin") == SLIPS.share("codes.twin")
    assert found.limits["codes.digit"].source == "slips.yaml, line 2; no source given"
    assert found.limits["codes.neighbours"].source == "our log"
    assert found.channel().codes["digit"] == 0.7


def test_shares_that_do_not_make_one_are_refused(tmp_path):
    fault = refused(tmp_path, "codes:\n  digit: {value: 0.8}\n")
    assert fault.what == "The shares under 'codes' make 1.08, not 1."
    assert fault.where == f"{tmp_path / 'slips.yaml'}, line 2"
    assert fault.cure == "Change one or more of them: together they are 0.08 too much."


def test_parts_that_do_not_make_one_are_refused(tmp_path):
    fault = refused(tmp_path, "parts:\n  copied:\n    above:\n      value: 0.2\n")
    assert fault.what == "The shares under 'parts.copied' make 0.87, not 1."
    assert fault.where == f"{tmp_path / 'slips.yaml'}, line 4"


def test_a_rate_outside_its_range_is_refused(tmp_path):
    fault = refused(tmp_path, "rates:\n  ring: {value: 0.2}\n")
    assert fault.what == "'0.2' under 'rates.ring.value' is outside its range, 0.003 to 0.07."
    assert fault.where == f"{tmp_path / 'slips.yaml'}, line 2"
    wider = own(tmp_path, "rates:\n  ring: {value: 0.2, range: [0.01, 0.3]}\n")
    assert wider.ranges["ring"] == (0.01, 0.3)


def test_habits_that_leave_nothing_to_the_hand_are_refused(tmp_path):
    fault = refused(tmp_path, "habits:\n  copied: {value: 0.95}\n")
    assert fault.what == "The shares under 'habits' make 1.03 and leave nothing to the hand."


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("codes:\n  digits: {value: 0.7}\n", "The key 'digits' under 'codes' is not known."),
        ("codes:\n  digit: {value: 0}\n", "'0' under 'codes.digit.value' is out of range."),
        (
            "codes:\n  digit: {value: most}\n",
            "'most' under 'codes.digit.value' is not of the kind that is asked for.",
        ),
        (
            "digits:\n  confused: {value: [17]}\n",
            "'[17]' under 'digits.confused.value' is not of the kind that is asked for.",
        ),
        (
            "digits:\n  confused: {value: ['177']}\n",
            "'177' under 'digits.confused.value.0' does not have the right form.",
        ),
        (
            "letters:\n  look_alikes: {value: ['0O']}\n",
            "'0O' under 'letters.look_alikes.value.0' does not have the right form.",
        ),
    ],
)
def test_slips_of_the_team_itself_are_refused(tmp_path, text, what):
    fault = refused(tmp_path, text)
    assert fault.what == what
    assert fault.where == f"{tmp_path / 'slips.yaml'}, line 2"


def test_a_season_of_decided_slips_changes_shares_and_rates():
    learnt = SLIPS.learnt(
        codes={"digit": 10, "neighbours": 10},
        measures={"copied": 5},
        cells={"field": (8, 600)},
    )
    assert learnt.share("codes.digit") == pytest.approx((36 + 10) / 70)
    assert learnt.share("measures.copied") == pytest.approx((20 * 0.15 + 5) / 25)
    assert learnt.share("rates.field") == pytest.approx((400 * 0.005 + 8) / 1000)
    assert learnt.limits["codes.digit"].source == "learnt from 20 slips of the team's own"
    assert learnt.limits["codes.digit"].grade == "computed"
    assert learnt.channel().codes["digit"] == learnt.share("codes.digit")
    # what was not counted stays
    assert learnt.share("rates.ring") == SLIPS.share("rates.ring")
    assert learnt.limits["parts.copied.above"] == SLIPS.limits["parts.copied.above"]


def test_what_is_not_declared_is_not_learnt():
    with pytest.raises(ValueError, match="mirrored"):
        SLIPS.learnt(codes={"mirrored": 1})
    with pytest.raises(ValueError, match="weather"):
        SLIPS.learnt(cells={"weather": (1, 10)})
