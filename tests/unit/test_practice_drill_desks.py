"""The desks of weighing and ageing without a browser: a round written, handed in, gone on from."""

from __future__ import annotations

import pytest

import audit
from audit.practice.ageing.desk import AgeingDesk
from audit.practice.exercise.progress import read_progress
from audit.practice.weighing_drill.desk import WeighingDesk
from audit.practice.weighing_drill.weighing import CELLS


def now():
    return "2026-11-30T08:00:00+00:00"


@pytest.fixture
def path(tmp_path):
    return tmp_path / "practice.progress.jsonl"


@pytest.fixture
def weighing(path):
    return WeighingDesk(audit.practise_weighing("AB", level="bag_forgotten", progress=path).lesson, now)


@pytest.fixture
def ageing(path):
    return AgeingDesk(audit.practise_ageing("AB", level="edge", progress=path).lesson, now)


def right(weighing):
    return {cell: f"{weighing.true(cell):g}" if cell in weighing.known else "?" for cell in CELLS}


def write(desk, texts):
    for cell, text in texts.items():
        desk.cells[cell].value = text
    desk.write.click()


def test_weighings_come_one_by_one_and_are_kept(weighing, path):
    made = weighing.lesson.round
    assert "8 weighings lie ready." in weighing.told.value
    assert weighing.back.disabled
    for number, one in enumerate(made.weighings, 1):
        assert f"Weighing {number} of 8" in weighing.shown.value
        write(weighing, right(one))
    assert "All are written down." in weighing.told.value
    weighing.done.click()
    assert "All is right." in weighing.result.value
    assert weighing.write.disabled
    (record,) = read_progress(path).drills
    assert (record.drill, record.level, record.asked, record.right) == ("weighing", "bag_forgotten", 8, 8)


def test_a_mass_left_out_is_asked_for_and_one_written_can_be_mended(weighing):
    first, second = weighing.lesson.round.weighings[:2]
    write(weighing, right(first) | {"bag": " "})
    assert "Write bag, too, or ?" in weighing.told.value
    assert "Weighing 1 of 8" in weighing.shown.value
    write(weighing, right(first))
    weighing.back.click()
    assert [field.value for field in weighing.cells.values()] == list(right(first).values())
    write(weighing, right(first))
    write(weighing, right(second))
    assert "6 weighings to go." in weighing.told.value
    weighing.done.click()
    assert "6 weighings not written down." in weighing.told.value
    assert weighing.lesson.score is None
    weighing.done.click()
    assert weighing.lesson.score.whole.hits == 2


def test_what_is_written_is_safe_and_stays_where_the_disk_is_full(weighing, path):
    path.mkdir()
    write(weighing, dict.fromkeys(CELLS, "<b>7"))
    assert "<b>7" not in weighing.sheet.value
    assert "&lt;b&gt;7" in weighing.sheet.value
    weighing.done.click()
    weighing.done.click()
    assert "cannot be written" in weighing.told.value
    assert "What you wrote is still here." in weighing.told.value
    path.rmdir()
    weighing.done.click()
    assert "The round is marked." in weighing.told.value


def test_the_next_round_begins_anew_at_the_chosen_level(weighing):
    write(weighing, dict.fromkeys(CELLS, "1"))
    weighing.level.value = "springs"
    weighing.next.click()
    assert weighing.lesson.round.level.slug == "springs"
    assert "was not finished" in weighing.told.value
    assert weighing.cells["gross"].value == ""
    # without a level what was right so far decides
    weighing.level.value = None
    weighing.next.click()
    assert weighing.lesson.round.level.slug == "first_steps"


def test_ages_and_broods_are_answered_at_once_and_drawn_beside_the_curve(ageing, path):
    made = ageing.lesson.round
    assert "9 questions lie ready." in ageing.told.value
    for field, bird in zip(ageing.ages, made.nestlings, strict=True):
        field.value = f"{bird.age:.0f} days"
    for field, brood in zip(ageing.verdicts[1:], made.broods[1:], strict=True):
        field.value = brood.verdict
    ageing.done.click()
    assert "1 question not answered." in ageing.told.value
    ageing.verdicts[0].value = next(one for one in made.verdicts if one != made.broods[0].verdict)
    ageing.done.click()
    assert ageing.result.value.count('class="inside"') == 3
    assert "is not right" in ageing.result.value
    assert all(field.disabled for field in (*ageing.ages, *ageing.verdicts))
    (record,) = read_progress(path).drills
    assert (record.drill, record.level, record.asked, record.right) == ("ageing", "edge", 9, 8)
    ageing.next.click()
    assert ageing.lesson.round.number == 2
    assert ageing.result.value == ""
    assert not ageing.is_begun()


@pytest.mark.parametrize("name", ["weighing", "ageing"])
def test_the_round_can_be_seen_without_a_kernel(name, request):
    desk = request.getfixturevalue(name)
    bundle = desk._repr_mimebundle_()
    assert bundle["text/plain"].startswith(f"{name.capitalize()} drill 1 for AB")
    assert "licence" in bundle["text/html"]
