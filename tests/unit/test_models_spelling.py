"""Texts that are one slip apart."""

from __future__ import annotations

import string
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from audit.models.spelling import (
    SlipIndex,
    edits_between,
    forerunners,
    one_slip_apart,
    pattern_of,
    rare_slip,
)

CODE = st.text(alphabet="01AB-", min_size=0, max_size=6)


def textbook_distance(a: str, b: str) -> int:
    """Restricted Damerau-Levenshtein distance by the textbook table: the independent check."""
    d = [[0] * (len(b) + 1) for _ in range(len(a) + 1)]
    for i in range(len(a) + 1):
        d[i][0] = i
    for j in range(len(b) + 1):
        d[0][j] = j
    for i in range(1, len(a) + 1):
        for j in range(1, len(b) + 1):
            cost = a[i - 1] != b[j - 1]
            d[i][j] = min(d[i - 1][j] + 1, d[i][j - 1] + 1, d[i - 1][j - 1] + cost)
            if i > 1 and j > 1 and a[i - 1] == b[j - 2] and a[i - 2] == b[j - 1]:
                d[i][j] = min(d[i][j], d[i - 2][j - 2] + 1)
    return d[len(a)][len(b)]


@pytest.mark.parametrize(
    ("meant", "typed", "kind"),
    [
        ("SV01236", "SV01263", "exchanged"),
        ("SV01236", "SV01286", "changed"),
        ("SV01236", "SV0136", "dropped"),
        ("SV01236", "SV012236", "doubled"),
        ("SV01236", "SV012936", "added"),
        ("SV01236", "SVO1236", "changed"),
        ("SV0123", "SV0123-", "added"),
        ("SV01236", "SV01236", ""),
        ("SV01236", "SV02136", "exchanged"),
        ("SV01236", "SV03216", ""),
        ("SV01236", "SV0126345", ""),
        ("", "A", "added"),
        ("A", "", "dropped"),
        ("", "", ""),
    ],
)
def test_each_kind_of_slip_has_its_name(meant: str, typed: str, kind: str) -> None:
    assert one_slip_apart(meant, typed) == kind


@given(CODE, CODE)
def test_one_slip_is_distance_one_by_the_textbook(a: str, b: str) -> None:
    assert bool(one_slip_apart(a, b)) == (textbook_distance(a, b) == 1)
    assert one_slip_apart(a, b) in ("", "changed", "exchanged", "dropped", "doubled", "added")


@given(st.sets(CODE, max_size=40), CODE)
def test_the_index_finds_exactly_what_a_full_reading_finds(known: set[str], text: str) -> None:
    expected = sorted(other for other in known if textbook_distance(other, text) == 1)
    assert SlipIndex(known).near(text) == expected


def test_a_text_is_not_its_own_neighbour() -> None:
    digits = [f"{letter}{n:03d}" for letter in string.ascii_uppercase for n in range(100)]
    index = SlipIndex(digits)
    assert "A050" not in index.near("A050")
    assert "A051" in index.near("A050")


@given(CODE, CODE, st.integers(0, 4))
def test_edits_are_those_of_the_textbook_up_to_the_most(a: str, b: str, most: int) -> None:
    assert edits_between(a, b, most) == min(textbook_distance(a, b), most + 1)


def test_edits_of_long_codes_are_counted_near_the_diagonal_only() -> None:
    code = "999104000123456"
    assert edits_between(code, f"1{code[:-1]}", 2) == 2
    assert edits_between(code, f"12{code[:-2]}", 3) == 4
    assert edits_between(code, code[::-1], 2) == 3


@pytest.mark.parametrize(
    ("meant", "typed", "kind"),
    [
        # the examples of Verhoeff (1969), table of kinds, as the function cites him; from memory
        ("SV01236", "SV03216", "jump"),
        ("SV01133", "SV01144", "twin"),
        ("SV01313", "SV01414", "jump_twin"),
        ("SV01330", "SV01313", "phonetic"),
        ("SV01313", "SV01330", "phonetic"),
        # two neighbours, two of no pattern, three apart, one and none
        ("SV01236", "SV01263", ""),
        ("SV01236", "SV01245", ""),
        ("SV01236", "SV62031", ""),
        ("SV61230", "SV01236", ""),
        ("SV01311", "SV01322", "twin"),
        ("SV01010", "SV01101", ""),
        ("SV01236", "SV01237", ""),
        ("SV01236", "SV01236", ""),
        ("SV0123", "SV01263", ""),
    ],
)
def test_each_rarer_slip_has_its_name(meant: str, typed: str, kind: str) -> None:
    assert rare_slip(meant, typed) == kind
    # each of them leads back the same way
    assert rare_slip(typed, meant) == kind


@pytest.mark.parametrize(
    ("meant", "typed", "kinds"),
    [
        ("36", "63", ("neighbours", "jump", "")),
        ("33", "44", ("twin", "jump_twin", "")),
        ("30", "13", ("phonetic", "", "")),
        ("10", "11", ("", "", "")),
        ("20", "13", ("", "", "")),
        ("34", "43", ("neighbours", "jump", "")),
        ("33", "45", ("", "", "")),
    ],
)
def test_patterns_hold_for_places_so_far_apart(meant: str, typed: str, kinds: tuple[str, ...]) -> None:
    assert tuple(pattern_of(meant, typed, step) for step in (1, 2, 3)) == kinds


@given(st.text(alphabet="0123", min_size=1, max_size=4))
def test_forerunners_are_all_codes_from_which_one_slip_leads_there(typed: str) -> None:
    codes = (
        "".join(signs) for n in range(len(typed) - 1, len(typed) + 2) for signs in product("0123", repeat=n)
    )
    assert forerunners(typed, "0123") == {
        code for code in codes if one_slip_apart(code, typed) or rare_slip(code, typed)
    }
