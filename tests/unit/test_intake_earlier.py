"""Earlier seasons as witnesses: from files, folders, frames, and a sheet of the season itself."""

from __future__ import annotations

import pandas as pd
import pytest
from sheets import text_file, workbook

from audit.checking import check, read_season
from audit.declarations import load_declarations
from audit.refusal import SeasonRefusal

HEADER = ("date", "box", "ring", "tag", "age", "gross_g", "bag_g", "net_g")
NOW = (HEADER, ("2026-05-04", "SL-01", "SV02001", "", "6", "", "", "340"))
THEN = (
    HEADER,
    ("2025-05-20", "SL-01", "SV01001", "999000000001337", "1", 395, 22, 373),
    ("2025-05-20", "SL-01", "SV01002", "", "1", 381, 22, 359),
)


def frame_of(rows):
    return pd.DataFrame([dict(zip(rows[0], row, strict=True)) for row in rows[1:]])


def test_a_column_of_an_earlier_season_is_a_column_of_the_handlings():
    tables = load_declarations().tables
    for field in tables["earlier"].fields:
        of_now = tables["handlings"].field(field.name)
        assert (field.kind, field.unit, field.needed) == (of_now.kind, of_now.unit, of_now.needed)
        # witnesses: no cell of them is ever asked about
        assert not field.required
        assert field.allowed is None


def test_the_rows_keep_their_file_and_sheet(tmp_path):
    season = read_season(
        workbook(tmp_path / "2026.xlsx", {"Ringing": NOW}),
        earlier=[
            workbook(tmp_path / "2025.xlsx", {"Ringing": THEN}),
            text_file(tmp_path / "2024.csv", (HEADER, ("2024-06-01", "SL-02", "SV00001", *[""] * 5))),
        ],
    )
    frame = season.frame("earlier")
    assert frame.index.tolist() == ["2025.xlsx, Ringing!2", "2025.xlsx, Ringing!3", "2024.csv!2"]
    assert frame["ring"].tolist() == ["SV01001", "SV01002", "SV00001"]
    assert set(frame.columns) == {"date", "box", "ring", "tag", "age", "net_g"}
    assert frame["net_g"].tolist()[:2] == [373, 359]
    cell = season.cell("2025.xlsx, Ringing!3", "ring")
    assert (cell.sheet, cell.address, cell.observed) == ("2025.xlsx, Ringing", "C3", "SV01002")
    assert season.frame("handlings")["ring"].tolist() == ["SV02001"]


def test_two_files_of_one_name_are_told_apart(tmp_path):
    places = []
    for n, folder in enumerate(("a", "b"), start=1):
        (tmp_path / folder).mkdir()
        row = ("2025-06-01", "SL-02", f"SV0000{n}", *[""] * 5)
        places.append(text_file(tmp_path / folder / "birds.csv", (HEADER, row)))
    season = read_season(text_file(tmp_path / "birds.csv", NOW), earlier=places)
    assert season.frame("earlier").index.tolist() == ["birds.csv!2", "birds.csv (2)!2"]


def test_a_folder_and_frames_are_earlier_seasons_too(tmp_path):
    (tmp_path / "2025").mkdir()
    text_file(tmp_path / "2025" / "handlings.csv", THEN)
    later = (HEADER, ("2024-06-01", "SL-02", "SV00001", *[""] * 5))
    season = read_season(
        {"handlings": frame_of(NOW)}, earlier=[tmp_path / "2025", {"handlings": frame_of(later)}]
    )
    assert season.frame("earlier").index.tolist() == [
        *("2025, handlings!2", "2025, handlings!3"),
        "earlier season, handlings!2",
    ]


@pytest.mark.parametrize("name", ["earlier", "Earlier seasons", "Vorjahr"])
def test_a_sheet_of_the_season_itself(tmp_path, name):
    season = read_season(workbook(tmp_path / "2026.xlsx", {"Ringing": NOW, name: THEN}))
    assert season.frame("earlier")["ring"].tolist() == ["SV01001", "SV01002"]
    assert season.frame("handlings")["ring"].tolist() == ["SV02001"]
    assert season.frame("earlier").index.tolist()[0] == f"{name}!2"


def test_nothing_went_before_the_only_sheet(tmp_path):
    season = read_season(text_file(tmp_path / "earlier.csv", NOW))
    assert not season.has("earlier")
    assert len(season.frame("handlings")) == 1


def test_rows_of_this_season_are_not_taken_twice(tmp_path):
    both = (*THEN, NOW[1])
    season = read_season(
        text_file(tmp_path / "2026.csv", NOW), earlier=[text_file(tmp_path / "all.csv", both)] * 2
    )
    assert season.frame("earlier")["ring"].tolist() == ["SV01001", "SV01002"]
    assert (
        "4 rows of earlier seasons were met twice, with the same date, box and ring, and counted once."
        in (season.notices)
    )


def test_nothing_is_asked_of_an_earlier_cell(tmp_path):
    odd = (
        HEADER,
        ("2025-05-20", "SL-01", "SV0100l", "999OOO1", "Z", "x", "-7", "373 or so"),
        ("not known", "", "SV01001", "", "", 395, 22, 395),
    )
    season = read_season(
        text_file(tmp_path / "2026.csv", NOW), earlier=[text_file(tmp_path / "2025.csv", odd)]
    )
    assert all(not reading.label.startswith("2025") for reading in season.readings)
    named = {suspect.cell.sheet for finding in check(season).findings for suspect in finding.suspects}
    assert "2025.csv" not in named
    assert any("could not be read" in notice and "'2025'" in notice for notice in season.notices)


def test_an_earlier_season_without_rows_is_said(tmp_path):
    season = read_season(
        text_file(tmp_path / "2026.csv", NOW), earlier=[text_file(tmp_path / "2025.csv", (HEADER,))]
    )
    assert not season.has("earlier")
    assert "2025.csv: there are no rows below the header." in season.notices


def test_a_wrong_file_is_refused(tmp_path):
    now = text_file(tmp_path / "2026.csv", NOW)
    with pytest.raises(SeasonRefusal, match="no such file"):
        read_season(now, earlier=[tmp_path / "2025.csv"])
    with pytest.raises(SeasonRefusal, match="No sheet holds handlings"):
        read_season(now, earlier=[text_file(tmp_path / "reads.csv", (("date", "box", "tag"), ("", "", "")))])
