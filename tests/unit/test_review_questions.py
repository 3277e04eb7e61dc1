from __future__ import annotations

from dataclasses import replace

from asked_season import asks, label, report_of, rows, season_of

from audit.findings import Finding, Suspect
from audit.review.decisions import Decision
from audit.review.places import decided_cell
from audit.review.questions import LEFT_OUT, open_questions


def decision(season, verb, cell, instead=None, **more):
    return Decision(
        more.pop("identity", "later"),
        "2026-08-20T08:00:00+02:00",
        "IP",
        verb,
        (decided_cell(season, *cell, instead),),
        **more,
    )


def test_every_cell_of_a_live_question_is_one_question_in_page_order():
    season = season_of(rows())
    asked = asks(
        season,
        [(label(3), "net_g"), (label(3), "bag_g")],
        [(label(5), "wing_mm")],
        [(label(9), "ring")],
    )
    found = open_questions(season, asked)
    assert [(one.number, one.label, one.field) for one in found] == [
        (1, label(9), "ring"),
        (2, label(5), "wing_mm"),
        (3, label(3), "bag_g"),
        (4, label(3), "net_g"),
    ]
    assert [one.identity for one in found] == ["ask3#1", "ask2#1", "ask1#2", "ask1#1"]


def test_a_question_says_what_was_typed_where_it_stands_and_why_it_is_asked():
    season = season_of(rows())
    bag, net = open_questions(season, asks(season, [(label(3), "net_g"), (label(3), "bag_g")]))
    assert (net.typed, net.column, net.sheet, net.address) == ("302", "net_g", "handlings", "I3")
    assert (net.place.bird, net.place.visit.birds, net.place.ring) == (2, 3, "SV01002")
    assert (net.sentence, net.reason) == ("Sentence 1.", "smudged (AB)")
    assert net.asked_with == (("bag_g", "24"),)
    assert bag.asked_with == (("net_g", "302"),)


def test_what_was_decided_or_taken_back_meanwhile_is_no_question():
    season = season_of(rows())
    asked = asks(season, [(label(3), "net_g")], [(label(5), "wing_mm")], [(label(9), "ring")])
    kept = decision(season, "keep", (label(3), "net_g"), replaces=("ask1",))
    undone = Decision("undo", "2026-08-21T08:00:00+02:00", "IP", "undo", undoes="ask2")
    assert [one.identity for one in open_questions(season, [*asked, kept, undone])] == ["ask3#1"]


def test_a_cell_that_somebody_else_amended_is_no_question_although_both_stand():
    season = season_of(rows())
    asked = asks(season, [(label(3), "net_g")])
    amended = decision(season, "amend", (label(3), "net_g"), "278")
    assert open_questions(season, [*asked, amended]) == ()


def test_two_persons_who_ask_about_one_cell_make_one_question():
    season = season_of(rows())
    asked = asks(season, [(label(3), "net_g")])
    other = replace(asked[0], identity="other", at="2026-08-09T08:00:00+02:00", who="MK", reason="two pens")
    (one,) = open_questions(season, [other, *asked])
    assert one.identity == "ask1#1"
    assert one.asks == ("ask1", "other")
    assert one.reason == "smudged (AB); two pens (MK)"


def test_questions_are_found_again_in_a_sorted_and_longer_sheet():
    season = season_of(rows())
    asked = asks(season, [(label(3), "net_g")], [(label(12), "ring")])
    again = season_of([*reversed(rows()), {**rows()[0], "ring": "SV01020"}])
    found = {one.identity: one for one in open_questions(again, asked)}
    assert found["ask1#1"].label == label(11)
    assert found["ask1#1"].typed == "302"
    assert set(found) == {"ask1#1", "ask2#1"}


def finding(season, cells, message, suggested="", severity="error", identity="finding1"):
    suspects = tuple(Suspect(season.cell(*cell), suggested, 0.9, 0.9) for cell in cells)
    return Finding("tare.x", severity, suspects, message, identity=identity, group=identity)


def test_what_was_probably_meant_is_left_out_of_the_sentence():
    season = season_of(rows())
    said = (
        "Gross 302 g less bag 24 g is 278 g, but net says 302 g: 278 was meant, not 1278 or 2.278 or 278-1."
    )
    (asked,) = asks(season, [(label(3), "net_g")])
    (one,) = open_questions(
        season,
        [replace(asked, asked=said)],
        [finding(season, [(label(3), "net_g")], said, "278")],
    )
    assert one.sentence == (
        f"Gross 302 g less bag 24 g is {LEFT_OUT} g, but net says 302 g: {LEFT_OUT} was meant, "
        "not 1278 or 2.278 or 278-1."
    )
    assert one.said == said
    assert one.suggested == ("278",)


def test_open_findings_are_questions_only_when_all_are_wanted():
    season = season_of(rows())
    report = report_of(season)
    assert open_questions(season, (), report.findings) == ()
    found = open_questions(season, (), report.findings, unasked=True)
    assert {(one.label, one.field) for one in found} == {
        (suspect.cell.label, suspect.cell.field) for one in report.above_notes for suspect in one.suspects
    }
    net = next(one for one in found if (one.label, one.field) == (label(3), "net_g"))
    assert net.typed == "302"
    assert "278" not in net.sentence
    assert "278" in net.said
    assert (net.asks, net.reason) == ((), "")


def test_a_finding_that_is_asked_about_or_decided_is_no_second_question():
    season = season_of(rows())
    found = [
        finding(season, [(label(3), "net_g")], "One."),
        finding(season, [(label(5), "wing_mm")], "Two.", identity="finding2"),
        finding(season, [(label(9), "ring")], "Three.", identity="finding3"),
        finding(season, [(label(9), "tag")], "Note.", severity="note", identity="finding4"),
    ]
    log = [
        *asks(season, [(label(3), "net_g")]),
        decision(season, "keep", (label(4), "wing_mm"), findings=("finding2",)),
    ]
    listed = open_questions(season, log, found, unasked=True)
    assert [(one.label, one.field, bool(one.asks)) for one in listed] == [
        (label(9), "ring", False),
        (label(3), "net_g", True),
    ]


def test_two_findings_on_one_cell_make_one_question_with_both_sentences():
    season = season_of(rows())
    found = [
        finding(season, [(label(3), "net_g")], "One."),
        finding(season, [(label(3), "net_g")], "Two.", identity="finding2"),
    ]
    (one,) = open_questions(season, (), found, unasked=True)
    assert one.sentence == "One. Two."
    assert one.findings == ("finding1", "finding2")


def test_an_unasked_question_keeps_its_identity_when_the_sheet_is_sorted():
    # of two rows with the same texts either may be blamed
    lines = rows()[:-1]
    season, again = season_of(lines), season_of(list(reversed(lines)))
    first = open_questions(season, (), report_of(season).findings, unasked=True)
    second = open_questions(again, (), report_of(again).findings, unasked=True)
    assert {one.identity for one in first} == {one.identity for one in second}
    assert len({one.identity for one in first}) == len(first)
