"""The practice desk without a browser: cells chosen, texts typed, keys handed over by the grid."""

from __future__ import annotations

import pytest

import audit
from audit.practice.exercise.progress import read_progress


@pytest.fixture
def path(tmp_path):
    return tmp_path / "practice.progress.jsonl"


@pytest.fixture
def practice(path):
    return audit.practise("AB", level="tare", progress=path)


@pytest.fixture
def desk(practice):
    return practice.desk()


def choose(desk, place):
    desk.sheet.chosen, desk.sheet.chosen_key = place


def press(desk, key):
    grid = desk.sheet
    content = {"kind": "pressed", "key": key, "line": grid.chosen, "column": grid.chosen_key, "rested": 1}
    grid._heard(grid, content, [])


def slip(desk):
    ((place, change),) = desk.lesson.exercise.changes.items()
    return place, change.meant


def test_the_sheet_and_its_words_lie_on_the_desk(desk):
    assert len(desk.sheet.labels) == len(desk.lesson.exercise.labels)
    assert "What the columns mean" in desk.words.value
    assert "licence" in desk.words.value
    assert "was meant</li>" not in desk.words.value
    assert desk.result.value == ""


def test_a_cell_is_marked_handed_in_and_kept(desk, path):
    place, meant = slip(desk)
    choose(desk, place)
    assert desk.lesson.exercise.typed(place) in desk.at.value
    desk.text.value = meant
    assert "1 cell marked." in desk.told.value
    assert f"→ {meant}" in " ".join(desk.sheet.texts(place[0]))
    assert desk.sheet.marks == {place: "witness"}
    desk.hand_in.click()
    assert "You put it right." in desk.result.value
    assert "(right)" in " ".join(desk.sheet.texts(place[0]))
    assert desk.sheet.marks == {place: "amended"}
    assert desk.hand_in.disabled
    (record,) = read_progress(path).records
    assert record.kinds[0].mended == 1


def test_keys_ask_take_back_and_hand_in(desk):
    place, _ = slip(desk)
    choose(desk, place)
    press(desk, "q")
    assert "ask the field notebook" in desk.told.value
    press(desk, "u")
    assert "Nothing is marked." in desk.told.value
    assert desk.lesson.pending == {}
    press(desk, "h")
    assert "Hand in once more" in desk.told.value
    assert desk.lesson.score is None
    press(desk, "h")
    assert "(missed)" in " ".join(desk.sheet.texts(place[0]))
    # what is handed in is not changed any more
    press(desk, "q")
    assert desk.lesson.pending == {}


def test_a_mark_between_makes_an_empty_hand_unsure_again(desk):
    place, _ = slip(desk)
    press(desk, "h")
    choose(desk, place)
    press(desk, "q")
    press(desk, "u")
    press(desk, "h")
    assert desk.lesson.score is None


def test_without_a_cell_or_a_text_nothing_is_marked(desk):
    desk.ask.click()
    assert "Choose a cell first." in desk.told.value
    choose(desk, slip(desk)[0])
    desk.mark.click()
    assert "Type what was meant" in desk.told.value
    assert desk.lesson.pending == {}


def test_what_was_noted_stands_there_when_the_cell_is_chosen_again(desk):
    place, meant = slip(desk)
    other = next(label for label in desk.lesson.exercise.labels if label != place[0])
    choose(desk, place)
    desk.text.value = meant
    choose(desk, (other, "net_g"))
    assert desk.text.value == ""
    assert desk.lesson.pending == {place: meant}
    choose(desk, place)
    assert desk.text.value == meant


def test_the_next_sheet_is_a_fresh_one(desk):
    desk.hand_in.click()
    desk.hand_in.click()
    first = desk.lesson.exercise.name
    desk.level.value = "dates"
    desk.next.click()
    assert desk.lesson.exercise.name != first
    assert desk.lesson.exercise.level.slug == "dates"
    assert desk.result.value == ""
    assert not desk.hand_in.disabled
    assert desk.sheet.marks == {}


def test_a_disk_that_is_full_is_told_of_and_the_sheet_stays(desk, path):
    path.mkdir()
    choose(desk, slip(desk)[0])
    press(desk, "q")
    press(desk, "h")
    assert "cannot be written" in desk.told.value
    assert desk.lesson.score is None
    assert not desk.hand_in.disabled


def test_the_stored_desk_reads_without_a_kernel(desk):
    bundle = desk._repr_mimebundle_()
    assert "<table" in bundle["text/html"]
    assert bundle["text/plain"].startswith("Practice sheet 1 for AB")
