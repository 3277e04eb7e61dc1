"""Notebook 5 in a browser: from a log to passages, three living pictures, and files; then read as saved."""

from __future__ import annotations

import csv
import datetime as dt
import os
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from audit.checking import read_season
from audit.declarations import load_declarations
from audit.models.growth import age_of

if TYPE_CHECKING:
    from collections.abc import Callable

    from browser.conftest import Sheet
    from nbformat import NotebookNode

pytestmark = pytest.mark.browser

LOG = Path(__file__).parents[2] / "notebooks" / "demo" / "sallow-levels-2026.antennas.txt"
PICTURE = "image/svg+xml"
#: Key of the slips that the demo season was given.
PLANTED = Path(__file__).parents[1] / "demo" / "planted-slips.csv"


@pytest.fixture(scope="module")
def sheet(open_notebook: Callable[[str], Sheet]) -> Sheet:
    sheet = open_notebook("5_box_antennas.ipynb")
    sheet.run_all("heard.csv")
    return sheet


@pytest.fixture(scope="module")
def saved(sheet: Sheet) -> NotebookNode:
    return sheet.saved()


def test_from_a_log_to_passages(sheet: Sheet, tmp_path: Path) -> None:
    page = sheet.page
    text = page.locator(".jp-Notebook").inner_text()
    assert "1 dead spell" in text
    assert "no reason to go to a box" in text
    pictures = page.locator(".vega-embed canvas, .vega-embed svg")
    pictures.nth(2).wait_for()
    where = Path(os.environ.get("NESTPROOF_SCREENSHOTS", tmp_path))
    for number, picture in enumerate(pictures.all()):
        picture.scroll_into_view_if_needed()
        page.screenshot(path=where / f"box_antennas_{number}.png")
    assert sheet.strangers == []
    assert page.locator(".jp-mod-error, [data-mime-type='application/vnd.jupyter.stderr']").count() == 0


def test_the_results_lie_beside_it(sheet: Sheet) -> None:
    assert sorted(path.name for path in (sheet.folder / "passages").iterdir()) == [
        "antenna_efficiency.csv",
        "antenna_health.csv",
        "birds.csv",
        "findings.csv",
        "heard.csv",
        "passages.csv",
    ]
    with (sheet.folder / "passages" / "passages.csv").open(encoding="utf-8", newline="") as stream:
        passages = list(csv.DictReader(stream))
    assert {line["box"] for line in passages} == {"SL-01", "SL-57"}
    assert (sheet.folder / "demo" / LOG.name).read_bytes() == LOG.read_bytes()


def test_the_antennas_confirm_two_slips_of_the_sheets(sheet: Sheet) -> None:
    with (sheet.folder / "passages" / "findings.csv").open(encoding="utf-8", newline="") as stream:
        found = {line["cell"]: line for line in csv.DictReader(stream) if line["severity"] == "suspect"}
    with PLANTED.open(encoding="utf-8", newline="") as stream:
        planted = {line["true"] for line in csv.DictReader(stream) if line["field"] == "tag"}
    assert {line["rule"] for line in found.values()} == {"heard_life.another_heard"}
    assert {line["suggested"] for line in found.values()} == {"999104190068577", "999104190069518"}
    assert {line["suggested"] for line in found.values()} <= planted


def test_nestlings_fly_at_the_age_of_barn_owls(sheet: Sheet, saved: NotebookNode) -> None:
    with (sheet.folder / "passages" / "birds.csv").open(encoding="utf-8", newline="") as stream:
        flown = [line for line in csv.DictReader(stream) if line["first_flight"]]
    season = read_season(sheet.folder / "demo" / "sallow-levels-2026.xlsx").frame("handlings")
    wing = season.set_index("ring")["wing_mm"]
    curve = load_declarations().species["barn_owl"].curves["wing_mm"]
    ages = []
    for line in flown:
        days = dt.datetime.fromisoformat(line["first_flight"]) - dt.datetime.fromisoformat(line["fitted"])
        ages.append(float(age_of(curve, wing[line["ring"]])) + days.days)
    # accounts of 50 to 60 days; an age read off a wing is right to some days
    assert len(ages) == 6
    assert min(ages) > 48
    assert max(ages) < 62
    said = saved.cells[7].outputs[0].data["text/plain"]
    assert "a first flight is told of 6 of 279 nestlings, " in said
    assert "over 99 %" in saved.cells[9].outputs[0].data["text/html"]


def test_every_cell_shows_something_and_none_complains(saved: NotebookNode) -> None:
    code = [cell for cell in saved.cells if cell.cell_type == "code"]
    assert all(cell.outputs for cell in code)
    kinds = {output.output_type for cell in code for output in cell.outputs}
    assert kinds <= {"execute_result", "display_data"}


def test_the_summary_tells_the_dead_spell_and_the_cautions(saved: NotebookNode) -> None:
    said = saved.cells[1].outputs[0].data["text/plain"]
    assert "1 dead spell" in said
    assert "SL-57, inner antenna" in said
    assert "line 401: it has no moment" in said
    assert "no reason to go to a box" in said


def test_the_pictures_are_there_without_a_kernel(saved: NotebookNode) -> None:
    pictures = [
        output.data for cell in saved.cells for output in cell.get("outputs", ()) if PICTURE in output.data
    ]
    assert len(pictures) == 3
    assert "SL-57 inner dead" in pictures[0]["text/plain"]
    assert "SL-57 inner 0.95 of 613" in pictures[1]["text/plain"]
    assert "night of 2026-06-23" in pictures[2]["text/plain"]
