"""Notebook 2 without a browser: it runs, it is short, and what it leaves reads well without a kernel."""

from __future__ import annotations

import base64
import csv
import json
import re
from xml.etree import ElementTree as ET

import nbformat
import pytest
from executed_notebook import NOTEBOOKS, execute

NAME = "2_rings_and_tags.ipynb"
#: What the executed notebook may weigh for everything but the state of its widgets, in KB.
MOST_KB = 900
WIDGET = "application/vnd.jupyter.widget-view+json"
PICTURE = "image/svg+xml"
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def executed(tmp_path_factory):
    return execute(NAME, tmp_path_factory)


@pytest.fixture(scope="module")
def outputs(executed):
    """Last line of each cell of code -> the data of what it shows."""
    return {
        cell.source.splitlines()[-1]: output.data
        for cell in executed[0].cells
        for output in cell.get("outputs", ())
    }


def shown_by(outputs, beginning):
    return next(data for source, data in outputs.items() if source.startswith(beginning))


def words_of(page):
    """Words of the picture that a page holds as an image."""
    picture = re.search(r'src="data:image/svg\+xml;base64,([^"]+)"', page)[1]
    root = ET.fromstring(base64.b64decode(picture))  # noqa: S314 - our own drawing
    return " ".join(node.text or "" for node in root.iter(f"{SVG}text"))


def test_every_cell_of_code_shows_something_and_none_complains(executed):
    for cell in executed[0].cells:
        if cell.cell_type == "code":
            assert cell.outputs, cell.source
            assert {output.output_type for output in cell.outputs} <= {"execute_result", "display_data"}


def test_every_output_can_be_read_as_text(outputs):
    for source, data in outputs.items():
        text = data["text/plain"]
        assert text.strip(), source
        assert not re.search(r"<[\w.]+ object at|0x[0-9a-f]{6}|Widget\(|Box\(|Report\(|Finding\(", text), (
            source
        )
        assert len(text) < 20_000, source


def test_only_what_suspects_a_ring_or_a_tag_is_told(outputs):
    page = shown_by(outputs, "audit.typed_rows")["text/html"]
    assert "have each other&#x27;s tags" in page
    assert "the bag was not subtracted" not in page


def test_birds_whose_ring_and_tag_part_are_listed(outputs):
    data = shown_by(outputs, "audit.conflicts")
    for text in (data["text/html"], data["text/plain"]):
        assert "ring SV03012" in text
        assert "tag 999104190066809" in text


def test_life_lines_stand_still_too(outputs):
    data = shown_by(outputs, "life_line_desk")
    assert WIDGET in data
    words = words_of(data["text/html"])
    assert "Did ring and tag stay together? Box " in words
    assert "jump" in data["text/plain"]


def test_the_download_stands_still_too_as_picture_and_table(outputs):
    data = shown_by(outputs, "download_desk")
    assert WIDGET in data
    words = words_of(data["text/html"])
    assert "Do the tags agree with the reader? " in words
    assert "sheet, in the order typed" in words
    assert "tag as typed" in data["text/html"].rpartition("<table")[2]


def test_the_ledger_is_there_as_table_and_pictures(outputs):
    assert "SV03001" in shown_by(outputs, "ledger.table")["text/html"]
    for beginning in ("ledger.rings", "ledger.tags"):
        data = shown_by(outputs, beginning)
        assert data[PICTURE].startswith("<svg")
        assert data["text/plain"].strip()


def test_nothing_runs_and_nothing_is_fetched(outputs):
    pages = "".join(data.get(kind, "") for data in outputs.values() for kind in ("text/html", PICTURE))
    assert "<script" not in pages
    assert not re.search(r"""(?:href|src)\s*=\s*["'](?!#|data:image/svg\+xml;base64,)""", pages)


def test_the_ledgers_lie_beside_it(executed):
    folder = executed[1]
    assert sorted(path.name for path in (folder / "checked").iterdir()) == [
        "ledger.html",
        "ring-ledger.csv",
        "tag-ledger.csv",
    ]
    with (folder / "checked" / "ring-ledger.csv").open(encoding="utf-8") as file:
        fates = {row["ring"]: row["fate"] for row in csv.DictReader(file)}
    assert fates["SV03012"] == "on a bird"
    source = "demo/sallow-levels-2026.xlsx"
    assert (folder / source).read_bytes() == (NOTEBOOKS / source).read_bytes()


def test_it_stays_small(executed):
    notebook = nbformat.from_dict(json.loads(nbformat.writes(executed[0])))
    notebook.metadata.pop("widgets", None)
    assert len(nbformat.writes(notebook).encode()) <= MOST_KB * 1000
