"""Single strokes: each is what it is called, by definitions from outside."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from audit.practice.strokes import STROKES, letter_for_digit, wrong_digit

SEEDS = st.integers(0, 2**32 - 1)
CODES = st.from_regex(r"[A-Z]{0,2}[0-9]{3,15}", fullmatch=True)


def by_hand(meant: str, typed: str) -> str:
    """Name a slip by the patterns of Verhoeff (1969), written out here on their own."""
    if len(typed) == len(meant) - 1:
        return "dropped" if any(meant[:i] + meant[i + 1 :] == typed for i in range(len(meant))) else ""
    if len(typed) == len(meant) + 1:
        ways = [i for i in range(len(typed)) if typed[:i] + typed[i + 1 :] == meant]
        if not ways:
            return ""
        return (
            "doubled" if any(typed[i] in (typed[i - 1 : i], typed[i + 1 : i + 2]) for i in ways) else "extra"
        )
    where = [i for i in range(len(meant)) if meant[i] != typed[i]]
    if len(where) == 1:
        return "digit"
    if len(where) != 2:
        return ""
    i, k = where
    a, b, x, y = meant[i], meant[k], typed[i], typed[k]
    if k - i == 1:
        if (a, b) == (y, x):
            return "neighbours"
        if a == b and x == y:
            return "twin"
        if (b == "0" and x == "1" and y == a) or (a == "1" and x == b and y == "0"):
            return "phonetic"
    if k - i == 2:
        if (a, b) == (y, x):
            return "jump"
        if a == b and x == y:
            return "jump_twin"
    return ""


@pytest.mark.parametrize("name", [name for name in STROKES if name != "two_edits"])
@given(meant=CODES, seed=SEEDS)
def test_a_stroke_is_what_it_is_called(name, meant, seed):
    typed = STROKES[name](meant, np.random.default_rng(seed))
    if not typed or typed == meant:
        return
    found = by_hand(meant, typed)
    # a digit too many beside its like is a digit typed twice
    assert found == name or (name, found) == ("extra", "doubled")
    assert [sign for sign in typed if not sign.isdigit()] == [sign for sign in meant if not sign.isdigit()]


@pytest.mark.parametrize(
    ("name", "meant", "typed"),
    [
        ("neighbours", "10", {"01"}),
        ("jump", "123", {"321"}),
        ("phonetic", "30", {"13"}),
        ("phonetic", "13", {"30"}),
        ("dropped", "7", {""}),
        ("doubled", "SL-4", {"SL-44"}),
        ("twin", "SV12", {""}),
        ("jump_twin", "1231", {""}),
        ("neighbours", "1-2", {""}),
    ],
)
def test_worked_examples(name, meant, typed):
    assert {STROKES[name](meant, np.random.default_rng(seed)) for seed in range(20)} == typed


@pytest.mark.parametrize("name", list(STROKES))
def test_every_stroke_can_be_made(name):
    assert any(STROKES[name]("SV1133013121", np.random.default_rng(seed)) for seed in range(5))


def test_all_wrong_digits_are_alike_unless_said_otherwise():
    rng = np.random.default_rng(3)
    plain = [wrong_digit("1", rng) for _ in range(900)]
    assert set(plain) == set("023456789")
    assert 60 < plain.count("7") < 140  # 100 of 900 expected
    swaps = np.full((10, 10), 1 / 18)
    np.fill_diagonal(swaps, 0)
    swaps[1, 7] = 10 / 18
    tilted = [wrong_digit("1", rng, swaps) for _ in range(900)]
    assert 440 < tilted.count("7") < 560  # 500 expected


def test_a_letter_takes_the_place_of_its_digit():
    letters = {"O": "0", "l": "1", "|": "1", "I": "1"}
    seen = {letter_for_digit("SV101", np.random.default_rng(seed), letters) for seed in range(40)}
    assert seen == {"SVI01", "SV1O1", "SV10I"}
