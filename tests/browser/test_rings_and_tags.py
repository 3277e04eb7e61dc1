"""Notebook 2, driven as a person would: run, another box and another visit chosen; then read as saved."""

from __future__ import annotations

import base64
import csv
import os
import re
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree as ET

import nbformat
import pytest
from browser.conftest import PATIENCE
from playwright.sync_api import expect

if TYPE_CHECKING:
    from collections.abc import Callable

    from browser.conftest import Sheet
    from nbformat import NotebookNode
    from playwright.sync_api import Page

pytestmark = pytest.mark.browser

SEASON = Path(__file__).parents[2] / "notebooks" / "demo" / "sallow-levels-2026.xlsx"
DRAWN = ".vega-embed canvas, .vega-embed svg"
#: What the saved notebook may weigh for everything but the state of its widgets, in KB.
MOST_KB = 900
WIDGET = "application/vnd.jupyter.widget-view+json"
PICTURE = "image/svg+xml"
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def complaints() -> list[str]:
    return []


@pytest.fixture(scope="module")
def sheet(open_notebook: Callable[[str], Sheet], complaints: list[str]) -> Sheet:
    sheet = open_notebook("2_rings_and_tags.ipynb")
    sheet.page.on("pageerror", lambda error: complaints.append(str(error)))
    sheet.page.on("console", lambda told: complaints.append(told.text) if told.type == "error" else None)
    sheet.run_all("ring-ledger.csv")
    return sheet


@pytest.fixture(scope="module")
def saved(sheet: Sheet) -> NotebookNode:
    return sheet.saved()


@pytest.fixture(scope="module")
def outputs(saved: NotebookNode) -> dict[str, Any]:
    """Last line of each cell of code -> the data of what it shows."""
    return {
        cell.source.splitlines()[-1]: output.data
        for cell in saved.cells
        for output in cell.get("outputs", ())
    }


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
    deadline = time.monotonic() + PATIENCE
    while time.monotonic() < deadline:
        if pictures_of(page, list_name) != before:
            return
        page.wait_for_timeout(100)
    raise AssertionError(f"the picture stayed the same when {value} was chosen")


def test_another_box_and_another_visit_are_chosen(
    sheet: Sheet, complaints: list[str], tmp_path: Path
) -> None:
    page = sheet.page
    page.locator(DRAWN).nth(3).wait_for()

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


def test_a_notebook_from_elsewhere_shows_its_pictures(
    open_notebook: Callable[[str], Sheet], sheet: Sheet, saved: NotebookNode, tmp_path: Path
) -> None:
    sheet = open_notebook(sheet.from_elsewhere(saved))
    page = sheet.page
    images = page.locator(".jp-OutputArea-output img")
    images.nth(3).wait_for()
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


def shown_by(outputs: dict[str, Any], beginning: str) -> Any:
    return next(data for source, data in outputs.items() if source.startswith(beginning))


def words_of(page: str) -> str:
    """Words of the picture that a page holds as an image."""
    picture = re.search(r'src="data:image/svg\+xml;base64,([^"]+)"', page)[1]
    root = ET.fromstring(base64.b64decode(picture))  # noqa: S314 - our own drawing
    return " ".join(node.text or "" for node in root.iter(f"{SVG}text"))


def test_every_cell_of_code_shows_something_and_none_complains(saved: NotebookNode) -> None:
    for cell in saved.cells:
        if cell.cell_type == "code":
            assert cell.outputs, cell.source
            assert {output.output_type for output in cell.outputs} <= {"execute_result", "display_data"}


def test_every_output_can_be_read_as_text(outputs: dict[str, Any]) -> None:
    for source, data in outputs.items():
        text = data["text/plain"]
        assert text.strip(), source
        assert not re.search(r"<[\w.]+ object at|0x[0-9a-f]{6}|Widget\(|Box\(|Report\(|Finding\(", text), (
            source
        )
        assert len(text) < 20_000, source


def test_only_what_suspects_a_ring_or_a_tag_is_told(outputs: dict[str, Any]) -> None:
    page = shown_by(outputs, "audit.typed_rows")["text/html"]
    assert "have each other&#x27;s tags" in page
    assert "the bag was not subtracted" not in page


def test_birds_whose_ring_and_tag_part_are_listed(outputs: dict[str, Any]) -> None:
    data = shown_by(outputs, "audit.conflicts")
    for text in (data["text/html"], data["text/plain"]):
        assert "ring SV03012" in text
        assert "tag 999104190066809" in text


def test_life_lines_stand_still_too(outputs: dict[str, Any]) -> None:
    data = shown_by(outputs, "life_line_desk")
    assert WIDGET in data
    words = words_of(data["text/html"])
    assert "Did ring and tag stay together? Box " in words
    assert "jump" in data["text/plain"]


def test_the_download_stands_still_too_as_picture_and_table(outputs: dict[str, Any]) -> None:
    data = shown_by(outputs, "download_desk")
    assert WIDGET in data
    words = words_of(data["text/html"])
    assert "Do the tags agree with the reader? " in words
    assert "sheet, in the order typed" in words
    assert "tag as typed" in data["text/html"].rpartition("<table")[2]


def test_the_ledger_is_there_as_table_and_pictures(outputs: dict[str, Any]) -> None:
    assert "SV03001" in shown_by(outputs, "ledger.table")["text/html"]
    for beginning in ("ledger.rings", "ledger.tags"):
        data = shown_by(outputs, beginning)
        assert data[PICTURE].startswith("<svg")
        assert data["text/plain"].strip()


def test_nothing_runs_and_nothing_is_fetched(outputs: dict[str, Any]) -> None:
    pages = "".join(data.get(kind, "") for data in outputs.values() for kind in ("text/html", PICTURE))
    assert "<script" not in pages
    assert not re.search(r"""(?:href|src)\s*=\s*["'](?!#|data:image/svg\+xml;base64,)""", pages)


def test_the_ledgers_lie_beside_it(sheet: Sheet) -> None:
    folder = sheet.folder
    assert sorted(path.name for path in (folder / "checked").iterdir()) == [
        "ledger.html",
        "ring-ledger.csv",
        "tag-ledger.csv",
    ]
    with (folder / "checked" / "ring-ledger.csv").open(encoding="utf-8") as file:
        fates = {row["ring"]: row["fate"] for row in csv.DictReader(file)}
    assert fates["SV03012"] == "on a bird"
    assert (folder / "demo" / SEASON.name).read_bytes() == SEASON.read_bytes()


def test_it_stays_small(saved: NotebookNode) -> None:
    assert "widgets" not in saved.metadata
    assert len(nbformat.writes(saved).encode()) <= MOST_KB * 1000
