"""Notebook 5 without a browser: it runs, and what it leaves reads well without a kernel."""

from __future__ import annotations

import csv

import pytest
from demo.make_detections import LOG, text
from executed_notebook import NOTEBOOKS, execute

NAME = "5_box_antennas.ipynb"
PICTURE = "image/svg+xml"
#: Key of the slips that the demo season was given.
PLANTED = NOTEBOOKS.parent / "tests" / "demo" / "planted-slips.csv"


@pytest.fixture(scope="module")
def executed(tmp_path_factory):
    return execute(NAME, tmp_path_factory)


def test_the_stored_log_is_the_one_that_is_made():
    assert LOG.read_text(encoding="utf-8") == text()


def test_every_cell_shows_something_and_none_complains(executed):
    code = [cell for cell in executed[0].cells if cell.cell_type == "code"]
    assert all(cell.outputs for cell in code)
    kinds = {output.output_type for cell in code for output in cell.outputs}
    assert kinds <= {"execute_result", "display_data"}


def test_the_summary_tells_the_dead_spell_and_the_cautions(executed):
    said = executed[0].cells[1].outputs[0].data["text/plain"]
    assert "1 dead spell" in said
    assert "SL-57, inner antenna" in said
    assert "line 401: it has no moment" in said
    assert "no reason to go to a box" in said


def test_the_pictures_are_there_without_a_kernel(executed):
    pictures = [
        output.data
        for cell in executed[0].cells
        for output in cell.get("outputs", ())
        if PICTURE in output.data
    ]
    assert len(pictures) == 2
    assert "SL-57 inner dead" in pictures[0]["text/plain"]
    assert "night of 2026-06-23" in pictures[1]["text/plain"]


def test_the_antennas_confirm_two_slips_of_the_sheets(executed):
    with (executed[1] / "passages" / "findings.csv").open(encoding="utf-8", newline="") as stream:
        found = {line["cell"]: line for line in csv.DictReader(stream) if line["severity"] == "suspect"}
    with PLANTED.open(encoding="utf-8", newline="") as stream:
        planted = {line["true"] for line in csv.DictReader(stream) if line["field"] == "tag"}
    assert {line["rule"] for line in found.values()} == {"heard_life.another_heard"}
    assert {line["suggested"] for line in found.values()} == {"999104190068577", "999104190069518"}
    assert {line["suggested"] for line in found.values()} <= planted


def test_the_results_lie_beside_it(executed):
    folder = executed[1]
    assert sorted(path.name for path in (folder / "passages").iterdir()) == [
        "antenna_health.csv",
        "birds.csv",
        "findings.csv",
        "heard.csv",
        "passages.csv",
    ]
    stored = folder / "demo" / LOG.name
    assert stored.read_bytes() == (NOTEBOOKS / "demo" / LOG.name).read_bytes()
