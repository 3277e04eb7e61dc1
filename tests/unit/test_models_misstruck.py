"""A hand that strikes a wrong key."""

from __future__ import annotations

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
