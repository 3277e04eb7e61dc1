"""Practice sheets marked: by meaning, in any order, and so that the score adds up."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from functools import cache

import pytest
from golden_file import hold_against_golden
from hypothesis import given, settings
from hypothesis import strategies as st

from audit.declarations import load_declarations
from audit.practice.exercise.answers import Answer, answers_in
from audit.practice.exercise.exercise import make_exercise
from audit.practice.exercise.levels import levels_of
from audit.practice.exercise.marking import mark_sheet
from audit.practice.exercise.overview import advice
from audit.practice.exercise.recipe import Recipe
from audit.practice.exercise.result_page import result_page, result_text
from audit.practice.exercise.schedule import is_needless, standings
from audit.practice.exercise.score import INNOCENT, WRONG
from audit.practice.exercise.sheet_record import record_of
from audit.refusal import Refusal

shipped = cache(load_declarations)


@cache
def sheet(level="tare", *kinds, seed=2):
    return make_exercise(Recipe("AB", level, "barn_owl", seed, 0, kinds or (level,)), shipped())


def mark(exercise, marked):
    return mark_sheet(exercise, marked, shipped())


def key(exercise):
    """Every cell with a slip, and what was meant in it."""
    return {place: exercise.meant(place) for place in exercise.changes}


def first(exercise):
    return next(iter(exercise.changes))


@pytest.mark.parametrize("level", ["tare", "dates", "slid", "exchanged_columns", "tag_check", "odd_size"])
def test_the_key_itself_mends_everything(level):
    exercise = sheet(level)
    score = mark(exercise, key(exercise))
    assert score.counts == Counter(mended=len(exercise.changes))
    assert [(one.slips, one.found, one.mended) for one in score.kinds] == [(1, 1, 1)]
    assert score.blamed == 0


def test_a_number_is_equal_however_it_is_written():
    exercise = sheet()
    place, meant = next(iter(key(exercise).items()))
    for text in (meant, f"{meant}.0", f" {meant}", f"{meant} g"):
        assert mark(exercise, {place: text}).counts == {"mended": 1}, text


def test_a_date_is_equal_however_it_is_written():
    exercise = sheet("dates")
    place, meant = next(iter(key(exercise).items()))
    day = dt.date.fromisoformat(meant)
    for form in ("%d.%m.%Y", "%Y-%m-%d", "%d %B %Y"):
        assert mark(exercise, {place: day.strftime(form)}).counts == {"mended": 1}, form


def test_a_tag_is_equal_with_blanks_in_it():
    exercise = sheet("tag_check")
    place, meant = next(iter(key(exercise).items()))
    assert mark(exercise, {place: f"{meant[:3]} {meant[3:]}"}).counts == {"mended": 1}


def test_to_ask_where_the_page_tells_finds_and_does_not_mend():
    exercise = sheet()
    score = mark(exercise, {first(exercise): "?"})
    assert score.counts == {"seen": 1}
    assert (score.slips[0].found, score.slips[0].whole) == (True, False)


def test_where_nothing_can_be_seen_to_ask_is_right_and_the_right_value_a_guess():
    exercise = sheet("hard_to_read")
    asked = mark(exercise, dict.fromkeys(exercise.doubtful, "?"))
    assert asked.counts["asked_right"] == 1
    assert (asked.slips[0].whole, asked.slips[0].asked) == (True, True)
    guessed = mark(exercise, key(exercise))
    assert guessed.counts["mended"] == 0
    assert not guessed.slips[0].whole


def test_what_was_carried_on_is_asked_about_with_its_source():
    exercise = sheet("hard_to_read", seed=3)
    assert exercise.planted[0].slip.kind == "carried"
    assert len(exercise.changes) == 2
    assert mark(exercise, {first(exercise): "?"}).counts == {"asked": 2}


def test_the_right_line_and_the_wrong_cell_is_told_apart():
    exercise = sheet()
    label, _ = first(exercise)
    score = mark(exercise, {(label, "gross_g"): "300"})
    assert score.counts == {"missed": 1, "near": 1}
    assert score.slips[0].near
    assert score.blamed == 1
    # once the slip is found, another cell of its line is as innocent as any
    score = mark(exercise, {(label, "gross_g"): "300", **key(exercise)})
    assert score.counts == {"mended": 1, "blamed": 1}


def test_an_answer_that_says_what_stands_there_is_no_mark():
    exercise = sheet()
    innocent = next((label, "net_g") for label in exercise.labels if (label, "net_g") not in exercise.changes)
    score = mark(
        exercise,
        {innocent: f"{exercise.typed(innocent)}.0", first(exercise): exercise.typed(first(exercise))},
    )
    assert score.counts == {"missed": 1}
    assert len(score.idle) == 2


def test_an_emptied_cell_is_marked_without_a_value():
    exercise = sheet()
    assert mark(exercise, {first(exercise): ""}).counts == {"seen": 1}


def test_a_cell_is_named_by_line_and_column_with_or_without_its_unit():
    exercise = sheet()
    label, field = first(exercise)
    line = exercise.line(label)
    told = [answers_in(exercise, {(line, name): "5"}) for name in (field, "net", " Net_g ")]
    assert told == [(Answer((label, field), "5"),)] * 3


@pytest.mark.parametrize("place", [(0, "net"), (99, "net"), (1, "beak"), ("page!1", "net")])
def test_a_cell_that_is_not_there_is_refused(place):
    with pytest.raises(Refusal, match="has no cell"):
        mark(sheet(), {place: "5"})


CROWDED = ("whole_round", "tare", "hard_to_read", "ring_series")


@st.composite
def any_answers(draw):
    exercise = sheet(*CROWDED)
    wrong = list(exercise.changes)
    places = draw(
        st.lists(
            st.one_of(
                st.sampled_from(wrong),
                st.tuples(st.sampled_from(exercise.labels), st.sampled_from(exercise.fields)),
            ),
            unique=True,
            max_size=8,
        )
    )
    texts = st.one_of(st.sampled_from(["?", "", "345", "2026-06-18", "SL-01"]), st.text(max_size=6))
    return {
        place: draw(st.one_of(texts, st.just(exercise.meant(place)), st.just(exercise.typed(place))))
        for place in places
    }


@settings(max_examples=6)
@given(any_answers(), st.randoms())
def test_any_answers_give_a_score_that_adds_up_in_any_order(marked, random):
    exercise = sheet(*CROWDED)
    score = mark(exercise, marked)
    counts = score.counts
    assert sum(counts[outcome] for outcome in WRONG) == len(exercise.changes)
    marks = sum(counts[outcome] for outcome in INNOCENT)
    on_slips = sum(cell.answer is not None for slip in score.slips for cell in slip.cells)
    assert marks + on_slips + len(score.idle) == len(marked)
    assert sum(one.slips for one in score.kinds) == len(exercise.planted)
    assert all(
        one.asked <= one.mended + one.found and one.mended <= one.found <= one.slips for one in score.kinds
    )
    shuffled = list(marked.items())
    random.shuffle(shuffled)
    assert mark(exercise, dict(shuffled)) == score
    # each answer is read on its own: what it is worth does not depend on the others, but for finding a line
    for place, text in shuffled[:2]:
        if place in exercise.changes:
            alone = {cell.place: cell for slip in mark(exercise, {place: text}).slips for cell in slip.cells}
            together = {cell.place: cell for slip in score.slips for cell in slip.cells}
            assert alone[place].outcome == together[place].outcome


@pytest.mark.parametrize("level", ["tare", "hard_to_read", "odd_size", "whole_round"])
@pytest.mark.parametrize("answer", ["?", "1"])
def test_to_mark_every_cell_leads_nowhere(level, answer):
    exercise = sheet(level, *(("hard_to_read", "tare") if level == "whole_round" else ()))
    score = mark(exercise, {(label, field): answer for label in exercise.labels for field in exercise.fields})
    assert all(slip.found for slip in score.slips)
    if answer != "?":
        assert not any(slip.whole for slip in score.slips)
    record = record_of(score, at="")
    assert is_needless(record, shipped())
    levels = levels_of(shipped())
    standing = standings([record] * 9, levels, shipped())
    assert not any(one.best for one in standing.values())
    assert "mark a cell only where something on the page speaks against it" in advice(
        [record], levels, shipped()
    )


@pytest.mark.parametrize("level", ["tare", "hard_to_read", "odd_size"])
def test_the_words_of_a_result(level):
    exercise = sheet(level)
    label, field = first(exercise)
    other = exercise.labels[-1 if exercise.labels[-1] != label else -2]
    told = [
        result_text(mark(exercise, marked))
        for marked in (
            {},
            {(label, field): "?", (other, "net_g"): "?"},
            {
                (label, field): "1",
                (other, "net_g"): "1",
                (label, "bag_g" if "bag_g" in exercise.fields else "net_g"): "?",
            },
        )
    ]
    hold_against_golden(f"practice_{level}.txt", "\n\n".join(told) + "\n")


def test_the_page_of_a_result_escapes_what_was_typed():
    exercise = sheet()
    page = result_page(mark(exercise, {first(exercise): "<b>5"}), {"tare": "The bag"})
    assert "<b>5" not in page
    assert "&lt;b&gt;5" in page
    assert "The bag" in page
