"""Notebook 6, driven as a person would: choose a cell, say what was meant, hand in, read why, go on."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

import audit

if TYPE_CHECKING:
    from collections.abc import Callable

    from browser.conftest import Lab, Sheet

pytestmark = pytest.mark.browser


def test_a_whole_round_of_practice(open_notebook: Callable[[str], Sheet], lab: Lab, tmp_path: Path) -> None:
    sheet = open_notebook("6_practise.ipynb")
    page = sheet.page
    complaints: list[str] = []
    page.on("pageerror", lambda error: complaints.append(str(error)))
    where = Path(os.environ.get("NESTPROOF_SCREENSHOTS", tmp_path))
    sheet.run_all("No practice sheet has been marked yet.")
    desk = page.locator(".nestproof-practice").last
    grid = desk.get_by_role("grid").first
    grid.wait_for(timeout=60_000)
    desk.scroll_into_view_if_needed()
    page.screenshot(path=where / "practise_first.png")
    assert "There is 1 slip on this page." in desk.inner_text()

    # the same sheet is at hand here, with its key
    exercise = audit.practise("AB").exercise
    ((place, change),) = exercise.changes.items()
    line, column = exercise.line(place[0]), exercise.fields.index(place[1])
    cell = grid.get_by_role("row").nth(line).get_by_role("gridcell").nth(column)
    assert cell.inner_text() == exercise.typed(place)
    cell.click()
    desk.get_by_text(f"Line {line}, ").first.wait_for()
    desk.get_by_label("Was meant", exact=True).fill(change.meant)
    desk.get_by_label("Was meant", exact=True).press("Enter")
    desk.locator(".nestproof-told", has_text="1 cell marked.").wait_for(timeout=20_000)
    page.screenshot(path=where / "practise_marked.png")

    desk.get_by_role("button", name="Hand in", exact=True).click()
    desk.locator(".nestproof-result", has_text="You put it right.").wait_for(timeout=20_000)
    assert "The audit says:" in desk.inner_text()
    page.screenshot(path=where / "practise_result.png", full_page=True)
    (kept,) = (lab.folder / "practice.progress.jsonl").read_text(encoding="utf-8").splitlines()
    assert json.loads(kept)["kinds"][0]["mended"] == 1

    # the next sheet is handed in with nothing marked, which is asked about once
    desk.get_by_role("button", name="Next sheet", exact=True).click()
    desk.get_by_text("Practice sheet 2 for AB").first.wait_for(timeout=20_000)
    desk.get_by_role("button", name="Hand in", exact=True).click()
    desk.locator(".nestproof-told", has_text="Hand in once more").wait_for(timeout=20_000)
    desk.get_by_role("button", name="Hand in", exact=True).click()
    desk.locator(".nestproof-result", has_text="You did not mark it.").wait_for(timeout=20_000)

    # a round of the reading drill: each drawing goes after its time, and is typed back
    drill = page.locator(".nestproof-reading").last
    drill.scroll_into_view_if_needed()
    drill.get_by_label("Seconds", exact=True).fill("1")
    drill.get_by_label("Seconds", exact=True).press("Enter")
    drill.get_by_role("button", name="Show", exact=True).click()
    shown = audit.read_practice("AB", numbers=6).round.shown
    for number, one in enumerate(shown, 1):
        drill.locator(".nestproof-told", has_text=f"Number {number} of 6.").wait_for(timeout=20_000)
        drawing = drill.locator(".nestproof-shown")
        assert drawing.locator("svg").get_attribute("aria-label") == one.says
        if number == 1:
            page.screenshot(path=where / "practise_reading.png")
            drawing.wait_for(state="hidden", timeout=20_000)
        field = drill.get_by_label("You read", exact=True)
        field.fill(one.meant if number > 1 else one.meant[:-1])
        field.press("Enter")
    drill.locator(".nestproof-told", has_text="The round is marked.").wait_for(timeout=20_000)
    assert "1 of 6 numbers misread" in drill.inner_text()
    assert "a sign lost" in drill.inner_text()
    page.screenshot(path=where / "practise_reading_marked.png", full_page=True)
    lines = (lab.folder / "practice.progress.jsonl").read_text(encoding="utf-8").splitlines()
    kept = json.loads(lines[-1])
    assert (kept["drill"], kept["asked"], kept["right"]) == ("reading", 6, 5)
    assert complaints == []
    assert sheet.strangers == []
    assert page.locator(".jp-mod-error, [data-mime-type='application/vnd.jupyter.stderr']").count() == 0
