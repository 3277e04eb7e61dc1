"""The grid in a notebook: chosen by hand, changed by the program, and out of the way of the notebook's keys.

Roles, states and keys are those of the grid pattern in the ARIA Authoring Practices of the W3C
(https://www.w3.org/WAI/ARIA/apg/patterns/grid/): grid, row, columnheader, rowheader and gridcell,
aria-rowcount and aria-rowindex where not all rows are in the page, arrow keys, Home and End, with Control the
first and last cell, Page Up and Page Down, one tab stop in all.
"""

from __future__ import annotations

import json
import os
import time
from pathlib import Path
from typing import TYPE_CHECKING

import nbformat
import pytest
from browser.conftest import PATIENCE

from audit.charts.palette import INK, PAPER, TONES

if TYPE_CHECKING:
    from collections.abc import Callable

    from browser.conftest import Sheet
    from playwright.sync_api import Locator, Page

pytestmark = pytest.mark.browser

SETUP = """
from IPython.display import HTML, display
from audit.review.exhibit import Line
from audit.review.grid import Grid, Head

heard = []
fields = ("ring", "tag", "box", "date", "ringer", "gross", "bag", "net", "wing", "note")
masses = ("gross", "bag", "net", "wing")
heads = [Head(field, field, "right" if field in masses else "left") for field in fields]

def sheet(count):
    return [
        Line(f"Ringing 2026!{row}", str(row), (
            f"BX{10000 + row}", f"999 00000000{row:04d}", f"SL-{row % 40 + 1:02d}", "14.06.2026",
            ("AB", "IP", "MK")[row % 3], str(400 + row % 50), "35", str(365 + row % 50), str(100 + row % 90),
            "" if row % 4 else "wet, and a remark that is longer than its column will ever be on any screen",
        ))
        for row in range(2, count + 2)
    ]
"""

WORKLIST = """
work = Grid(
    [Head("box", "box"), Head("said", "what was found", grow=True)],
    [Line(f"g{n}", str(n), (f"SL-{n % 40 + 1:02d}", "Two birds have this ring.")) for n in range(1, 2001)],
    caption="2,000 findings", place_head="no.", state_head="state", whole_lines=True,
    row_marks={f"g{n}": "open" for n in range(1, 2001)}, bound_keys=["a", "Enter", "?", "Shift+n"], height=10,
)
work.on_key(heard.append)
work
"""

ODD = """
display(HTML(f'<div class="nestproof-still">What can be read without a program</div>'))
lines = sheet(60)
texts = list(lines[4].texts)
texts[0], texts[9] = "<b>bold</b><img src=x onerror=alert(1)>", "a\\x00b\\u202ec\\nd"
lines[4] = Line(lines[4].label, lines[4].place, tuple(texts))
texts = list(lines[6].texts)
texts[7] = ""
lines[6] = Line(lines[6].label, lines[6].place, tuple(texts))
rows = Grid(heads, lines, caption="Ringing 2026 as typed", height=14, marks={
    ("Ringing 2026!5", "net"): "error", ("Ringing 2026!5", "gross"): "witness",
    ("Ringing 2026!7", "wing"): "note", ("Ringing 2026!8", "net"): "suspect",
    ("Ringing 2026!9", "ring"): "amended",
    ("Ringing 2026!9", "net"): "suspect amended",
}, row_marks={"Ringing 2026!9": "decided"})
rows
"""


@pytest.fixture
def opened(open_notebook: Callable[[str], Sheet], folder: Path) -> Callable[..., Sheet]:
    def made(name: str, *cells: str) -> Sheet:
        notebook = nbformat.v4.new_notebook(
            metadata={"kernelspec": {"name": "python3", "display_name": "Python 3", "language": "python"}}
        )
        notebook.cells = [nbformat.v4.new_code_cell(text) for text in (SETUP, *cells, 'print("all", "done")')]
        nbformat.write(notebook, folder / name)
        sheet = open_notebook(name)
        sheet.run_all("all done")
        sheet.page.locator(".nestproof-grid .line .cell").first.wait_for()
        return sheet

    return made


def ask(page: Page, code: str) -> object:
    """Evaluate an expression in the kernel of the notebook."""
    told = page.evaluate(
        """async code => {
            const kernel = window.jupyterapp.shell.currentWidget.sessionContext.session.kernel;
            let [told, wrong] = ['', ''];
            const asked = kernel.requestExecute({ code, store_history: false });
            asked.onIOPub = message => {
                if (message.header.msg_type === 'stream') told += message.content.text;
                if (message.header.msg_type === 'error') wrong = message.content.traceback.join(' | ');
            };
            await asked.done;
            if (wrong) throw new Error(wrong);
            return told;
        }""",
        f"import json; print(json.dumps({code}))",
    )
    return json.loads(told)


def do(page: Page, statement: str) -> None:
    ask(page, f"[exec({statement!r}), 0][1]")


def wait_for(page: Page, code: str, wanted: object) -> None:
    deadline = time.monotonic() + PATIENCE
    while time.monotonic() < deadline:
        found = ask(page, code)
        if found == wanted:
            return
        page.wait_for_timeout(50)
    raise AssertionError(f"{code} is {found!r}, not {wanted!r}")


def here(page: Page) -> list[str]:
    """Line and column number that the keyboard stands on."""
    return page.evaluate(
        """() => {
            const cell = document.activeElement.closest('.cell');
            const line = cell?.parentNode;
            return cell ? [line.dataset.label, String([...line.children].indexOf(cell))] : null;
        }"""
    )


def in_sight(line: Locator) -> bool:
    return line.evaluate(
        """node => {
            const scroll = node.closest('.scroll');
            const [own, all, head] = [node, scroll, scroll.querySelector('.head')]
                .map(one => one.getBoundingClientRect());
            return own.top >= head.bottom - 1 && own.bottom <= all.bottom + 1;
        }"""
    )


def test_a_line_is_chosen_by_click_and_by_keyboard(opened: Callable[..., Sheet]) -> None:
    page = opened("grid_keys.ipynb", WORKLIST).page
    grid = page.get_by_role("grid", name="2,000 findings")
    assert grid.get_attribute("aria-rowcount") == "2001"
    assert grid.get_by_role("columnheader").all_inner_texts() == ["no.", "state", "box", "what was found"]
    assert ask(page, "work.chosen") == ""

    grid.get_by_role("row").nth(3).get_by_role("gridcell").nth(1).click()
    wait_for(page, "[work.chosen, work.chosen_key]", ["g3", ""])
    for key, wanted in (
        ("ArrowDown", ["g4", "2"]),
        ("ArrowRight", ["g4", "3"]),
        ("ArrowRight", ["g4", "3"]),
        ("ArrowUp", ["g3", "3"]),
        ("Home", ["g3", "0"]),
        ("ArrowLeft", ["g3", "0"]),
        ("End", ["g3", "3"]),
        ("Control+End", ["g2000", "3"]),
        ("ArrowDown", ["g2000", "3"]),
        ("PageUp", ["g1991", "3"]),
        ("Control+Home", ["g1", "0"]),
        ("ArrowUp", ["g1", "0"]),
        ("PageDown", ["g10", "0"]),
    ):
        page.keyboard.press(key)
        assert here(page) == wanted, key
        chosen = grid.locator(f'[data-label="{wanted[0]}"]')
        assert chosen.get_attribute("aria-selected") == "true"
        assert chosen.get_attribute("aria-rowindex") == str(int(wanted[0][1:]) + 1)
        assert in_sight(chosen)
        assert grid.locator('[aria-selected="true"]').count() == 1
        assert grid.locator('[tabindex="0"]').count() == 1
        assert grid.get_by_role("row").count() < 40
        # for those who read in the order of the page
        order = [int(line.get_attribute("aria-rowindex")) for line in grid.locator(".line").all()]
        assert order == sorted(order)
    wait_for(page, "work.chosen", "g10")

    # chosen by the program: in sight, and the keyboard goes with it
    do(page, "work.chosen = 'g1500'")
    page.wait_for_function("() => document.activeElement.closest('.line')?.dataset.label === 'g1500'")
    assert in_sight(grid.locator('[data-label="g1500"]'))
    # scrolled away, the line that has the keyboard stays in the page
    grid.evaluate("node => { node.scrollTop = 0; }")
    grid.locator('[data-label="g1"]').wait_for()
    assert here(page) == ["g1500", "0"]
    page.keyboard.press("ArrowDown")
    assert here(page) == ["g1501", "0"]
    assert in_sight(grid.locator('[data-label="g1501"]'))

    # the wheel goes through all lines
    grid.evaluate("node => { node.scrollTop = node.scrollHeight; }")
    grid.locator('[data-label="g2000"]').wait_for()
    assert in_sight(grid.locator('[data-label="g2000"]'))

    # Tab leaves, and comes back to the same line
    page.keyboard.press("Tab")
    assert here(page) is None
    page.keyboard.press("Shift+Tab")
    assert here(page) == ["g1501", "0"]


def test_the_keys_of_the_notebook_stay_out(opened: Callable[..., Sheet]) -> None:
    page = opened("grid_shortcuts.ipynb", WORKLIST).page
    keys_stay_out(page)
    # as Notebook 7 does it: shortcuts are looked up before the key reaches what has the keyboard
    page.evaluate(
        """() => document.addEventListener(
            'keydown', event => { window.jupyterapp.commands.processKeydownEvent(event); }, true)"""
    )
    do(page, "heard.clear()")
    keys_stay_out(page)


def keys_stay_out(page: Page) -> None:
    notebook = """() => window.jupyterapp.shell.currentWidget.content.model.toJSON()
        .cells.map(cell => [cell.cell_type, cell.source])"""
    before = page.evaluate(notebook)
    counts = "() => [...document.querySelectorAll('.jp-InputPrompt')].map(node => node.innerText)"
    ran = page.evaluate(counts)
    page.locator(".nestproof-grid .line").first.locator(".cell").first.click()
    for key in (
        "ArrowDown",
        "ArrowUp",
        "x",
        "d",
        "d",
        "b",
        "m",
        "y",
        "r",
        "z",
        "c",
        "v",
        "j",
        "k",
        "1",
        "Escape",
        " ",
    ):
        page.keyboard.press(key)
    for key in (
        "Shift+Enter",
        "Control+Enter",
        "Shift+ArrowDown",
        "Shift+m",
        "Control+Shift+ArrowUp",
        "Delete",
        "0",
        "0",
    ):
        page.keyboard.press(key)
    assert ask(page, "heard") == []
    assert here(page) == ["g1", "0"]
    page.wait_for_timeout(300)  # time for what must not happen
    assert page.evaluate(notebook) == before
    assert page.evaluate(counts) == ran

    # keys that are asked for are handed over, one held down only once
    wait_for(page, "work.chosen", "g1")
    page.wait_for_timeout(400)
    page.keyboard.down("a")
    page.keyboard.down("a")
    page.keyboard.down("a")
    page.keyboard.up("a")
    page.keyboard.press("Shift+a")
    page.keyboard.press("Enter")
    page.keyboard.press("?")
    page.keyboard.press("Shift+n")
    wait_for(page, "[one.key for one in heard]", ["a", "Enter", "?", "Shift+n"])
    assert (
        ask(page, "[[one.line, one.column, one.looked_at, one.rested > .3] for one in heard]")
        == [["g1", "", True, True]] * 4
    )
    assert page.evaluate(notebook) == before

    # saving is the notebook's
    page.evaluate("() => { window.jupyterapp.shell.currentWidget.context.model.dirty = true; }")
    page.keyboard.press("Control+s")
    page.wait_for_function("() => !window.jupyterapp.shell.currentWidget.context.model.dirty")
    assert here(page) == ["g1", "0"]


def test_all_views_show_what_the_program_says(opened: Callable[..., Sheet]) -> None:
    sheet = opened(
        "grid_views.ipynb",
        WORKLIST,
        "import ipywidgets\nsecond = ipywidgets.Output()\nwith second:\n    display(work)\nsecond",
    )
    page = sheet.page
    grids = page.locator(".nestproof-grid")
    grids.nth(1).locator('[data-label="g5"]').wait_for()
    grids.nth(0).locator('[data-label="g5"] .cell').nth(2).click()
    grids.nth(1).locator('[data-label="g5"][aria-selected="true"]').wait_for()
    do(page, "work.change('g5', row_mark='decided', texts=('SL-99', 'Amended.'), marks={'box': 'amended'})")
    for view in grids.all():
        line = view.locator('[data-label="g5"]')
        line.get_by_text("Amended.").wait_for()
        assert line.locator(".cell").all_inner_texts() == ["5", "decided", "SL-99", "Amended."]
        assert line.locator(".cell").nth(2).get_attribute("aria-label") == "amended: SL-99"
    # what changes does not take the keyboard away
    assert here(page) == ["g5", "2"]

    # one view closed, the other goes on
    do(page, "second.clear_output()")
    page.wait_for_function("() => document.querySelectorAll('.nestproof-grid').length === 1")
    do(page, "work.chosen = 'g1200'")
    page.locator('.nestproof-grid [data-label="g1200"][aria-selected="true"]').wait_for()

    # other lines while the keyboard is here: it stays here
    do(
        page,
        "work.show([Head('x', 'x')], [Line(f'n{n}', str(n), ('new',)) for n in range(50)], caption='New')",
    )
    page.get_by_role("grid", name="New").locator('[data-label="n0"]').wait_for()
    assert page.get_by_role("grid", name="New").get_attribute("aria-rowcount") == "51"
    assert ask(page, "work.chosen") == ""
    page.wait_for_function("() => document.activeElement.closest('.nestproof-grid')")
    do(page, "work.show([Head('x', 'x')], [], caption='None')")
    page.get_by_text("Nothing here.").wait_for()
    do(
        page,
        "work.show([Head('x', 'x')], [Line(f'n{n}', str(n), ('new',)) for n in range(50)], chosen='n40')",
    )
    page.locator('[data-label="n40"][aria-selected="true"]').wait_for()
    do(page, "work.change('n40', row_mark='asked')")

    # the page is loaded again, the kernel lives on
    page.evaluate("async () => { await window.jupyterapp.commands.execute('docmanager:save'); }")
    page.reload()
    line = page.locator('.nestproof-grid [data-label="n40"]').first
    line.wait_for()
    assert line.get_attribute("aria-selected") == "true"
    assert line.locator(".cell").all_inner_texts() == ["40", "asked", "new"]
    assert in_sight(line)
    assert sheet.strangers == []


def test_marks_are_seen_and_told_and_texts_stay_texts(opened: Callable[..., Sheet], tmp_path: Path) -> None:
    sheet = opened("grid_marks.ipynb", ODD)
    page = sheet.page
    grid = page.get_by_role("grid", name="Ringing 2026 as typed")
    grid.scroll_into_view_if_needed()
    # the living grid takes the place of what is there for readers without a program
    still = page.get_by_text("What can be read without a program", exact=True)
    assert still.is_hidden()
    told = {
        cell.get_attribute("aria-label"): cell.evaluate(
            """node => {
                const box = getComputedStyle(node);
                const line = getComputedStyle(node.firstChild);
                return [box.borderTopStyle, line.textDecorationStyle, box.backgroundColor, box.color];
            }"""
        )
        for cell in grid.locator("[data-mark]").all()
    }
    assert list(told) == [
        "witness: 405",
        "error: 370",
        "note: 107",
        "suspect: (empty)",
        "amended: BX10009",
        "suspect, amended: 374",
    ]
    looks = [tuple(look[:2]) for name, look in told.items() if "amended" not in name]
    assert len(set(looks)) == len(looks)
    assert told["error: 370"] == ["solid", "double", rgb(TONES["error"].fill), rgb(INK)]
    assert told["suspect: (empty)"] == ["dashed", "wavy", rgb(TONES["suspect"].fill), rgb(INK)]
    assert told["note: 107"] == ["dotted", "dotted", rgb(TONES["note"].fill), rgb(INK)]
    assert told["suspect, amended: 374"] == told["suspect: (empty)"]

    odd = grid.locator('[data-label="Ringing 2026!6"] .cell')
    assert odd.nth(1).inner_text() == "<b>bold</b><img src=x onerror=alert(1)>"
    assert odd.nth(10).inner_text() == "a\ufffdb\ufffdc↵d"
    assert grid.locator("b, img, script").count() == 0
    # the state of a line is told where no column has it
    assert (
        grid.locator('[data-label="Ringing 2026!9"] .cell').first.get_attribute("aria-label") == "9, decided"
    )

    # a cut text is whole in its title
    cut = grid.locator('[data-label="Ringing 2026!4"] .cell').last
    cut.scroll_into_view_if_needed()
    cut.hover()
    assert cut.get_attribute("title").endswith("on any screen")

    # a cell is chosen, and goes with a click and the keyboard
    grid.get_by_role("gridcell", name="error: 370").click()
    wait_for(page, "[rows.chosen, rows.chosen_key]", ["Ringing 2026!5", "net"])
    page.keyboard.press("ArrowRight")
    wait_for(page, "[rows.chosen, rows.chosen_key]", ["Ringing 2026!5", "wing"])
    assert grid.locator(".cell[aria-selected='true']").inner_text() == "105"
    page.keyboard.press("Home")
    wait_for(page, "[rows.chosen, rows.chosen_key]", ["Ringing 2026!5", ""])
    assert grid.locator(".line[aria-selected='true']").get_attribute("data-label") == "Ringing 2026!5"

    where = Path(os.environ.get("NESTPROOF_SCREENSHOTS", tmp_path))
    page.screenshot(path=where / "grid_light.png")
    # narrow: it scrolls within itself, and the place stays in sight
    page.set_viewport_size({"width": 640, "height": 700})
    page.evaluate("() => { window.jupyterapp.shell.collapseLeft(); }")
    grid.evaluate("node => { node.scrollLeft = 300; }")
    page.wait_for_timeout(200)
    edge = grid.bounding_box()
    place = grid.locator('[data-label="Ringing 2026!5"] .cell').first.bounding_box()
    assert abs(place["x"] - edge["x"]) <= 1
    assert page.evaluate("() => document.querySelector('.jp-Notebook').scrollWidth <= innerWidth")
    page.screenshot(path=where / "grid_narrow.png")
    # paper stays paper in the dark
    page.set_viewport_size({"width": 1400, "height": 1000})
    page.evaluate(
        """async () => {
            await window.jupyterapp.commands.execute('apputils:change-theme', { theme: 'JupyterLab Dark' });
        }"""
    )
    page.wait_for_function("() => document.body.dataset.jpThemeLight === 'false'")
    assert grid.locator(".cell").last.evaluate(
        "node => [getComputedStyle(node).color, getComputedStyle(node.parentNode).backgroundColor]"
    ) == [rgb(INK), rgb(PAPER)]
    page.screenshot(path=where / "grid_dark.png")
    do(page, "rows.close()")
    still.wait_for()
    assert sheet.strangers == []


def rgb(colour: str) -> str:
    return f"rgb({', '.join(str(int(colour[at : at + 2], 16)) for at in (1, 3, 5))})"


def test_twenty_thousand_rows_are_walked_through(opened: Callable[..., Sheet]) -> None:
    page = opened(
        "grid_large.ipynb", "rows = Grid(heads, sheet(20_000), caption='All', height=20)\nrows"
    ).page
    grid = page.get_by_role("grid", name="All")
    grid.locator(".line .cell").first.click()
    page.keyboard.press("Control+End")
    last = grid.locator('[data-label="Ringing 2026!20001"]')
    assert in_sight(last)
    assert last.locator(".cell").nth(1).inner_text() == "BX30001"
    wait_for(page, "rows.chosen", "Ringing 2026!20001")
    assert grid.locator(".line").count() < 60
