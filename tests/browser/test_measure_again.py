"""Notebook 7 in a browser: the page with its pictures, one that answers to the mouse; then read as saved."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from browser.conftest import Sheet
    from nbformat import NotebookNode

pytestmark = pytest.mark.browser

TYPED = Path(__file__).parents[2] / "notebooks" / "demo" / "sallow-levels-2026.measured.csv"


@pytest.fixture(scope="module")
def complaints() -> list[str]:
    return []


@pytest.fixture(scope="module")
def sheet(open_notebook: Callable[[str], Sheet], complaints: list[str]) -> Sheet:
    sheet = open_notebook("7_measure_again.ipynb")
    sheet.page.on("pageerror", lambda error: complaints.append(str(error)))
    sheet.run_all("pairs.csv")
    return sheet


@pytest.fixture(scope="module")
def saved(sheet: Sheet) -> NotebookNode:
    return sheet.saved()


def test_from_a_sheet_to_what_to_practise(sheet: Sheet, complaints: list[str], tmp_path: Path) -> None:
    page = sheet.page
    where = Path(os.environ.get("NESTPROOF_SCREENSHOTS", tmp_path))
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
    living.first.wait_for()
    living.first.scroll_into_view_if_needed()
    page.screenshot(path=where / "measure_again_living.png")
    assert complaints == []
    assert sheet.strangers == []
    assert page.locator(".jp-mod-error, [data-mime-type='application/vnd.jupyter.stderr']").count() == 0


def test_a_blank_sheet_and_the_results_lie_beside_it(sheet: Sheet) -> None:
    measured = sheet.folder / "measured"
    assert {path.suffix for path in measured.glob("measure-again-*")} == {".html", ".xlsx", ".csv"}
    assert {"measuring.html", "measuring.csv", "pairs.csv"} <= {path.name for path in measured.iterdir()}
    assert (sheet.folder / "demo" / TYPED.name).read_bytes() == TYPED.read_bytes()


def test_every_cell_shows_something_and_none_complains(saved: NotebookNode) -> None:
    code = [cell for cell in saved.cells if cell.cell_type == "code"]
    assert all(cell.outputs for cell in code)
    kinds = {output.output_type for cell in code for output in cell.outputs}
    assert kinds <= {"execute_result", "display_data"}


def test_the_page_with_its_pictures_is_there_without_a_kernel(saved: NotebookNode) -> None:
    page = saved.cells[4].outputs[0].data["text/html"]
    assert "Wings: 1 bird stands out and should be looked up, AB reads 2.4 mm longer than MK" in page
    assert "Net masses: 1 bird stands out and should be looked up; beside that all goals are reached." in page
    assert "What to practise" in page
    assert page.count("<figure>") >= 5
    assert "<script" not in page
    assert "http:" not in page.replace("http://www.w3.org", "")
    picture = saved.cells[6].outputs[0].data
    assert "AB" in picture["text/plain"]
    assert picture["image/svg+xml"].startswith("<svg")
