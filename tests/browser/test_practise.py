"""Notebook 6, driven as a person would: a sheet handed in, a round of each drill; and as saved."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

import audit
from audit.practice.weighing_drill.weighing import CELLS
from audit.practice.weighing_drill.words import HEADS

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from browser.conftest import Sheet
    from nbformat import NotebookNode
    from playwright.sync_api import Locator, Page

pytestmark = pytest.mark.browser

PROGRESS = "practice.progress.jsonl"


@pytest.fixture(scope="module")
def complaints() -> list[str]:
    return []


@pytest.fixture(scope="module")
def sheet(open_notebook: Callable[[str], Sheet], complaints: list[str]) -> Sheet:
    """The notebook with all cells run and nothing practised yet."""
    sheet = open_notebook("6_practise.ipynb")
    sheet.page.on("pageerror", lambda error: complaints.append(str(error)))
    sheet.run_all("No practice sheet has been marked yet.")
    return sheet


@pytest.fixture(scope="module")
def saved(sheet: Sheet) -> NotebookNode:
    """The notebook as saved then; a worker that runs one of these tests runs them all, in this order."""
    return sheet.saved()


@pytest.fixture
def page(sheet: Sheet, saved: NotebookNode, complaints: list[str]) -> Iterator[Page]:
    """The page to practise on; at the end nobody complained."""
    assert saved.cells
    yield sheet.page
    assert complaints == []
    assert sheet.strangers == []
    assert sheet.page.locator(".jp-mod-error, [data-mime-type='application/vnd.jupyter.stderr']").count() == 0


@pytest.fixture
def picture(page: Page, tmp_path: Path) -> Callable[..., object]:
    """Take a picture of the page, for whoever looks at it."""
    where = Path(os.environ.get("NESTPROOF_SCREENSHOTS", tmp_path))
    return lambda name, **wishes: page.screenshot(path=where / f"practise_{name}.png", **wishes)


def desk_of(page: Page, name: str) -> Locator:
    desk = page.locator(f".nestproof-{name}").last
    desk.scroll_into_view_if_needed()
    return desk


def press(desk: Locator, name: str) -> None:
    desk.get_by_role("button", name=name, exact=True).click()


def told(desk: Locator, text: str) -> None:
    desk.locator(".nestproof-told", has_text=text).wait_for()


def kept(sheet: Sheet) -> dict[str, object]:
    return json.loads((sheet.folder / PROGRESS).read_text(encoding="utf-8").splitlines()[-1])


def test_every_cell_shows_something_and_none_complains(saved: NotebookNode) -> None:
    code = [cell for cell in saved.cells if cell.cell_type == "code"]
    assert all(cell.outputs for cell in code)
    kinds = {output.output_type for cell in code for output in cell.outputs}
    assert kinds <= {"execute_result", "display_data"}


def test_the_sheet_is_there_without_a_kernel(saved: NotebookNode) -> None:
    page = saved.cells[1].outputs[0].data["text/html"]
    assert "What the columns mean" in page
    assert "There is 1 slip on this page." in page
    assert "No practice sheet has been marked yet." in saved.cells[-1].outputs[0].data["text/html"]


def test_the_sheet_on_paper_lies_beside_it_with_its_key_apart(sheet: Sheet) -> None:
    folder = sheet.folder / "practice"
    stem = "practice-AB-barn_owl-one_digit-1"
    assert sorted(path.name for path in folder.glob("*.*")) == [
        f"{stem}.{end}" for end in ("html", "pdf", "xlsx")
    ]
    assert sorted(path.name for path in (folder / "keys").iterdir()) == [
        f"{stem}.key.{end}" for end in ("html", "pdf")
    ]


def test_a_whole_round_of_practice(page: Page, sheet: Sheet, picture: Callable[..., object]) -> None:
    desk = desk_of(page, "practice")
    grid = desk.get_by_role("grid").first
    grid.wait_for()
    picture("first")
    assert "There is 1 slip on this page." in desk.inner_text()

    # the same sheet is at hand here, with its key
    exercise = audit.practise("AB").exercise
    ((place, change),) = exercise.changes.items()
    line, column = exercise.line(place[0]), exercise.fields.index(place[1])
    cell = grid.get_by_role("row").nth(line).get_by_role("gridcell").nth(column)
    assert cell.inner_text() == exercise.typed(place)
    cell.click()
    desk.get_by_text(f"Line {line}, ").first.wait_for()
    desk.get_by_label("Was meant", exact=True).fill(change.meant)
    desk.get_by_label("Was meant", exact=True).press("Enter")
    told(desk, "1 cell marked.")
    picture("marked")

    press(desk, "Hand in")
    desk.locator(".nestproof-result", has_text="You put it right.").wait_for()
    assert "The audit says:" in desk.inner_text()
    picture("result", full_page=True)
    assert kept(sheet)["kinds"][0]["mended"] == 1

    # the next sheet is handed in with nothing marked, which is asked about once
    press(desk, "Next sheet")
    desk.get_by_text("Practice sheet 2 for AB").first.wait_for()
    press(desk, "Hand in")
    told(desk, "Hand in once more")
    press(desk, "Hand in")
    desk.locator(".nestproof-result", has_text="You did not mark it.").wait_for()


def test_a_whole_round_of_each_drill(page: Page, sheet: Sheet, picture: Callable[..., object]) -> None:
    read_a_round(page, picture)
    assert (kept(sheet)["drill"], kept(sheet)["asked"], kept(sheet)["right"]) == ("reading", 6, 5)
    weigh_a_round(page, picture)
    assert (kept(sheet)["drill"], kept(sheet)["asked"], kept(sheet)["right"]) == ("weighing", 8, 7)
    age_a_round(page, picture)
    assert (kept(sheet)["drill"], kept(sheet)["asked"], kept(sheet)["right"]) == ("ageing", 12, 10)


def read_a_round(page: Page, picture: Callable[..., object]) -> None:
    """Each drawing goes after its time, and is typed back; one sign is lost."""
    desk = desk_of(page, "reading")
    picture("reading_start")
    desk.get_by_label("Seconds", exact=True).fill("1")
    desk.get_by_label("Seconds", exact=True).press("Enter")
    press(desk, "Show")
    shown = audit.read_practice("AB", numbers=6).round.shown
    for number, one in enumerate(shown, 1):
        told(desk, f"Number {number} of 6.")
        drawing = desk.locator(".nestproof-shown")
        assert drawing.locator("svg").get_attribute("aria-label") == one.says
        if number == 1:
            picture("reading")
            drawing.wait_for(state="hidden")
        field = desk.get_by_label("You read", exact=True)
        field.fill(one.meant if number > 1 else one.meant[:-1])
        field.press("Enter")
    told(desk, "The round is marked.")
    assert "1 of 6 numbers misread" in desk.inner_text()
    assert "a sign lost" in desk.inner_text()
    picture("reading_marked", full_page=True)


def weigh_a_round(page: Page, picture: Callable[..., object]) -> None:
    """One weighing after another is written down; of one the bag is not subtracted."""
    desk = desk_of(page, "weighing")
    picture("weighing_start")
    weighings = audit.practise_weighing("AB").round.weighings
    for number, one in enumerate(weighings, 1):
        desk.get_by_role("heading", name=f"Weighing {number} of 8", exact=True).wait_for()
        if number > 1:
            # the desk goes to the first mass last of all; what is typed before that would land there
            expect(desk.get_by_label(HEADS[CELLS[0]], exact=True)).to_be_focused()
        texts = {cell: f"{one.true(cell):g}" for cell in CELLS}
        if number == 1:
            texts["net"] = texts["gross"]
        for cell in CELLS:
            desk.get_by_label(HEADS[cell], exact=True).fill(texts[cell])
        if number == 5:
            picture("weighing_middle")
        press(desk, "Write down")
    told(desk, "All are written down.")
    press(desk, "Hand in")
    told(desk, "The round is marked.")
    assert "One slip: the bag was not subtracted." in desk.inner_text()
    picture("weighing_marked", full_page=True)
    # the next round begins with nothing written
    press(desk, "Next round")
    told(desk, "8 weighings lie ready.")
    assert "Weighing drill 2 for AB" in desk.inner_text()
    assert desk.get_by_label(HEADS["gross"], exact=True).input_value() == ""


def age_a_round(page: Page, picture: Callable[..., object]) -> None:
    """All ages and broods are answered at once; one bird is taken for far too old, one brood left out."""
    desk = desk_of(page, "ageing")
    picture("ageing_start")
    made = audit.practise_ageing("AB").round
    for number, bird in enumerate(made.nestlings, 1):
        off = 20 if number == 1 else 0
        desk.get_by_label(f"Nestling {number}: ").fill(f"{bird.age + off:.0f}")
    for number, brood in enumerate(made.broods[1:], 2):
        desk.get_by_label(f"Brood {number}: ").select_option(brood.verdict)
    first = made.nestlings[0].plumage
    assert first is not None
    assert f"Feathers: {first.says}" in desk.inner_text()
    picture("ageing_middle")
    press(desk, "Hand in")
    told(desk, "1 question not answered.")
    press(desk, "Hand in")
    told(desk, "The round is marked.")
    drawn = desk.locator(".nestproof-result svg")
    assert (drawn.locator(".inside").count(), drawn.locator(".outside").count()) == (8, 1)
    picture("ageing_marked", full_page=True)
