"""Notebook 1, driven as a person would: run, a column looked at, the files found; then read as saved."""

from __future__ import annotations

import os
import re
from pathlib import Path
from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

import nbformat
import openpyxl
import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from browser.conftest import Sheet
    from nbformat import NotebookNode

pytestmark = pytest.mark.browser

SEASON = Path(__file__).parents[2] / "notebooks" / "demo" / "sallow-levels-2026.xlsx"
#: What the saved notebook may weigh for everything but the state of its widgets, in KB.
MOST_KB = 700
PICTURE = "image/svg+xml"


@pytest.fixture(scope="module")
def sheet(open_notebook: Callable[[str], Sheet]) -> Sheet:
    sheet = open_notebook("1_check_a_season.ipynb")
    sheet.run_all("sallow-levels-2026.marked.xlsx")
    return sheet


@pytest.fixture(scope="module")
def saved(sheet: Sheet) -> NotebookNode:
    return sheet.saved()


@pytest.fixture(scope="module")
def outputs(saved: NotebookNode) -> list[tuple[str, NotebookNode]]:
    return [(cell.source, output) for cell in saved.cells for output in cell.get("outputs", ())]


def test_from_a_file_to_the_marked_workbook(sheet: Sheet, tmp_path: Path) -> None:
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
    pictures.nth(2).wait_for()
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


def test_the_results_lie_beside_it(sheet: Sheet) -> None:
    checked = sheet.folder / "checked"
    assert sorted(path.name for path in checked.iterdir()) == [
        "findings.csv",
        "findings.json",
        "sallow-levels-2026.marked.xlsx",
        "sallow-levels-2026.report.html",
    ]
    marked = openpyxl.load_workbook(checked / "sallow-levels-2026.marked.xlsx")
    assert "the bag was not subtracted" in " ".join(marked["Ringing 2026"]["M18"].comment.text.split())
    assert (sheet.folder / "demo" / SEASON.name).read_bytes() == SEASON.read_bytes()


def test_the_report_is_no_wider_than_a_telephone(sheet: Sheet) -> None:
    page = sheet.page.context.new_page()
    page.set_viewport_size({"width": 390, "height": 800})
    page.goto((sheet.folder / "checked" / "sallow-levels-2026.report.html").as_uri())
    assert page.evaluate("document.documentElement.scrollWidth") == 390
    page.close()


def test_no_cell_complains_and_every_cell_of_code_shows_something(saved: NotebookNode) -> None:
    cells = [cell for cell in saved.cells if cell.cell_type == "code"]
    assert all(cell.outputs for cell in cells)
    kinds = {output.output_type for cell in cells for output in cell.outputs}
    assert kinds <= {"execute_result", "display_data"}


def test_every_output_can_be_read_as_text(outputs: list[tuple[str, NotebookNode]]) -> None:
    for source, output in outputs:
        text = output.data["text/plain"]
        assert text.strip(), source
        # no names of classes, no addresses in memory, no dump of a record
        assert not re.search(r"<[\w.]+ object at|0x[0-9a-f]{6}|Widget\(|Box\(|Report\(|Finding\(", text), (
            source
        )
        assert len(text) < 20_000, source


def test_pictures_stand_still_too(outputs: list[tuple[str, NotebookNode]]) -> None:
    pictures = [(source, output.data) for source, output in outputs if source.startswith("pictures")]
    assert len(pictures) == 3
    for source, data in pictures:
        root = ET.fromstring(data[PICTURE])  # noqa: S314 - our own drawing
        words = " ".join(node.text or "" for node in root.iter("{http://www.w3.org/2000/svg}text"))
        assert len(words) > 50, source
        assert "<script" not in data[PICTURE]
        assert not re.search(r"""href\s*=\s*["'](?!#)""", data[PICTURE])


def test_tables_and_rows_are_plain_pages(outputs: list[tuple[str, NotebookNode]]) -> None:
    pages = {source.splitlines()[-1]: output.data.get("text/html", "") for source, output in outputs}
    assert "the bag was not subtracted" in pages["report"]
    assert "handlings" in pages["audit.contents(season)"]
    assert "<script" not in "".join(pages.values())


def test_it_stays_small(saved: NotebookNode) -> None:
    assert "widgets" not in saved.metadata
    assert len(nbformat.writes(saved).encode()) <= MOST_KB * 1000


def test_a_column_read_wrongly_is_mended_and_saved(sheet: Sheet) -> None:
    page = sheet.page
    scribe = page.get_by_label("R: Scribe")
    if not scribe.is_visible():
        page.get_by_text("Ringing 2026 (handlings)").click()
    scribe.scroll_into_view_if_needed()
    scribe.select_option(label="not read")
    page.get_by_role("button", name="Save these columns").click()
    page.get_by_text("Saved as sallow-levels-2026.mapping.yaml").wait_for()
    mapping = sheet.folder / "demo" / "sallow-levels-2026.mapping.yaml"
    assert "Scribe: ignore" in mapping.read_text(encoding="utf-8")
