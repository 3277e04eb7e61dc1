"""All outputs of an audit: whole or not at all, and never over the file as typed."""

from __future__ import annotations

import pytest
from marked_examples import rich_workbook, small_report, small_season

from audit.findings import Report
from audit.handover import page
from audit.handover.folder import write_outputs
from audit.refusal import Refusal


def test_all_files_are_written_and_nothing_else(declared, tmp_path):
    season = small_season()
    out = tmp_path / "new" / "out"
    written = write_outputs(season, small_report(season), declared, None, out)
    assert [path.name for path in written] == [
        "findings.csv",
        "findings.json",
        "test.marked.xlsx",
        "test.report.html",
    ]
    assert sorted(out.iterdir()) == sorted(written)


def test_a_second_audit_replaces_the_first(declared, tmp_path):
    season = small_season()
    write_outputs(season, small_report(season), declared, None, tmp_path)
    write_outputs(season, Report("test", ()), declared, None, tmp_path)
    assert (tmp_path / "findings.csv").read_text(encoding="utf-8").count("\n") == 1


def test_a_failure_leaves_the_earlier_results_alone(declared, tmp_path, monkeypatch):
    season = small_season()
    write_outputs(season, small_report(season), declared, None, tmp_path)
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}

    def fail(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(page, "write_page", fail)
    with pytest.raises(Refusal, match="No space left"):
        write_outputs(season, Report("test", ()), declared, None, tmp_path)
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before


def test_macros_keep_their_ending(declared, tmp_path):
    source = tmp_path / "test.xlsm"
    rich_workbook(source)
    season = small_season()
    written = write_outputs(season, Report("test", ()), declared, source, tmp_path / "out")
    assert written[2].name == "test.marked.xlsm"


def test_a_result_never_replaces_the_file_as_typed(declared, tmp_path):
    source = tmp_path / "findings.csv"
    source.write_text("date,box,ring\n", encoding="utf-8")
    season = small_season()
    with pytest.raises(Refusal, match="would replace the file as typed"):
        write_outputs(season, small_report(season), declared, source, tmp_path)
    assert source.read_text(encoding="utf-8") == "date,box,ring\n"


def test_a_result_never_replaces_another_file_that_was_read(declared, tmp_path):
    reads = tmp_path / "findings.csv"
    reads.write_text("read_at,tag\n", encoding="utf-8")
    season = small_season()
    with pytest.raises(Refusal, match="would replace the file as typed"):
        write_outputs(season, small_report(season), declared, None, tmp_path, also_read=[None, reads])
    assert reads.read_text(encoding="utf-8") == "read_at,tag\n"


def test_results_do_not_go_among_the_files_as_typed(declared, tmp_path):
    season = small_season()
    with pytest.raises(Refusal, match="among the files as typed"):
        write_outputs(season, small_report(season), declared, tmp_path, tmp_path)


def test_a_file_in_the_way_is_refused(declared, tmp_path):
    (tmp_path / "out").write_text("", encoding="utf-8")
    season = small_season()
    with pytest.raises(Refusal, match="need a folder"):
        write_outputs(season, small_report(season), declared, None, tmp_path / "out")
