"""Notebook 6 without a browser: it runs, and what it leaves reads well without a kernel."""

from __future__ import annotations

import pytest
from executed_notebook import execute

NAME = "6_practise.ipynb"


@pytest.fixture(scope="module")
def executed(tmp_path_factory):
    return execute(NAME, tmp_path_factory)


def test_every_cell_shows_something_and_none_complains(executed):
    code = [cell for cell in executed[0].cells if cell.cell_type == "code"]
    assert all(cell.outputs for cell in code)
    kinds = {output.output_type for cell in code for output in cell.outputs}
    assert kinds <= {"execute_result", "display_data"}


def test_the_sheet_is_there_without_a_kernel(executed):
    page = executed[0].cells[1].outputs[0].data["text/html"]
    assert "What the columns mean" in page
    assert "There is 1 slip on this page." in page


def test_the_sheet_on_paper_lies_beside_it_with_its_key_apart(executed):
    folder = executed[1] / "practice"
    stem = "practice-AB-barn_owl-one_digit-1"
    assert sorted(path.name for path in folder.glob("*.*")) == [
        f"{stem}.{end}" for end in ("html", "pdf", "xlsx")
    ]
    assert sorted(path.name for path in (folder / "keys").iterdir()) == [
        f"{stem}.key.{end}" for end in ("html", "pdf")
    ]
    assert "No practice sheet has been marked yet." in executed[0].cells[-1].outputs[0].data["text/html"]
