"""Notebook 6, driven as a person would: a sheet marked and handed in, and a whole round of each drill."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

import audit
from audit.practice.weighing_drill.weighing import CELLS
from audit.practice.weighing_drill.words import HEADS

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from browser.conftest import Lab, Sheet
    from playwright.sync_api import Locator, Page

pytestmark = pytest.mark.browser

PROGRESS = "practice.progress.jsonl"


@pytest.fixture
def page(open_notebook: Callable[[str], Sheet], lab: Lab) -> Iterator[Page]:
    """The notebook with all cells run and nothing practised yet; at the end nobody complained."""
    (lab.folder / PROGRESS).unlink(missing_ok=True)
    sheet = open_notebook("6_practise.ipynb")
    complaints: list[str] = []
    sheet.page.on("pageerror", lambda error: complaints.append(str(error)))
    sheet.run_all("No practice sheet has been marked yet.")
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
    desk.locator(".nestproof-told", has_text=text).wait_for(timeout=60_000)


def kept(lab: Lab) -> dict[str, object]:
    return json.loads((lab.folder / PROGRESS).read_text(encoding="utf-8").splitlines()[-1])


def test_a_whole_round_of_practice(page: Page, lab: Lab, picture: Callable[..., object]) -> None:
    desk = desk_of(page, "practice")
    grid = desk.get_by_role("grid").first
    grid.wait_for(timeout=60_000)
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
    desk.locator(".nestproof-result", has_text="You put it right.").wait_for(timeout=60_000)
    assert "The audit says:" in desk.inner_text()
    picture("result", full_page=True)
    assert kept(lab)["kinds"][0]["mended"] == 1

    # the next sheet is handed in with nothing marked, which is asked about once
    press(desk, "Next sheet")
    desk.get_by_text("Practice sheet 2 for AB").first.wait_for(timeout=60_000)
    press(desk, "Hand in")
    told(desk, "Hand in once more")
    press(desk, "Hand in")
    desk.locator(".nestproof-result", has_text="You did not mark it.").wait_for(timeout=60_000)


def test_a_whole_round_of_each_drill(page: Page, lab: Lab, picture: Callable[..., object]) -> None:
    read_a_round(page, picture)
    assert (kept(lab)["drill"], kept(lab)["asked"], kept(lab)["right"]) == ("reading", 6, 5)
    weigh_a_round(page, picture)
    assert (kept(lab)["drill"], kept(lab)["asked"], kept(lab)["right"]) == ("weighing", 8, 7)
    age_a_round(page, picture)
    assert (kept(lab)["drill"], kept(lab)["asked"], kept(lab)["right"]) == ("ageing", 12, 10)


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
            drawing.wait_for(state="hidden", timeout=20_000)
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
        desk.get_by_role("heading", name=f"Weighing {number} of 8", exact=True).wait_for(timeout=60_000)
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
