"""Notebook 3, driven as a person would: accept, be told of a wrong value, keep, ask, undo, and go on."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from playwright.sync_api import expect

if TYPE_CHECKING:
    from collections.abc import Callable

    from browser.conftest import Sheet
    from playwright.sync_api import Locator, Page

pytestmark = pytest.mark.browser

POINTS = '.vega-embed svg [class*="records"] path'
#: Takes down, whenever the sentence changes, whether a picture is seen beside it.
WATCH = """() => {
    window.beside = [];
    const desk = [...document.querySelectorAll('.nestproof-desk')].at(-1);
    const seen = () => desk.querySelector('.vega-embed svg')?.checkVisibility() ?? false;
    new MutationObserver(() => window.beside.push(seen())).observe(
        desk.querySelector('.nestproof-sentence'), {childList: true, subtree: true, characterData: true});
}"""
LOG = "sallow-levels-2026.decisions.jsonl"


class Hand:
    """What a person does at the desk."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.desk = page.locator(".nestproof-desk").last

    @property
    def told(self) -> str:
        return self.desk.locator(".nestproof-told").inner_text()

    @property
    def sentence(self) -> str:
        return self.desk.locator(".nestproof-sentence").inner_text()

    def button(self, name: str) -> Locator:
        return self.desk.get_by_role("button", name=name, exact=True)

    def press(self, name: str, wait_for: str) -> None:
        self.button(name).click()
        self.hears(wait_for)

    def hears(self, text: str) -> None:
        self.desk.locator(".nestproof-told", has_text=text).wait_for()

    def moves_on_from(self, sentence: str) -> None:
        self.page.wait_for_function(
            "before => document.querySelector('.nestproof-sentence').innerText !== before", arg=sentence
        )

    def choose_value(self, number: int = 0) -> None:
        self.desk.locator(".widget-radio-box input").nth(number).check()

    def type(self, label: str, text: str) -> None:
        self.desk.get_by_label(label, exact=True).fill(text)


def picked_and_lit(hand: Hand, where: Path) -> None:
    """Pick points until one is told of that nothing is asked about; then light up another row."""
    before = hand.sentence
    points = hand.desk.locator(POINTS)
    for number in range(points.count()):
        points.nth(number).click(force=True)
        hand.page.wait_for_timeout(500)
        if "Nothing is asked about it" in hand.told or hand.sentence != before:
            break
    else:
        raise AssertionError("no point of the picture was heard of")
    rows = hand.desk.get_by_role("grid").nth(1)
    lit = (
        "() => [...document.querySelectorAll('.nestproof-desk .vega-embed svg')].map(n => n.outerHTML).join()"
    )
    drawn = hand.page.evaluate(lit)
    rows.get_by_role("row").nth(1).get_by_role("gridcell").first.click()
    hand.page.wait_for_function(f"before => ({lit})() !== before", arg=drawn)
    hand.page.screenshot(path=where / "decide_lit.png")


def lines(sheet: Sheet) -> list[dict[str, Any]]:
    text = (sheet.folder / "demo" / LOG).read_text(encoding="utf-8")
    return [json.loads(line) for line in text.splitlines() if line.strip()]


def verbs(sheet: Sheet) -> list[str]:
    return [line["verb"] for line in lines(sheet)]


def test_findings_are_decided_one_after_the_other_and_a_saved_desk_reads_well(
    open_notebook: Callable[[str], Sheet], tmp_path: Path
) -> None:
    sheet = open_notebook("3_decide.ipynb")
    page = sheet.page
    complaints: list[str] = []
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.on("console", lambda told: complaints.append(told.text) if told.type == "error" else None)
    where = Path(os.environ.get("NESTPROOF_SCREENSHOTS", tmp_path))
    sheet.run_all("questions.pdf")
    undecided = sheet.saved()
    hand = Hand(page)
    hand.desk.scroll_into_view_if_needed()
    hand.desk.get_by_role("grid").first.wait_for()
    page.screenshot(path=where / "decide_first.png")

    # a point picked in the picture is told; a row chosen beside it is lit up in it
    hand.desk.locator(POINTS).first.wait_for()
    picked_and_lit(hand, where)

    # nothing is chosen or filled in, and nothing is done without initials
    assert hand.desk.locator(".widget-radio-box input:checked").count() == 0
    hand.press("Accept", "Choose a value first")
    hand.choose_value()
    hand.press("Accept", "initials")
    hand.type("Initials", "AB")

    page.evaluate(WATCH)
    before = hand.sentence
    hand.press("Accept", "Accepted")
    hand.moves_on_from(before)
    # the former picture is gone by then; the next one comes in its time
    assert not any(page.evaluate("() => window.beside"))
    hand.desk.locator(POINTS).first.wait_for()
    assert verbs(sheet) == ["accept"]
    page.screenshot(path=where / "decide_accepted.png")

    # what cannot be is told while it is typed, and not taken
    hand.type("Should be", "?")
    hand.desk.locator("li", has_text="Cannot be").first.wait_for()
    hand.press("Amend", "Not taken")
    # a ring that is on another bird is taken only when that was read
    hand.type("Should be", "SV03037")
    hand.desk.locator("li", has_text="Unlikely").first.wait_for()
    hand.press("Amend", "Not yet taken")
    page.screenshot(path=where / "decide_refused.png")
    assert verbs(sheet) == ["accept"]

    hand.press("Keep as it stands", "Say why")
    hand.type("Why", "as in the field notebook")
    before = hand.sentence
    hand.press("Keep as it stands", "Kept as it stands")
    hand.moves_on_from(before)
    before = hand.sentence
    hand.press("Ask", "query sheet")
    hand.moves_on_from(before)
    hand.press("Undo", "Taken back")
    assert verbs(sheet) == ["accept", "keep", "ask", "undo"]

    # the keyboard alone: a finding chosen, a value chosen, accepted
    worklist = hand.desk.get_by_role("grid").first
    worklist.focus()
    cells = page.locator(".jp-Cell").count()
    before = hand.sentence
    page.keyboard.press("ArrowDown")
    hand.moves_on_from(before)
    before = hand.sentence
    page.keyboard.press("1")
    hand.desk.locator(".widget-radio-box input:checked").wait_for(state="attached")
    page.keyboard.press("a")
    hand.moves_on_from(before)
    assert verbs(sheet)[-1] == "accept"
    assert page.locator(".jp-Cell").count() == cells
    page.screenshot(path=where / "decide_keyboard.png")

    # on a button, too, the notebook's own keys do nothing: x and d d would take a cell away
    hand.button("Next").focus()
    for key in ("x", "d", "d", "a", "b"):
        page.keyboard.press(key)
    assert page.locator(".jp-Cell").count() == cells
    assert hand.page.locator(".nestproof-still").last.is_hidden()

    # the kernel is killed; nothing is lost
    page.evaluate("() => window.jupyterapp.shell.currentWidget.sessionContext.restartKernel()")
    sheet.run_all("questions.pdf")
    hand = Hand(page)
    hand.desk.get_by_role("grid").first.wait_for()
    expect(hand.desk).to_contain_text("3 decided")
    hand.type("Initials", "AB")
    hand.press("Undo", "Taken back")
    assert verbs(sheet) == ["accept", "keep", "ask", "undo", "accept", "undo"]

    assert sheet.strangers == []
    assert [one for one in complaints if "favicon" not in one] == []

    # the desk as it was before anything was decided, for somebody who runs nothing
    saved_desk_reads_well(open_notebook(sheet.from_elsewhere(undecided)), where)


def saved_desk_reads_well(sheet: Sheet, where: Path) -> None:
    page = sheet.page
    table = page.get_by_role("table", name="To decide, the greatest harm first")
    table.wait_for()
    assert table.get_by_role("row").count() > 20
    assert "the bag was not subtracted" in table.inner_text()
    table.scroll_into_view_if_needed()
    page.screenshot(path=where / "decided_elsewhere.png")
    assert sheet.strangers == []
