"""Notebook 5 in a browser: from a log to passages, two living pictures, and the files."""

from __future__ import annotations

import csv
import os
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from browser.conftest import Lab, Sheet

pytestmark = pytest.mark.browser


def test_from_a_log_to_passages(open_notebook: Callable[[str], Sheet], lab: Lab, tmp_path: Path) -> None:
    log = lab.folder / "demo" / "sallow-levels-2026.antennas.txt"
    logged = log.read_bytes()
    sheet = open_notebook("5_box_antennas.ipynb")
    sheet.run_all("heard.csv")
    page = sheet.page

    text = page.locator(".jp-Notebook").inner_text()
    assert "1 dead spell" in text
    assert "no reason to go to a box" in text
    pictures = page.locator(".vega-embed canvas, .vega-embed svg")
    pictures.nth(1).wait_for(timeout=60_000)
    where = Path(os.environ.get("NESTPROOF_SCREENSHOTS", tmp_path))
    for number, picture in enumerate(pictures.all()):
        picture.scroll_into_view_if_needed()
        page.screenshot(path=where / f"box_antennas_{number}.png")
    assert sheet.strangers == []
    assert page.locator(".jp-mod-error, [data-mime-type='application/vnd.jupyter.stderr']").count() == 0

    with (lab.folder / "passages" / "passages.csv").open(encoding="utf-8", newline="") as stream:
        passages = list(csv.DictReader(stream))
    assert {line["box"] for line in passages} == {"SL-01", "SL-57"}
    assert log.read_bytes() == logged
