"""A hand that strikes a wrong key."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from audit.declarations import load_declarations
from audit.models.keyboard import keys_beside
from audit.rules.typing_hand import hand_of

DIGITS = "0123456789"


DECLARED = load_declarations()
HAND = hand_of(DECLARED)


def test_keys_beside_each_other_on_the_declared_keyboard() -> None:
    # positions of the keys on a QWERTY keyboard (ISO/IEC 9995 layouts); common practice
    beside = keys_beside(DECLARED.slips.limits["letters.beside"].value)
    for digit, letters in zip(
        "1234567890", ["q", "qw", "we", "er", "rt", "ty", "yu", "ui", "io", "op"], strict=True
    ):
        assert {sign for sign in beside[digit] if sign.isalpha()} == set(letters)
    assert beside["g"] == "".join(sorted("tyfhvb"))
    assert " " not in beside
    assert " " not in "".join(beside.values())


def test_a_key_beside_is_likelier_than_one_far_away() -> None:
    found = HAND.before("3w", DIGITS, str.isdigit)
    ranked = sorted(found, key=lambda text: -found[text].chance)
    assert set(ranked[:2]) == {"32", "33"}
    assert found["32"].kind == "digit"
    assert (found["32"].typed, found["32"].meant) == ("w", "2")
    assert found["3"].kind == "extra"


def test_what_looks_alike_is_likelier_than_what_does_not() -> None:
    found = HAND.before("Z5", DIGITS, str.isdigit)
    assert max(found, key=lambda text: found[text].chance) == "25"


def test_signs_round_a_text_are_taken_off_and_parts_turned_back() -> None:
    found = HAND.before("+'22:22;$", DIGITS + ":", lambda text: text == "22:22")
    assert found["22:22"].kind == "stray"
    found = HAND.before("05-2025-06", DIGITS + "-", lambda text: text == "2025-06-05")
    assert found["2025-06-05"].kind == "turned"


def test_a_number_of_no_known_reason_is_likelier_than_a_text() -> None:
    one = HAND
    assert one.nothing_like_it("-85", 500) > one.nothing_like_it("-85") > one.nothing_like_it("-8.5")


@given(st.text(DIGITS, min_size=1, max_size=4), st.integers(0, 3), st.sampled_from(DIGITS + "qwop["))
def test_every_wrong_key_can_be_undone(meant: str, at: int, key: str) -> None:
    at = min(at, len(meant) - 1)
    typed = meant[:at] + key + meant[at + 1 :]
    if typed != meant:
        assert meant in HAND.before(typed, DIGITS, str.isdigit)


@given(st.sampled_from(DIGITS + "abcdefg.:-"), st.sampled_from(DIGITS))
def test_chances_are_probabilities(typed: str, meant: str) -> None:
    if typed != meant:
        assert 0 < HAND.wrong(typed, meant) < 1


# chances against their closed forms


def test_each_single_slip_is_undone_at_every_place() -> None:
    found = HAND.before("407", DIGITS, str.isdigit)
    kinds = {text: one.kind for text, one in found.items()}
    # Damerau (1964), as the class cites him: one sign wrong, one too many, one too few, two exchanged
    assert {text for text, kind in kinds.items() if kind == "extra"} == {"07", "47", "40"}
    assert {text for text in kinds if sorted(text) == sorted("407")} == {"047", "470"}
    assert {text for text, kind in kinds.items() if kind == "dropped"} == {
        "407"[:i] + sign + "407"[i:] for i in range(4) for sign in DIGITS
    }
    assert len({text for text, kind in kinds.items() if kind == "digit"}) == 3 * 9


def test_two_signs_exchanged_are_as_likely_at_each_place() -> None:
    found = HAND.before("407", DIGITS, {"047", "470"}.__contains__)
    assert {text: one.typed for text, one in found.items()} == {"047": "40", "470": "07"}
    for one in found.values():
        assert one.chance == pytest.approx(HAND.shares["neighbours"] / 2)
    (only,) = HAND.before("40", DIGITS, "04".__eq__).values()
    assert only.chance == pytest.approx(HAND.shares["neighbours"])


def test_a_dropped_sign_is_as_likely_at_each_place() -> None:
    (one,) = HAND.before("40", DIGITS, "450".__eq__).values()
    assert (one.kind, one.meant) == ("dropped", "5")
    assert one.chance == pytest.approx(HAND.shares["dropped"] / 3)
    # of two equal signs either may have been dropped
    (one,) = HAND.before("40", DIGITS, "440".__eq__).values()
    assert one.chance == pytest.approx(2 * HAND.shares["dropped"] / 3)


def test_two_wrong_signs_are_two_and_stand_anywhere() -> None:
    pairs = 4 * 3 / 2
    wrong = HAND.wrong("4", "1") * HAND.wrong("7", "2")
    assert HAND.two_wrong("SV47", "SV12") == pytest.approx(HAND.shares["two_edits"] / pairs * wrong)
    assert HAND.two_wrong("sv47", "SV12") == HAND.two_wrong("SV47", "SV12")
    assert HAND.two_wrong("SV42", "SV12") == HAND.two_wrong("SX47", "SV12") == 0
    assert HAND.two_wrong("SV4", "SV12") == HAND.two_wrong("SV472", "SV12") == 0


def test_each_sign_that_strayed_is_rarer() -> None:
    chances = [HAND.before(typed, DIGITS, "41".__eq__)["41"].chance for typed in ("41;;", "41;;;", ";41;;;")]
    # more than one sign too many is no slip of another kind
    assert chances[0] / chances[1] == pytest.approx(HAND.signs / 3)
    assert chances[1] / chances[2] == pytest.approx(HAND.signs / 3)
    assert HAND.before(";41;;;", DIGITS, "41".__eq__, strays=False) == {}


@pytest.mark.parametrize(
    ("typed", "meant", "orders"),
    [
        ("05-06", "06-05", 1),
        ("05-06-07", "07-05-06", 5),
        ("05-06-07-08", "08-05-06-07", 0),
        ("0506", "0605", 0),
    ],
)
def test_two_or_three_parts_are_turned_into_any_order(typed: str, meant: str, orders: int) -> None:
    found = HAND.before(typed, DIGITS + "-", meant.__eq__)
    if orders == 0:
        assert found == {}
    else:
        assert found[meant].chance == pytest.approx(HAND.turned / orders)


def test_a_sign_too_many_is_the_one_beside_it_twice_a_key_near_it_or_any() -> None:
    extra, floor = HAND.shares["extra"] / 2, 1 / HAND.signs

    def chance(typed: str) -> float:
        (one,) = HAND.before(typed, DIGITS, "40".__eq__).values()
        assert one.kind == "extra"
        return one.chance

    # two signs were meant, and before, between or behind them is room for one more
    near = max(HAND.wrong("r", "4"), HAND.wrong("r", "0"))
    assert near > HAND.wrong("r", "0") > 0
    assert chance("4r0") == pytest.approx(extra * near / 3)
    assert HAND.wrong("m", "4") < floor
    assert chance("4m0") == pytest.approx(extra * floor / 3)
    # whichever of both was meant, the other one doubles it
    assert chance("440") > extra


def test_of_two_ways_to_one_text_the_likelier_is_named_and_both_count() -> None:
    both = HAND.before(";41", DIGITS, "41".__eq__)["41"]
    extra = HAND.before(";41", DIGITS, "41".__eq__, strays=False)["41"]
    stray = HAND.stray * 3 / HAND.signs
    assert both.chance == pytest.approx(extra.chance + stray)
    assert extra.kind == "extra"
    assert stray > extra.chance
    assert (both.kind, both.typed) == ("stray", ";")


@given(st.sampled_from(DIGITS + "abcdefghijklmnopqrstuvwxyz"))
def test_wrong_keys_are_no_more_than_all(meant: str) -> None:
    signs = {chr(code).casefold() for code in range(0x21, 0x7F)} - {meant}
    assert 0.5 < sum(HAND.wrong(sign, meant) for sign in signs) <= 1
