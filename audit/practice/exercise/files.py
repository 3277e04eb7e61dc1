"""Files of practice: the sheet to print and to fill in, its key apart, the result, the overview."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.handover.folder import write_whole
from audit.practice.exercise.aids import aids_of
from audit.practice.exercise.overview_page import overview_page
from audit.practice.exercise.print import print_sheet
from audit.practice.exercise.result_page import result_page
from audit.practice.exercise.sheet_page import key_page, sheet_page
from audit.practice.exercise.workbook import write_workbook

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from audit.declarations import Declarations
    from audit.practice.exercise.exercise import Exercise
    from audit.practice.exercise.overview import Overview
    from audit.practice.exercise.score import Score

__all__ = ["KEYS", "write_overview", "write_result", "write_sheet"]

#: Folder of the keys, inside that of the sheets: nobody comes upon them by accident.
KEYS = "keys"


def write_sheet(exercise: Exercise, declared: Declarations, out: Path, *, paper: str = "a4") -> list[Path]:
    """Write a practice sheet and, in a folder of its own, its key.

    Returns
    -------
    list of Path
        ``<name>.xlsx``, ``.html`` and ``.pdf``; ``keys/<name>.key.html`` and ``.key.pdf``, which is the sheet
        with its key on a last page.

    Raises
    ------
    audit.refusal.Refusal
        The folder cannot be written to, or there is no such paper.
    """
    aids = aids_of(exercise, declared)
    sheet, keyed = (print_sheet(exercise, aids, paper=paper, key=key) for key in (False, True))
    name = exercise.name
    written = write_whole(
        {
            f"{name}.xlsx": lambda path: write_workbook(exercise, aids, path),
            f"{name}.html": lambda path: _write(path, sheet_page(exercise, aids)),
            f"{name}.pdf": lambda path: path.write_bytes(sheet),
        },
        out,
        (),
    )
    return written + write_whole(
        {
            f"{name}.key.html": lambda path: _write(path, key_page(exercise)),
            f"{name}.key.pdf": lambda path: path.write_bytes(keyed),
        },
        out / KEYS,
        (),
    )


def write_result(
    score: Score, titles: Mapping[str, str], advice: str, out: Path, inputs: Sequence[Path]
) -> list[Path]:
    """Write what came of a marked sheet: ``<name>.result.html``.

    Raises
    ------
    audit.refusal.Refusal
        The folder cannot be written to, or the result would replace a file that was read.
    """
    page = result_page(score, titles, advice)
    return write_whole({f"{score.exercise.name}.result.html": lambda path: _write(path, page)}, out, inputs)


def write_overview(overview: Overview, out: Path) -> list[Path]:
    """Write the trainer's overview: ``practice.overview.html``.

    Raises
    ------
    audit.refusal.Refusal
        The folder cannot be written to.
    """
    page = overview_page(overview)
    return write_whole({"practice.overview.html": lambda path: _write(path, page)}, out, ())


def _write(path: Path, page: str) -> None:
    path.write_text(page, encoding="utf-8", newline="\n")
