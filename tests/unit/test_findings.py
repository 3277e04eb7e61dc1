"""Findings keep their identity when the sheet is sorted anew; the report counts and flattens them."""

from __future__ import annotations

import dataclasses

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from typed_season import reported, typed_season

from audit.declarations import load_declarations
from audit.findings import (
    COLUMNS,
    Cell,
    Finding,
    Report,
    RowMarks,
    Suspect,
)
from audit.named_findings import identify, join_groups, sort_findings
from audit.rules import declared as rule_declared

DECLARED = load_declarations()


def cell(row=2, field="ring", letter="C", sheet="handlings", observed="SV01001", **marks):
    return Cell(
        sheet=sheet,
        row=row,
        column=field.title(),
        address=f"{letter}{row}",
        field=field,
        observed=observed,
        label=f"{sheet}!{row}",
        marks=RowMarks(**marks),
    )


def finding(rule, *cells, severity="error", message="Wrong."):
    return Finding(rule, severity, tuple(Suspect(c) for c in cells), message)


# identity and group


def faults_in(season):
    """Findings of one, two and three cells, as rules make them, in sheet order."""
    frame = season.frame("handlings")
    for label in frame.index[frame["sex"].eq("x")]:
        yield finding("t.sex", season.cell(label, "sex"))
    for label in frame.index[frame["gross_g"] < 0]:
        yield finding("t.mass", season.cell(label, "gross_g"), season.cell(label, "sex"))
    for _, rows in frame.groupby("ring"):
        if len(rows) > 1:
            yield finding("t.twice", *(season.cell(label, "ring") for label in rows.index))
    yield finding("t.note", season.cell(frame.index[0], "ring"), severity="note")


rows = st.fixed_dictionaries(
    {
        "date": st.just("2026-06-01"),
        "box": st.sampled_from(["SL-01", "SL-02", "SL-03"]),
        "ring": st.sampled_from([f"SV0100{i}" for i in range(6)]),
        "sex": st.sampled_from(["M", "x"]),
        "gross_g": st.sampled_from([395.0, -1.0]),
    }
)


def named(table):
    """Findings above notes: (rule, what was typed) -> identities; and which identities share a group."""
    season = typed_season(DECLARED, handlings=table)
    found = [f for f in join_groups(identify(sort_findings(faults_in(season)))) if f.severity != "note"]
    groups: dict[str, set[str]] = {}
    for one in found:
        groups.setdefault(one.group, set()).add(one.identity)
    return sorted((one.rule, one.identity) for one in found), groups


@settings(max_examples=40, deadline=None)
@given(st.data())
def test_sorting_the_sheet_changes_no_identity(data):
    # rows that agree in box, date, ring and tag cannot be told apart; they are tried below
    table = data.draw(st.lists(rows, min_size=1, max_size=8, unique_by=lambda row: (row["box"], row["ring"])))
    again = data.draw(st.permutations(table))
    assert named(table) == named(again)


@settings(max_examples=15, deadline=None)
@given(st.permutations(range(6)))
def test_sorting_the_sheet_changes_nothing_in_a_real_round(order):
    table = [{"date": "2026-06-01", "box": "SL-01", "ring": f"SV0100{i}", "sex": "M"} for i in range(6)]
    table[1] |= {"sex": "?"}
    table[2] |= {"date": None, "sex": "X"}
    table[4] |= {"gross_g": -4.0}

    def identities(places):
        season = typed_season(DECLARED, handlings=[table[i] for i in places])
        report = reported(season, DECLARED, (rule_declared.RULE,))
        return {(one.identity, one.group, one.rule) for one in report.findings}

    assert identities(order) == identities(range(6))
    assert len(identities(order)) == 4


def test_the_row_number_is_not_in_the_identity():
    one, moved = (identify([finding("a.b", cell(row, box="SL-01"))])[0].identity for row in (2, 77))
    assert one == moved


@pytest.mark.parametrize(
    "other",
    [
        finding("a.c", cell(box="SL-01")),
        finding("a.b", cell(box="SL-01", observed="SV01002")),
        finding("a.b", cell(box="SL-01", field="tag")),
        finding("a.b", cell(box="SL-02")),
        finding("a.b", cell(box="SL-01"), cell(box="SL-01", field="tag")),
    ],
)
def test_what_was_typed_and_the_rule_are_in_the_identity(other):
    assert identify([finding("a.b", cell(box="SL-01"))])[0].identity != identify([other])[0].identity


def test_marks_do_not_run_into_each_other():
    one = identify([finding("a.b", cell(box="SL-0", date="12026"))])[0].identity
    other = identify([finding("a.b", cell(box="SL-01", date="2026"))])[0].identity
    assert one != other


def test_an_identity_is_the_same_in_every_process():
    # a decision is found again next year: this value must never change
    made = identify([finding("tare.arithmetic", cell(box="SL-01", date="2026-06-01", ring="SV01001"))])
    assert made[0].identity == "176161a06ed5"


def test_the_same_row_typed_twice_is_numbered():
    first, second, third = identify([finding("a.b", cell(row)) for row in (2, 3, 4)])
    assert second.identity == f"{first.identity}-2"
    assert third.identity == f"{first.identity}-3"


def test_a_finding_alone_is_its_own_group():
    (one,) = join_groups(identify([finding("a.b", cell())]))
    assert one.group == one.identity


def test_findings_that_share_a_cell_share_a_group_through_others():
    chain = [
        finding("a.b", cell(2), cell(3)),
        finding("a.c", cell(4), cell(5)),
        finding("a.d", cell(3), cell(4)),
        finding("a.e", cell(9)),
    ]
    made = join_groups(identify(chain))
    assert len({one.group for one in made[:3]}) == 1
    assert made[3].group == made[3].identity
    assert made[0].group == min(one.identity for one in made[:3])


def test_a_group_set_by_a_rule_is_kept():
    made = identify([dataclasses.replace(finding("a.b", cell(2)), group="slid")])
    assert join_groups(made)[0].group == "slid"


def test_a_note_pulls_nothing_together():
    note = finding("a.note", cell(2), cell(3), severity="note")
    made = join_groups(identify([note, finding("a.b", cell(2)), finding("a.c", cell(3))]))
    assert len({one.group for one in made}) == 3


# order


def test_findings_stand_in_sheet_order():
    found = [
        finding("b.b", cell(10)),
        finding("a.b", cell(9, letter="AA")),
        finding("a.b", cell(9, letter="Z")),
        finding("a.a", cell(9, letter="Z")),
        finding("a.b", cell(2, sheet="boxes")),
    ]
    assert [(one.suspects[0].cell.address, one.rule) for one in sort_findings(found)] == [
        ("C2", "a.b"),
        ("Z9", "a.a"),
        ("Z9", "a.b"),
        ("AA9", "a.b"),
        ("C10", "b.b"),
    ]


# the report


def report():
    found = [
        finding("a.b", cell(2), cell(3)),
        finding("a.b", cell(4)),
        finding("a.c", cell(5), severity="suspect"),
        finding("z.z", cell(6), severity="note"),
    ]
    return Report("test", join_groups(identify(found)))


def test_one_line_per_suspect_cell():
    lines = report().rows()
    assert [line["row"] for line in lines] == [2, 3, 4, 5, 6]
    assert all(tuple(line) == COLUMNS for line in lines)
    assert lines[0]["finding"] == lines[1]["finding"] != lines[2]["finding"]
    assert lines[0]["cell"] == "C2"
    assert lines[0]["p_fix"] is None


def test_the_columns_are_those_of_the_contract():
    # scripts of other people read these; only ever extended at the end
    assert COLUMNS[:18] == (
        "finding", "group", "rule", "severity", "sheet", "row", "column", "cell", "field", "observed",
        "suggested", "p_error", "p_fix", "message", "box", "date", "ring", "tag",
    )  # fmt: skip


def test_counts():
    made = report()
    assert [made.count(severity) for severity in ("error", "suspect", "note")] == [2, 1, 1]
    assert [one.severity for one in made.above_notes] == ["error", "error", "suspect"]
    assert made.by_rule() == [("a.b", "error", 2), ("a.c", "suspect", 1), ("z.z", "note", 1)]


def test_a_finding_points_somewhere():
    with pytest.raises(ValueError, match="at least one suspect cell"):
        Finding("a.b", "error", (), "Nowhere.")
