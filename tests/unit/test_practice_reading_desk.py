"""The reading desk without a browser: drawings shown one by one, and what is typed of them."""

from __future__ import annotations

import pytest

import audit
from audit.practice.exercise.progress import read_progress
from audit.practice.reading.desk import ReadingDesk


@pytest.fixture
def path(tmp_path):
    return tmp_path / "practice.progress.jsonl"


@pytest.fixture
def desk(path):
    ticks = iter(range(100))
    practice = audit.read_practice("AB", seed=1, numbers=3, progress=path)
    return ReadingDesk(practice.lesson, lambda: "2026-11-30T08:00:00+00:00", lambda: float(next(ticks)))


def test_nothing_is_shown_before_it_is_asked_for(desk):
    assert desk.drawing.value == ""
    assert desk.text.disabled
    assert "3 numbers lie ready." in desk.told.value


def test_a_whole_round_is_shown_typed_back_and_kept(desk, path):
    first, second, third = desk.lesson.round.shown
    desk.time.value = 2.5
    desk.show.click()
    assert first.svg in desk.drawing.value
    assert "2.5s forwards" in desk.drawing.value
    desk.text.value = first.meant
    assert second.svg in desk.drawing.value
    assert desk.text.value == ""
    desk.text.value = "?"
    assert third.svg in desk.drawing.value
    desk.text.value = third.meant[:-1]
    assert desk.drawing.value == ""
    assert "1 of 2 numbers misread" in desk.result.value
    assert [read.seconds for read in desk.lesson.score.read] == [1, 1, 1]
    (record,) = read_progress(path).drills
    assert (record.asked, record.right, record.counts["answers"]) == (3, 1, {"unread": 1})


def test_the_next_round_begins_anew_at_the_chosen_level(desk):
    desk.show.click()
    desk.text.value = "1"
    desk.level.value = "hard"
    desk.next.click()
    assert desk.lesson.round.level.slug == "hard"
    assert "was not finished" in desk.told.value
    assert desk.drawing.value == ""
    assert desk.text.disabled
    assert not desk.show.disabled


def test_a_round_that_cannot_be_kept_says_why(desk, path):
    path.parent.mkdir(exist_ok=True)
    path.write_text("something else\n")
    desk.show.click()
    for one in desk.lesson.round.shown:
        desk.text.value = one.meant
    assert "holds no progress of practice" in desk.told.value
    # nothing of it is lost: once the file is away, the same answers are handed in
    path.unlink()
    desk.show.click()
    (record,) = read_progress(path).drills
    assert record.right == 3


def test_the_round_can_be_seen_without_a_kernel(desk):
    page = desk._repr_mimebundle_()["text/html"]
    assert page.count("<svg") == 3
