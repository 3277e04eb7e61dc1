"""A workbook read by a process beside this one."""

from __future__ import annotations

import io

import psutil
import pytest
from sheets import BIRDS, HEADER, workbook

from audit.intake import sources, workbook_beside
from audit.intake.workbook import read_workbook
from audit.intake.workbook_beside import answer, read_beside, reading_beside


@pytest.fixture
def season(tmp_path):
    return workbook(tmp_path / "season.xlsx", {"Ringing": [HEADER, *BIRDS]})


@pytest.fixture
def any_size(monkeypatch):
    """Have the smallest workbook read beside, too."""
    monkeypatch.setattr(workbook_beside, "_SMALLEST", 0)


def children():
    return {child.pid for child in psutil.Process().children(recursive=True)}


@pytest.mark.usefixtures("any_size")
def test_the_other_process_reads_what_this_one_would_and_is_asked_once(season, declared, monkeypatch):
    here = read_workbook(season)
    before = children()
    with reading_beside(season):
        assert len(children() - before) == 1
        # this process must not read now
        monkeypatch.setattr("audit.intake.workbook.read_workbook", None)
        assert sources.open_source(season, declared).sheets == here[0]
        assert read_beside(season) is None
    assert children() <= before
    assert read_beside(season) is None


@pytest.mark.usefixtures("any_size")
def test_a_workbook_that_was_saved_again_meanwhile_is_read_anew(season):
    with reading_beside(season):
        workbook_beside._running[-1][1].wait()
        workbook(season, {"Ringing": [HEADER, *BIRDS[:1]]})
        assert read_beside(season) is None


@pytest.mark.usefixtures("any_size")
def test_a_workbook_that_cannot_be_read_there_is_left_to_this_process(season):
    season.write_bytes(season.read_bytes()[:-200])
    before = children()
    with reading_beside(season):
        assert read_beside(season) is None
    assert children() <= before


@pytest.mark.parametrize("name", ["season.csv", "season.ods", "nowhere.xlsx", "."])
@pytest.mark.usefixtures("any_size")
def test_what_is_no_workbook_begins_no_process(tmp_path, name):
    if name.startswith("season"):
        (tmp_path / name).write_bytes(b"date,box,ring\n")
    with reading_beside(tmp_path / name):
        assert not workbook_beside._running


@pytest.mark.parametrize("python", ["", "/nowhere/python"])
@pytest.mark.usefixtures("any_size")
def test_where_no_process_can_be_started_this_one_reads(season, monkeypatch, python):
    monkeypatch.setattr("sys.executable", python)
    with reading_beside(season):
        assert read_beside(season) is None


def test_a_small_workbook_or_none_is_read_here(season):
    with reading_beside(season), reading_beside(None):
        assert not workbook_beside._running


def test_a_workbook_that_unpacks_to_too_much_is_not_opened_unseen(season, monkeypatch):
    monkeypatch.setattr(workbook_beside, "_LARGEST_UNPACKED", 1000)
    monkeypatch.setattr("audit.intake.workbook.read_workbook", None)
    told = io.BytesIO()
    answer(str(season), told)
    assert told.getvalue() == b""
