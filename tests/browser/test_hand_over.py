"""Notebook 4, the whole way: the gate is shut, the last decision opens it, what went out is opened again."""

from __future__ import annotations

import csv
import hashlib
import os
from pathlib import Path
from typing import TYPE_CHECKING

import frictionless
import openpyxl
import pytest
from dwca.read import DwCAReader
from mended_demo import amendments, write_log
from playwright.sync_api import expect
from pypdf import PdfReader

import audit

if TYPE_CHECKING:
    from collections.abc import Callable

    from browser.conftest import Sheet

pytestmark = pytest.mark.browser

SEASON = "sallow-levels-2026"


def decide_all_but_one(folder: Path) -> Path:
    """Write the log of a desk at which a single slip, a bag not subtracted, was left."""
    demo = folder / "demo"
    season = audit.read_season(demo / f"{SEASON}.xlsx", schemas=demo / "schemas")
    log = demo / f"{SEASON}.decisions.jsonl"
    return write_log(log, amendments(season)[1:])


def test_the_last_decision_opens_the_gate_and_a_saved_gate_reads_well(
    open_notebook: Callable[[str], Sheet], folder: Path, tmp_path: Path
) -> None:
    log = decide_all_but_one(folder)
    book = folder / "demo" / f"{SEASON}.xlsx"
    typed = book.read_bytes()
    out = folder / "handover"
    sheet = open_notebook("4_hand_over.ipynb")
    page = sheet.page
    complaints: list[str] = []
    page.on("pageerror", lambda error: complaints.append(str(error)))
    where = Path(os.environ.get("NESTPROOF_SCREENSHOTS", tmp_path))

    sheet.run_all("Nothing was written; ask the gate above")
    shut = sheet.saved()
    # the list stands once; below it is only said that nothing was written
    (last,) = shut.cells[-1].outputs
    assert last.text.startswith("The gate is shut: 1 error")
    assert last.text.endswith("ask the gate above once more for what is left.\n")
    assert last.text.count("\n") == 1
    page.get_by_text("The gate is shut").last.scroll_into_view_if_needed()
    page.screenshot(path=where / "hand_over_shut.png")

    desk = page.locator(".nestproof-desk").last
    desk.get_by_role("grid").first.wait_for()
    expect(desk.locator(".nestproof-sentence")).to_contain_text("the bag was not subtracted")
    assert not out.exists()
    desk.locator(".widget-radio-box input").first.check()
    desk.get_by_label("Initials", exact=True).fill("IP")
    desk.get_by_role("button", name="Accept", exact=True).click()
    desk.locator(".nestproof-told", has_text="Accepted").wait_for()

    sheet.run_all("handed over, the gate was open")
    page.get_by_text("handed over, the gate was open").last.scroll_into_view_if_needed()
    page.screenshot(path=where / "hand_over_open.png")
    expect(page.locator(".jp-Notebook")).to_contain_text("to-verify.csv")
    assert book.read_bytes() == typed
    assert sheet.strangers == []
    assert complaints == []
    opened_again(out, log)

    # the gate as it was, for somebody who runs nothing
    sheet = open_notebook(sheet.from_elsewhere(shut))
    sheet.page.get_by_text("The gate is shut: 1 error").first.wait_for()
    sheet.page.screenshot(path=where / "hand_over_elsewhere.png")
    assert sheet.strangers == []


def opened_again(out: Path, log: Path) -> None:
    """Open what went out with readers that know nothing of this program."""
    for line in (out / "checksums.sha256").read_text(encoding="utf-8").splitlines():
        told, name = line.split("  ", 1)
        assert hashlib.sha256((out / name).read_bytes()).hexdigest() == told, name
    assert openpyxl.load_workbook(out / f"{SEASON}.clean.xlsx")["Ringing 2026"]["M18"].value == 310
    assert frictionless.Package(str(out / "tables" / "datapackage.json")).validate().valid
    with DwCAReader(str(next(out.rglob("*dwca*.zip")))) as archive:
        assert not any(any(rows.values()) for rows in archive.orphaned_extension_rows().values())
    assert len(PdfReader(out / f"{SEASON}.season.pdf").pages) > 1
    with (out / "changes.csv").open(encoding="utf-8", newline="") as stream:
        changes = {line["cell"]: line for line in csv.DictReader(stream)}
    assert (changes["M18"]["typed"], changes["M18"]["now"], changes["M18"]["who"]) == ("334", "310", "IP")
    assert len(log.read_text(encoding="utf-8").splitlines()) == len(changes)
