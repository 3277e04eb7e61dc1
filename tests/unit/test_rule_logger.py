"""Do boxes and visits agree with the log of the antennas?"""

from __future__ import annotations

import datetime as dt

from heard_season import BOX, DAY, OTHER, brood, heard, heard_season, tag
from typed_season import ask, blamed

from audit.rules.logger import RULE

LATER = DAY + dt.timedelta(days=30)


def told(declared, *, lines=None, rows=None, **tables):
    lines = [line for number in (10, 11) for line in heard(tag(number), BOX)] if lines is None else lines
    return ask(RULE, heard_season(declared, rows or brood(2), lines, **tables))


def visit(day, *, ticked, box=BOX):
    return {"date": day, "box": box, "logger_downloaded": ticked}


def box(label, antennas=2, **also):
    return {"box": label, "antennas": antennas, **also}


def test_a_log_brought_home_is_innocent(declared):
    assert told(declared, boxes=[box(BOX)], visits=[visit(LATER, ticked=True)]) == []
    assert told(declared) == []


def test_a_download_that_was_not_ticked(declared):
    visits = [visit(DAY, ticked=True), visit(LATER, ticked=False)]
    (finding,) = told(declared, visits=visits)
    assert blamed([finding]) == {("visits!3", "logger_downloaded"): ("logger.not_ticked", "yes")}
    assert finding.message == (
        "The log of box SL-01 reaches to the night of 2026-06-12, but the visit of 2026-07-03 is not marked "
        "as "
        "downloaded."
    )


def test_who_never_ticks_is_left_in_peace(declared):
    assert told(declared, visits=[visit(LATER, ticked=False)]) == []


def test_who_ticks_now_and_then_is_left_in_peace(declared):
    visits = [visit(DAY, ticked=True), *(visit(LATER, ticked=False) for _ in range(2))]
    assert told(declared, visits=visits) == []


def test_a_log_that_ends_after_the_last_visit_is_worth_a_note(declared):
    (finding,) = told(declared, visits=[visit(DAY, ticked=True)])
    assert (finding.rule, finding.severity) == ("logger.no_visit", "note")


def test_a_download_before_which_the_log_holds_nothing(declared):
    lines = heard(tag(10), BOX, since=20)
    visits = [
        visit(DAY + dt.timedelta(days=10), ticked=True),
        visit(DAY + dt.timedelta(days=40), ticked=True),
    ]
    (finding,) = told(declared, lines=lines, visits=visits)
    assert (finding.rule, finding.severity) == ("logger.nothing_before", "note")
    assert finding.message == (
        "Loggers were marked as downloaded, and birds with tags were there, but the log holds nothing from "
        "before: "
        "SL-01 (2026-06-13)."
    )
    # nobody had a tag yet
    early = [visit(DAY - dt.timedelta(days=10), ticked=True), visits[1]]
    assert told(declared, lines=lines, visits=early) == []


def test_antennas_that_the_table_of_boxes_lacks(declared):
    (finding,) = told(declared, boxes=[box(BOX, 0), box(OTHER)])
    assert blamed([finding]) == {("boxes!2", "antennas"): ("logger.antennas_there", "2")}
    assert finding.message == "Box SL-01 is said to have no antennas, but the log holds 10 of its nights."


def test_a_box_without_a_log_among_many_is_named(declared):
    (finding,) = told(declared, boxes=[box(BOX), box(OTHER), box("SL-03", 0)])
    assert (finding.rule, finding.severity) == ("logger.no_log", "note")
    assert finding.message == "2 boxes have antennas, but the log holds nothing of SL-02."
    # a log of one box only misses nothing
    assert told(declared, boxes=[box(BOX), box(OTHER), box("SL-03")]) == []
    gone = box(OTHER, until=DAY - dt.timedelta(days=100))
    assert told(declared, boxes=[box(BOX), gone]) == []


def test_a_box_that_the_season_does_not_have(declared):
    lines = [*heard(tag(10), "SL-1"), *heard(tag(11), "SL-77")]
    named, other = told(declared, lines=lines, boxes=[box(BOX)])
    assert blamed([named]) == {("heard!2", "box"): ("logger.no_such_box", BOX)}
    assert named.message == (
        "The log names box SL-1, which is no box of this season; box SL-01 was probably meant, of which "
        "there is no "
        "log."
    )
    assert blamed([other]) == {("heard!12", "box"): ("logger.no_such_box", "")}
