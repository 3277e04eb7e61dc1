"""Notebook 2, driven as a person would: run, another box and another visit chosen, the ledger found."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

import nbformat
import pytest
from nbclient import NotebookClient
from playwright.sync_api import expect

if TYPE_CHECKING:
    from collections.abc import Callable

    from browser.conftest import Lab, Sheet
    from playwright.sync_api import Page

pytestmark = pytest.mark.browser

NAME = "2_rings_and_tags.ipynb"
DRAWN = ".vega-embed canvas, .vega-embed svg"


def pictures_of(page: Page, list_name: str) -> str:
    """Bytes of the picture below a list, to see whether it changed."""
    desk = page.locator(".widget-vbox", has=page.get_by_label(list_name, exact=True)).last
    return str(
        desk.locator(DRAWN).first.evaluate("node => node.toDataURL ? node.toDataURL() : node.outerHTML")
    )


def choose(page: Page, list_name: str, wanted: str) -> None:
    choice = page.get_by_label(list_name, exact=True)
    choice.scroll_into_view_if_needed()
    before = pictures_of(page, list_name)
    texts = [text.replace("\N{NO-BREAK SPACE}", " ") for text in choice.locator("option").all_inner_texts()]
    value = next(text for text in texts if text.startswith(wanted))
    choice.select_option(index=texts.index(value))
    for _ in range(100):
        if pictures_of(page, list_name) != before:
            return
        page.wait_for_timeout(100)
    raise AssertionError(f"the picture stayed the same when {value} was chosen")


def test_another_box_and_another_visit_are_chosen(
    open_notebook: Callable[[str], Sheet], lab: Lab, tmp_path: Path
) -> None:
    sheet = open_notebook(NAME)
    page = sheet.page
    complaints: list[str] = []
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.on("console", lambda told: complaints.append(told.text) if told.type == "error" else None)
    sheet.run_all("ring-ledger.csv")
    page.locator(DRAWN).nth(3).wait_for(timeout=60_000)

    # what suspects a ring or a tag is there as text, and nothing else
    text = page.locator(".jp-Notebook").inner_text()
    assert "have each other's tags" in text
    assert "the bag was not subtracted" not in text

    where = Path(os.environ.get("NESTPROOF_SCREENSHOTS", tmp_path))
    for width in (1100, 700):
        page.set_viewport_size({"width": width, "height": 1000})
        for number, picture in enumerate(page.locator(DRAWN).all()):
            picture.scroll_into_view_if_needed()
            page.screenshot(path=where / f"rings_and_tags_{width}_{number}.png")
    page.set_viewport_size({"width": 1400, "height": 1000})

    # the most doubtful box first, then another one
    box = page.get_by_label("Box", exact=True)
    assert "marked" in box.evaluate("node => node.selectedOptions[0].text")
    choose(page, "Box", "SL-14")
    page.screenshot(path=where / "rings_and_tags_box.png")
    choose(page, "Box", "SL-25")

    # the download of a visit, with its table below
    choose(page, "Visit", "2026-06-13 SL-57")
    page.get_by_text("99910419068577 has 14 digits").last.wait_for()
    desk = page.locator(".widget-vbox", has=page.get_by_label("Visit", exact=True)).last
    expect(desk).to_contain_text("2026-06-13, SL-57")
    desk.scroll_into_view_if_needed()
    page.screenshot(path=where / "rings_and_tags_visit.png")

    assert sheet.strangers == []
    assert [one for one in complaints if "favicon" not in one] == []
    assert page.locator(".jp-mod-error, [data-mime-type='application/vnd.jupyter.stderr']").count() == 0
    assert (lab.folder / "checked" / "ring-ledger.csv").exists()


def test_a_notebook_from_elsewhere_shows_its_pictures(
    open_notebook: Callable[[str], Sheet], lab: Lab, tmp_path: Path
) -> None:
    """Saved without widgets and not trusted, as one that came by mail: nothing was run in this browser."""
    notebook = nbformat.read(lab.folder / NAME, as_version=4)
    where = {"metadata": {"path": str(lab.folder)}}
    NotebookClient(notebook, timeout=120, store_widget_state=False, resources=where).execute()
    nbformat.write(notebook, lab.folder / "from_elsewhere.ipynb")
    sheet = open_notebook("from_elsewhere.ipynb")
    page = sheet.page
    images = page.locator(".jp-OutputArea-output img")
    images.nth(3).wait_for(timeout=60_000)
    words = [image.get_attribute("alt") or "" for image in images.all()]
    assert [word.partition(" ")[0] for word in words] == ["Life", "Rows", "What", "What"]
    shots = Path(os.environ.get("NESTPROOF_SCREENSHOTS", tmp_path))
    for number, image in enumerate(images.all()):
        image.scroll_into_view_if_needed()
        assert image.evaluate("node => node.complete && node.naturalWidth") > 100
        page.screenshot(path=shots / f"from_elsewhere_{number}.png")
    expect(page.locator(".jp-Notebook")).to_contain_text("tag as typed")
    assert page.locator(".vega-embed").count() == 0
    assert sheet.strangers == []
