"""Notebook 1, driven as a person would: opened, run, a column looked at, the files found."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

import openpyxl
import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from browser.conftest import Lab, Sheet

pytestmark = pytest.mark.browser


def test_from_a_file_to_the_marked_workbook(
    open_notebook: Callable[[str], Sheet], lab: Lab, tmp_path: Path
) -> None:
    sheet = open_notebook("1_check_a_season.ipynb")
    sheet.run_all("sallow-levels-2026.marked.xlsx")
    page = sheet.page

    # pick and confirm: the demo season, and every header of it
    assert page.locator("select").first.input_value() != ""
    assert page.get_by_text("headers are understood").is_visible()
    page.get_by_text("Ringing 2026 (handlings)").click()
    ring = page.get_by_label("E: Ring no.")
    ring.scroll_into_view_if_needed()
    assert ring.evaluate("node => node.selectedOptions[0].text").startswith("ring:")

    # the findings are there as text, with the rows as typed
    text = page.locator(".jp-Notebook").inner_text()
    assert "the bag was not subtracted" in text
    assert "ERROR" in text or "error" in text

    # three live pictures, drawn without any address but our own
    pictures = page.locator(".vega-embed canvas, .vega-embed svg")
    pictures.nth(2).wait_for(timeout=60_000)
    assert pictures.count() >= 3
    assert sheet.strangers == []
    assert page.locator(".jp-mod-error, [data-mime-type='application/vnd.jupyter.stderr']").count() == 0

    where = Path(os.environ.get("NESTPROOF_SCREENSHOTS", tmp_path))
    page.locator(".jp-Notebook").evaluate("node => { node.scrollTop = 0; }")
    page.screenshot(path=where / "check_a_season_top.png")
    for number, picture in enumerate(pictures.all()):
        picture.scroll_into_view_if_needed()
        page.screenshot(path=where / f"check_a_season_picture_{number}.png")
    page.get_by_role("heading", name="Findings by box and day").scroll_into_view_if_needed()
    page.screenshot(path=where / "check_a_season_findings.png")

    marked = openpyxl.load_workbook(lab.folder / "checked" / "sallow-levels-2026.marked.xlsx")
    assert marked["Ringing 2026"]["M18"].comment is not None


def test_a_column_read_wrongly_is_mended_and_saved(open_notebook: Callable[[str], Sheet], lab: Lab) -> None:
    saved = lab.folder / "demo" / "sallow-levels-2026.mapping.yaml"
    sheet = open_notebook("1_check_a_season.ipynb")
    sheet.run_all("sallow-levels-2026.marked.xlsx")
    page = sheet.page
    page.get_by_text("Ringing 2026 (handlings)").click()
    scribe = page.get_by_label("R: Scribe")
    scribe.scroll_into_view_if_needed()
    scribe.select_option(label="not read")
    page.get_by_role("button", name="Save these columns").click()
    page.get_by_text("Saved as sallow-levels-2026.mapping.yaml").wait_for()
    try:
        assert "Scribe: ignore" in saved.read_text(encoding="utf-8")
    finally:
        saved.unlink()
