"""What is read once: texts of numbers, for all columns declared alike, and the index of a table."""

from __future__ import annotations

import re

import pandas as pd
from typed_column import DECLARED

from audit.intake import numbers, read
from audit.intake.grid import RawCell
from audit.intake.numbers import number_reader
from audit.intake.values import read_column
from audit.intake.words import Words, fold, tidy

WING = DECLARED.tables["handlings"].field("wing_mm")


def test_columns_that_are_declared_and_written_alike_share_a_reader_and_what_it_read():
    words = Words(DECLARED.settings)
    reader, again = number_reader(WING, words), number_reader(WING, Words(DECLARED.settings))
    assert reader is again
    assert reader.read("205") is again.read("205")
    assert number_reader(WING, words, scale=10.0) is not reader
    assert number_reader(WING, words, marks=frozenset(",")) is not reader


def test_a_reader_forgets_before_it_knows_too_much(monkeypatch):
    monkeypatch.setattr(numbers, "_MOST_KNOWN", 2)
    reader = number_reader(WING, Words(DECLARED.settings), scale=3.0)
    assert [reader.read(text).value for text in ("1", "2", "3", "1")] == [3, 6, 9, 3]
    assert len(reader._known) <= 2


def test_columns_of_a_table_share_its_index():
    index = pd.Index(["s!2", "s!3"], dtype="str")
    read = read_column([RawCell("205", "205"), RawCell("mm", "mm")], index, WING, DECLARED)
    assert read.values.index is index  # noqa: PD011 - a field of the record, not of pandas
    assert read.typed.index is index
    assert [reading.label for reading in read.readings] == ["s!3"]


def test_all_blanks_of_all_scripts_come_between_words_alike():
    """Blanks are what the standard library's regular expressions take for them."""
    for code in range(0x110000):
        text = f" a{chr(code)}{chr(code)}b"
        if chr(code).isspace():
            assert tidy(text) == fold(text) == "a b"
        elif code < ord("A"):
            assert tidy(text) == re.sub(r"\s+", " ", text).strip()


def test_tables_of_one_sheet_are_put_together_without_a_copy_and_columns_stand_in_order(monkeypatch):
    def never(*_: object, **__: object) -> None:
        raise AssertionError

    for name in ("concat", "MultiIndex"):
        monkeypatch.setattr(pd, name, never)
    row = {"ring": "SV01001", "box": "SL-01", "date": "2026-05-04", "wing_mm": "205", "more": "x"}
    before = [{**row, "date": f"2025-05-0{day}", "box": box} for day, box in enumerate(("", "", "SL-01"), 2)]
    # one of this season, two of one day without a box, and one without marks
    before += [row, {**before[0]}, {**row, "ring": ""}]
    season = read({"handlings": pd.DataFrame([row])}, DECLARED, earlier=[{"handlings": pd.DataFrame(before)}])
    assert [*season.frame("handlings").columns] == ["date", "box", "ring", "wing_mm"]
    assert [*season.tables["handlings"].typed.columns] == ["date", "box", "ring", "wing_mm", "more"]
    assert season.frame("earlier")["date"].dt.day.tolist() == [2, 3, 4]
    assert any("2 rows of earlier seasons were met twice" in notice for notice in season.notices)
