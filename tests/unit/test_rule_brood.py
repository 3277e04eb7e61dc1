"""Broods: birds handled, sizes written, young counted, boxes."""

from __future__ import annotations

import copy
import datetime as dt

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from invented import Style, invented_season
from typed_season import ask, blamed, typed_season

from audit.declarations import load_declarations
from audit.findings import Finding, NotRun
from audit.rules.brood import RULE

DECLARED = load_declarations()


def brood(size=4, box="SL-06", date="2026-06-13", first=1, **more):
    return [
        {
            "date": date,
            "box": box,
            "species": "barn owl",
            "ring": f"SV{first + i:05d}",
            "age": "1",
            "wing_mm": 150.0 + 12 * i,
            "brood_size": size,
            **more,
        }
        for i in range(size)
    ]


def visit(alive, box="SL-06", date="2026-06-13", **more):
    return {"date": date, "box": box, "alive": alive, **more}


def answers_to(rows, **tables):
    return ask(RULE, typed_season(DECLARED, handlings=rows, **tables), DECLARED)


def only(answers):
    assert len(answers) == 1, [getattr(a, "message", a) for a in answers]
    assert isinstance(answers[0], Finding)
    return answers[0]


def test_the_odd_size_among_siblings():
    rows = brood(4)
    rows[2]["brood_size"] = 44
    finding = only(answers_to(rows))
    assert blamed([finding]) == {("handlings!4", "brood_size"): ("brood.mixed", "4")}
    assert finding.message == "Brood size 44, but 3 birds of box SL-06 on 2026-06-13 have 4."


def test_two_birds_two_sizes_nothing_decides():
    rows = brood(2)
    rows[1]["brood_size"] = 3
    finding = only(answers_to(rows))
    assert blamed([finding]) == {
        ("handlings!2", "brood_size"): ("brood.mixed", "3"),
        ("handlings!3", "brood_size"): ("brood.mixed", "2"),
    }
    assert [suspect.p_error for suspect in finding.suspects] == [0.5, 0.5]
    assert finding.message == "Box SL-06 on 2026-06-13 has brood sizes 2 and 3."


def test_two_birds_two_sizes_the_count_decides():
    rows = brood(2)
    rows[1]["brood_size"] = 3
    finding = only(answers_to(rows, visits=[visit(3)]))
    assert blamed([finding]) == {("handlings!2", "brood_size"): ("brood.mixed", "3")}
    assert finding.message == "Box SL-06 on 2026-06-13 has brood sizes 2 and 3; 3 young were counted."


def test_two_sizes_the_birds_handled_decide():
    rows = brood(2)
    rows[1]["brood_size"] = 1
    finding = only(answers_to(rows))
    assert blamed([finding]) == {("handlings!3", "brood_size"): ("brood.mixed", "2")}
    assert finding.message == "Box SL-06 on 2026-06-13 has brood sizes 1 and 2; 2 birds were handled."


def test_more_birds_than_the_brood_has():
    rows = [{**row, "brood_size": 3} for row in brood(4)]
    finding = only(answers_to(rows))
    assert blamed([finding]) == {("handlings!2", "brood_size"): ("brood.more_handled", "4")}
    assert finding.message == "4 birds were handled in box SL-06 on 2026-06-13, but brood size says 3."


def test_more_birds_than_the_brood_has_and_the_count_agrees():
    rows = [{**row, "brood_size": 3} for row in brood(4)]
    finding = only(answers_to(rows, visits=[visit(4)]))
    assert len(finding.suspects) == 4
    assert {suspect.suggested for suspect in finding.suspects} == {"4"}
    assert finding.message.endswith("and as many were counted, but brood size says 3.")


def test_a_parent_written_as_young():
    parent = {**brood(1)[0], "ring": "SV00900", "wing_mm": 292.0, "brood_size": 4}
    finding = only(answers_to([*brood(4), parent]))
    assert blamed([finding]) == {("handlings!6", "age"): ("brood.grown", "")}
    assert finding.message == (
        "5 birds were handled in box SL-06 on 2026-06-13, but brood size says 4: "
        "by its wing 1 bird of them is full-grown."
    )


def test_a_bird_from_the_next_page():
    """One row of box SL-07 says SL-06, which makes a fifth bird in a brood of four."""
    rows = [*brood(4), *brood(4, box="SL-07", first=11)]
    rows[5]["box"] = "SL-06"
    finding = only(answers_to(rows))
    assert blamed([finding]) == {("handlings!7", "box"): ("brood.other_box", "SL-07")}
    assert finding.message == (
        "5 birds are written for box SL-06 on 2026-06-13, more than its brood of 4, "
        "and this row stands among those of box SL-07."
    )


def test_a_bird_from_the_next_page_with_the_brood_size_of_its_own_brood():
    """The brood size is right for box SL-07: the box is wrong, not the brood size."""
    rows = [*brood(4), *brood(3, box="SL-07", first=11)]
    rows[5]["box"] = "SL-06"
    finding = only(answers_to(rows))
    assert blamed([finding]) == {("handlings!7", "box"): ("brood.other_box", "SL-07")}


def test_a_whole_page_under_the_wrong_box():
    rows = [*brood(4), *brood(3, first=11)]
    finding = only(answers_to(rows, visits=[visit(4), visit(3, box="SL-07")]))
    assert set(blamed([finding])) == {(f"handlings!{row}", "box") for row in (6, 7, 8)}
    assert {suspect.suggested for suspect in finding.suspects} == {"SL-07"}
    assert finding.message == (
        "Broods of 4 and 3 stand under box SL-06 on 2026-06-13; box SL-07 was visited that day, "
        "3 young were counted there, and no bird is written for it."
    )


def test_two_broods_under_one_box_without_a_clue_is_a_note():
    answers = answers_to([*brood(4), *brood(3, first=11)])
    assert [a.rule for a in answers] == ["brood.two_broods"]
    assert not blamed(answers)


def test_a_count_against_several_birds():
    finding = only(answers_to(brood(4), visits=[visit(7)]))
    assert blamed([finding]) == {("visits!2", "alive"): ("brood.count", "4")}
    assert (
        finding.message == "7 young counted in box SL-06 on 2026-06-13, but 4 birds of it have brood size 4."
    )


def test_a_count_against_one_bird_blames_both():
    finding = only(answers_to(brood(4)[:1], visits=[visit(5)]))
    assert blamed([finding]) == {
        ("handlings!2", "brood_size"): ("brood.count", "5"),
        ("visits!2", "alive"): ("brood.count", "4"),
    }


def test_a_brood_that_the_box_cannot_hold():
    """A box holds eleven (common practice)."""
    rows = [{**row, "brood_size": 12} for row in brood(1)]
    finding = only(answers_to(rows, boxes=[{"box": "SL-06", "capacity": 11}]))
    assert finding.rule == "brood.over_capacity"
    assert finding.message == "Brood size 12, but box SL-06 holds 11."


def test_a_capacity_that_other_boxes_contradict():
    boxes = [{"box": f"SL-{i:02d}", "capacity": 11} for i in range(1, 9)]
    boxes[5]["capacity"] = 1
    finding = only(answers_to(brood(4), boxes=boxes, visits=[visit(4)]))
    assert blamed([finding]) == {("boxes!7", "capacity"): ("brood.capacity", "11")}
    assert finding.message == "Box SL-06 is said to hold 1, but had a brood of 4; other boxes hold 11."


def test_more_young_than_eggs_of_the_species():
    rows = [{**brood(1)[0], "species": "kestrel", "wing_mm": 120.0, "brood_size": 10}]
    finding = only(answers_to(rows))
    assert finding.rule == "brood.above_species"
    assert finding.message.startswith("Brood size 10: clutches of the common kestrel have ")


def test_a_brood_that_grows_is_a_note():
    again = [{**row, "brood_size": 5} for row in brood(4, date="2026-06-24")]
    answers = answers_to([*brood(4), *again])
    assert [a.rule for a in answers] == ["brood.growing"]
    assert answers[0].message == "Box SL-06 had a brood of 4 on 2026-06-13 and of 5 on 2026-06-24."
    with_eggs = answers_to(
        [*brood(4), *again], visits=[visit(4, eggs=1), visit(5, date="2026-06-24", eggs=0)]
    )
    assert not with_eggs


@pytest.mark.parametrize(
    "remark", ["aus SL-21 umgesetzt", "fostered", "transféré", "trasladado", "overgezet"]
)
def test_a_brood_grows_by_what_a_remark_says_was_put_there(remark):
    again = [{**row, "brood_size": 5} for row in brood(5, date="2026-06-24")]
    again[4] = {**again[4], "remarks": remark}
    (finding,) = answers_to([*brood(4), *again])
    assert (finding.rule, finding.severity) == ("brood.growing_said", "note")
    assert finding.message == (
        "Box SL-06 had a brood of 4 on 2026-06-13 and of 5 on 2026-06-24; "
        f'the remark "{remark}" accounts for that.'
    )
    assert finding.suspects[0].p_error < 0.002
    # one that came does not account for two more
    more = [{**row, "brood_size": 6} for row in again]
    assert [a.rule for a in answers_to([*brood(4), *more])] == ["brood.growing"]


def test_a_brood_still_hatching_may_grow():
    small = [{**row, "wing_mm": 25.0 + 5 * i} for i, row in enumerate(brood(4))]
    again = [{**row, "brood_size": 5} for row in brood(4, date="2026-07-04")]
    assert not answers_to([*small, *again])


def test_a_bird_far_too_young_for_its_brood():
    rows = brood(4)
    for i, row in enumerate(rows):
        row["wing_mm"] = 240.0 - 3 * i
    rows[3]["wing_mm"] = 50.0
    finding = only(answers_to(rows))
    assert blamed([finding]) == {("handlings!5", "box"): ("brood.stranger", "")}
    assert finding.message == (
        "By its wing this bird is 15 days old, the others of box SL-06 on 2026-06-13 51 to 52: "
        "is it from another box?"
    )
    rows[3]["remarks"] = "Fostered from SL-02"
    (said,) = answers_to(rows)
    assert (said.rule, said.severity) == ("brood.stranger_said", "note")
    assert said.message.endswith(' 51 to 52; the remark "Fostered from SL-02" accounts for that.')


def test_three_weeks_between_oldest_and_youngest_are_normal():
    """British accounts: nine young of three days to three weeks; steps of two to three days."""
    rows = brood(8)
    for row, wing in zip(rows, (187, 172, 157, 142, 127, 111, 97, 83), strict=True):
        row["wing_mm"] = float(wing)
    assert not answers_to(rows)


@pytest.mark.parametrize(
    ("rows", "tables"),
    [
        (brood(8), {}),
        (brood(8), {"visits": [visit(8)], "boxes": [{"box": "SL-06", "capacity": 11}]}),
        (brood(4)[:2], {"visits": [visit(4)]}),
        ([*brood(4), {**brood(1)[0], "ring": "SV00900", "age": "4", "wing_mm": 292.0, "brood_size": 4}], {}),
        ([*brood(4), brood(4)[0]], {}),
        ([*brood(4), *[{**row, "brood_size": 3} for row in brood(4, date="2026-06-24")[:3]]], {}),
        (
            [{**row, "brood_size": row["brood_size"] if i == 0 else None} for i, row in enumerate(brood(4))],
            {},
        ),
        ([*brood(4), *brood(3, box="SL-07", first=11)], {}),
        (brood(4), {"visits": [visit(4, time="09:00"), visit(5, time="18:00")]}),
        (brood(4), {"visits": [visit(None)]}),
        ([*brood(4), *[{**row, "brood_size": 5} for row in brood(5, date="2026-09-20", first=31)]], {}),
    ],
    ids=[
        "eight",
        "eight in a box for eleven",
        "not all handled",
        "with a parent",
        "typed twice",
        "one lost",
        "written once",
        "two boxes",
        "counted twice that day",
        "not counted",
        "a second brood",
    ],
)
def test_innocent_broods(rows, tables):
    assert not answers_to(rows, **tables)


@pytest.mark.parametrize("seed", range(5))
def test_a_clean_season_gives_nothing(seed):
    assert not ask(RULE, typed_season(DECLARED, **invented_season(seed, Style())), DECLARED)


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 4), pick=st.floats(0, 0.999), size=st.integers(0, 99))
def test_any_wrong_size_or_count_is_blamed_alone(seed, pick, size):
    season = copy.deepcopy(SEASONS[seed])
    rows = season["handlings"]
    box_days = {}
    for i, row in enumerate(rows):
        box_days.setdefault((row["box"], row["date"]), []).append(i)
    i = [at for group in box_days.values() if len(group) > 2 for at in group][int(pick * 50)]
    if rows[i]["brood_size"] == size:
        return
    true = str(rows[i]["brood_size"])
    rows[i]["brood_size"] = size
    found = blamed(ask(RULE, typed_season(DECLARED, **season), DECLARED))
    assert set(found) == {(f"handlings!{i + 2}", "brood_size")}
    assert found[f"handlings!{i + 2}", "brood_size"][1] == true


SEASONS = [invented_season(seed, Style(boxes=30)) for seed in range(5)]


def test_what_could_not_run():
    rows = [{"date": dt.date(2026, 6, 13), "box": "SL-06", "ring": "SV00001"}]
    assert answers_to(rows) == [
        NotRun("brood.mixed", "There is no column for the brood size."),
        NotRun("brood.more_handled", "Without age codes grown birds cannot be told from young."),
    ]


def test_a_cell_in_doubt_is_left_alone():
    rows = brood(4)
    rows[2]["brood_size"] = 44
    season = typed_season(DECLARED, handlings=rows)
    assert not ask(RULE, season, DECLARED, frozenset({("handlings!4", "brood_size")}))


def test_a_dead_chick_is_not_one_of_the_live_young():
    rows = [*brood(4), {**brood(1, first=9)[0], "brood_size": 4, "wing_mm": None}]
    assert [a.rule for a in answers_to(rows)] == ["brood.more_handled"]
    for said in ({"condition": "dead"}, {"remarks": "found dead in the corner"}, {"condition": "Tot"}):
        assert answers_to([*rows[:4], {**rows[4], **said}], visits=[visit(4)]) == []
    assert [a.rule for a in answers_to([*rows[:4], {**rows[4], "remarks": "deadline missed"}])] == [
        "brood.more_handled"
    ]


def test_a_team_whose_brood_size_counts_the_ringed_young_only():
    rows, visits = [], []
    for number in range(12):
        box = f"SL-{number + 1:02d}"
        rows += brood(4, box=box, first=10 * number + 1)
        visits.append(visit(5 if number in (3, 8) else 4, box=box))
    answers = answers_to(rows, visits=visits)
    assert [a.rule for a in answers] == ["brood.ringed_only"]
    assert answers[0].message == (
        "At 2 visits, such as box SL-04 on 2026-06-13, more young were counted than the brood size says, "
        "and it is the number of young ringed: does it count only those?"
    )
    # once is no habit
    visits[3] = visit(4, box="SL-04")
    assert [a.rule for a in answers_to(rows, visits=visits)] == ["brood.count"]


def test_one_young_bird_of_another_species():
    rows = [*brood(5), *brood(4, box="SL-07", first=20)]
    rows[2]["species"] = "common kestrel"
    finding = only(answers_to(rows))
    assert blamed([finding]) == {("handlings!4", "species"): ("brood.other_species", "barn owl")}
    assert finding.message == (
        "Species common kestrel, but the 4 other young of box SL-06 on 2026-06-13 are of the species "
        "barn owl: barn owl was probably meant."
    )


@pytest.mark.parametrize("word", ["nuthatch", "Nuthatch"])
def test_a_species_that_is_not_declared_is_another_one(word):
    rows = [row | {"species": "tawny owl"} for row in brood(4)]
    assert answers_to(rows) == []
    rows[0]["species"] = "Tawny Owl"
    assert answers_to(rows) == []
    rows[1]["species"] = word
    finding = only(answers_to(rows))
    assert blamed([finding]) == {("handlings!3", "species"): ("brood.other_species", "tawny owl")}


@pytest.mark.parametrize(
    "more",
    [
        # a parent, or a bird that may be of another box
        {"age": "6", "wing_mm": 250.0},
        {"ring": "SV00900"},
        {"ring": "K00003"},
        {"remarks": "moved here from SL-09"},
    ],
)
def test_a_bird_that_may_not_be_of_the_brood_is_left_to_others(more):
    rows = brood(5)
    rows[2] |= {"species": "common kestrel", **more}
    assert not [one for one in answers_to(rows) if getattr(one, "rule", "") == "brood.other_species"]


def test_of_two_birds_and_of_two_broods_nothing_tells_the_odd_one():
    two = brood(2)
    two[0]["species"] = "common kestrel"
    assert answers_to(two) == []
    rows = brood(5)
    rows[0]["species"] = rows[1]["species"] = "common kestrel"
    assert not [one for one in answers_to(rows) if getattr(one, "rule", "") == "brood.other_species"]


def test_a_ring_that_was_met_in_the_box_before_is_of_the_brood():
    rows = [*brood(5), *brood(5, date="2026-06-27")]
    rows = [row | {"ring": f"SV{3 * int(row['ring'][2:]):05d}"} for row in rows]
    for row in rows[5:]:
        row |= {"event": "re-encountered", "wing_mm": row["wing_mm"] + 80}
    rows[7]["species"] = "common kestrel"
    found = [one for one in answers_to(rows) if getattr(one, "rule", "") == "brood.other_species"]
    assert blamed(found) == {("handlings!9", "species"): ("brood.other_species", "barn owl")}


def test_a_clutch_that_a_wrong_species_would_not_lay_is_no_slip_of_its_own():
    rows = [row | {"species": "great tit", "wing_mm": 40.0 + i} for i, row in enumerate(brood(11))]
    assert answers_to(rows) == []
    rows[4]["species"] = "pied flycatcher"
    finding = only(answers_to(rows))
    assert blamed([finding]) == {("handlings!6", "species"): ("brood.other_species", "great tit")}
