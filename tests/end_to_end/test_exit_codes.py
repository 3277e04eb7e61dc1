"""The contract of the command line: exit codes, files, columns, and the same findings by every door."""

from __future__ import annotations

import contextlib
import io
import subprocess
import sys
from pathlib import Path

import pandas as pd
import pytest
from end_to_end.conftest import Told
from end_to_end.season_files import FORMS, small_season, three_birds, write_season

import audit
from audit.cli import main
from audit.handover.findings_files import report_tree

#: One slip for each of several rules: row, field, what was typed instead.
SLIPS = ((3, "net_g", 12.0), (9, "ring", "SVO5509"), (14, "wing_mm", 21.3), (20, "tag", "99910400"))


def slipped():
    season = small_season()
    for index, field, typed in SLIPS:
        season["handlings"][index][field] = typed
    return season


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    return write_season(slipped(), tmp_path_factory.mktemp("slipped"))


@pytest.fixture(scope="module")
def told(path, tmp_path_factory):
    """What is told of the slipped season as a workbook."""
    out = tmp_path_factory.mktemp("told")
    with contextlib.redirect_stdout(io.StringIO()) as said:
        code = main(["check", str(path), "--out", str(out)])
    return Told(code, said.getvalue(), "", out)


@pytest.mark.parametrize("form", FORMS)
def test_a_clean_season_ends_with_0(check, tmp_path, form):
    told = check(write_season(small_season(), tmp_path, form))
    assert (told.code, told.err, told.above_notes) == (0, "", [])
    stem = "handlings" if form == "text file" else "round"
    assert told.written == ["findings.csv", "findings.json", f"{stem}.marked.xlsx", f"{stem}.report.html"]
    assert told.out.startswith(f"Season {stem}: ")
    # an invented season can be told from a real one by its tags, and nothing else is said of it
    assert {line["rule"] for line in told.lines} == {"tag_code.test_season"}


@pytest.mark.parametrize("form", ["workbook", "text file"])
def test_a_slip_ends_with_1(check, tmp_path, form):
    season = small_season()
    row = season["handlings"][4]
    row["net_g"] = row["gross_g"]
    told = check(write_season(season, tmp_path, form))
    assert told.code == 1
    assert [(line["rule"], line["row"], line["field"], line["suggested"]) for line in told.above_notes] == [
        ("tare.not_subtracted", "6", "net_g", f"{row['gross_g'] - row['bag_g']:g}")
    ]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ([], "Example: nestproof check season.xlsx --out checked"),
        (["chekc", "round.xlsx"], "invalid choice: 'chekc'"),
        (["check"], "the following arguments are required: SEASON, --out"),
        (["check", "round.xlsx"], "the following arguments are required: --out"),
        (["check", "round.xlsx", "--out", "out", "--color"], "unrecognized arguments: --color"),
        (["demo"], "the following arguments are required: --out"),
    ],
)
def test_a_call_that_is_not_understood_ends_with_2(nestproof, tmp_path, words, said):
    told = nestproof(*words, out=tmp_path / "out")
    assert told.code == 2
    assert told.err.startswith("usage: nestproof")
    assert said in told.err
    assert told.written == []


@pytest.mark.parametrize("verb", [["nestproof"], [sys.executable, "-m", "audit"]])
def test_both_names_of_the_program_hand_the_code_to_the_shell(tmp_path, verb):
    beside = str(Path(sys.executable).with_name("nestproof"))
    program = [beside] if verb == ["nestproof"] else verb
    done = subprocess.run(
        [*program, "check", str(tmp_path / "none.xlsx"), "--out", str(tmp_path / "out")],
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr == (
        "nestproof: There is no such file or folder.\n"
        f"  where: {tmp_path / 'none.xlsx'}\n"
        "  cure:  Check the spelling of the path.\n"
    )


def test_the_columns_of_the_csv_are_those_of_the_contract(told):
    header = (told.folder / "findings.csv").read_text(encoding="utf-8").splitlines()[0]
    assert header == (
        "finding,group,rule,severity,sheet,row,column,cell,field,observed,suggested,p_error,p_fix,message,"
        "box,date,ring,tag"
    )
    assert all(0 <= float(line["p_error"]) <= 1 for line in told.lines)
    assert all((line["p_fix"] == "") == (line["suggested"] == "") for line in told.lines)
    assert {line["severity"] for line in told.lines} <= {"error", "suspect", "note"}


def test_witnesses_are_in_the_json_and_never_lines_of_the_csv(told):
    seen = [cell for finding in told.findings for cell in finding["witnesses"]]
    assert seen
    lines = [(line["finding"], line["cell"], line["observed"]) for line in told.lines]
    assert lines == [
        (finding["finding"], cell["cell"], cell["observed"])
        for finding in told.findings
        for cell in finding["suspects"]
    ]


def test_every_line_tells_the_cell_as_it_stands_in_the_file(told):
    season = slipped()
    assert {(line["row"], line["field"]) for line in told.above_notes} >= {
        (str(index + 2), field) for index, field, _ in SLIPS
    }
    for line in told.lines:
        row = season[line["sheet"]][int(line["row"]) - 2]
        fields = list(row)
        assert line["column"] == line["field"]
        assert line["cell"] == f"{'ABCDEFGHIJKLMNOPQRSTUVWXYZ'[fields.index(line['field'])]}{line['row']}"
        assert (line["box"], line["ring"]) == (row.get("box", ""), row.get("ring", ""))
        assert line["date"] == (row["date"].isoformat() if "date" in row else "")


def test_python_and_the_command_line_say_the_same(told, path):
    assert told.tree == report_tree(audit.check(path))
    season = audit.read_season(str(path))
    assert told.tree == report_tree(audit.check(season))


def test_frames_say_the_same_as_files(told):
    frames = {table: pd.DataFrame(rows, dtype=object) for table, rows in slipped().items()}
    report = report_tree(audit.check(frames))["findings"]
    # the text as typed of a date differs: a workbook stores a moment
    assert [(f["rule"], f["message"]) for f in report] == [(f["rule"], f["message"]) for f in told.findings]


@pytest.mark.parametrize("form", ["open document", "folder of text files"])
def test_every_form_of_a_season_says_the_same(check, told, tmp_path, form):
    said = [
        [
            {key: line[key] for key in ("finding", "rule", "sheet", "row", "field", "suggested", "message")}
            for line in one.lines
        ]
        for one in (told, check(write_season(slipped(), tmp_path, form)))
    ]
    assert said[0] == said[1]


def test_a_finding_keeps_its_identity_when_the_sheet_is_sorted_anew(check, told, tmp_path):
    season = slipped()
    # by box, as a person does to look at one box after another; pages of one day stay together
    season["handlings"].sort(key=lambda row: (row["box"], row["date"]))
    after = check(write_season(season, tmp_path))
    named = [
        {(f["finding"], f["group"], f["rule"]) for f in one.findings if f["severity"] != "note"}
        for one in (told, after)
    ]
    assert len(named[0]) >= len(SLIPS)
    assert named[0] == named[1]


def test_two_runs_write_the_same_bytes(nestproof, told, path, tmp_path):
    again = nestproof("check", path, "--out", tmp_path / "out", out=tmp_path / "out")
    assert again.out.splitlines()[:8] == told.out.splitlines()[:8]
    first, second = (
        {name: (one.folder / name).read_bytes() for name in one.written} for one in (told, again)
    )
    assert len(first) == 4
    assert first == second


def test_files_of_an_earlier_audit_are_replaced_and_others_left(check, tmp_path):
    out = tmp_path / "out"
    out.mkdir()
    (out / "findings.csv").write_text("old", encoding="utf-8")
    (out / "my notes.txt").write_text("mine", encoding="utf-8")
    told = check(three_birds(tmp_path))
    assert told.lines == []
    assert (out / "my notes.txt").read_text(encoding="utf-8") == "mine"
    assert told.written == [
        "findings.csv",
        "findings.json",
        "my notes.txt",
        "round.marked.xlsx",
        "round.report.html",
    ]


def test_lists_in_any_order_are_read(check, tmp_path):
    season = small_season()
    for table in ("boxes", "tag_stock", "ring_stock"):
        season[table].reverse()
    assert check(write_season(season, tmp_path)).code == 0


def test_reads_and_detections_in_files_of_their_own(check, tmp_path):
    season = small_season()
    reads = season.pop("tag_reads")
    box, tag = season["handlings"][0]["box"], season["handlings"][0]["tag"]
    # a log of a box without antennas would be blamed, rightly
    next(one for one in season["boxes"] if one["box"] == box)["antennas"] = 2
    path = write_season(season, tmp_path)
    pd.DataFrame(reads).to_csv(tmp_path / "reader.csv", index=False)
    (tmp_path / "log.csv").write_text(
        f"box,antenna,detected_at,tag\n{box},outer,2026-07-01 22:10:05.250,{tag}\n", encoding="utf-8"
    )
    told = check(path, "--reads", tmp_path / "reader.csv", "--detections", tmp_path / "log.csv")
    assert (told.code, told.err) == (0, "")
    assert told.tree["rows_read"]["tag_reads"] == len(reads)
    assert told.tree["rows_read"]["detections"] == 1


def test_a_mapping_and_a_teams_own_numbers_are_obeyed(check, tmp_path):
    path = three_birds(tmp_path)
    (tmp_path / "ours.yaml").write_text("columns: {handlings: {wing_mm: ignore}}\n", encoding="utf-8")
    own = tmp_path / "schemas"
    own.mkdir()
    (own / "tables").mkdir()
    (own / "tables" / "handlings.yaml").write_text(
        "fields: {wing_mm: {constraints: {maximum: 150}}}\n", encoding="utf-8"
    )
    assert [line["cell"] for line in check(path, "--schemas", own).above_notes] == ["D2", "D3", "D4"]
    assert check(path, "--schemas", own, "--mapping", tmp_path / "ours.yaml").code == 0
