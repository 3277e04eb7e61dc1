"""An archive of many seasons on the command line: found, written, gone on with after a kill, refused."""

from __future__ import annotations

import csv
import hashlib
import json
import re
import shutil
import signal
import subprocess
import sys

import duckdb
import pandas as pd
import pytest
from archive_rows import AGAIN, BIRD

import audit
from audit.archive.work_folder import WORK
from audit.cli import main

TAG = "999000000000001"
ROWS = {
    2019: [
        {"tag": TAG},
        {"ring": "SV00002", "net_g": 395.0},
        {"ring": "SV00003", "sex": "X"},
        {"ring": "SV00004", "wing_mm": 178.0},
    ],
    2020: [{"date": "2020-06-01", "ring": "SV00005"}, {"date": "2020-06-01", "ring": "SV00006"}],
    2021: [
        {**AGAIN, "tag": TAG, "net_g": 320.0, "gross_g": 342.0},
        {
            **AGAIN,
            "ring": "SV00004",
            "species": "common kestrel",
            "wing_mm": 250.0,
            "net_g": 210.0,
            "gross_g": 232.0,
        },
    ],
}


def frame(rows, year):
    told = pd.DataFrame([{**BIRD, **row} for row in rows]).drop(columns=["scheme"])
    return told.assign(season=year, team="AB")


def write_archive(folder, ending="csv"):
    (folder / "handlings").mkdir(parents=True)
    for year, rows in ROWS.items():
        table = frame(rows, year)
        path = folder / "handlings" / f"{year}.{ending}"
        if ending == "csv":
            table.to_csv(path, index=False)
        else:
            text = [name for name in table.columns if table[name].dtype == object]
            given = table.astype(dict.fromkeys(text, "str")).assign(date=pd.to_datetime(table["date"]))
            duckdb.connect().from_df(given).write_parquet(str(path))
    return folder


@pytest.fixture(scope="module")
def archive(tmp_path_factory):
    return write_archive(tmp_path_factory.mktemp("archive"))


@pytest.fixture(scope="module")
def audited(archive, tmp_path_factory):
    out = tmp_path_factory.mktemp("out")
    before = {path: path.read_bytes() for path in archive.rglob("*.csv")}
    assert main(["archive", str(archive), "--out", str(out)]) == 1
    assert {path: path.read_bytes() for path in archive.rglob("*.csv")} == before
    return out


def lines(out):
    found = []
    for path in sorted((out / "findings").glob("season=*/findings.csv")):
        with path.open(encoding="utf-8", newline="") as stream:
            found += list(csv.DictReader(stream))
    return found


def told(out):
    above = [line for line in lines(out) if line["severity"] != "note"]
    return {(line["file"], int(line["row"]), line["field"], line["rule"]) for line in above}


def digests(out):
    return {
        path.relative_to(out).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in out.rglob("*")
        if path.is_file() and WORK not in path.parts
    }


# what is found and written


def test_each_slip_is_told_of_where_it_stands(audited):
    found = told(audited)
    assert ("handlings/2019.csv", 3, "net_g", "tare.not_subtracted") in found
    assert ("handlings/2019.csv", 4, "sex", "declared.set") in found
    assert any(
        file == "handlings/2021.csv" and row == 3 and "species" in rule for file, row, _, rule in found
    )


def test_innocent_rows_are_left_alone(audited):
    found = {(file, row) for file, row, _, _ in told(audited)}
    assert not found & {("handlings/2019.csv", 2), ("handlings/2021.csv", 2)}
    assert not any(file == "handlings/2020.csv" for file, _ in found)


def test_findings_are_those_of_the_season_alone(audited, archive):
    """The same cells, suggestions and probabilities as `check` gives for the season's own file."""
    report = audit.check(archive / "handlings" / "2019.csv")
    alone = {
        (row["row"], row["field"], row["rule"], row["suggested"], f"{row['p_error']:g}", row["message"])
        for row in report.rows()
    }
    found = {
        (int(line["row"]), line["field"], line["rule"], line["suggested"], line["p_error"], line["message"])
        for line in lines(audited)
        if line["file"] == "handlings/2019.csv" and not line["rule"].startswith("archive.")
    }
    assert {rule.partition(".")[0] for _, _, rule, *_ in alone} >= {"tare", "declared", "tag_code"}
    assert found == alone


def test_columns_and_summary(audited):
    assert list(lines(audited)[0])[:8] == [
        *("season", "scheme", "team", "file", "row", "finding", "group", "rule")
    ]
    summary = json.loads((audited / "summary.json").read_text(encoding="utf-8"))
    assert summary["handlings"] == sum(map(len, ROWS.values()))
    assert summary["lines"] == len(lines(audited))
    text = (audited / "summary.txt").read_text(encoding="utf-8")
    assert re.match(
        r"Archive of 8 handlings in 3 files: \d+ errors?, \d+ suspects? and \d+ notes?\. \d", text
    )
    assert "as nestproof check asks them" in " ".join(text.split())
    assert "Look at these first:" in text
    assert json.loads((audited / "summary.json").read_text(encoding="utf-8"))["whole_seasons"]


def test_two_runs_give_the_same_bytes(audited, archive, tmp_path):
    assert main(["archive", str(archive), "--out", str(tmp_path)]) == 1
    assert digests(tmp_path) == digests(audited)


def test_parquet_in_and_out_gives_the_same_findings(audited, tmp_path):
    source = write_archive(tmp_path / "archive", "parquet")
    found = audit.audit_archive(source, tmp_path / "out", parquet=True)
    frame = found.findings().query("severity != 'note'")
    assert {(row, field, rule) for _, row, field, rule in told(audited)} == {
        (int(row), field, rule)
        for row, field, rule in zip(frame["row"], frame["field"], frame["rule"], strict=True)
    }
    assert found.findings(2021)["season"].unique().tolist() == ["2021"]


def test_an_archive_without_findings_is_told_by_the_exit_code(tmp_path):
    frame(ROWS[2020], 2020).to_csv(tmp_path / "2020.csv", index=False)
    assert main(["archive", str(tmp_path / "2020.csv"), "--out", str(tmp_path / "out")]) == 0
    assert (tmp_path / "out" / "summary.txt").read_text(encoding="utf-8").startswith("Archive of 2 handlings")


# going on


def test_nothing_is_judged_twice_and_a_torn_piece_is_judged_again(audited, archive, tmp_path):
    out = tmp_path / "out"
    shutil.copytree(audited, out)
    again = audit.audit_archive(archive, out)
    assert again.audited.kept == again.audited.pieces > 0
    torn = next((out / WORK / "pieces").glob("*.json"))
    torn.write_bytes(torn.read_bytes()[:-30])
    (out / WORK / "clashes.csv").write_text("rule,at", encoding="utf-8")
    mended = audit.audit_archive(archive, out)
    assert mended.audited.kept == mended.audited.pieces - 1
    assert digests(out) == digests(audited)


def test_a_changed_season_is_judged_again_and_no_other(audited, tmp_path):
    source = write_archive(tmp_path / "archive")
    out = tmp_path / "out"
    shutil.copytree(audited, out)
    path = source / "handlings" / "2019.csv"
    path.write_text(path.read_text(encoding="utf-8").replace(",X,", ",U,"), encoding="utf-8")
    said = []
    after = audit.audit_archive(source, out, tell=said.append)
    assert 0 < after.audited.kept < after.audited.pieces
    assert ("handlings/2019.csv", 4, "sex", "declared.set") not in told(out)
    assert ("handlings/2019.csv", 3, "net_g", "tare.not_subtracted") in told(out)


#: Kills itself as soon as the first piece is kept: nobody has to look in the right moment.
KILLED = """
import os, signal, sys
from audit.archive import side_by_side
from audit.cli import main

keep = side_by_side.keep_piece

def keep_and_die(*given):
    keep(*given)
    os.kill(os.getpid(), signal.SIGKILL)

side_by_side.keep_piece = keep_and_die
main(sys.argv[1:])
"""


def test_a_killed_run_goes_on(audited, archive, tmp_path):
    command = [sys.executable, "-c", KILLED, "archive", str(archive), "--out", str(tmp_path)]
    run = subprocess.run(command, capture_output=True, text=True, check=False)
    assert run.returncode == -signal.SIGKILL, run.stderr
    kept = len(list((tmp_path / WORK / "pieces").glob("*.json")))
    assert kept
    gone_on = audit.audit_archive(archive, tmp_path)
    assert gone_on.audited.kept == kept < gone_on.audited.pieces
    assert digests(tmp_path) == digests(audited)


# refused


def refused(capsys, *words):
    assert main(["archive", *map(str, words)]) == 2
    said = capsys.readouterr().err
    assert "Traceback" not in said
    return said[said.index("nestproof: ") :]


def test_no_such_folder(tmp_path, capsys):
    said = refused(capsys, tmp_path / "none", "--out", tmp_path / "out")
    assert said.startswith("nestproof: There is no such file or folder.\n")


def test_no_handlings(tmp_path, capsys):
    (tmp_path / "a").mkdir()
    said = refused(capsys, tmp_path / "a", "--out", tmp_path / "out")
    assert said.startswith("nestproof: No file here ends in .parquet, .csv, .tsv, .txt, .xlsx, .xlsm or .ods")
    (tmp_path / "a" / "notes.csv").write_text("who,what\nAB,rain\n", encoding="utf-8")
    said = refused(capsys, tmp_path / "a", "--out", tmp_path / "out")
    assert said.startswith("nestproof: No file here has the columns of handlings.\n")
    assert "notes.csv" in said


def test_columns_that_do_not_go_together(tmp_path, capsys):
    source = tmp_path / "a"
    source.mkdir()
    connection = duckdb.connect()
    told = "'2019-06-01' as date, 'A' as box, 'SV1' as ring"
    connection.sql(f"select {told}, 180.0 as wing_mm").write_parquet(str(source / "1.parquet"))
    connection.sql(f"select {told}, 'long' as wing_mm").write_parquet(str(source / "2.parquet"))
    said = refused(capsys, source, "--out", tmp_path / "out")
    assert said.startswith("nestproof: The column 'wing_mm' holds text here, but numbers in 1.parquet.\n")


def test_rings_that_went_through_floating_point(tmp_path, capsys):
    query = "select '2019-06-01' as date, 'A' as box, 12345678.0::double as ring"
    duckdb.connect().sql(query).write_parquet(str(tmp_path / "1.parquet"))
    said = refused(capsys, tmp_path / "1.parquet", "--out", tmp_path / "out")
    assert "stored with decimals" in said


def test_a_file_that_is_no_parquet(tmp_path, capsys):
    (tmp_path / "1.parquet").write_bytes(b"PAR1 and then nothing")
    said = refused(capsys, tmp_path / "1.parquet", "--out", tmp_path / "out")
    assert said.startswith("nestproof: This is no whole Parquet file.\n")


def test_a_parquet_that_is_spoilt_inside(tmp_path, capsys):
    path = tmp_path / "1.parquet"
    told = "range::varchar as ring, 'A' as box, '2019-06-01' as date, hash(range)::varchar as remarks"
    duckdb.connect().sql(f"select {told} from range(20000)").write_parquet(str(path))  # noqa: S608 - made here
    whole = path.read_bytes()
    path.write_bytes(whole[:2000] + bytes(len(whole) - 6000) + whole[-4000:])
    said = refused(capsys, path, "--out", tmp_path / "out")
    assert said.startswith("nestproof: A file of the archive cannot be read to its end: ")


def test_two_files_of_one_name_are_told_apart(tmp_path):
    for name in ("a", "b"):
        (tmp_path / name).mkdir()
        rows = [{**ROWS[2019][2], "remarks": f"sheet {name}"}]
        frame(rows, 2019).to_csv(tmp_path / name / "2019.csv", index=False)
    sources = [tmp_path / "a" / "2019.csv", tmp_path / "b" / "2019.csv"]
    found = audit.audit_archive(sources, tmp_path / "out").findings()
    assert set(found.loc[found["rule"] == "declared.set", "file"]) == {path.as_posix() for path in sources}


def test_results_among_what_is_read(archive, capsys):
    said = refused(capsys, archive, "--out", archive / "out")
    assert "among the files of the archive" in said
    assert not (archive / "out").exists()


def test_rows_without_a_day_in_a_file_of_several_years_are_told_of_as_such(tmp_path):
    rows = [row for year in ROWS for row in ROWS[year]]
    table = frame([*rows, {"ring": "SV00009", "date": ""}], 0).drop(columns="season")
    table.to_csv(tmp_path / "birds.csv", index=False)
    told = []
    done = audit.audit_archive(tmp_path / "birds.csv", tmp_path / "out", tell=told.append)
    seasons = [sentence.partition(" of ")[0] for sentence in told if sentence.endswith(("line.", "lines."))]
    assert seasons == [
        "Rows that name no season and have no day, 1",
        *("Season 2019, 2", "Season 2020, 3", "Season 2021, 4"),
    ]
    assert done.findings("")["rule"].tolist() == ["declared.missing"]
    assert "no season" in done.summary
