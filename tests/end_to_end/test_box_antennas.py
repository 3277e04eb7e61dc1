"""Notebook 5 without a browser: it runs, and what it leaves reads well without a kernel."""

from __future__ import annotations

import pytest
from demo.make_detections import LOG, text
from executed_notebook import NOTEBOOKS, execute

NAME = "5_box_antennas.ipynb"
PICTURE = "image/svg+xml"


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
    assert "SL-02, inner antenna" in said
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
    assert "SL-02 inner dead" in pictures[0]["text/plain"]
    assert "night of 2026-05-08" in pictures[1]["text/plain"]


def test_the_results_lie_beside_it(executed):
    folder = executed[1]
    assert sorted(path.name for path in (folder / "passages").iterdir()) == [
        "antenna_health.csv",
        "passages.csv",
    ]
    stored = folder / "demo" / LOG.name
    assert stored.read_bytes() == (NOTEBOOKS / "demo" / LOG.name).read_bytes()
