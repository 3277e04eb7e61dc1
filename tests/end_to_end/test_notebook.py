"""Notebook 1 without a browser: it runs, it is short, and what it leaves reads well without a kernel."""

from __future__ import annotations

import json
import re
from xml.etree import ElementTree as ET

import nbformat
import openpyxl
import pytest
from executed_notebook import NOTEBOOKS, execute

NAME = "1_check_a_season.ipynb"
MOST_CELLS = 11
#: What the executed notebook may weigh for everything but the state of its widgets, in KB.
MOST_KB = 700
WIDGET = "application/vnd.jupyter.widget-view+json"
PICTURE = "image/svg+xml"


@pytest.fixture(scope="module")
def executed(tmp_path_factory):
    return execute(NAME, tmp_path_factory)


@pytest.fixture(scope="module")
def outputs(executed):
    return [(cell.source, output) for cell in executed[0].cells for output in cell.get("outputs", ())]


def test_no_cell_complains(outputs):
    assert {output.output_type for _, output in outputs} <= {"execute_result", "display_data"}


def test_every_cell_of_code_shows_something(executed):
    assert all(cell.outputs for cell in executed[0].cells if cell.cell_type == "code")


def test_the_results_lie_beside_it(executed):
    notebook, folder = executed
    assert sorted(path.name for path in (folder / "checked").iterdir()) == [
        "findings.csv",
        "findings.json",
        "sallow-levels-2026.marked.xlsx",
        "sallow-levels-2026.report.html",
    ]
    marked = openpyxl.load_workbook(folder / "checked" / "sallow-levels-2026.marked.xlsx")
    assert "the bag was not subtracted" in " ".join(marked["Ringing 2026"]["M18"].comment.text.split())
    assert (folder / "demo" / "sallow-levels-2026.xlsx").read_bytes() == (
        NOTEBOOKS / "demo" / "sallow-levels-2026.xlsx"
    ).read_bytes()
    assert len(notebook.cells) <= MOST_CELLS


def test_every_output_can_be_read_as_text(outputs):
    for source, output in outputs:
        text = output.data["text/plain"]
        assert text.strip(), source
        # no names of classes, no addresses in memory, no dump of a record
        assert not re.search(r"<[\w.]+ object at|0x[0-9a-f]{6}|Widget\(|Box\(|Report\(|Finding\(", text), (
            source
        )
        assert len(text) < 20_000, source


def test_pictures_stand_still_too(outputs):
    pictures = [(source, output.data) for source, output in outputs if source.startswith("pictures")]
    assert len(pictures) == 3
    for source, data in pictures:
        root = ET.fromstring(data[PICTURE])  # noqa: S314 - our own drawing
        words = " ".join(node.text or "" for node in root.iter("{http://www.w3.org/2000/svg}text"))
        assert len(words) > 50, source
        assert "<script" not in data[PICTURE]
        assert not re.search(r"""href\s*=\s*["'](?!#)""", data[PICTURE])


def test_tables_and_rows_are_plain_pages(outputs):
    pages = {source.splitlines()[-1]: output.data.get("text/html", "") for source, output in outputs}
    assert "the bag was not subtracted" in pages["report"]
    assert "handlings" in pages["audit.contents(season)"]
    assert "<script" not in "".join(pages.values())


def test_it_stays_small(executed):
    notebook = nbformat.from_dict(json.loads(nbformat.writes(executed[0])))
    notebook.metadata.pop("widgets", None)
    assert len(nbformat.writes(notebook).encode()) <= MOST_KB * 1000
