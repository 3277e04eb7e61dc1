"""Ring numbers and what may happen to them."""

from __future__ import annotations

import pytest

from audit.declarations import load_declarations
from audit.models.ring_number import CLAUSES, bare, join_ring, look_alike_table, ring_slip, split_ring

# The three forms printed in ringing papers and in a bander's manual, and digits only.
FORMS = {
    "ET06049": ("ET", "06049"),
    "2N-5354": ("2N-", "5354"),
    "888-88801": ("888-", "88801"),
    "0123456": ("", "0123456"),
    "ABC": ("ABC", ""),
    "": ("", ""),
}


@pytest.mark.parametrize(("text", "parts"), FORMS.items())
def test_a_number_is_split_before_its_last_digits(text: str, parts: tuple[str, str]) -> None:
    assert split_ring(text) == parts
    if parts[1]:
        assert join_ring(parts[0], int(parts[1]), len(parts[1])) == text


@pytest.mark.parametrize(
    ("meant", "typed", "kind"),
    [
        ("SV01236", "SV01286", "changed"),
        ("SV01236", "SV01263", "exchanged"),
        ("SV01236", "SV0126", "dropped"),
        ("SV01236", "SV012366", "doubled"),
        ("SV01236", "SV012376", "added"),
        ("SV01236", "SV-01236", "hyphen"),
        ("1204-45876", "12044-5876", "hyphen"),
        ("SV01230", "SVOI23O", "look-alike"),
        ("SV01236", "5V01236", "look-alike"),
        ("SV01236", "01236", "prefix"),
        ("SV01236", "SV03216", "jump"),
        ("SV01133", "SV01144", "twin"),
        ("1387-79170", "1387-170", "cut"),
        ("SV01236", "SV01236", ""),
        ("SV01236", "SV04576", ""),
        ("SV01236", "XX01236", ""),
    ],
)
def test_each_slip_has_its_name(meant: str, typed: str, kind: str) -> None:
    table = look_alike_table(load_declarations().rings.limits["look_alikes"].value)
    assert ring_slip(meant, typed, table) == kind
    assert not kind or kind in CLAUSES


def test_separators_are_left_out() -> None:
    assert bare("2N-5354") == bare("2N.5354") == "2N5354"
