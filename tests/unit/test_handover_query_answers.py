from __future__ import annotations

from dataclasses import replace

import openpyxl
import pytest
from asked_season import AT, asks, label, report_of, rows, season_of
from hypothesis import given, settings
from hypothesis import strategies as st
from query_files import WRITERS, fill, headings_at, rows_of, write_csv, write_xlsx

from audit.handover.query.answers import take_answers
from audit.handover.query.filled import read_filled
from audit.handover.query.sheet import make_query
from audit.handover.query.taken import answers_text
from audit.handover.query.words import ANSWER, BY_WHOM, IDENTITY, MARKS, NOTHING, REMARK, SAME, UNREADABLE
from audit.handover.query.workbook import write_workbook
from audit.refusal import SeasonRefusal
from audit.review.decisions import Decision
from audit.review.places import decided_cell
from audit.review.questions import open_questions
from audit.review.standing import standing

CELLS = (
    [(label(3), "net_g"), (label(3), "bag_g")],
    [(label(7), "ring")],
    [(label(9), "tag")],
    [(label(4), "wing_mm")],
    [(label(12), "ring")],
)
IDENTITIES = ("ask1#1", "ask1#2", "ask2#1", "ask3#1", "ask4#1", "ask5#1")


@pytest.fixture(scope="module")
def season():
    return season_of(rows())


@pytest.fixture(scope="module")
def log(season):
    return asks(season, *CELLS)


@pytest.fixture(scope="module")
def sheet(tmp_path_factory, season, log, declared):
    path = tmp_path_factory.mktemp("query") / "q.xlsx"
    write_workbook(make_query(season, declared, log), path)
    return rows_of(path)


@pytest.fixture
def take(tmp_path, season, log, declared):
    def taken(lines, decisions=None, *, who="", write=write_xlsx, name="back.xlsx", on=season, findings=()):
        path = write(tmp_path / name, lines)
        return take_answers(
            read_filled(path, declared),
            on,
            declared,
            log if decisions is None else decisions,
            findings,
            at=AT,
            who=who,
        )

    return taken


def told(decision):
    (cell,) = decision.cells
    return decision.verb, cell.field, cell.observed, cell.instead, decision.reason, decision.replaces


def test_an_answer_amends_and_takes_the_place_of_the_question(take, sheet):
    taken = take(fill(sheet, {"ask1#1": {ANSWER: "278", BY_WHOM: "IP"}}))
    (one,) = taken.decisions
    assert told(one) == ("amend", "net_g", "302", "278", "field notebook, IP", ("ask1",))
    assert (one.who, one.at, one.findings, one.asked) == ("IP", AT, ("finding1",), "Sentence 1.")
    assert (taken.not_taken, taken.orphans, taken.again) == ((), (), 0)


def test_same_as_typed_keeps_and_so_does_an_answer_that_equals_it(take, sheet):
    taken = take(
        fill(
            sheet,
            {
                "ask1#1": {SAME: "yes", BY_WHOM: "IP"},
                "ask4#1": {ANSWER: " 112 ", BY_WHOM: "IP", REMARK: "twice underlined"},
            },
        )
    )
    assert [told(one) for one in taken.decisions] == [
        ("keep", "net_g", "302", None, "field notebook, IP", ("ask1",)),
        ("keep", "wing_mm", "112", None, "field notebook, IP: twice underlined", ("ask4",)),
    ]


def test_what_cannot_be_read_stays_asked_with_the_remark(take, season, log, sheet):
    taken = take(
        fill(sheet, {"ask1#1": {UNREADABLE: "yes", BY_WHOM: "IP", REMARK: "rain"}}),
    )
    (one,) = taken.decisions
    assert told(one) == (
        "ask",
        "net_g",
        "302",
        None,
        "smudged; cannot be read in the field notebook, IP: rain",
        ("ask1",),
    )
    after = {(one.label, one.field): one for one in open_questions(season, [*log, one])}
    assert "rain" in after[label(3), "net_g"].reason
    assert (label(3), "bag_g") in after


def test_nothing_written_there_empties_the_cell(take, sheet):
    (one,) = take(fill(sheet, {"ask4#1": {NOTHING: "yes", BY_WHOM: "IP"}})).decisions
    assert told(one)[:4] == ("amend", "wing_mm", "112", "")


def test_other_cells_of_the_question_stay_asked(take, season, log, sheet):
    taken = take(fill(sheet, {"ask1#1": {ANSWER: "278", BY_WHOM: "IP"}}))
    after = open_questions(season, [*log, *taken.decisions])
    assert [one.identity for one in after if one.label == label(3)] == ["ask1#2"]


def test_a_sheet_that_is_read_twice_adds_nothing(take, log, sheet):
    lines = fill(
        sheet,
        {
            "ask1#1": {ANSWER: "278"},
            "ask2#1": {UNREADABLE: "x", REMARK: "rain"},
            "ask3#1": {SAME: "ja"},
            "ask4#1": {NOTHING: "TRUE"},
        },
        for_all="IP",
    )
    first = take(lines)
    assert len(first.decisions) == 4
    second = take(lines, [*log, *first.decisions])
    assert (second.decisions, second.again, second.not_taken) == ((), 4, ())
    apart = take(lines)
    assert {one.identity for one in apart.decisions} == {one.identity for one in first.decisions}


def test_a_sheet_that_was_filled_further_adds_what_is_new(take, log, sheet):
    lines = fill(sheet, {"ask1#1": {ANSWER: "278"}}, for_all="IP")
    first = take(lines)
    second = take(fill(lines, {"ask1#2": {ANSWER: "23"}}), [*log, *first.decisions])
    assert [told(one)[:4] for one in second.decisions] == [("amend", "bag_g", "24", "23")]
    assert second.again == 1
    live = standing([*log, *first.decisions, *second.decisions]).live
    assert [one.identity for one in live if "ask1" in (one.identity, *one.replaces)] == sorted(
        one.identity for one in (*first.decisions, *second.decisions)
    )


def test_what_could_not_be_read_may_be_answered_later(take, log, sheet):
    first = take(fill(sheet, {"ask1#1": {UNREADABLE: "yes"}}, for_all="IP"))
    second = take(fill(sheet, {"ask1#1": {ANSWER: "278"}}, for_all="MK"), [*log, *first.decisions])
    (one,) = second.decisions
    assert one.replaces == (first.decisions[0].identity,)


@pytest.mark.parametrize(
    ("cells", "what"),
    [
        ({ANSWER: "278", SAME: "yes"}, "The line says both '278' and same as typed."),
        ({SAME: "yes", UNREADABLE: "yes"}, "The line says both same as typed and cannot be read."),
        ({ANSWER: "278", NOTHING: "x"}, "The line says both '278' and nothing written there."),
        ({REMARK: "hm"}, "There is a remark, but no answer."),
        ({SAME: "278"}, "'278' is neither yes nor empty."),
    ],
)
def test_a_line_that_contradicts_itself_is_not_taken(take, sheet, cells, what):
    taken = take(fill(sheet, {"ask1#1": cells, "ask2#1": {SAME: "yes"}}, for_all="IP"))
    assert [one.cells[0].field for one in taken.decisions] == ["ring"]
    (refused,) = taken.not_taken
    assert refused.what == what
    assert refused.where.startswith("Sheet ")
    assert refused.cure


def test_whoever_looked_must_be_named_in_the_line_at_the_top_or_at_the_call(take, sheet):
    lines = {"ask1#1": {ANSWER: "278"}, "ask2#1": {SAME: "yes", BY_WHOM: "MK"}}
    taken = take(fill(sheet, lines))
    assert [one.who for one in taken.decisions] == ["MK"]
    assert taken.not_taken[0].what == "Nobody is named who looked it up."
    assert [one.who for one in take(fill(sheet, lines, for_all="IP")).decisions] == ["IP", "MK"]
    assert [one.who for one in take(fill(sheet, lines), who="AB").decisions] == ["AB", "MK"]


def test_lines_that_answer_one_question_differently_are_not_taken(take, sheet):
    lines = fill(sheet, {"ask1#1": {ANSWER: "278"}}, for_all="IP")
    other = fill(sheet, {"ask1#1": {ANSWER: "279"}})
    taken = take([*lines, *other[headings_at(other) + 1 :]])
    assert taken.decisions == ()
    assert "answer one question differently" in taken.not_taken[0].what
    assert len(take([*lines, *lines[headings_at(lines) + 1 :]]).decisions) == 1


def test_a_question_that_the_log_does_not_know_is_an_orphan(take, season, sheet):
    lines = fill(sheet, {"ask1#1": {ANSWER: "278"}, "ask2#1": {SAME: "yes"}}, for_all="IP")
    taken = take(lines, [one for one in asks(season, *CELLS) if one.identity != "ask1"])
    assert [one.verb for one in taken.decisions] == ["keep"]
    (orphan,) = taken.orphans
    assert orphan.what == "The log of this season does not know the question 'ask1#1'."


@pytest.mark.parametrize("identity", ["", "ask1", "ask1#0", "ask1#3", "ask1#x", "cell-0", "#1"])
def test_a_damaged_identity_is_an_orphan(take, sheet, identity):
    lines = fill(sheet, {"ask1#1": {ANSWER: "278", IDENTITY: identity}}, for_all="IP")
    taken = take(lines)
    assert taken.decisions == ()
    assert len(taken.orphans) == 1


def test_a_row_that_is_gone_is_an_orphan(take, sheet):
    lines = fill(sheet, {"ask1#1": {ANSWER: "278"}}, for_all="IP")
    gone = season_of([row for row in rows() if row["ring"] != "SV01002"])
    taken = take(lines, on=gone)
    assert taken.decisions == ()
    assert taken.orphans[0].what == "No row holds what row 3 of sheet 'handlings' held."


def decided(season, verb, cell, instead=None, **more):
    cells = (decided_cell(season, *cell, instead),)
    return Decision("later", AT, "MK", verb, cells, **more)


def test_a_cell_that_was_decided_otherwise_meanwhile_is_left(take, season, log, sheet):
    lines = fill(sheet, {"ask1#1": {ANSWER: "278"}}, for_all="IP")
    other = decided(season, "amend", (label(3), "net_g"), "279", replaces=("ask1",))
    taken = take(lines, [*log, other])
    assert taken.decisions == ()
    assert taken.not_taken[0].what == "MK has decided this cell otherwise meanwhile (amend)."
    same = replace(other, cells=(decided_cell(season, label(3), "net_g", "278"),))
    assert take(lines, [*log, same]).again == 1


def test_a_question_that_was_taken_back_is_not_answered(take, log, sheet):
    undo = Decision("undo", AT, "AB", "undo", undoes="ask1")
    taken = take(fill(sheet, {"ask1#1": {ANSWER: "278"}}, for_all="IP"), [*log, undo])
    assert taken.decisions == ()
    assert taken.not_taken[0].what == "The question was taken back meanwhile."


def test_one_answer_closes_the_questions_of_two_persons(take, season, log, sheet):
    other = replace(log[0], identity="other", who="MK", at="2026-08-30T08:00:00+02:00")
    taken = take(fill(sheet, {"ask1#1": {ANSWER: "278"}}, for_all="IP"), [*log, other])
    assert taken.decisions[0].replaces == ("ask1", "other")
    after = open_questions(season, [*log, other, *taken.decisions])
    assert (label(3), "net_g") not in {(one.label, one.field) for one in after}


def test_what_the_declarations_refuse_is_not_taken_but_listed(take, sheet):
    taken = take(fill(sheet, {"ask1#1": {ANSWER: "two hundred"}, "ask2#1": {SAME: "yes"}}, for_all="IP"))
    assert [one.verb for one in taken.decisions] == ["keep"]
    (refused,) = taken.not_taken
    assert refused.where.startswith("Sheet G")
    assert refused.what
    assert refused.cure.startswith("Look again")


def test_a_ring_cannot_be_emptied(take, sheet):
    taken = take(fill(sheet, {"ask2#1": {NOTHING: "yes"}}, for_all="IP"))
    assert taken.decisions == ()
    assert "may not be empty" in taken.not_taken[0].what


def test_answers_are_looked_at_together_before_they_are_doubted(take, sheet):
    alone = take(fill(sheet, {"ask1#2": {ANSWER: "23"}}, for_all="IP"))
    assert [one.cells[0].instead for one in alone.decisions] == ["23"]
    assert "Gross 302 g less bag 23 g is 279 g" in alone.remarks[0].what
    both = take(fill(sheet, {"ask1#2": {ANSWER: "23"}, "ask1#1": {ANSWER: "279"}}, for_all="IP"))
    assert len(both.decisions) == 2
    assert both.remarks == ()


def test_a_tag_that_a_spreadsheet_has_shortened_is_not_taken(take, sheet):
    taken = take(fill(sheet, {"ask3#1": {ANSWER: "9.99104E+14"}}, for_all="IP"))
    assert taken.decisions == ()
    assert len(taken.not_taken) == 1


def test_numbers_and_dates_that_a_program_stored_are_read_in_full(tmp_path, season, log, declared, sheet):
    path = write_xlsx(tmp_path / "back.xlsx", fill(sheet, {}, for_all="IP"))
    book = openpyxl.load_workbook(path)
    page = book.worksheets[0]
    top = headings_at(sheet)
    column = sheet[top].index(ANSWER) + 1
    at = {row[sheet[top].index(IDENTITY)]: i for i, row in enumerate(sheet, 1)}
    page.cell(at["ask1#1"], column, 278)
    page.cell(at["ask3#1"], column, 999104190001999)
    page.cell(at["ask4#1"], column, 113.5)
    book.save(path)
    taken = take_answers(read_filled(path, declared), season, declared, log, at=AT)
    assert {one.cells[0].instead for one in taken.decisions} == {"278", "999104190001999", "113.5"}


def test_a_formula_is_no_answer(tmp_path, season, log, declared, sheet):
    path = write_xlsx(tmp_path / "back.xlsx", fill(sheet, {}, for_all="IP"))
    book = openpyxl.load_workbook(path)
    column = sheet[headings_at(sheet)].index(ANSWER) + 1
    book.worksheets[0].cell(headings_at(sheet) + 2, column, "=1+1")
    book.save(path)
    taken = take_answers(read_filled(path, declared), season, declared, log, at=AT)
    assert taken.decisions == ()
    assert taken.not_taken[0].what == "The cell holds a formula."


def test_a_question_that_nobody_had_asked_can_be_answered(tmp_path, season, declared, take):
    found = report_of(season).findings
    query = make_query(season, declared, (), found, unasked=True)
    write_workbook(query, tmp_path / "all.xlsx")
    net = next(one for one in query.questions if (one.label, one.field) == (label(3), "net_g"))
    lines = fill(rows_of(tmp_path / "all.xlsx"), {net.identity: {ANSWER: "278"}}, for_all="IP")
    (one,) = take(lines, (), findings=found).decisions
    assert told(one) == ("amend", "net_g", "302", "278", "field notebook, IP", ())
    assert one.findings == net.findings
    # the finding is gone once the answer is applied
    again = take(lines, (one,), findings=())
    assert (again.decisions, again.again, again.orphans) == ((), 1, ())


def test_what_came_of_a_sheet_is_told_in_plain_words(take, sheet):
    taken = take(fill(sheet, {"ask1#1": {ANSWER: "278"}, "ask2#1": {SAME: "hm", BY_WHOM: "IP"}}))
    assert answers_text(taken) == (
        "No new answer was found.\n"
        "Not taken over:\n"
        "  Sheet H7: 'hm' is neither yes nor empty. Write yes, or leave the cell empty; what the notebook "
        "says goes into the column for it.\n"
        "  Sheet G9: Nobody is named who looked it up. Write initials under 'by whom', or once at the top of "
        "the sheet."
    )


@pytest.mark.parametrize("suffix", [".xlsx", ".csv"])
def test_another_file_is_refused(tmp_path, declared, suffix):
    path = WRITERS[suffix](tmp_path / f"other{suffix}", [["date", "box"], ["2026-06-13", "SL-01"]])
    with pytest.raises(SeasonRefusal, match="This is no query sheet"):
        read_filled(path, declared)


def test_a_missing_file_is_refused(tmp_path, declared):
    for name in ("none.xlsx", "none.csv"):
        with pytest.raises(SeasonRefusal):
            read_filled(tmp_path / name, declared)


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_separators_are_found(tmp_path, declared, sheet, delimiter):
    path = write_csv(tmp_path / "back.csv", fill(sheet, {"ask1#1": {ANSWER: "278,5"}}), delimiter)
    (line,) = read_filled(path, declared)
    assert (line.identity, line.says) == ("ask1#1", "278,5")


ANSWERS = {
    "ask1#1": "278",
    "ask1#2": "23",
    "ask2#1": "SV01006",
    "ask3#1": "999104190001908",
    "ask4#1": "115",
    "ask5#1": "SV01011",
}


@st.composite
def fillings(draw):
    """Any subset of the questions, each answered in one of four ways by one of two persons."""
    chosen = draw(st.lists(st.sampled_from(IDENTITIES), unique=True))
    made = {}
    for identity in chosen:
        text = ANSWERS[identity]
        ways = [{ANSWER: text}, {SAME: "yes"}, {UNREADABLE: "yes"}]
        if not text.startswith("SV"):
            # a ring may not be empty
            ways.append({NOTHING: "yes"})
        cells = draw(st.sampled_from(ways))
        made[identity] = {
            **cells,
            BY_WHOM: draw(st.sampled_from(["IP", "MK"])),
            REMARK: draw(st.sampled_from(["", "rain", "\u2640 \u00e4 \u2192; \"two\", 'pens'"])),
        }
    return made


@settings(max_examples=40)
@given(data=st.data(), made=fillings(), suffix=st.sampled_from(sorted(WRITERS)))
def test_any_filled_part_in_any_order_comes_back_as_exactly_these_decisions(
    tmp_path_factory, season, log, declared, sheet, data, made, suffix
):
    top = headings_at(sheet)
    filled = fill(sheet, made)
    lines = data.draw(st.permutations(filled[top + 1 :]))
    at = filled[top].index(IDENTITY)
    dropped = data.draw(st.sets(st.sampled_from(IDENTITIES)))
    lines = [line for line in lines if line[at] in made or line[at] not in dropped]
    added = data.draw(st.integers(0, len(filled[top])))
    back = [
        [*row[:added], "own column" if i == 0 else "x", *row[added:]]
        for i, row in enumerate([filled[top], *lines])
    ]
    above = data.draw(st.integers(0, top))
    folder = tmp_path_factory.mktemp("back")
    path = WRITERS[suffix](folder / f"back{suffix}", [*filled[:above], *back])
    taken = take_answers(read_filled(path, declared), season, declared, log, at=AT)
    expected = set()
    for identity, cells in made.items():
        who, remark = cells[BY_WHOM], cells[REMARK]
        mark = next((mark for mark in MARKS if mark in cells), "")
        verb = {SAME: "keep", NOTHING: "amend", UNREADABLE: "ask", "": "amend"}[mark]
        instead = {NOTHING: "", "": cells.get(ANSWER)}.get(mark)
        ask, _, number = identity.partition("#")
        cell = next(one for one in log if one.identity == ask).cells[int(number) - 1]
        expected.add((verb, cell.field, cell.observed, instead, who, remark in reason_end(remark), (ask,)))
    got = {
        (
            one.verb,
            one.cells[0].field,
            one.cells[0].observed,
            one.cells[0].instead,
            one.who,
            one.reason.endswith(reason_end(cells_of(made, one)[REMARK])),
            one.replaces,
        )
        for one in taken.decisions
    }
    assert got == expected
    assert (taken.not_taken, taken.orphans, taken.again) == ((), (), 0)
    again = take_answers(read_filled(path, declared), season, declared, [*log, *taken.decisions], at=AT)
    assert (again.decisions, again.again) == ((), len(made))


def reason_end(remark):
    return f": {remark}" if remark else ""


def cells_of(made, decision):
    """What was filled in for the question that a decision answers."""
    (cell,) = decision.cells
    number = {("ask1", "net_g"): "1", ("ask1", "bag_g"): "2"}.get((decision.replaces[0], cell.field), "1")
    return made[f"{decision.replaces[0]}#{number}"]
