"""A folder appears whole or not at all: faults, kills, places that are taken."""

from __future__ import annotations

import errno
import subprocess
import sys
import textwrap

import pytest

from audit.handover.cover_page import cover_text
from audit.handover.file_stem import file_stem
from audit.handover.handover_record import Despite, FileSum, HandoverRecord, PartTold
from audit.handover.new_folder import at_home, new_folder, refuse_place
from audit.refusal import Refusal


def fill(out, fault):
    """Write a file, and fail."""
    with new_folder(out) as folder:
        (folder / "a").write_text("half", encoding="utf-8")
        fault()


def names(folder):
    return sorted(path.name for path in folder.iterdir())


def test_the_folder_is_there_when_it_is_whole(tmp_path):
    out = tmp_path / "deep" / "handover"
    with new_folder(out) as folder:
        (folder / "tables").mkdir()
        (folder / "tables" / "a.csv").write_text("a\n", encoding="utf-8")
        assert not out.exists()
    assert (out / "tables" / "a.csv").read_text(encoding="utf-8") == "a\n"
    assert names(out.parent) == ["handover"]


def test_an_empty_folder_may_stand_there(tmp_path):
    (tmp_path / "out").mkdir()
    with new_folder(tmp_path / "out") as folder:
        (folder / "a").write_text("a", encoding="utf-8")
    assert names(tmp_path / "out") == ["a"]


@pytest.mark.skipif(sys.platform == "win32", reason="rights of folders are others there")
def test_others_may_read_it_as_any_folder(tmp_path):
    with new_folder(tmp_path / "out"):
        pass
    (tmp_path / "usual").mkdir()
    assert (tmp_path / "out").stat().st_mode == (tmp_path / "usual").stat().st_mode


@pytest.mark.parametrize(
    ("fault", "said"),
    [
        (OSError(errno.ENOSPC, "No space left on device"), "No space left on device"),
        (PermissionError(errno.EACCES, "Permission denied"), "Permission denied"),
    ],
)
def test_nothing_is_left_of_a_handover_that_failed(tmp_path, fault, said):
    def fail():
        raise fault

    with pytest.raises(Refusal, match=said) as refused:
        fill(tmp_path / "out", fail)
    assert "Nothing was left behind." in refused.value.what
    assert names(tmp_path) == []


def test_a_fault_of_the_program_leaves_nothing_either(tmp_path):
    with pytest.raises(ZeroDivisionError):
        fill(tmp_path / "out", lambda: 1 // 0)
    assert names(tmp_path) == []


def test_what_was_handed_over_is_never_written_over(tmp_path):
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "old").write_text("old", encoding="utf-8")
    with pytest.raises(Refusal, match="not empty"):
        refuse_place(tmp_path / "out")
    with pytest.raises(Refusal, match="not empty"), new_folder(tmp_path / "out"):
        pytest.fail("nothing may be made")
    assert names(tmp_path / "out") == ["old"]


def test_a_folder_that_came_up_meanwhile_stays_as_it_is(tmp_path):
    def come_up():
        (tmp_path / "out").mkdir()
        (tmp_path / "out" / "b").write_text("theirs", encoding="utf-8")

    with pytest.raises(Refusal):
        fill(tmp_path / "out", come_up)
    assert names(tmp_path) == ["out"]
    assert names(tmp_path / "out") == ["b"]


def test_a_file_in_the_way_is_told_of(tmp_path):
    (tmp_path / "out").write_text("a file", encoding="utf-8")
    with pytest.raises(Refusal, match="a file of this name"):
        refuse_place(tmp_path / "out")
    with pytest.raises(Refusal, match="No folder can be made here"):
        refuse_place(tmp_path / "out" / "inside")


def test_a_killed_program_leaves_no_folder_of_that_name(tmp_path):
    program = textwrap.dedent(
        """
        import os, signal, sys
        from pathlib import Path
        from audit.handover.new_folder import new_folder
        with new_folder(Path(sys.argv[1])) as folder:
            (folder / "a").write_text("half", encoding="utf-8")
            os.kill(os.getpid(), signal.SIGKILL)
        """
    )
    done = subprocess.run([sys.executable, "-c", program, str(tmp_path / "out")], check=False)
    assert done.returncode != 0
    (left,) = names(tmp_path)
    assert left.startswith(".nestproof-unfinished-")
    # and it is not in the way of the next one
    with new_folder(tmp_path / "out") as folder:
        (folder / "a").write_text("whole", encoding="utf-8")
    assert (tmp_path / "out" / "a").read_text(encoding="utf-8") == "whole"


@pytest.mark.parametrize("name", ["a\0b", "n" * 300])
def test_a_name_that_no_folder_can_have_is_refused(tmp_path, name):
    with pytest.raises(Refusal, match="No folder can be made under this name"):
        refuse_place(tmp_path / name)


def test_a_tilde_is_the_folder_of_a_person(tmp_path, monkeypatch):
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("USERPROFILE", str(tmp_path))
    assert at_home("~/handover") == tmp_path / "handover"
    assert at_home("~nobody-of-this-name/x").name == "x"
    assert str(at_home("out")) == "out"


@pytest.mark.parametrize(
    ("season", "stem"),
    [
        ("Südwiesen – all of it", "Südwiesen – all of it"),
        ("a/b\0c: d?", "a-b-c- d-"),
        (" . ", "season"),
        ("", "season"),
    ],
)
def test_files_begin_with_the_name_of_the_season(season, stem):
    assert file_stem(season) == stem
    assert len(file_stem("\u00fc" * 300).encode()) == 180


def test_nothing_that_was_typed_steers_a_terminal():
    part = PartTold("t", ("a\x1b[31m.csv",), ("bell \x07 and\nbreak",))
    record = HandoverRecord(
        *(
            "s\x1b[2J",
            "2026-07-02T10:00:00+02:00",
            False,
            Despite("A\nB", "red \x1b[31m"),
            ("F2: \x9b1m",),
            (part,),
        ),
        *((), (FileSum("a\x1b[31m.csv", "0" * 64, 1),), (), (), 0),
    )
    lines = cover_text(record, "out").split("\n")
    assert all(line.isprintable() for line in lines)
    assert max(map(len, lines)) <= 80
