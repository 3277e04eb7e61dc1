"""What comes back when: steps and intervals, due kinds, levels, and sheets without a slip."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from functools import cache

from hypothesis import given, settings
from hypothesis import strategies as st

from audit.declarations import load_declarations
from audit.practice.exercise.levels import level_named, levels_of
from audit.practice.exercise.schedule import next_kinds, next_level, standings
from audit.practice.exercise.score import KindScore
from audit.practice.exercise.sheet_record import SheetRecord

shipped = cache(load_declarations)
LEVELS = levels_of(load_declarations())
KINDS = [level.slug for level in LEVELS if level.ways]


def marked(*sheets, blamed=0):
    """Sheets of AB: each a mapping of kind to whether its one slip was mended."""
    return [
        SheetRecord(
            identity=str(number),
            at="",
            who="AB",
            sheet=str(number),
            level="tare",
            species="barn_owl",
            kinds=tuple(KindScore(kind, 1, int(mended), int(mended), 0) for kind, mended in sheet.items()),
            innocent=90,
            blamed=blamed,
        )
        for number, sheet in enumerate(sheets)
    ]


def standing(kind, *sheets):
    return standings(marked(*sheets), LEVELS, shipped())[kind]


def chosen(level, records, seed=1):
    return next_kinds(level_named(LEVELS, level), records, LEVELS, shipped(), seed=seed)


def test_the_intervals_are_those_of_the_learning_box():
    # Leitner, So lernt man lernen (1972): compartments of 1, 2, 5, 8 and 14 cm, as an encyclopedia relays;
    # that they are read as sheets is our own
    right = {"tare": True}
    waits = [standing("tare", *[right] * times).waits for times in range(1, 7)]
    assert waits == [1, 2, 5, 8, 14, 14]


def test_a_kind_is_due_after_its_interval_and_not_before():
    sheets = [{"tare": True}] * 3
    due = [standing("tare", *sheets, *[{"unit": True}] * others).is_due for others in range(6)]
    # on the third step it waits for the fifth sheet after the last one that held it
    assert due == [False, False, False, False, True, True]


def test_what_was_missed_begins_again_and_is_due_at_once():
    one = standing("tare", {"tare": True}, {"tare": True}, {"tare": False})
    assert (one.step, one.best, one.is_due, one.slips, one.mended) == (0, 2, True, 3, 2)
    assert one.miss_rate == (1 + 1) / (3 + 2)


def test_what_was_never_met_is_not_due():
    assert not standing("unit", {"tare": False}).is_due


def test_levels_are_climbed_one_by_one_and_not_lost_again():
    def level(*sheets):
        return next_level(standings(marked(*sheets), LEVELS, shipped()), LEVELS, shipped()).slug

    first = [{"one_digit": True}] * 3
    assert level() == level(*first[:2]) == "one_digit"
    assert level(*first) == level(*first, {"one_digit": False}) == "tare"
    assert level(*[dict.fromkeys(KINDS, True)] * 3) == LEVELS[-1].slug


def test_a_new_level_begins_with_its_own_kind():
    assert chosen("tare", []) == ("tare",)
    assert set(chosen("neighbours", [], seed=2)) == {"neighbours"}


def test_what_was_missed_comes_back_beside_the_kind_of_the_level():
    records = marked({"tare": True}, {"one_digit": False})
    two = next(kinds for seed in range(1, 20) if len(kinds := chosen("neighbours", records, seed)) == 2)
    assert two == ("neighbours", "one_digit")


def test_the_longest_overdue_comes_first_on_a_whole_page():
    records = marked({"tare": True}, {"one_digit": True}, {"dates": True}, *[{}] * 4)
    for seed in range(1, 20):
        kinds = chosen("whole_round", records, seed)
        assert kinds[:3] == ("tare", "one_digit", "dates")[: len(kinds)]


def test_a_kind_without_a_column_on_the_page_waits():
    records = marked({"tag_check": False})
    assert all("tag_check" not in chosen("odd_size", records, seed) for seed in range(1, 20))


def test_sheets_without_a_slip_come_at_higher_levels_and_more_often_after_blaming():
    def empty(level, blamed=0):
        records = marked({"tare": True}, blamed=blamed)
        return sum(chosen(level, records, seed) == () for seed in range(150)) / 150

    assert empty("neighbours") == 0
    assert all(chosen("dates", marked({"tare": True}, {}), seed) for seed in range(60))
    # declared shares 0.15 and 0.3; three standard errors of 150 draws
    assert abs(empty("dates") - 0.15) < 0.088
    assert abs(empty("dates", blamed=2) - 0.3) < 0.113


@settings(max_examples=20)
@given(
    st.sampled_from([level.slug for level in LEVELS]),
    st.lists(st.dictionaries(st.sampled_from(KINDS), st.booleans(), max_size=3), max_size=12),
    st.integers(0, 1000),
)
def test_any_progress_gives_a_sheet_that_its_level_allows(level, sheets, seed):
    one, records = level_named(LEVELS, level), marked(*sheets)
    kinds = next_kinds(one, records, LEVELS, shipped(), seed=seed)
    assert kinds == next_kinds(one, records, LEVELS, shipped(), seed=seed)
    assert not kinds or one.slips[0] <= len(kinds) <= one.slips[1]
    assert all(level_named(LEVELS, kind).number <= one.number for kind in kinds)
    # only the kind of the level itself may come twice
    assert all(number == 1 or kind == level for kind, number in Counter(kinds).items())


def test_whoever_marks_many_cells_without_need_does_not_climb():
    few, many = (replace(marked({"tare": True})[0], blamed=1, unneeded=number) for number in (1, 2))
    assert standings([few] * 3, LEVELS, shipped())["tare"].step == 3
    assert standings([many] * 9, LEVELS, shipped())["tare"].step == 0
    # nor does what was climbed before go lost
    assert standings([few, few, many], LEVELS, shipped())["tare"].step == 2
    assert next_level(standings([many] * 9, LEVELS, shipped()), LEVELS, shipped()) == LEVELS[0]
