"""Notebook 7 without a browser: it finds what was planted in its sheet, and reads well without a kernel."""

from __future__ import annotations

import pytest
from demo.make_measured import BAG_FORGOTTEN, EXCHANGED, HANDS, SHEET, text
from executed_notebook import execute

import audit


@pytest.fixture(scope="module")
def executed(tmp_path_factory):
    return execute("7_measure_again.ipynb", tmp_path_factory)


def test_the_sheet_is_what_its_script_writes():
    assert SHEET.read_text(encoding="utf-8") == text()


def test_what_was_planted_is_found():
    told = audit.measuring(SHEET, trainer="MK")
    wing, net = told.of("wing_mm"), told.of("net_g")
    # who reads long does so within the interval, and nobody else does; whose wings scatter is named
    lean = {wing.repeats.observers[bias.observer]: bias for bias in wing.without_odd.biases}
    assert lean["AB"].low < HANDS["AB"][0] < lean["AB"].high
    assert lean["AB"].low > 0
    assert lean["IP"].low < 0 < lean["IP"].high
    unsteady = dict(wing.without_odd.own)
    assert min(unsteady["IP"].low, HANDS["IP"][1]) > 1.5 > unsteady["MK"].high
    # both slips of the pen are found and named
    assert [odd.bird for odd in wing.odd] == [EXCHANGED[1]]
    assert [slip.kind for slip in wing.odd[0].slips] == ["neighbours"]
    assert [odd.bird for odd in net.odd] == [BAG_FORGOTTEN[1]]
    assert [slip.kind for slip in net.odd[0].slips] == ["bag"]


def test_every_cell_shows_something_and_none_complains(executed):
    code = [cell for cell in executed[0].cells if cell.cell_type == "code"]
    assert all(cell.outputs for cell in code)
    kinds = {output.output_type for cell in code for output in cell.outputs}
    assert kinds <= {"execute_result", "display_data"}


def test_the_page_with_its_pictures_is_there_without_a_kernel(executed):
    page = executed[0].cells[4].outputs[0].data["text/html"]
    assert "Wings: 1 bird stands out and should be looked up, AB reads 2.4 mm longer than MK" in page
    assert "Net masses: 1 bird stands out and should be looked up; beside that all goals are reached." in page
    assert "What to practise" in page
    assert page.count("<figure>") >= 5
    assert "<script" not in page
    assert "http:" not in page.replace("http://www.w3.org", "")
    picture = executed[0].cells[6].outputs[0].data
    assert "AB" in picture["text/plain"]
    assert picture["image/svg+xml"].startswith("<svg")


def test_a_blank_sheet_and_the_results_lie_beside_it(executed):
    names = {path.suffix for path in (executed[1] / "measured").glob("measure-again-*")}
    assert names == {".html", ".xlsx", ".csv"}
    assert {"measuring.html", "measuring.csv", "pairs.csv"} <= {
        path.name for path in (executed[1] / "measured").iterdir()
    }
