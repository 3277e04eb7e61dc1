"""Notebooks as they are committed: short, without outputs, and with the cautions first.

That they run, and read well once saved, is held in the browser (`tests/browser/`).
"""

from __future__ import annotations

from pathlib import Path

import nbformat
import pytest
from demo import make_detections, make_measured

NOTEBOOKS = Path(__file__).parents[2] / "notebooks"
MOST_LINES = 7
MOST_CELLS = {
    "1_check_a_season.ipynb": 11,
    "2_rings_and_tags.ipynb": 16,
    "3_decide.ipynb": 9,
    "4_hand_over.ipynb": 7,
    "5_box_antennas.ipynb": 12,
    "6_practise.ipynb": 12,
    "7_measure_again.ipynb": 9,
}


def test_every_notebook_is_looked_at():
    assert {path.name for path in NOTEBOOKS.glob("*.ipynb")} == MOST_CELLS.keys()


def test_the_stored_files_are_those_that_are_made():
    for made, path in ((make_detections, make_detections.LOG), (make_measured, make_measured.SHEET)):
        assert path.read_text(encoding="utf-8") == made.text()


@pytest.mark.parametrize("name", MOST_CELLS)
def test_it_is_committed_without_outputs_and_short(name):
    notebook = nbformat.read(NOTEBOOKS / name, as_version=4)
    nbformat.validate(notebook)
    assert len(notebook.cells) <= MOST_CELLS[name]
    for cell in notebook.cells:
        assert cell.get("outputs", []) == []
        assert len(cell.source.splitlines()) <= MOST_LINES
    assert "widgets" not in notebook.metadata
    assert "licence" in notebook.cells[0].source
