"""The file of progress: whole lines only, once each, and nothing of it lost."""

from __future__ import annotations

import json
import threading
import time
from dataclasses import replace

import pytest

from audit.practice.exercise.drill_record import DrillRecord, drill_line
from audit.practice.exercise.progress import add_record, read_progress
from audit.practice.exercise.score import KindScore
from audit.practice.exercise.sheet_record import SheetRecord, line_of, record_in
from audit.refusal import Refusal
from audit.review.log_disk import piece

RECORD = SheetRecord(
    identity="7f",
    at="2026-11-30T06:42:23+00:00",
    who="AB",
    sheet="practice-AB-barn_owl-tare-1",
    level="tare",
    species="barn_owl",
    kinds=(KindScore("tare", 2, 1, 1, 0),),
    innocent=55,
    blamed=1,
    asked_right=0,
    unneeded=2,
)


def other(number, **changes):
    return replace(RECORD, identity=f"x{number}", sheet=f"practice-AB-barn_owl-tare-{number}", **changes)


@pytest.fixture
def path(tmp_path):
    return tmp_path / "deep" / "practice.progress.jsonl"


def test_a_record_comes_back_as_it_was(path):
    assert record_in(line_of(RECORD)) == RECORD
    assert add_record(path, RECORD)
    assert read_progress(path).records == (RECORD,)


def test_a_file_that_is_not_there_holds_nothing(path):
    assert read_progress(path).records == read_progress(None).records == ()


def test_the_same_sheet_with_the_same_answers_is_kept_once(path):
    assert add_record(path, RECORD)
    before = path.read_bytes()
    assert not add_record(path, replace(RECORD, at="later"))
    assert path.read_bytes() == before


def test_a_sheet_marked_again_with_other_answers_does_not_count(path):
    again = replace(RECORD, identity="80", blamed=0)
    assert add_record(path, RECORD)
    assert add_record(path, again)
    assert not add_record(path, again)
    progress = read_progress(path)
    assert (progress.records, progress.again) == ((RECORD,), (again,))


def test_a_torn_line_stays_and_is_told_of_and_the_next_one_begins_below_it(path):
    add_record(path, RECORD)
    torn = line_of(other(2))[:40]
    with path.open("ab") as stream:
        stream.write(torn)
    add_record(path, other(3))
    assert torn in path.read_bytes()
    progress = read_progress(path)
    assert [record.sheet[-1] for record in progress.records] == ["1", "3"]
    assert str(progress.damaged[0]) == (
        "Line 2 of practice.progress.jsonl was left out: it is cut off or was written over."
    )


@pytest.mark.parametrize(
    ("change", "why"),
    [
        ({"form": 2}, "a later version"),
        ({"who": 3}, "'who' in it"),
        ({"blamed": -1}, "'blamed' in it"),
        ({"blamed": True}, "'blamed' in it"),
        ({"kinds": "tare"}, "'kinds' in it"),
        ({"kinds": [{"kind": "tare", "slips": 1, "found": 2, "mended": 0, "asked": 0}]}, "'kinds' in it"),
    ],
)
def test_a_line_that_says_something_odd_is_left_out(path, change, why):
    add_record(path, RECORD)
    with path.open("a") as stream:
        stream.write(json.dumps({**json.loads(line_of(other(2))), **change}) + "\n")
    progress = read_progress(path)
    assert progress.records == (RECORD,)
    assert why in str(progress.damaged[0])


def test_another_file_is_refused_and_left_alone(path):
    path.parent.mkdir()
    path.write_text("date,box,ring\n", encoding="utf-8")
    for act in (lambda: read_progress(path), lambda: add_record(path, RECORD)):
        with pytest.raises(Refusal, match="no progress of practice"):
            act()
    assert path.read_text(encoding="utf-8") == "date,box,ring\n"


def test_a_folder_in_its_place_is_refused(path):
    path.mkdir(parents=True)
    with pytest.raises(Refusal, match="cannot be read"):
        read_progress(path)
    with pytest.raises(Refusal, match="cannot be written"):
        add_record(path, RECORD)


def test_several_at_once_lose_and_double_nothing(path, monkeypatch):
    def slowly(*asked):
        data = piece(*asked)
        time.sleep(0.01)
        return data

    monkeypatch.setattr("audit.practice.exercise.progress.piece", slowly)
    threads = [threading.Thread(target=add_record, args=(path, other(i % 8))) for i in range(16)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    progress = read_progress(path)
    assert sorted(record.identity for record in progress.records) == [f"x{i}" for i in range(8)]
    assert len(path.read_text(encoding="utf-8").splitlines()) == 8


def test_trainees_are_kept_apart(path):
    add_record(path, RECORD)
    add_record(path, other(2, who="MK"))
    progress = read_progress(path)
    assert progress.trainees == ("AB", "MK")
    assert progress.of("MK") == (other(2, who="MK"),)


DRILL = DrillRecord(
    identity="d1",
    at="2026-11-30T06:42:23+00:00",
    who="MK",
    drill="reading",
    sheet="reading-MK-clear-1",
    level="clear",
    asked=8,
    right=7,
    counts={"slips": {"digit": 1}},
)


def test_rounds_of_drills_stand_in_the_same_file_apart_from_sheets(path):
    assert add_record(path, RECORD)
    assert add_record(path, DRILL)
    assert not add_record(path, replace(DRILL, at="later"))
    progress = read_progress(path)
    assert (progress.records, progress.drills, progress.damaged) == ((RECORD,), (DRILL,), ())
    assert progress.trainees == ("AB", "MK")
    assert progress.drills_of("MK", "reading") == (DRILL,)
    assert progress.drills_of("AB", "reading") == ()


def test_of_a_round_handed_in_twice_the_first_counts(path):
    add_record(path, DRILL)
    add_record(path, replace(DRILL, identity="d2", right=8))
    assert read_progress(path).drills == (DRILL,)


@pytest.mark.parametrize("change", [{"right": 9}, {"asked": "8"}, {"counts": {"slips": {"digit": -1}}}])
def test_a_spoilt_line_of_a_drill_does_not_count(path, change):
    add_record(path, RECORD)
    with path.open("ab") as stream:
        stream.write(json.dumps({**json.loads(drill_line(DRILL)), **change}).encode() + b"\n")
    progress = read_progress(path)
    assert progress.drills == ()
    assert str(progress.damaged[0]).endswith("is not what it should be.")
