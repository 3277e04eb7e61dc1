"""findings.csv and findings.json: the same findings, exact, and always the same bytes."""

from __future__ import annotations

import csv
import io
import json
import re

import pandas as pd
import pytest
import yaml
from golden_file import hold_against_golden
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator
from marked_examples import cell_at, small_report, small_season

from audit.declarations.locate import schemas_folder
from audit.findings import COLUMNS, Finding, Report, Suspect
from audit.handover.findings_files import write_csv, write_json
from audit.handover.table_file import guard, unguard
from audit.named_findings import identify


@pytest.fixture
def report():
    return small_report(small_season())


def test_csv_is_golden(report, tmp_path):
    write_csv(report, tmp_path / "findings.csv")
    hold_against_golden("findings.csv", (tmp_path / "findings.csv").read_bytes().decode())


def test_json_is_golden(report, tmp_path):
    write_json(report, tmp_path / "findings.json")
    hold_against_golden("findings.json", (tmp_path / "findings.json").read_bytes().decode())


def test_csv_has_one_line_per_suspect_and_the_columns_of_the_contract(report, tmp_path):
    write_csv(report, tmp_path / "findings.csv")
    table = pd.read_csv(tmp_path / "findings.csv", dtype="str", keep_default_na=False)
    assert tuple(table.columns) == COLUMNS
    assert len(table) == sum(len(finding.suspects) for finding in report.findings)
    assert table["tag"].tolist()[0] == "999000000123002"
    assert table.loc[table["suggested"] == "", "p_fix"].eq("").all()


def test_both_files_hold_the_same(report, tmp_path):
    write_csv(report, tmp_path / "findings.csv")
    write_json(report, tmp_path / "findings.json")
    lines = list(csv.DictReader(io.StringIO((tmp_path / "findings.csv").read_text(encoding="utf-8"))))
    tree = json.loads((tmp_path / "findings.json").read_text(encoding="utf-8"))
    flat = [
        {**suspect, **{key: finding[key] for key in ("finding", "group", "rule", "severity", "message")}}
        for finding in tree["findings"]
        for suspect in finding["suspects"]
    ]
    for line, one in zip(lines, flat, strict=True):
        assert {k: unguard(v) for k, v in line.items()} == {
            k: "" if one[k] is None else str(one[k]) for k in COLUMNS
        }


def test_json_fits_its_form(report, tmp_path):
    form = yaml.safe_load((schemas_folder() / "forms" / "findings.yaml").read_text(encoding="utf-8"))
    Draft202012Validator.check_schema(form)
    validator = Draft202012Validator(form)
    write_json(report, tmp_path / "findings.json")
    tree = json.loads((tmp_path / "findings.json").read_text(encoding="utf-8"))
    validator.validate(tree)
    tree["findings"][0]["suspects"][0]["p_error"] = 1.2
    tree["findings"][0]["suspects"][0]["colour"] = "red"
    assert {fault.validator for fault in validator.iter_errors(tree)} == {"maximum", "unevaluatedProperties"}


def test_bytes_do_not_vary(tmp_path):
    for number in (1, 2):
        write_csv(small_report(small_season()), tmp_path / f"{number}.csv")
        write_json(small_report(small_season()), tmp_path / f"{number}.json")
    assert (tmp_path / "1.csv").read_bytes() == (tmp_path / "2.csv").read_bytes()
    assert (tmp_path / "1.json").read_bytes() == (tmp_path / "2.json").read_bytes()


@pytest.mark.parametrize(
    ("typed", "written"),
    [
        ("=F2-G2", "'=F2-G2"),
        ("+cmd", "'+cmd"),
        ("@SUM(A1)", "'@SUM(A1)"),
        ("-x", "'-x"),
        ("-4.5", "-4.5"),
        ("+3", "+3"),
        ("-", "'-"),
        ("\t=1", "'\t=1"),
        ("'=1", "''=1"),
        ("'tis", "'tis"),
        ("", ""),
        ("999000000123001", "999000000123001"),
    ],
)
def test_text_that_a_spreadsheet_would_run_is_guarded(typed, written):
    assert guard(typed) == written
    assert unguard(written) == typed


@given(st.text(alphabet=st.sampled_from("=+-@'\t\r.0a "), max_size=6))
def test_any_guard_can_be_taken_off(typed):
    assert unguard(guard(typed)) == typed
    # CWE-1236 (MITRE): a cell that starts with one of these signs may be taken for a formula.
    if not re.fullmatch(r"[+-][0-9]*\.?[0-9]*", typed):
        assert not guard(typed).startswith(("=", "+", "-", "@", "\t", "\r"))


def test_awkward_text_comes_back(tmp_path):
    typed = 'he said "12,5"\nand; then\u00a0näh'
    finding = Finding("reading.unreadable", "error", (Suspect(cell_at("handlings", "F3", typed)),), "m")
    write_csv(Report("x", identify([finding])), tmp_path / "findings.csv")
    with (tmp_path / "findings.csv").open(encoding="utf-8", newline="") as stream:
        assert next(csv.DictReader(stream))["observed"] == typed
