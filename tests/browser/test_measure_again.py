"""Notebook 7 in a browser: the page with its pictures, and one that answers to the mouse; offline."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from browser.conftest import Lab, Sheet

pytestmark = pytest.mark.browser


def test_from_a_sheet_to_what_to_practise(
    open_notebook: Callable[[str], Sheet], lab: Lab, tmp_path: Path
) -> None:
    typed = lab.folder / "demo" / "sallow-levels-2026.measured.csv"
    before = typed.read_bytes()
    sheet = open_notebook("7_measure_again.ipynb")
    page = sheet.page
    complaints: list[str] = []
    page.on("pageerror", lambda error: complaints.append(str(error)))
    where = Path(os.environ.get("NESTPROOF_SCREENSHOTS", tmp_path))
    sheet.run_all("pairs.csv")

    told = page.locator(".jp-OutputArea-output .nestproof").first
    told.scroll_into_view_if_needed()
    words = told.inner_text()
    assert "AB's wings are" in words
    assert "mm longer than MK's" in words
    assert "with the bag not subtracted" in words
    assert "No bird is handled longer" in words
    pictures = told.locator("figure svg")
    assert pictures.count() >= 5
    for number in range(pictures.count()):
        # each is drawn, and none is wider than the page that holds it
        box, around = pictures.nth(number).bounding_box(), told.bounding_box()
        assert box is not None
        assert around is not None
        assert box["height"] > 100
        assert box["x"] + box["width"] <= around["x"] + around["width"] + 1
    page.screenshot(path=where / "measure_again_page.png")

    living = page.locator(".vega-embed canvas, .vega-embed svg")
    living.first.wait_for(timeout=60_000)
    living.first.scroll_into_view_if_needed()
    page.screenshot(path=where / "measure_again_living.png")
    assert complaints == []
    assert sheet.strangers == []
    assert page.locator(".jp-mod-error, [data-mime-type='application/vnd.jupyter.stderr']").count() == 0
    assert typed.read_bytes() == before
