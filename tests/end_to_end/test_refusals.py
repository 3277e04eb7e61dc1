"""What cannot be read or declared ends with 2, in one sentence with place and cure, and writes nothing."""

from __future__ import annotations

import os
import re
import zipfile

import pytest
import xlsxwriter
from end_to_end.season_files import three_birds
from numpy.random import default_rng
from sheets import BIRDS, HEADER, text_file, workbook

#: First bytes of a compound file, the container of old and of encrypted workbooks: [MS-CFB] 2.2.
OLE = bytes.fromhex("D0CF11E0A1B11AE1")
#: First bytes of a picture: PNG specification (W3C), 5.2.
PNG = bytes.fromhex("89504E470D0A1A0A")
DAMAGED = "This workbook is damaged: it breaks off or was not copied whole."
NO_WORKBOOK = "This is no workbook, although its name ends in .xlsx."


def stored(folder, name, content):
    path = folder / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return path


def chart_sheet(folder):
    book = xlsxwriter.Workbook(folder / "chart.xlsx")
    chart = book.add_chart({"type": "line"})
    chart.add_series({"values": "=Chart!$A$1:$A$3"})
    book.add_chartsheet("Chart").set_chart(chart)
    book.close()
    return folder / "chart.xlsx"


def sparse(folder, name):
    with (folder / name).open("wb") as stream:
        os.truncate(stream.fileno(), 200_000_000)
    return folder / name


def bomb(folder):
    with zipfile.ZipFile(folder / "bomb.xlsx", "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive:
        archive.writestr("[Content_Types].xml", b"")
        with archive.open("xl/worksheets/sheet1.xml", "w", force_zip64=True) as part:
            for _ in range(52):
                part.write(bytes(10_000_000))
    return folder / "bomb.xlsx"


def cut(folder):
    path = three_birds(folder)
    path.write_bytes(path.read_bytes()[:-300])
    return path


FINNISH = [
    ("Päivämäärä", "Pönttö", "Rengas", "Siipi", "Paino"),
    ("4.5.2026", "SL-01", "SV01001", "201", "310"),
]

#: What is wrong -> (how to make it, the sentence).
SEASONS = {
    "missing file": (lambda f: f / "none.xlsx", "There is no such file or folder."),
    "empty file": (lambda f: stored(f, "s.xlsx", b""), "This file is empty."),
    "empty workbook": (
        lambda f: workbook(f / "s.xlsx", {"handlings": []}),
        "There is nothing written in this file.",
    ),
    "chart alone": (chart_sheet, "There is nothing written in this file."),
    "password": (
        # the name of the stream that holds the shut workbook: [MS-OFFCRYPTO] 2.3.4.4
        lambda f: stored(f, "s.xlsx", OLE + bytes(504) + "EncryptedPackage".encode("utf-16-le") + bytes(512)),
        "This workbook is protected by a password.",
    ),
    "corrupt zip": (cut, DAMAGED),
    "random bytes": (lambda f: stored(f, "s.xlsx", default_rng(1).bytes(5000)), NO_WORKBOOK),
    "picture": (lambda f: stored(f, "s.xlsx", PNG + bytes(500)), NO_WORKBOOK),
    "old form": (lambda f: stored(f, "s.xls", OLE + bytes(1016)), "This is a workbook in the old .xls form."),
    "printed page": (
        lambda f: stored(f, "s.pdf", b"%PDF-1.7\n"),
        "Files that end in '.pdf' cannot be read.",
    ),
    "printed page as text": (
        lambda f: stored(f, "s.csv", b"%PDF-1.7\n1 0 obj\n"),
        "Sheet 's' has no column for date, box and ring.",
    ),
    "200 MB": (lambda f: sparse(f, "s.xlsx"), "This file is 200 MB large; a season is at most 50 MB."),
    "200 MB of text": (lambda f: sparse(f, "s.csv"), "This file is 200 MB large; a season is at most 50 MB."),
    "zip bomb": (bomb, "This workbook unpacks to 520 MB; a season is at most 500 MB."),
    "folder without csv": (
        lambda f: stored(f, "round/photo.jpg", b"x").parent,
        "There is no .csv file in this folder.",
    ),
    "no ring": (
        lambda f: workbook(f / "s.xlsx", {"handlings": [("date", "box"), ("2026-05-04", "SL-01")]}),
        "Sheet 'handlings' has no column for ring.",
    ),
    "unknown language": (
        lambda f: workbook(f / "s.xlsx", {"Rengastus": FINNISH}),
        "Sheet 'Rengastus' has no column for date, box and ring.",
    ),
    "ring twice": (
        lambda f: text_file(
            f / "s.csv", [("date", "box", "Ring no.", "Metal ring"), (*BIRDS[0][:3], "SV01009")]
        ),
        "Sheet 's': 'Ring no.' (C) and 'Metal ring' (D) mean the same, ring.",
    ),
}

#: What is wrong -> (option, name of a file, its content, the sentence, where in the file).
OPTIONS = {
    "schemas: no folder": ("--schemas", "own", None, "This folder of declarations does not exist.", ""),
    "schemas: a file": ("--schemas", "own", "x", "This folder of declarations does not exist.", ""),
    "schemas: nothing declared": ("--schemas", "own/notes.txt", "x", "This folder holds no declaration.", ""),
    "schemas: wrong name": ("--schemas", "own/seazon.yaml", "a: 1", "No declaration has this name.", ""),
    "schemas: wrong key": (
        "--schemas",
        "own/season.yaml",
        "window:\n  frist_month: {value: 3, source: us, grade: memory}",
        "Nothing asks for 'window.frist_month'.",
        ", line 2",
    ),
    "schemas: wrong word": (
        "--schemas",
        "own/season.yaml",
        "window:\n  first_month: {valeu: 3}",
        "The key 'valeu' under 'window.first_month' is not known.",
        ", line 2",
    ),
    "schemas: wrong indent": (
        "--schemas",
        "own/season.yaml",
        "window:\n  first_month:\n    value: 3\n   source: us\n",
        "This is not valid YAML: did not find expected key.",
        ", line 4",
    ),
    "schemas: a tab": (
        "--schemas",
        "own/season.yaml",
        "window:\n\tfirst_month: {value: 3}",
        "This is not valid YAML: found character that cannot start any token.",
        ", line 2",
    ),
    "schemas: word for a number": (
        "--schemas",
        "own/season.yaml",
        "window:\n  first_month: {value: April}",
        "'April' under 'window.first_month.value' is not of the kind that is asked for.",
        ", line 2",
    ),
    "schemas: wrong number": (
        "--schemas",
        "own/rules/tare.yaml",
        "outcomes:\n  arithmetic:\n    p_error: {value: 95}",
        "'95' under 'outcomes.arithmetic.p_error.value' is out of range.",
        ", line 3",
    ),
    "schemas: a limit that nobody asks for": (
        "--schemas",
        "own/rules/tare.yaml",
        "limits:\n  slip_rat: {value: 0.1, source: us, grade: memory}",
        "Nothing asks for 'limits.slip_rat'.",
        ", line 2",
    ),
    "mapping: no file": ("--mapping", "m.yaml", None, "This mapping file does not exist.", ""),
    "mapping: no YAML": (
        "--mapping",
        "m.yaml",
        "columns: [",
        "This is not valid YAML: did not find expected node content.",
        ", line 2",
    ),
    "mapping: no such header": (
        "--mapping",
        "m.yaml",
        "columns: {handlings: {wingspan: wing_mm}}",
        "Sheet 'handlings' has no header 'wingspan'.",
        ", line 1",
    ),
    "mapping: no such column": (
        "--mapping",
        "m.yaml",
        "columns:\n  handlings: {ring: rong}",
        "'rong' is no column of handlings.",
        ", line 2",
    ),
    "mapping: no such table": (
        "--mapping",
        "m.yaml",
        "sheets: {handlings: vists}",
        "'vists' is no table.",
        ", line 1",
    ),
    "reads: no file": ("--reads", "reads.csv", None, "There is no such file or folder.", ""),
    "reads: garbled": (
        "--reads",
        "reads.csv",
        default_rng(2).bytes(4000),
        "This is not a text file of separated values.",
        "",
    ),
    "reads: other words": (
        "--reads",
        "reads.csv",
        "hello\nworld\n",
        "Sheet 'reads' has no column for read_at and tag.",
        ", sheet 'reads', row 1",
    ),
    "reads: empty": ("--reads", "reads.csv", b"", "This file is empty.", ""),
    "detections: no file": ("--detections", "log.csv", None, "There is no such file or folder.", ""),
    "detections: garbled": (
        "--detections",
        "log.csv",
        default_rng(3).bytes(4000),
        "This is not a text file of separated values.",
        "",
    ),
    "detections: of the hand reader": (
        "--detections",
        "log.csv",
        "read_at,tag,reader\n2026-06-01 10:00,999104000000001,R1\n",
        "Sheet 'log' has no column for box and antenna.",
        ", sheet 'log', row 1",
    ),
}


def held(told, what, where):
    """Exit code, three lines, perhaps lines to be copied, no traceback, nothing written."""
    assert told.code == 2
    assert told.out == ""
    first, place, cure, *more = told.err.splitlines()
    assert first == f"nestproof: {what}"
    assert place == f"  where: {where}"
    assert cure.startswith("  cure:  ")
    assert cure.endswith((".", "?", "}"))
    assert more[:1] in ([], ["sheets:"])
    assert "Traceback" not in told.err
    assert told.written == []


@pytest.mark.parametrize("wrong", SEASONS)
def test_a_season_that_cannot_be_read(check, tmp_path, wrong):
    make, what = SEASONS[wrong]
    path = make(tmp_path)
    told = check(path)
    place = told.err.splitlines()[1]
    assert place.startswith(f"  where: {path}")
    held(told, what, place.removeprefix("  where: "))
    assert not told.folder.exists()


@pytest.mark.parametrize("wrong", OPTIONS)
def test_an_option_that_cannot_be_obeyed(check, tmp_path, wrong):
    option, name, content, what, where = OPTIONS[wrong]
    if content is not None:
        stored(tmp_path, name, content)
    given = tmp_path / name.partition("/")[0]
    told = check(three_birds(tmp_path), option, given)
    held(told, what, f"{tmp_path / name if where or 'wrong name' in wrong else given}{where}")
    assert not told.folder.exists()


def test_headers_of_an_unknown_language_are_listed_with_the_nearest_known(check, tmp_path):
    _, _, cure, *block = check(workbook(tmp_path / "kausi.xlsx", {"Rengastus": FINNISH})).err.splitlines()
    assert cure.startswith("  cure:  Headers not known: 'Päivämäärä' (A, nearest known '")
    assert re.findall(r"'([^']+)' \(([A-Z]), nearest known '[^']+' for [a-z_]+\)", cure) == [
        (header, letter) for header, letter in zip(FINNISH[0], "ABCDE", strict=True)
    ]
    assert "or copy these lines into kausi.mapping.yaml beside the file" in cure
    assert block[:4] == ["sheets:", "  'Rengastus': handlings", "columns:", "  'Rengastus':"]
    assert [line.split("'")[1] for line in block[4:]] == list(FINNISH[0])


def test_headers_of_an_unknown_language_on_one_sheet_of_several(check, tmp_path):
    sheets = {"Värit": [("Väri",), ("vihreä",)], "Rengastus": [*FINNISH, *FINNISH[1:]]}
    told = check(workbook(tmp_path / "kausi.xlsx", sheets))
    first, _, cure, *block = told.err.splitlines()
    assert first == (
        "nestproof: No sheet holds handlings, one row for each bird in the hand; "
        "found 'Värit' and 'Rengastus'."
    )
    assert " Headers of 'Rengastus' that are not known: 'Päivämäärä' (A" in cure
    assert [line.split("'")[1] for line in block[4:]] == list(FINNISH[0])


def test_the_cure_for_an_unknown_language_works_when_it_is_followed(check, tmp_path):
    path = workbook(tmp_path / "kausi.xlsx", {"Rengastus": FINNISH})
    (tmp_path / "kausi.mapping.yaml").write_text(
        "sheets: {'Rengastus': handlings}\ncolumns: {'Rengastus': {'Päivämäärä': date, 'Pönttö': box, "
        "'Rengas': ring, 'Siipi': wing_mm, 'Paino': net_g}}\n",
        encoding="utf-8",
    )
    told = check(path)
    assert (told.code, told.err) == (0, "")
    assert told.tree["rows_read"] == {"handlings": 1}


def test_a_folder_that_cannot_be_written_to(nestproof, tmp_path):
    season = three_birds(tmp_path)
    taken = stored(tmp_path, "taken", "mine")
    told = nestproof("check", season, "--out", taken, out=taken)
    held(told, "The results need a folder, and this is a file.", taken)
    told = nestproof("check", season, "--out", taken / "deeper", out=taken)
    held(told, "The results need a folder, and this is a file.", taken)
    assert taken.read_text(encoding="utf-8") == "mine"


def test_results_among_the_text_files_of_a_season(nestproof, tmp_path):
    path = text_file(stored(tmp_path, "round/handlings.csv", ""), [HEADER, *BIRDS])
    told = nestproof("check", path.parent, "--out", path.parent, out=path.parent)
    assert told.code == 2
    assert told.err == (
        "nestproof: The results would lie among the files as typed, and the next audit would read them.\n"
        f"  where: {path.parent}\n"
        "  cure:  Name another folder for the results.\n"
    )
    assert told.written == ["handlings.csv"]


def test_a_season_under_the_name_of_a_result(nestproof, tmp_path):
    path = text_file(tmp_path / "findings.csv", [HEADER, *BIRDS])
    before = path.read_bytes()
    told = nestproof("check", path, "--out", tmp_path, out=tmp_path)
    assert told.code == 2
    assert told.err.startswith("nestproof: The result 'findings.csv' would replace the file as typed.\n")
    assert told.written == ["findings.csv"]
    assert path.read_bytes() == before


def test_a_folder_in_the_place_of_a_result_leaves_all_others_as_they_were(nestproof, tmp_path):
    season = three_birds(tmp_path)
    out = stored(tmp_path, "out/findings.csv", "of an earlier audit").parent
    (out / "round.report.html").mkdir()
    told = nestproof("check", season, "--out", out, out=out)
    assert told.code == 2
    assert told.err.startswith("nestproof: A folder has the name of the result 'round.report.html'.\n")
    assert told.written == ["findings.csv", "round.report.html"]
    assert (out / "findings.csv").read_text(encoding="utf-8") == "of an earlier audit"


@pytest.mark.parametrize("verb", ["demo", "rules"])
def test_other_verbs_refuse_wrong_declarations_alike(nestproof, tmp_path, verb):
    options = ["--out", tmp_path / "out"] if verb == "demo" else []
    told = nestproof(verb, *options, "--schemas", tmp_path / "none", out=tmp_path / "out")
    held(told, "This folder of declarations does not exist.", tmp_path / "none")
