"""Findings held against what people have said: which are open, which are kept, and which wait."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest
from decided_small import decided, say, small_season
from hypothesis import given, settings
from hypothesis import strategies as st

from audit.declarations import load_declarations
from audit.declarations.breach import Breach
from audit.declarations.validation import Judged, Validation
from audit.findings import Finding, Suspect
from audit.handover.gate.broken_cells import breach_items
from audit.handover.gate.found import found_items, waiting_for
from audit.handover.gate.item import by_cell, in_order
from audit.handover.gate.said import said_in
from audit.review.replay import replay

declared = cache(load_declarations)


@cache
def season():
    return small_season(declared(), ("Net", 3, "395"), ("Net", 5, "262"))


def finding(*cells, rule="tare.arithmetic", severity="error"):
    """Blame cells, each (spreadsheet row, canonical column, probability)."""
    suspects = tuple(Suspect(season().cell(f"handlings!{row}", field), "", p) for row, field, p in cells)
    return Finding(rule, severity, suspects, "It cannot be.", identity="f1")


def items(*findings, log=(), shut_from=0.5):
    said = said_in(replay(season(), declared(), log))
    return list(found_items(findings, season(), said, shut_from))


def keep(row, field, *rules, **more):
    return say(season(), "keep", (row, field, None), reason="Looked up.", rules=rules, **more)


ONE = finding((3, "net_g", 0.9))
THREE = finding((3, "gross_g", 0.34), (3, "bag_g", 0.33), (3, "net_g", 0.33))


def test_an_error_that_nobody_decided_shuts_however_its_cells_share_the_blame():
    for one in (ONE, THREE):
        (item,) = items(one)
        assert (item.sort, item.shuts, item.remark) == ("error", True, "")


@pytest.mark.parametrize(("p", "shuts"), [(0.5, True), (0.49, False)])
def test_a_suspect_shuts_from_the_declared_probability_on(p, shuts):
    (item,) = items(finding((3, "net_g", p), severity="suspect"))
    assert (item.sort, item.shuts) == ("suspect", shuts)
    assert item.remark == ("" if shuts else "Less likely wrong than 50 %.")


def test_a_note_is_no_item():
    assert items(finding((3, "net_g", 0.9), severity="note")) == []


def test_a_cell_kept_by_who_knew_of_the_rule_is_kept_against_the_audit():
    (item,) = items(ONE, log=[keep(3, "net_g", "tare.arithmetic")])
    assert (item.sort, item.shuts) == ("kept", False)
    assert (item.who, item.why) == ("kept by AB on 2026-07-02", "Looked up.")


def test_so_is_one_that_was_amended_to_what_stands_there():
    amended = say(season(), "amend", (3, "net_g", "370"), rules=["tare.arithmetic"], reason="Smudged.")
    (item,) = items(ONE, log=[amended])
    assert (item.sort, item.who, item.why) == ("kept", "amended by AB on 2026-07-02", "Smudged.")


def test_a_decision_that_does_not_tell_what_was_looked_at_answers_whatever_is_said():
    (item,) = items(ONE, log=[keep(3, "net_g")])
    assert item.sort == "kept"


def test_a_decision_about_this_very_finding_answers_it_whatever_its_rule_is_called():
    (item,) = items(ONE, log=[keep(3, "net_g", "old.name", findings=["f1"])])
    assert item.sort == "kept"


def test_an_error_of_a_rule_that_was_not_shown_stays_open():
    log = [keep(3, "net_g", "growth.unusual")]
    (item,) = items(ONE, log=log)
    assert (item.sort, item.shuts) == ("error", True)
    assert item.remark == "A cell was kept by AB on 2026-07-02 without knowing of this: look once more."
    (item,) = items(replace(ONE, severity="suspect"), log=log)
    assert (item.sort, item.shuts) == ("suspect", False)
    assert item.remark == "A cell was kept by AB on 2026-07-02 without knowing of this: it is listed only."


def test_to_accept_is_no_word_against_the_audit():
    accepted = say(season(), "accept", (3, "net_g", "373"), rules=["tare.arithmetic"])
    (item,) = items(ONE, log=[accepted])
    assert (item.sort, item.shuts) == ("error", True)


def test_one_cell_of_three_is_enough_where_the_others_are_less_likely_wrong():
    log = [keep(3, "net_g", "tare.arithmetic")]
    (item,) = items(THREE, log=log)
    assert item.sort == "kept"
    assert [cell.field for cell in item.cells] == ["net_g", "gross_g", "bag_g"]
    (item,) = items(THREE, log=log, shut_from=0.34)
    assert (item.sort, item.shuts) == ("error", True)
    assert item.remark == "Only some of its cells were decided (kept by AB on 2026-07-02)."


def test_a_likelier_cell_that_is_left_keeps_it_open_and_stands_first():
    two = finding((3, "net_g", 0.3), (3, "gross_g", 0.7), severity="suspect")
    (item,) = items(two, log=[keep(3, "net_g", "tare.arithmetic")])
    assert (item.sort, item.shuts, item.field) == ("suspect", True, "gross_g")


def test_a_cell_kept_for_another_rule_is_no_answer_to_an_error_beside_one_that_is():
    two = finding((3, "net_g", 0.3), (3, "gross_g", 0.7))
    log = [keep(3, "net_g", "tare.arithmetic"), keep(3, "gross_g", "growth.unusual")]
    assert [(item.sort, item.shuts) for item in items(two, log=log)] == [("error", True)]
    assert [item.sort for item in items(replace(two, severity="suspect"), log=log)] == ["kept"]


def test_a_finding_whose_cell_is_asked_about_waits_for_the_question():
    log = [say(season(), "ask", (3, "net_g", None), reason="Which?")]
    assert items(ONE, log=log) == []
    said = said_in(replay(season(), declared(), log))
    assert waiting_for([ONE], said, 0.5) == {("handlings!3", "net_g"): ("It cannot be.",)}
    # another cell of it is likelier wrong, and nobody asks about that
    two = finding((3, "net_g", 0.3), (3, "gross_g", 0.7))
    assert [item.sort for item in items(two, log=log)] == ["error"]
    assert waiting_for([two], said, 0.5) == {}


def test_so_does_one_whose_cell_is_in_conflict_and_one_held_back_by_it():
    pair = say(season(), "amend", (3, "net_g", "370"), (3, "gross_g", "392"), who="IP")
    other = say(season(), "amend", (3, "net_g", "371"), who="MK")
    replayed = replay(season(), declared(), [pair, other])
    assert [one.field for one in replayed.held] == ["gross_g"]
    assert items(ONE, finding((3, "gross_g", 0.9)), log=[pair, other]) == []


CELLS = [(row, field) for row in (3, 5) for field in ("gross_g", "bag_g", "net_g")]
FOUND = (
    THREE,
    finding((3, "net_g", 0.9), rule="growth.unlikely", severity="suspect"),
    replace(finding((5, "net_g", 0.6), (5, "bag_g", 0.5)), identity="f2"),
    finding((5, "gross_g", 0.5), (3, "gross_g", 0.5), rule="declared.unique"),
)


@settings(max_examples=30)
@given(st.sets(st.sampled_from(CELLS)), st.sampled_from(CELLS), st.booleans())
def test_to_decide_more_never_shuts_more(before, more, named):
    rules = ("tare.arithmetic", "declared.unique") if named else ()

    def shutting(cells):
        log = [keep(row, field, *rules) for row, field in sorted(cells)]
        return {(item.rule, item.identity) for item in items(*FOUND, log=log) if item.shuts}

    assert shutting(before | {more}) <= shutting(before)
    assert named or not shutting(CELLS)


def breaches(*found, log=(), told=(), answered=(), made=None):
    made = made or decided(season(), declared(), log)
    table = Validation("handlings", 6, (Judged("net_g", "minimum", False),), found, {})
    said = said_in(replay(season(), declared(), log))
    return list(breach_items([table], season(), declared(), made.report, said, told, answered))


def test_cells_that_hold_the_same_and_break_the_same_are_told_of_once():
    found = breaches(
        Breach("handlings!2", "bag_g", "minimum"),
        Breach("handlings!4", "bag_g", "minimum"),
        Breach("handlings!3", "net_g", "minimum"),
    )
    assert [(item.shuts, item.says) for item in found] == [
        (True, "The column 'Bag' says '22' in 2 cells; expected is at least 0 g."),
        (True, "The column 'Net' says '395'; expected is at least 0 g."),
    ]
    assert [cell.where for cell in found[0].cells] == ["handlings E2", "handlings E4"]


def test_a_breach_that_a_person_vouches_for_is_kept_and_one_told_of_elsewhere_is_not_told_again():
    breach = Breach("handlings!3", "net_g", "minimum")
    (item,) = breaches(breach, log=[keep(3, "net_g", "growth.unusual")])
    assert (item.sort, item.shuts, item.why) == ("kept", False, "Looked up.")
    (item,) = breaches(breach, log=[say(season(), "accept", (3, "net_g", "373"))])
    assert (item.sort, item.shuts) == ("breach", True)
    assert breaches(breach, told={("handlings!3", "net_g")}) == []


def test_of_a_value_that_may_stand_once_one_cell_is_enough():
    twins = [Breach(f"handlings!{row}", "bag_g", "unique") for row in (2, 3)]
    (item,) = breaches(*twins)
    assert item.shuts
    assert item.says == "The column 'Bag' may say '22' once, but says so in 2 cells."
    (item,) = breaches(*twins, log=[keep(3, "bag_g")])
    assert (item.sort, len(item.cells)) == ("kept", 2)


def test_birds_caught_away_from_the_boxes_are_listed_and_another_empty_cell_shuts():
    made = decided(season(), declared())
    away = replace(finding((2, "box", 0.02), severity="note"), rule="declared.away")
    empty = [Breach(f"handlings!{row}", "box", "required") for row in (2, 3)]
    noted = replace(made, report=replace(made.report, findings=(away,)))
    (item,) = breaches(*empty, made=noted)
    assert (item.sort, item.shuts) == ("breach", False)
    assert item.remark == "The audit takes these for birds that were caught away from the boxes."
    blamed = replace(finding((3, "box", 1.0)), rule="declared.missing")
    (item,) = breaches(*empty, made=replace(made, report=replace(made.report, findings=(away, blamed))))
    assert item.shuts
    (item,) = breaches(*empty, made=made)
    assert item.shuts


def test_a_column_that_is_needed_and_absent_is_told_without_a_cell():
    (item,) = breaches(Breach("", "date", "needed"))
    assert (item.shuts, item.cells) == (True, ())
    assert item.says == "The table handlings has no column 'date', and cannot do without."


def test_several_things_about_one_cell_stand_together():
    first = finding((5, "net_g", 0.9), severity="suspect")
    found = items(first, ONE, finding((3, "net_g", 0.8), rule="growth.size", severity="suspect"))
    places = by_cell(in_order(found, season()))
    assert [[item.rule for item in place] for place in places] == [
        ["tare.arithmetic", "growth.size"],
        ["tare.arithmetic"],
    ]
