"""A blank sheet as files: a page to print, a workbook and a table to type into."""

from __future__ import annotations

import csv
from typing import TYPE_CHECKING

from audit.handover.folder import write_whole
from audit.practice.measuring.blank import GIVEN
from audit.practice.measuring.blank_page import blank_page
from audit.practice.measuring.blank_words import heading
from audit.practice.measuring.workbook import write_blank_workbook

if TYPE_CHECKING:
    from pathlib import Path

    from audit.practice.measuring.blank import Blank

__all__ = ["write_blank"]


def write_blank(blank: Blank, out: Path, *, paper: str = "a4") -> list[Path]:
    """Write ``<name>.html`` to print, ``<name>.xlsx`` and ``<name>.csv`` to type into.

    A workbook or table that is there already is left as it is: somebody may have typed into it. Its name
    holds the code of the round, so that it is of the same birds in the same order.

    Returns
    -------
    list of Path
        What was written.

    Raises
    ------
    audit.refusal.Refusal
        The folder cannot be written to, or there is no such paper.
    """
    page = blank_page(blank, paper)
    writers = {
        f"{blank.name}.html": lambda path: path.write_text(page, encoding="utf-8", newline="\n"),
        f"{blank.name}.xlsx": lambda path: write_blank_workbook(blank, path),
        f"{blank.name}.csv": lambda path: _write_table(blank, path),
    }
    kept = {
        name: write for name, write in writers.items() if name.endswith(".html") or not (out / name).exists()
    }
    return write_whole(kept, out, ())


def _write_table(blank: Blank, path: Path) -> None:
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        heads = [heading(field) for field in blank.fields]
        writer.writerow((*GIVEN, *heads, "remarks"))
        empty = [""] * (len(heads) + 1)
        writer.writerows(
            (bird, page.observer, page.repeat, *empty) for page in blank.pages for bird in page.birds
        )
