"""What cannot be read is refused in one clear sentence, with the place and the cure: exact sentences."""

from __future__ import annotations

import os
import zipfile

import pandas as pd
import pytest
import xlsxwriter
from sheets import BIRDS, HEADER, opendocument, text_file, workbook

from audit.intake import read
from audit.refusal import SeasonRefusal


def refused(source, declared):
    with pytest.raises(SeasonRefusal) as refusal:
        read(source, declared)
    return refusal.value.what, refusal.value.cure, refusal.value.where


def test_a_path_that_is_not_there(declared, tmp_path):
    workbook(tmp_path / "round 2026.xlsx", {"handlings": [HEADER]})
    assert refused(tmp_path / "round 2025.xlsx", declared) == (
        "There is no such file or folder.",
        f"Did you mean {tmp_path / 'round 2026.xlsx'}?",
        str(tmp_path / "round 2025.xlsx"),
    )
    assert refused(str(tmp_path / "none" / "x.csv"), declared)[1] == "Check the spelling of the path."


@pytest.mark.parametrize("name", ["s.xlsx", "s.ods", "s.csv"])
def test_an_empty_file(declared, tmp_path, name):
    (tmp_path / name).touch()
    assert refused(tmp_path / name, declared)[:2] == (
        "This file is empty.",
        "Save the filled-in season under this name, or name another file.",
    )


def test_nothing_written(declared, tmp_path):
    said = "There is nothing written in this file."
    assert refused(workbook(tmp_path / "s.xlsx", {"handlings": []}), declared)[0] == said
    assert refused(opendocument(tmp_path / "s.ods", {"handlings": []}), declared)[0] == said
    assert refused(text_file(tmp_path / "s.csv", [[], ["", ""]]), declared)[0] == said


def test_a_header_without_a_bird_is_a_season_without_birds(declared, tmp_path):
    season = read(workbook(tmp_path / "s.xlsx", {"handlings": [HEADER]}), declared)
    assert season.frame("handlings").shape == (0, 5)


OLE = bytes.fromhex("D0CF11E0A1B11AE1")


@pytest.mark.parametrize("name", ["s.xlsx", "s.xls"])
def test_a_password(declared, tmp_path, name):
    # Encrypted workbooks are compound files with a stream of this name: [MS-OFFCRYPTO] 2.3.4.4
    (tmp_path / name).write_bytes(OLE + bytes(504) + "EncryptedPackage".encode("utf-16-le") + bytes(512))
    assert refused(tmp_path / name, declared)[:2] == (
        "This workbook is protected by a password.",
        "Open it, save it without a password under a new name, and give that file.",
    )


def test_an_opendocument_password(declared, tmp_path):
    path = opendocument(tmp_path / "s.ods", {"handlings": [HEADER, *BIRDS]})
    other = tmp_path / "shut.ods"
    with zipfile.ZipFile(path) as old, zipfile.ZipFile(other, "w") as new:
        for part in old.infolist():
            data = old.read(part)
            if part.filename == "META-INF/manifest.xml":
                data = data.replace(
                    b"</manifest:manifest>", b"<manifest:encryption-data/></manifest:manifest>"
                )
            new.writestr(part.filename, data)
    assert refused(other, declared)[0] == "This spreadsheet is protected by a password."


@pytest.mark.parametrize("name", ["s.xls", "s.xlsx", "s.csv"])
def test_the_old_form_whatever_it_is_called(declared, tmp_path, name):
    (tmp_path / name).write_bytes(OLE + bytes(1016))
    assert refused(tmp_path / name, declared)[:2] == (
        "This is a workbook in the old .xls form.",
        "Open it in a spreadsheet program and save it as .xlsx.",
    )


@pytest.mark.parametrize("name", ["s.xlsx", "s.xlsm", "s.ods"])
def test_no_workbook(declared, tmp_path, name):
    (tmp_path / name).write_text("<html><table><tr><td>date</td></tr></table></html>")
    assert refused(tmp_path / name, declared)[:2] == (
        f"This is no workbook, although its name ends in {name[1:]}.",
        "Open it in a spreadsheet program and save it as .xlsx.",
    )


@pytest.mark.parametrize("kind", ["xlsx", "ods"])
def test_a_file_that_breaks_off(declared, tmp_path, kind):
    write = workbook if kind == "xlsx" else opendocument
    path = write(tmp_path / f"s.{kind}", {"handlings": [HEADER, *BIRDS]})
    path.write_bytes(path.read_bytes()[:-200])
    assert refused(path, declared)[:2] == (
        "This workbook is damaged: it breaks off or was not copied whole.",
        "Copy it again, or open and save it in a spreadsheet program.",
    )


@pytest.mark.parametrize(
    ("part", "content"),
    [
        ("xl/workbook.xml", b"<not closed"),
        ("xl/styles.xml", b"<not closed"),
        ("[Content_Types].xml", b""),
        ("xl/sharedStrings.xml", b"<sst"),
    ],
)
def test_a_workbook_whose_parts_are_damaged(declared, tmp_path, part, content):
    path = tmp_path / "s.xlsx"
    book = xlsxwriter.Workbook(path)
    book.add_worksheet("handlings").write_row(0, 0, HEADER)
    book.close()
    other = tmp_path / "damaged.xlsx"
    with zipfile.ZipFile(path) as old, zipfile.ZipFile(other, "w") as new:
        for item in old.infolist():
            new.writestr(item.filename, content if item.filename == part else old.read(item))
    assert refused(other, declared)[:2] == (
        "This workbook is damaged: its parts cannot be read.",
        "Open it in a spreadsheet program, save it as .xlsx under a new name, and try again.",
    )


def test_every_byte_that_flips_is_read_or_refused(declared, tmp_path):
    path = workbook(tmp_path / "s.xlsx", {"handlings": [HEADER, *BIRDS]})
    data = path.read_bytes()
    for place in range(0, len(data), len(data) // 60):
        broken = bytearray(data)
        broken[place] ^= 0xFF
        path.write_bytes(broken)
        try:
            read(path, declared)
        except SeasonRefusal as refusal:
            assert refusal.cure  # noqa: PT017 - either outcome is right, a traceback is not


def test_an_archive_that_is_no_workbook(declared, tmp_path):
    path = tmp_path / "s.xlsx"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("photo.jpg", b"x")
    assert refused(path, declared)[0] == "This is an archive, but no workbook."


def test_a_workbook_that_unpacks_without_end(declared, tmp_path):
    path = tmp_path / "bomb.xlsx"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("[Content_Types].xml", b"")
        with archive.open("xl/worksheets/sheet1.xml", "w", force_zip64=True) as part:
            for _ in range(60):
                part.write(bytes(10_000_000))
    assert path.stat().st_size < 1_000_000
    assert refused(path, declared)[0] == "This workbook unpacks to 600 MB; a season is at most 500 MB."


@pytest.mark.parametrize("name", ["s.xlsx", "s.csv"])
def test_a_file_of_200_megabytes_is_not_even_opened(declared, tmp_path, name, monkeypatch):
    path = tmp_path / name
    with path.open("wb") as stream:
        os.truncate(stream.fileno(), 200_000_000)
    monkeypatch.setattr("pathlib.Path.open", None)
    monkeypatch.setattr("pathlib.Path.read_bytes", None)
    assert refused(path, declared)[:2] == (
        "This file is 200 MB large; a season is at most 50 MB.",
        "Give one season alone, without pictures.",
    )


@pytest.mark.parametrize(
    ("name", "what"),
    [("s.numbers", "Files that end in '.numbers' cannot be read."), ("s", "This file has no ending.")],
)
def test_an_ending_that_is_not_known(declared, tmp_path, name, what):
    (tmp_path / name).write_text("date,box,ring\n")
    assert refused(tmp_path / name, declared)[:2] == (
        what,
        "Give a workbook (.xlsx, .xlsm, .ods), a text file (.csv, .tsv, .txt) or a folder of .csv files.",
    )


@pytest.mark.parametrize(
    ("name", "what"),
    [
        ("s.xls", "This is a workbook of the new form under a name that ends in '.xls'."),
        ("s", "This is a workbook, but its name has no ending."),
    ],
)
def test_a_workbook_under_another_name(declared, tmp_path, name, what):
    workbook(tmp_path / "first.xlsx", {"handlings": [("date", "box", "ring")]}).rename(tmp_path / name)
    assert refused(tmp_path / name, declared)[:2] == (what, "Name it s.xlsx.")
    with zipfile.ZipFile(tmp_path / "letters.zip", "w") as package:
        package.writestr("letter.txt", "Dear all")
    assert refused(tmp_path / "letters.zip", declared)[0] == "Files that end in '.zip' cannot be read."


def test_a_sheet_without_any_header(declared, tmp_path):
    birds = [(46146 + i, 31 + i, 1001 + i, 201) for i in range(3)]
    path = workbook(tmp_path / "s.xlsx", {"Owls": birds, "Notes": [("x",)]})
    _, cure, _ = refused(path, declared)
    assert "No row at the top of 'Owls' holds headers: write them above the first bird." in cure
    assert "not known: ." not in cure


def test_a_header_that_is_nearer_to_another_column_is_not_put_for_the_missing_one(declared, tmp_path):
    path = workbook(
        tmp_path / "s.xlsx", {"handlings": [("date", "box", "leg"), ("2026-05-04", "SL-01", "R")]}
    )
    _, cure, _ = refused(path, declared)
    assert cure.endswith("'leg': ignore")


def test_the_lock_of_an_open_workbook(declared, tmp_path):
    (tmp_path / "~$s.xlsx").write_bytes(b"AB" * 80)
    assert refused(tmp_path / "~$s.xlsx", declared)[1] == "Name the workbook itself: s.xlsx."


def test_a_workbook_under_the_name_of_a_text_file(declared, tmp_path):
    path = workbook(tmp_path / "s.xlsx", {"handlings": [HEADER]}).rename(tmp_path / "s.csv")
    assert refused(path, declared)[0] == "This is a workbook or archive under the name of a .csv file."


def test_a_workbook_under_the_name_of_another_kind_is_read(declared, tmp_path):
    path = workbook(tmp_path / "s.xlsx", {"handlings": [HEADER, *BIRDS]}).rename(tmp_path / "s.ods")
    assert len(read(path, declared).frame("handlings")) == 3


def test_a_folder_without_text_files(declared, tmp_path):
    assert refused(tmp_path, declared)[1] == (
        "Put one .csv file for each table into it, named like the table: handlings.csv, visits.csv."
    )
    workbook(tmp_path / "round.xlsx", {"handlings": [HEADER]})
    assert refused(tmp_path, declared)[:2] == (
        "There is no .csv file in this folder.",
        "Name the workbook itself: round.xlsx.",
    )


def test_a_file_that_may_not_be_read(declared, tmp_path, monkeypatch):
    path = workbook(tmp_path / "s.xlsx", {"handlings": [HEADER, *BIRDS]})

    def shut(*_args, **_options):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("pathlib.Path.open", shut)
    assert refused(path, declared)[:2] == (
        "The file cannot be opened (Permission denied).",
        "Close it in other programs, check that you may read it, and try again.",
    )


def test_the_folder_that_one_is_in(declared, tmp_path, monkeypatch):
    inner = tmp_path / "round" / "inner"
    inner.mkdir(parents=True)
    text_file(inner.parent / "handlings.csv", [HEADER, *BIRDS])
    for place, named in ((inner.parent, "."), (inner, "..")):
        monkeypatch.chdir(place)
        season = read(named, declared)
        assert (season.name, len(season.frame("handlings"))) == ("round", len(BIRDS))


def test_no_handlings(declared, tmp_path):
    sheets = {"Colours": [("Colour", "Meaning"), ("green", "done")], "Means": [("Year", "Mean"), (2026, 300)]}
    path = workbook(tmp_path / "s.xlsx", sheets)
    what, cure, where = refused(path, declared)
    assert what == "No sheet holds handlings, one row for each bird in the hand; found 'Colours' and 'Means'."
    assert cure.startswith(
        "Name the sheet 'handlings' and give it columns for date, box and ring, or say in s.mapping.yaml "
        "which sheet it is. Headers of 'Colours' that are not known: 'Colour' (A, nearest known 'jour' "
        "for date) and 'Meaning' (B, nearest known 'metalen ring' for ring). To have it read, copy "
        "these lines into s.mapping.yaml"
    )
    assert where == str(path)


def test_a_needed_column_lists_the_unknown_headers_and_the_nearest_known(declared, tmp_path):
    rows = [
        ("Season",),
        ("date", "box", "Rg-Nr.", "wing_mm", "Xyz"),
        ("2026-05-04", "SL-01", "SV01001", 201, 1),
    ]
    path = workbook(tmp_path / "s.xlsx", {"handlings": rows})
    assert refused(path, declared) == (
        "Sheet 'handlings' has no column for ring.",
        (
            "Headers not known: 'Rg-Nr.' (C, nearest known 'ring nr' for ring) and 'Xyz' (E). Rename the "
            "right ones, or copy these lines into s.mapping.yaml beside the file, and write what each header "
            "means where 'ignore' stands. Needed: ring; others are time, species, ring_leg, tag, tag_leg, "
            "age, event, gross_g, bag_g, net_g, age_days, hatch_date, brood_size, sex, condition, ringer, "
            "scribe and remarks.\n"
            "sheets:\n"
            "  'handlings': handlings\n"
            "columns:\n"
            "  'handlings':\n"
            "    'Rg-Nr.': ring\n"
            "    'Xyz': ignore"
        ),
        f"{path}, sheet 'handlings', row 2",
    )


def test_the_cure_for_a_needed_column_works_when_it_is_followed(declared, tmp_path):
    rows = [("date", "box", "Rg: 'Nr'"), ("2026-05-04", "SL-01", "SV01001")]
    path = workbook(tmp_path / "s.xlsx", {"Mai '26": rows})
    _, cure, _ = refused(path, declared)
    lines = cure.partition("\n")[2]
    (tmp_path / "s.mapping.yaml").write_text(lines, encoding="utf-8")
    assert read(path, declared).frame("handlings")["ring"].tolist() == ["SV01001"]


def test_all_headers_of_nobodys_vocabulary_are_in_the_lines_to_be_copied(declared, tmp_path):
    rows = [("When", "Home", "Bling's", "Flap"), ("2026-05-04", "SL-01", "SV01001", 201)]
    path = workbook(tmp_path / "s.xlsx", {"Sheet": rows})
    _, cure, _ = refused(path, declared)
    lines = cure.partition("\n")[2]
    assert lines.count(": ignore") == len(rows[0])
    saved = tmp_path / "s.mapping.yaml"
    saved.write_text(lines, encoding="utf-8")
    # as they stand they settle nothing, so that nothing is read wrongly
    assert refused(path, declared)[0] == "Sheet 'Sheet' has no column for date, box and ring."
    for header, field in (("When", "date"), ("Home", "box"), ("Bling''s", "ring"), ("Flap", "wing_mm")):
        lines = lines.replace(f"'{header}': ignore", f"'{header}': {field}")
    saved.write_text(lines, encoding="utf-8")
    assert read(path, declared).frame("handlings").iloc[0]["wing_mm"] == 201


def test_a_list_of_birds_without_rings_is_not_taken_for_visits(declared, tmp_path):
    rows = [
        ("date", "box", "Nummer", "wing", "net", "ringer"),
        ("2026-05-04", "SL-01", "SV01001", 201, 373, "AB"),
    ]
    path = workbook(tmp_path / "s.xlsx", {"Tabelle1": rows})
    assert refused(path, declared)[0] == "Sheet 'Tabelle1' has no column for ring."


def test_two_columns_that_mean_the_same(declared, tmp_path):
    rows = [("date", "box", "Metal ring", "Ring no"), ("2026-05-04", "SL-01", "SV01001", "SV01002")]
    path = workbook(tmp_path / "s.xlsx", {"handlings": rows})
    assert refused(path, declared)[:2] == (
        "Sheet 'handlings': 'Metal ring' (C) and 'Ring no' (D) mean the same, ring.",
        (
            "Rename all but one, or write into s.mapping.yaml: sheets: {'handlings': handlings}, columns: "
            "{'handlings': {'Ring no': ignore}}"
        ),
    )


def test_two_columns_of_the_very_same_header(declared, tmp_path):
    rows = [("date", "box", "ring", "ring"), ("2026-05-04", "SL-01", "SV01001", "SV01002")]
    path = workbook(tmp_path / "s.xlsx", {"handlings": rows})
    assert (
        refused(path, declared)[0] == "Sheet 'handlings': 'ring' (C) and 'ring (D)' (D) mean the same, ring."
    )
    (tmp_path / "s.mapping.yaml").write_text("columns: {handlings: {ring (D): ignore}}")
    season = read(path, declared)
    assert season.frame("handlings")["ring"].tolist() == ["SV01001"]
    assert season.tables["handlings"].typed["ring (D)"].tolist() == ["SV01002"]


def test_no_frame(declared):
    assert refused({}, declared)[1] == "Give at least {'handlings': frame}."
    assert refused({"handlings": [1, 2]}, declared)[0] == "'handlings' is a list, not a data frame."
    assert refused({"handlings": pd.DataFrame()}, declared)[0].startswith("Sheet 'handlings' is empty")
