"""Gate and handover from the command line: shut, open, taken on; whole or not at all; the input untouched."""

from __future__ import annotations

import csv
import hashlib
import json
import re
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import frictionless
import openpyxl
import pytest
from dwca.read import DwCAReader
from end_to_end.season_files import snapshot
from mended_demo import amendments, write_log
from pypdf import PdfReader
from sheets import text_file, workbook

import audit
from audit.cli import main
from audit.demo import demo_season

NAME = "sallow-levels-2026"
#: Where it does not matter what a season holds.
ONE_BIRD = [["date", "box", "ring"], ["2026-06-13", "SL-01", "SV01001"]]
TAKEN_ON = ("--despite", "a trial", "--who", "AB")


@pytest.fixture(scope="module")
def laid_out(tmp_path_factory):
    """The demo beside two logs: one with a slip left, one with none."""
    folder = tmp_path_factory.mktemp("season")
    path, schemas = demo_season()
    shutil.copy(path, folder / f"{NAME}.xlsx")
    shutil.copytree(schemas, folder / "schemas")
    decided = amendments(audit.read_season(path, schemas=schemas))
    write_log(folder / "most.jsonl", decided[1:])
    write_log(folder / "all.jsonl", decided)
    return folder


def call(verb, folder, log, *more):
    return main(
        [
            verb,
            str(folder / f"{NAME}.xlsx"),
            "--schemas",
            str(folder / "schemas"),
            "--decisions",
            str(folder / log),
            *map(str, more),
        ]
    )


@pytest.fixture(scope="module")
def handed(laid_out, tmp_path_factory):
    out = tmp_path_factory.mktemp("handed") / "deep" / "handover"
    before = snapshot(laid_out)
    assert call("handover", laid_out, "all.jsonl", "--out", out) == 0
    assert snapshot(laid_out) == before
    return out


def test_the_gate_is_shut_by_the_one_slip_that_is_left(laid_out, capsys):
    assert call("gate", laid_out, "most.jsonl") == 1
    said = capsys.readouterr().out
    assert said.startswith("The gate is shut: 1 error.\n")
    assert "Ringing 2026 M18" in said
    assert "the bag was not subtracted" in said
    assert "Not checked:" in said


def test_the_gate_opens_with_the_last_decision(laid_out, capsys, tmp_path):
    before = snapshot(laid_out)
    assert call("gate", laid_out, "all.jsonl", "--out", tmp_path / "gate") == 0
    assert capsys.readouterr().out.startswith("The gate is open")
    assert sorted(path.name for path in (tmp_path / "gate").iterdir()) == ["gate.html", "validation.json"]
    assert snapshot(laid_out) == before


def test_nothing_leaves_while_the_gate_is_shut(laid_out, capsys, tmp_path):
    assert call("handover", laid_out, "most.jsonl", "--out", tmp_path / "out") == 1
    assert "Nothing was written. The gate is shut: 1 error." in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_somebody_may_take_it_on_and_that_is_written_down(laid_out, capsys, tmp_path):
    out = tmp_path / "out"
    why = ("--despite", "the scheme wants it today")
    assert call("handover", laid_out, "most.jsonl", "--out", out, *why) == 2
    assert "Give both the initials and the reason." in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []
    assert call("handover", laid_out, "most.jsonl", "--out", out, *why, "--who", "IP") == 0
    assert "IP gave the reason: the scheme wants it today" in capsys.readouterr().out
    record = json.loads((out / "handover.json").read_text(encoding="utf-8"))
    assert record["despite"] == {"who": "IP", "why": "the scheme wants it today"}
    assert not record["gate_open"]
    assert len(record["left_open"]) == 1
    assert "Ringing 2026 M18" in record["left_open"][0]
    cover = (out / "index.html").read_text(encoding="utf-8")
    assert "What stayed open" in cover
    assert "Ringing 2026 M18" in cover


def test_everything_is_there(handed):
    names = {path.relative_to(handed).as_posix() for path in handed.rglob("*") if path.is_file()}
    assert names >= {
        "index.html",
        "handover.json",
        "checksums.sha256",
        "changes.csv",
        "declarations.zip",
        f"{NAME}.clean.xlsx",
        f"{NAME}.season.html",
        f"{NAME}.season.pdf",
        "gate/gate.html",
        "gate/validation.json",
        "tables/datapackage.json",
        "tables/handlings.csv",
    }
    assert sum(path.stat().st_size for path in handed.glob("*.season.*")) < 3_000_000


def test_every_file_is_told_of_with_its_checksum(handed):
    sums = dict(
        reversed(line.split("  ", 1)) for line in (handed / "checksums.sha256").read_text().splitlines()
    )
    names = {path.relative_to(handed).as_posix() for path in handed.rglob("*") if path.is_file()}
    assert sums.keys() == names - {"checksums.sha256"}
    for name, told in sums.items():
        assert hashlib.sha256((handed / name).read_bytes()).hexdigest() == told, name
    record = json.loads((handed / "handover.json").read_text(encoding="utf-8"))
    assert {one["name"] for one in record["outputs"]} | {"index.html", "handover.json"} == sums.keys()
    parts = {name for part in record["parts"] for name in part["files"]}
    assert parts == {one["name"] for one in record["outputs"]}
    cover = (handed / "index.html").read_text(encoding="utf-8")
    assert all(name in cover for name in parts)


def test_what_it_was_made_from_is_told_without_the_folders_it_lay_in(handed, laid_out):
    record = json.loads((handed / "handover.json").read_text(encoding="utf-8"))
    told = {one["name"]: one["sha256"] for one in record["inputs"]}
    for name in (f"{NAME}.xlsx", "all.jsonl"):
        assert told[name] == hashlib.sha256((laid_out / name).read_bytes()).hexdigest()
    for path in handed.rglob("*"):
        if path.suffix in (".html", ".json", ".csv", ".txt", ".xml"):
            text = path.read_text(encoding="utf-8")
            assert str(laid_out) not in text, path
            assert str(Path(audit.__file__).parent.parent) not in text, path


def test_readers_that_know_nothing_of_this_program_open_the_files(handed):
    # openpyxl, pypdf, frictionless and python-dwca-reader
    book = openpyxl.load_workbook(handed / f"{NAME}.clean.xlsx")
    assert book["Ringing 2026"]["M18"].value == 310
    assert "334" in book["Ringing 2026"]["M18"].comment.text
    assert book["Ringing 2026"]["E20"].value == "SV03006"
    pdf = PdfReader(handed / f"{NAME}.season.pdf")
    assert NAME in "".join(page.extract_text() for page in pdf.pages[:2])
    assert pdf.metadata.title
    assert frictionless.Package(str(handed / "tables" / "datapackage.json")).validate().valid
    (archive,) = handed.rglob("*dwca*.zip")
    with DwCAReader(str(archive)) as read:
        assert read.descriptor.core.type.endswith("/Event")
        assert not any(any(rows.values()) for rows in read.orphaned_extension_rows().values())
        occurrences = sum(row.rowtype.endswith("/Occurrence") for event in read for row in event.extensions)
    with (handed / "tables" / "handlings.csv").open(encoding="utf-8", newline="") as stream:
        assert occurrences == sum(1 for _ in csv.DictReader(stream))
    for form, fields in (("2000plus", 60), ("2020", 64)):
        (records,) = (path for path in handed.rglob("*.txt") if path.stem.endswith(form))
        lines = records.read_text(encoding="utf-8").splitlines()
        assert {line.count("|") + 1 for line in lines} == {fields}
        assert len(lines) == occurrences
        assert any("03006" in line for line in lines)


def test_unverified_codes_are_listed_and_told(handed):
    (listed,) = handed.rglob("to-verify.csv")
    with listed.open(encoding="utf-8", newline="") as stream:
        lines = list(csv.DictReader(stream))
    assert lines
    record = json.loads((handed / "handover.json").read_text(encoding="utf-8"))
    told = " ".join(sentence for part in record["parts"] for sentence in part["told"])
    assert "manual" in told
    assert re.search(r"to-verify", told)


def test_a_folder_that_is_there_is_not_touched(laid_out, tmp_path, capsys):
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "mine").write_text("mine", encoding="utf-8")
    assert call("handover", laid_out, "all.jsonl", "--out", tmp_path / "out") == 2
    assert "There is a folder of this name already" in capsys.readouterr().err
    assert [path.name for path in (tmp_path / "out").iterdir()] == ["mine"]


def test_a_workbook_that_is_open_elsewhere_does_not_leave(laid_out, tmp_path, capsys):
    shutil.copytree(laid_out, tmp_path / "season")
    (tmp_path / "season" / f"~${NAME}.xlsx").write_bytes(b"AB")
    assert call("handover", tmp_path / "season", "all.jsonl", "--out", tmp_path / "out") == 2
    assert "is open in a spreadsheet program" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("log", ["nowhere.jsonl", "schemas/rings.yaml"])
def test_a_log_that_is_none_is_told_of(laid_out, capsys, log):
    assert call("gate", laid_out, log) == 2
    assert "nestproof: " in capsys.readouterr().err


@pytest.mark.skipif(sys.platform == "win32", reason="no such limit there")
def test_a_disk_that_is_full_leaves_no_handover(tmp_path, capsys):
    import resource

    season = text_file(tmp_path / "round.csv", ONE_BIRD)
    before = snapshot(tmp_path)
    limits = resource.getrlimit(resource.RLIMIT_FSIZE)
    was = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    # no file may grow beyond this, as on a disk without room
    resource.setrlimit(resource.RLIMIT_FSIZE, (10_000, limits[1]))
    try:
        code = main(["handover", str(season), "--out", str(tmp_path / "out"), *TAKEN_ON])
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, limits)
        signal.signal(signal.SIGXFSZ, was)
    assert code == 2
    assert (
        "The handover cannot be written: File too large. Nothing was left behind." in capsys.readouterr().err
    )
    assert snapshot(tmp_path) == before
    assert list(tmp_path.iterdir()) == [season]


@pytest.mark.skipif(sys.platform == "win32", reason="no such signal there")
def test_a_handover_killed_half_way_is_not_there(tmp_path):
    season = text_file(tmp_path / "round.csv", ONE_BIRD)
    before = season.read_bytes()
    words = ["handover", str(season), "--out", str(tmp_path / "out"), *TAKEN_ON]
    run = subprocess.Popen([sys.executable, "-m", "audit", *words], stderr=subprocess.PIPE)
    deadline = time.monotonic() + 120
    while not any(any(folder.rglob("*.*")) for folder in tmp_path.glob(".nestproof-*")):
        assert run.poll() is None, run.communicate()
        assert time.monotonic() < deadline
        time.sleep(0.01)
    run.send_signal(signal.SIGKILL)
    run.communicate()
    assert not (tmp_path / "out").exists()
    assert season.read_bytes() == before


#: Texts that a spreadsheet would run, that are no text, or that are too long for a cell.
HOSTILE = [
    "=cmd|' /C calc'!A0",
    "+441",
    "-x",
    "@SUM(A1)",
    '=HYPERLINK("http://nest.example","see")',
    "<script>alert(1)</script>",
    "a|b\nc",
    "\u202eowl\u202c \U0001f989",
    "long " * 4000,
]


@pytest.fixture(scope="module")
def hostile(tmp_path_factory):
    """A right season with remarks of that kind, handed over although some may hold the gate shut."""
    folder = tmp_path_factory.mktemp("hostile")
    heads = ["date", "box", "ring", "remarks"]
    rows = [["2026-06-13", "SL-01", f"SV0100{i}", text] for i, text in enumerate(HOSTILE, 1)]
    book = workbook(folder / "round.xlsx", {"handlings": [heads, *rows]})
    before = book.read_bytes()
    out = folder / "out"
    assert main(["handover", str(book), "--out", str(out), *TAKEN_ON]) == 0
    assert book.read_bytes() == before
    return out


def test_no_table_holds_a_text_that_a_spreadsheet_would_run(hostile):
    tables = list(hostile.rglob("*.csv"))
    assert tables
    for path in tables:
        with path.open(encoding="utf-8", newline="") as stream:
            for row in csv.reader(stream):
                for text in row:
                    assert not re.match(r"[=@\t\r]|[+-](?![\d.]+$)", text), (path.name, text)


def test_no_page_holds_a_script(hostile):
    pages = list(hostile.rglob("*.html"))
    assert len(pages) >= 3
    for path in pages:
        assert "<script" not in path.read_text(encoding="utf-8"), path


def test_the_workbook_holds_them_as_text(hostile):
    sheet = openpyxl.load_workbook(hostile / "round.clean.xlsx")["handlings"]
    for row, text in enumerate(HOSTILE, 2):
        cell = sheet.cell(row, 4)
        assert (cell.value, cell.data_type) == (text, "s")


def test_the_same_season_is_handed_over_the_same(handed, laid_out, tmp_path):
    assert call("handover", laid_out, "all.jsonl", "--out", tmp_path / "out") == 0
    for path in handed.rglob("*"):
        name = path.relative_to(handed)
        # these tell the moment, or what depends on it
        if path.is_file() and name.as_posix() not in ("index.html", "handover.json", "checksums.sha256"):
            assert path.read_bytes() == (tmp_path / "out" / name).read_bytes(), name
