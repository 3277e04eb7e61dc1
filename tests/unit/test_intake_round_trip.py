"""Whatever is typed as text comes back as typed, at its place, from every kind of file."""

from __future__ import annotations

import tempfile
from pathlib import Path

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE
from sheets import as_typed, opendocument, text_file, workbook

from audit.intake import read

HEADER = ["date", "box", "ring", "tag", "remarks", "My own column"]


def _survives(text):
    # Line ends are unified by XML, and neither kind of file holds control characters.
    return "\r" not in text and not ILLEGAL_CHARACTERS_RE.search(text) and not text.startswith("\ufeff")


# Text as a ringer may type it; categories Cs, Cn and Co cannot be typed.
typed = st.text(st.characters(exclude_categories=["Cs", "Cc", "Cn", "Co"]), max_size=12).filter(_survives)
codes = st.from_regex(r"\A(SV|0|00|'|1E)?[0-9]{1,15}\Z")
boxes = st.integers(1, 99).map(lambda n: f"SL-{n:02}")
tables = st.lists(st.tuples(st.just("2026-05-04"), boxes, codes, codes, typed, typed), min_size=1, max_size=6)


def expected(rows, sheet):
    return {
        (f"{sheet}!{i}", field): text
        for i, row in enumerate(rows, start=2)
        for field, text in zip(HEADER, row, strict=True)
        if text.strip()
    }


def not_blank(found):
    return {place: text for place, text in found.items() if text.strip()}


@pytest.mark.parametrize("kind", ["xlsx", "csv", "semicolon", "tabs", "ods", "frames"])
@settings(max_examples=25, deadline=None)
@given(rows=tables)
def test_text_comes_back_as_typed(declared, kind, rows):
    with tempfile.TemporaryDirectory() as folder:
        table = [HEADER, *rows]
        path = Path(folder) / f"handlings.{kind if kind in ('xlsx', 'ods') else 'csv'}"
        if kind == "xlsx":
            source = workbook(path, {"handlings": table})
        elif kind == "ods":
            source = opendocument(path, {"handlings": table})
        elif kind == "frames":
            source = {"handlings": pd.DataFrame(rows, columns=HEADER)}
        else:
            source = text_file(path, table, {"csv": ",", "semicolon": ";", "tabs": "\t"}[kind])
        season = read(source, declared)
    assert not_blank(as_typed(season)) == expected(rows, "handlings")
    ring = season.cell("handlings!2", "ring")
    assert (ring.sheet, ring.row, ring.column, ring.address) == ("handlings", 2, "ring", "C2")
