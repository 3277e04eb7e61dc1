"""Short names of species: read, and said."""

from __future__ import annotations

from sheets import text_file

from audit.declarations import load_declarations
from audit.intake import read

DECLARED = load_declarations()


def test_a_short_name_is_read_and_said(tmp_path):
    rows = [
        ("date", "box", "ring", "species"),
        ("2026-05-04", "SL-01", "SV01001", "barn owl"),
        ("2026-05-04", "SL-01", "SV01002", "B. Owl"),
        ("2026-05-04", "SL-01", "SV01003", "B. Owl"),
        ("2026-05-04", "SL-02", "SV01004", "coal tit"),
    ]
    season = read(text_file(tmp_path / "handlings.csv", rows), DECLARED)
    assert season.frame("handlings")["species"].tolist() == ["barn owl", "B. Owl", "B. Owl", "coal tit"]
    assert season.notices == (
        "'B. Owl' was read as barn owl (2 rows); no other declared name is shortened to it.",
    )


def test_a_sheet_without_species_says_nothing(tmp_path):
    rows = [("date", "box", "ring"), ("2026-05-04", "SL-01", "SV01001")]
    assert read(text_file(tmp_path / "handlings.csv", rows), DECLARED).notices == ()
