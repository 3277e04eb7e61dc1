"""Which files an archive is made of, how each can be read, and what is said of the others."""

from __future__ import annotations

import pytest
from archive_rows import DECLARED
from sheets import workbook

from audit.archive.archive_files import archive_files
from audit.archive.file_columns import FileColumns
from audit.archive.left_out import once_each, passed_by
from audit.archive.opened_files import open_files
from audit.archive.plain_files import is_stranger, plain_file
from audit.archive.season_files import usual_year
from audit.refusal import Refusal

HEAD = "date,box,ring,wing_mm\n"
ROWS = "2019-06-01,SL-01,SV00001,180\n2019-06-01,SL-01,SV00002,181.5\n"


def write(folder, **files):
    for name, text in files.items():
        path = folder / name.replace("__", "/").replace("_csv", ".csv").replace("_parquet", ".parquet")
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return folder


@pytest.mark.parametrize(
    ("text", "separator"),
    [
        (HEAD + ROWS, ","),
        (f"{HEAD}{ROWS}\n", ","),
        ("\ufeff" + HEAD + ROWS, ","),
        ((HEAD + ROWS).replace(",", ";").replace("181.5", "181,5"), ";"),
        ("Datum\tKasten\tRing\n1.6.2019\tSL-01\tSV00001\n", "\t"),
        (HEAD + ROWS * 20 + "soon,SL-01,SV00003,180\n", ","),
    ],
)
def test_what_an_engine_may_read_as_it_stands(tmp_path, text, separator):
    path = write(tmp_path, a_csv=text) / "a.csv"
    found = plain_file(path, DECLARED, "handlings")
    assert found is not None
    assert found.separator == separator


@pytest.mark.parametrize(
    "text",
    [
        "Sallow Levels box round\n" + HEAD + ROWS,
        HEAD + ROWS.replace("2019-06-01", "01/06/2019"),
        HEAD + ROWS.replace("180", "180 mm").replace("181.5", "181 mm"),
        HEAD.replace("wing_mm", "wing (cm)") + ROWS,
        HEAD + "\n" + ROWS,
        HEAD + ROWS + "2019-06-01,SL-01,SV00003,180,and more\n",
        (HEAD + ROWS).encode("utf-16"),
        (HEAD + ROWS.replace("SL-01", "Mühle")).encode("cp1252"),
        HEAD + ROWS.replace("SL-01", '"SL-01'),
        "date,box\n2019-06-01,SL-01\n",
        HEAD + ROWS + ",,SV00003,182\n,,SV00004,183\n",
    ],
)
def test_what_has_to_be_read_as_a_season_is_read(tmp_path, text):
    assert plain_file(write(tmp_path, a_csv=text) / "a.csv", DECLARED, "handlings") is None


def test_a_list_that_holds_no_handlings_is_a_stranger(tmp_path):
    write(tmp_path, a_csv="date,what\n2019-06-01,rain\n", b_csv="Ask AB.\n", c_csv="x\n" + HEAD)
    assert [is_stranger(tmp_path / f"{name}.csv", DECLARED) for name in "abc"] == [True, True, False]


def test_the_year_of_a_file_is_that_of_nearly_all_its_rows():
    assert usual_year({"2019": 40, "2091": 1}, 0.9) == "2019"
    assert usual_year({"2019": 5, "2020": 4}, 0.9) == ""
    assert usual_year({}, 0.9) == ""


def test_folders_with_plain_names_are_teams_where_there_are_several(tmp_path):
    write(tmp_path, north__2019_csv=HEAD, south__2019_parquet=b"PAR1", south__x__2020_csv=HEAD)
    files = archive_files([tmp_path], DECLARED)
    assert [file.groups.get("team") for file in files] == ["north", "south", "south"]
    assert [file.groups for file in archive_files([tmp_path / "south"], DECLARED)] == [{}, {}]


def test_a_folder_with_further_tables_is_a_season(tmp_path):
    write(
        tmp_path,
        a__handlings_csv=HEAD,
        a__visits_csv="date,box\n",
        b__handlings_csv=HEAD,
        b__boxes_csv="box\n",
    )
    found = {file.name: file.book for file in archive_files([tmp_path], DECLARED)}
    assert found["a/handlings.csv"] == found["a/visits.csv"] == tmp_path / "a"
    assert found["b/handlings.csv"] is None


def test_files_that_are_not_read_are_told_of(tmp_path):
    write(tmp_path, a_csv=HEAD, empty_csv="", photo=b"\xff", _hidden=b"x")
    (tmp_path / "a.mapping.yaml").write_text("{}", encoding="utf-8")
    told = passed_by([tmp_path], archive_files([tmp_path], DECLARED))
    assert told == (
        "Nothing is written in empty.csv: where a season is missing, save it again.",
        "Neither tables nor workbooks, and not read: photo.",
    )


def test_a_file_given_twice_is_counted_once(tmp_path):
    write(tmp_path, a_csv=HEAD + ROWS, b_csv=HEAD + ROWS, c_csv=HEAD)
    files = tuple(file.with_checksum() for file in archive_files([tmp_path], DECLARED))
    kept, told = once_each(files)
    assert [file.name for file in kept] == ["a.csv", "c.csv"]
    assert len(told) == 1
    assert told[0].startswith("b.csv holds the same as a.csv, byte by byte, and was counted once: take one")


def opened(folder, keep):
    def no_engine(file, plain):
        del plain
        return file.path, FileColumns(file, {}, {})

    def write_columns(frame, path):
        written.append(frame)
        path.write_bytes(b"x")

    written = []
    return open_files(archive_files([folder], DECLARED), DECLARED, keep, write_columns, no_engine), written


def test_a_workbook_keeps_its_rows_and_is_read_once(tmp_path):
    source = tmp_path / "in"
    source.mkdir()
    head = ["Date", "Box", "Ring", "Wing (cm)"]
    first = [head, ["2019-06-01", "SL-01", "SV00001", 18.0], [], ["2019-06-02", "SL-02", "SV00002", 18.1]]
    sheets = {"Round 1": first, "Round 2": [head, ["2091-06-20", "SL-01", "SV00003", 20.0]]}
    sheets["visits"] = [["date", "box", "alive"], ["2019-06-01", "SL-01", 2]]
    many = [["2019-06-03", f"SL-{n}", f"SV0001{n}", 17] for n in range(10)]
    workbook(source / "2019.xlsx", {**sheets, "Round 3": [head, *many]})
    found, written = opened(source, tmp_path / "keep")
    assert [columns.file.name for _, columns in found.handlings] == [
        f"2019.xlsx, Round {n}" for n in (1, 2, 3)
    ]
    assert written[0]["row of the sheet"].tolist() == [2, 4]
    assert written[0]["wing_mm"].tolist() == ["180", "181"]
    # a slip in the year is no season of its own
    assert {season for frame in written for season in frame["season"]} == {"2019"}
    (season,) = found.seasons
    assert season.book.one_season
    assert set(season.book.tables) == {"handlings", "visits"}
    assert found.handlings[0][1].headers["wing_mm"] == "Wing (cm)"
    again, read = opened(source, tmp_path / "keep")
    assert again == found
    assert not read
    workbook(source / "2019.xlsx", {**sheets, "Round 3": [head, *many[:9]]})
    _, read = opened(source, tmp_path / "keep")
    assert len(read) == 3


def test_a_workbook_of_several_years_is_no_season(tmp_path):
    source = tmp_path / "in"
    source.mkdir()
    rows = [[f"{year}-06-01", "SL-01", f"SV{year}{n}"] for year in (2019, 2020) for n in range(3)]
    sheets = {
        "handlings": [["date", "box", "ring"], *rows],
        "visits": [["date", "box"], ["2019-06-01", "SL-01"]],
    }
    workbook(source / "all.xlsx", sheets)
    found, written = opened(source, tmp_path / "keep")
    assert not found.seasons[0].book.one_season
    assert written[0]["season"].tolist() == ["2019"] * 3 + ["2020"] * 3
    assert any("more than one season or team" in notice for notice in found.notices)


def test_all_that_is_wrong_with_any_file_is_told_at_once(tmp_path):
    source = write(tmp_path / "in", a_csv=HEAD + ROWS, b_csv="date,box\n2019-06-01,SL-01\n")
    (source / "c.xlsx").write_bytes(b"PK\x03\x04 and then nothing")
    with pytest.raises(Refusal) as told:
        opened(source, tmp_path / "keep")
    assert told.value.what == "2 files of the archive cannot be read."
    assert "b.csv" in told.value.where
    assert "This workbook is damaged" in told.value.where
