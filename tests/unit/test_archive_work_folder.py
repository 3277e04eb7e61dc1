"""The folder of the results: one run at a time, among no files of others; and one folder for each season."""

from __future__ import annotations

import pytest

from audit.archive.season_results import season_folder, tidy, write_season
from audit.archive.work_folder import WORK, work_alone
from audit.refusal import Refusal


def test_one_run_at_a_time(tmp_path):
    with work_alone(tmp_path) as work:
        (work.scratch / "half").write_bytes(b"x")
        with pytest.raises(Refusal, match="Another audit of an archive is writing"), work_alone(tmp_path):
            pass
        assert (work.scratch / "half").exists()
    assert not work.scratch.exists()
    with work_alone(tmp_path) as work:
        assert list(work.scratch.iterdir()) == []


def test_what_a_killed_run_left_is_removed(tmp_path):
    (tmp_path / WORK / "scratch").mkdir(parents=True)
    (tmp_path / WORK / "scratch" / "held.db").write_bytes(b"x")
    with work_alone(tmp_path) as work:
        assert list(work.scratch.iterdir()) == []


def test_files_of_others_are_not_replaced(tmp_path):
    (tmp_path / "summary.txt").write_text("mine", encoding="utf-8")
    with pytest.raises(Refusal, match=r"holds 'summary\.txt' already"), work_alone(tmp_path):
        pass
    assert not (tmp_path / WORK).exists()


def refused(out, found=b""):
    with work_alone(out) as work:
        if found:
            (work.pieces / "found").write_bytes(found)
        raise Refusal("No file.", where="here", cure="Name one.")


def test_a_run_that_is_refused_at_once_leaves_nothing(tmp_path):
    with pytest.raises(Refusal, match="No file"):
        refused(tmp_path / "out")
    assert not (tmp_path / "out").exists()
    with pytest.raises(Refusal, match="No file"):
        refused(tmp_path / "out", b"x")
    assert (tmp_path / "out" / WORK / "pieces" / "found").exists()


def test_what_cannot_be_written_is_said(tmp_path):
    (tmp_path / "out").write_text("a file", encoding="utf-8")
    with pytest.raises(Refusal, match="The results need a folder"), work_alone(tmp_path / "out"):
        pass
    with pytest.raises(Refusal, match="No space left"), work_alone(tmp_path / "full"):
        raise OSError(28, "No space left on device")


def test_seasons_whose_names_no_folder_can_bear_stay_apart(tmp_path):
    names = ["2019", "2019/20", "2019-20", "..", ".", "", "winter 2019"]
    folders = {season_folder(name) for name in names}
    assert len(folders) == len(names)
    assert not any("/" in name or name.endswith(("=.", "=..")) for name in folders)
    written = [write_season(tmp_path, name, [], None) for name in names]
    assert all(path.is_relative_to(tmp_path / "findings") for path in written)
    (tmp_path / "pieces").mkdir()
    tidy(tmp_path, tmp_path / "pieces", (), written[:1])
    assert [path.name for path in (tmp_path / "findings").iterdir()] == ["season=2019"]
