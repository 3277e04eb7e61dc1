"""Repeated measures as files: a page, the figures, the pairs."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.handover.folder import write_whole
from audit.handover.table_file import write_table
from audit.practice.measuring.figures import COLUMNS, PAIR_COLUMNS, figure_rows, pair_rows
from audit.practice.measuring.page import measuring_page

if TYPE_CHECKING:
    from pathlib import Path

    from audit.practice.measuring.record import Measuring

__all__ = ["write_measuring"]


def write_measuring(measuring: Measuring, out: Path) -> list[Path]:
    """Write ``measuring.html``, ``measuring.csv`` and ``pairs.csv``: all or none.

    Parameters
    ----------
    out : Path
        Folder for the results, made when it is not there.

    Raises
    ------
    audit.refusal.Refusal
        The folder cannot be written to, or a result would replace the sheet.
    """
    accounts = measuring.accounts
    writers = {
        "measuring.html": lambda path: path.write_text(
            measuring_page(measuring), encoding="utf-8", newline="\n"
        ),
        "measuring.csv": lambda path: write_table(
            path, (COLUMNS, *(row for a in accounts for row in figure_rows(a)))
        ),
        "pairs.csv": lambda path: write_table(
            path, (PAIR_COLUMNS, *(row for a in accounts for row in pair_rows(a)))
        ),
    }
    return write_whole(writers, out, (measuring.sheet.source,))
