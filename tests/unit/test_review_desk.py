"""The desk without a browser: buttons pressed, texts typed, keys handed over by the lists."""

from __future__ import annotations

import pandas as pd
import pytest
from dirty_seasons import declared

import audit
from audit.charts.picture import BEING_DRAWN
from audit.review.grid import Pressed

BIRDS = [
    {
        "date": "2026-06-04",
        "box": "SL-01",
        "ring": f"SV0100{n}",
        "gross_g": 395 + n,
        "bag_g": 22,
        "net_g": 373 + n,
    }
    for n in range(1, 8)
]
SLIPS = ((1, "net_g", 397), (4, "net_g", 12), (6, "net_g", 401))
WAIT_S = 120


def rows():
    typed = [dict(bird) for bird in BIRDS]
    for row, field, value in SLIPS:
        typed[row][field] = value
    return {"handlings": pd.DataFrame(typed)}


@pytest.fixture(scope="module")
def report():
    return audit.check(audit.read_season(rows(), schemas=declared()), schemas=declared())


@pytest.fixture
def desk(report, tmp_path):
    return report.desk(log=tmp_path / "round.decisions.jsonl")


def press(grid, key, line=None):
    content = {
        "kind": "pressed",
        "key": key,
        "line": grid.chosen if line is None else line,
        "column": "",
        "rested": 1,
    }
    grid._heard(grid, content, [])


def verbs(desk):
    return [decision.verb for decision in desk.deciding.log.decisions]


def test_nothing_is_chosen_and_nothing_is_filled_in(desk):
    assert desk.meant.options
    assert desk.meant.index is None
    assert (desk.text.value, desk.reason.value, desk.sure.value, desk.who.value) == ("", "", False, "")


def test_the_greatest_harm_lies_on_the_desk_first(desk):
    first = desk.deciding.items[0]
    assert desk.list.labels[0] == desk.list.chosen == first.group
    assert first.findings[0].message in desk.what.value
    assert desk.rows.chosen == first.findings[0].suspects[0].cell.label


def test_a_value_is_chosen_then_accepted_and_the_next_one_comes(desk):
    desk.who.value = "AB"
    first, second, _ = desk.list.labels
    desk.accept.click()
    assert "Choose a value first" in desk.told.value
    desk.meant.index = 0
    desk.accept.click()
    assert "Accepted" in desk.told.value
    assert desk.list.chosen == second
    assert desk.meant.index is None
    assert desk.wait(WAIT_S)
    assert first not in desk.list.labels
    assert "<b>2</b> to decide" in desk.counted.value


def test_what_is_typed_is_judged_at_once(desk):
    desk.who.value = "AB"
    desk.text.value = "banana"
    assert "Cannot be:" in desk.objections.value
    assert desk.sure.layout.display == "none"
    desk.amend.click()
    assert "Not taken" in desk.told.value
    desk.text.value = "380"
    assert "Unlikely:" in desk.objections.value
    assert desk.sure.layout.display == ""
    desk.amend.click()
    assert "Not yet taken" in desk.told.value
    assert verbs(desk) == []
    desk.sure.value = True
    # another text has to be read anew
    desk.text.value = "381"
    assert desk.sure.value is False
    desk.sure.value = True
    desk.amend.click()
    assert verbs(desk) == ["amend"]
    assert desk.wait(WAIT_S)


def test_amending_asks_for_cell_and_text(desk):
    desk.who.value = "AB"
    desk.amend.click()
    assert "Choose the cell and type" in desk.told.value
    desk.text.value = "373"
    desk.cell.value = None
    desk.amend.click()
    assert "Choose the cell and type" in desk.told.value
    assert verbs(desk) == []


def test_a_cell_pointed_at_among_the_rows_is_the_one_to_amend(desk):
    desk.rows.chosen_key = "gross_g"
    assert desk.cell.value == (desk.rows.chosen, "gross_g")


def test_keep_needs_a_reason(desk):
    desk.who.value = "AB"
    desk.keep.click()
    assert "Say why" in desk.told.value
    desk.reason.value = "as in the field notebook"
    desk.keep.click()
    assert verbs(desk) == ["keep"]
    assert desk.reason.value == ""


def test_asked_kept_and_decided_ones_are_found_again(desk):
    desk.who.value = "AB"
    first, second, third = desk.list.labels
    desk.ask.click()
    desk.reason.value = "weighed twice"
    desk.keep.click()
    desk.shown.value = "asked"
    assert desk.list.labels == (first,)
    desk.shown.value = "to decide"
    assert desk.list.labels == (third,)
    desk.shown.value = "decided"
    (made,) = desk.list.labels
    assert "AB on" in desk.what.value
    assert "weighed twice" in desk.what.value
    desk.undo.click()
    assert verbs(desk) == ["ask", "keep", "undo"]
    assert desk.list.labels == ()
    desk.shown.value = "to decide"
    assert set(desk.list.labels) == {second, third}
    assert made


def test_keys_of_the_list_decide(desk):
    desk.who.value = "AB"
    before = desk.list.chosen
    press(desk.list, "1")
    assert desk.meant.index == 0
    press(desk.list, "9")
    assert desk.meant.index == 0
    press(desk.list, "a")
    assert verbs(desk) == ["accept"]
    assert desk.list.chosen != before
    press(desk.list, "u")
    assert verbs(desk) == ["accept", "undo"]
    press(desk.list, "q")
    assert verbs(desk) == ["accept", "undo", "ask"]


def test_a_key_that_overtook_the_choice_decides_nothing(desk):
    desk.who.value = "AB"
    press(desk.list, "q", line=desk.list.labels[2])
    assert "only just been reached" in desk.told.value
    assert verbs(desk) == []


def test_what_is_being_typed_stays_when_the_audit_catches_up(desk):
    desk.who.value = "AB"
    desk.meant.index = 0
    desk.accept.click()
    desk.text.value = "38"
    desk.reason.value = "the ringer"
    assert desk.wait(WAIT_S)
    assert (desk.text.value, desk.reason.value) == ("38", "the ringer")


def test_a_point_picked_in_the_picture_brings_its_finding(desk):
    third = desk.list.labels[2]
    label = desk.deciding.items[2].findings[0].suspects[0].cell.label
    desk._picked(label)
    assert desk.list.chosen == third
    desk._picked("handlings!2")
    assert "handlings, row 2" in desk.told.value


def test_no_former_picture_stands_beside_a_new_finding(desk, monkeypatch):
    chart, told = desk.picture.chart, desk.picture.told
    assert chart.widget.layout.display == ""
    assert told.value == ""
    # a busy machine: what is to be done soon is not done yet
    soon = []
    monkeypatch.setattr(desk.following, "soon", soon.append)
    beside = []
    desk.what.observe(lambda _: beside.append((chart.picture, chart.widget.layout.display)), names="value")
    before = desk.what.value
    desk.next.click()
    assert desk.what.value != before
    assert beside == [(None, "none")]
    assert BEING_DRAWN in told.value
    for work in soon:
        work()
    assert desk._findings[0].suspects[0].cell.label in chart.picture.labels
    assert (chart.widget.layout.display, told.value) == ("", "")


def test_where_nothing_is_left_nothing_is_being_drawn(desk, monkeypatch):
    monkeypatch.setattr(desk.following, "soon", lambda _: None)
    desk.shown.value = "asked"
    assert desk.list.labels == ()
    assert (desk.picture.told.value, desk.picture.chart.widget.layout.display) == ("", "none")


def test_a_fault_of_the_audit_is_told_and_the_decision_stands(desk, monkeypatch):
    def fails(_):
        raise ZeroDivisionError("no birds")

    monkeypatch.setattr(desk.deciding, "audited_again", fails)
    desk.who.value = "AB"
    desk.meant.index = 0
    desk.accept.click()
    assert desk.wait(WAIT_S)
    assert "ZeroDivisionError: no birds" in desk.told.value
    assert verbs(desk) == ["accept"]


def test_decisions_made_before_are_taken_up(report, desk):
    desk.who.value = "AB"
    desk.meant.index = 0
    desk.accept.click()
    assert desk.wait(WAIT_S)
    again = report.desk(log=desk.deciding.log.path)
    assert again.wait(WAIT_S)
    assert "<b>2</b> to decide" in again.counted.value
    assert "1 decided" in again.counted.value


def test_a_page_is_left_for_readers_without_a_kernel(desk, monkeypatch):
    shown = []

    def keep(bundle, *, raw):
        assert raw
        shown.append(bundle)

    monkeypatch.setattr("IPython.display.display", keep)
    desk._ipython_display_()
    still, live = shown
    assert "application/vnd.jupyter.widget-view+json" in live
    page, text = still["text/html"], still["text/plain"]
    # it gives way while the desk is alive
    assert page.startswith('<div class="nestproof-still">')
    assert "<script" not in page
    assert "text/html" not in live
    for item in desk.deciding.items:
        assert item.findings[0].message in text
    assert "3 slips to decide, 0 decisions made." in text
    assert page.count("<tr><td") == len(desk.deciding.items)


def test_typed_text_is_shown_as_text(tmp_path):
    season = rows()
    season["handlings"]["remarks"] = "<b onclick=x>loud</b>"
    season["handlings"].loc[2, "ring"] = "SV0<i>4"
    season["handlings"]["ring"] = season["handlings"]["ring"].astype(object)
    desk = audit.check(season, schemas=declared()).desk(log=tmp_path / "log.jsonl")
    for _ in desk.list.labels:
        for shown in (desk.what.value, desk.others.value, desk.told.value):
            assert "<i>" not in shown
            assert "<b onclick" not in shown
        desk.next.click()


def test_two_typings_lie_on_one_desk(tmp_path):
    other = {"handlings": pd.DataFrame(BIRDS).assign(bag_g=[22, 22, 24, 22, 22, 22, 22])}
    double = audit.double_entry(rows(), other, schemas=declared())
    desk = double.report.desk(who="AB", log=tmp_path / "log.jsonl")
    differing = next(
        item for item in desk.deciding.items if any(f.rule.startswith("double_entry") for f in item.findings)
    )
    desk._choose(differing.group)
    assert "second" in desk.others.value.casefold() or "2" in desk.others.value
    before = len(desk.deciding.items)
    desk.ask.click()
    assert desk.deciding.item_state(differing) == "asked"
    assert len(desk.deciding.items) == before


def test_a_report_on_its_own_has_no_desk():
    with pytest.raises(audit.Refusal, match="stands alone"):
        audit.Report("round", ()).desk()


def test_pressed_is_what_the_list_hands_over(desk):
    heard = []
    desk.list.on_key(heard.append)
    press(desk.list, "n")
    assert isinstance(heard[0], Pressed)
