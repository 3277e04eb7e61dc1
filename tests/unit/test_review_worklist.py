"""The worklist: groups by expected harm, notes apart, ties as they stand in the sheet."""

from __future__ import annotations

import random
from dataclasses import replace
from time import perf_counter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from audit.declarations import load_declarations
from audit.findings import Cell, Finding, Suspect
from audit.named_findings import identify, join_groups
from audit.review.worklist import harm, notes, worklist

DECLARED = load_declarations()
#: From what does most harm to what does least, as a ringer would ask: steps of equal harm share a place.
ORDER = (
    ("ring",),
    ("tag",),
    ("date", "box", "species"),
    ("event",),
    ("age",),
    ("net_g", "wing_mm"),
    ("time",),
)
LETTERS = {"date": "A", "box": "B", "ring": "C", "tag": "D", "net_g": "E", "wing_mm": "AA", "time": "F"}


def cell(field, row=2, sheet="handlings"):
    letter = LETTERS.get(field, "Z")
    return Cell(sheet, row, field, f"{letter}{row}", field, "typed", f"{sheet}!{row}")


def finding(*cells, p=0.5, rule="t.one", severity="error", group=""):
    suspects = tuple(Suspect(one, p_error=p) for one in cells)
    return Finding(rule, severity, suspects, "Wrong.", identity=f"{rule}{cells[0].label}", group=group)


def cost(field):
    return DECLARED.settings[f"review.consequence.{field}"].value


# consequences


def test_a_wrong_ring_costs_most_and_a_remark_least():
    costs = [{cost(field) for field in fields} for fields in ORDER]
    assert all(len(step) == 1 for step in costs)
    assert sorted((max(step) for step in costs), reverse=True) == [max(step) for step in costs]
    assert len({max(step) for step in costs}) == len(costs)
    everything = [key for key in DECLARED.settings if key.startswith("review.consequence.")]
    assert min(DECLARED.settings[key].value for key in everything) == cost("remarks")


def test_every_column_that_a_rule_blames_in_handlings_and_visits_has_a_consequence():
    named = {key.rpartition(".")[2] for key in DECLARED.settings if key.startswith("review.consequence.")}
    assert {field.name for field in DECLARED.tables["handlings"].fields} <= named


# order


def test_harm_is_probability_times_consequence():
    assert harm([finding(cell("ring"), p=0.25)], DECLARED) == pytest.approx(0.25 * cost("ring"))
    assert harm([finding(cell("no such column"), p=1.0)], DECLARED) == cost("other")


def test_a_likely_slip_in_a_mass_stands_behind_a_doubtful_ring():
    mass, ring = finding(cell("net_g", 2), p=0.99), finding(cell("ring", 9), p=0.1)
    assert [item.findings for item in worklist([mass, ring], DECLARED)] == [(ring,), (mass,)]


def test_a_cell_that_two_findings_blame_counts_once_with_the_surer_probability():
    one, other = finding(cell("tag"), p=0.5, group="g"), finding(cell("tag"), p=0.75, rule="t.two", group="g")
    (item,) = worklist([one, other], DECLARED)
    assert item.harm == pytest.approx(0.75 * cost("tag"))
    assert item.findings == (other, one)


def test_findings_of_one_group_are_one_item():
    one = finding(cell("tag", 2), cell("tag", 3), group="g")
    other = finding(cell("ring", 9), group="h")
    third = finding(cell("date", 2), group="g", rule="t.two")
    items = worklist([one, third, other], DECLARED)
    assert [(item.group, len(item.findings)) for item in items] == [("g", 2), ("h", 1)]
    assert items[0].harm == pytest.approx(0.5 * (2 * cost("tag") + cost("date")))


def test_ties_stand_as_in_the_sheet_whatever_the_order_of_rows_and_columns():
    # column AA stands behind column F, row 10 behind row 9
    places = [("net_g", 9), ("wing_mm", 9), ("net_g", 10), ("wing_mm", 100)]
    found = [finding(cell(field, row), rule=f"t.{i}") for i, (field, row) in enumerate(places)]
    shuffled = random.Random(5).sample(found, len(found))  # noqa: S311 - an order, no secret
    assert [item.findings[0] for item in worklist(shuffled, DECLARED)] == found


def test_notes_are_no_work_and_have_a_list_of_their_own():
    note, error = finding(cell("ring"), severity="note", group="g"), finding(cell("time", 3), p=0.01)
    assert [item.findings for item in worklist([note, error], DECLARED)] == [(error,)]
    assert [item.findings for item in notes([note, error], DECLARED)] == [(note,)]


def test_a_note_in_the_group_of_an_error_adds_no_harm():
    error, note = finding(cell("tag"), group="g"), finding(cell("ring"), severity="note", group="g")
    (item,) = worklist([error, note], DECLARED)
    assert (item.findings, item.harm) == ((error,), 0.5 * cost("tag"))


def test_findings_that_no_audit_named_stand_alone():
    assert len(worklist([finding(cell("ring", row)) for row in (2, 3)], DECLARED)) == 2


FIELDS = [field for step in ORDER for field in step]
FOUND = st.builds(
    lambda rows, p, severity, rule: (rows, p, severity, rule),
    st.lists(st.tuples(st.sampled_from(FIELDS), st.integers(2, 6)), min_size=1, max_size=3, unique=True),
    st.floats(0, 1),
    st.sampled_from(["error", "suspect", "note"]),
    st.sampled_from(["t.a", "t.b", "t.c"]),
)


@given(st.lists(FOUND, max_size=12), st.randoms(use_true_random=False))
def test_every_finding_is_listed_once_and_the_order_is_that_of_the_sheet(made, rng):
    found = [
        finding(*(cell(field, row) for field, row in cells), p=p, severity=severity, rule=rule)
        for cells, p, severity, rule in made
    ]
    found = list(join_groups(identify([replace(one, identity="") for one in found])))
    # findings with the same name and text cannot be told apart
    listed = worklist(found, DECLARED)
    apart = notes(found, DECLARED)
    assert sorted(f.identity for item in (*listed, *apart) for f in item.findings) == sorted(
        f.identity for f in found
    )
    assert all(f.severity != "note" for item in listed for f in item.findings)
    assert [item.harm for item in listed] == sorted((item.harm for item in listed), reverse=True)
    assert worklist(rng.sample(found, len(found)), DECLARED) == listed


def test_two_thousand_findings_are_ordered_in_no_time():
    rng = random.Random(7)  # noqa: S311 - a load, no secret
    found = [
        finding(cell(rng.choice(FIELDS), row), p=rng.random(), group=f"g{row // 2}") for row in range(2, 2002)
    ]
    start = perf_counter()
    assert sum(len(item.findings) for item in worklist(found, DECLARED)) == len(found)
    assert perf_counter() - start < 0.5
