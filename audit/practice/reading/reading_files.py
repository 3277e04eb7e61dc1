"""Files of the reading drill: the round to print and fill in, its key apart, the result."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.handover.folder import write_whole
from audit.practice.exercise.files import KEYS
from audit.practice.reading.reading_page import key_page, result_page, round_page
from audit.practice.reading.reading_print import print_round

if TYPE_CHECKING:
    from pathlib import Path

    from audit.practice.reading.reading_round import ReadingRound
    from audit.practice.reading.reading_score import ReadingScore

__all__ = ["write_reading", "write_round"]


def write_round(round_: ReadingRound, out: Path, *, paper: str = "a4") -> list[Path]:
    """Write a round and, in a folder of its own, its key.

    Returns
    -------
    list of Path
        ``<name>.html`` and ``.pdf``; ``keys/<name>.key.html`` and ``.key.pdf``.

    Raises
    ------
    audit.refusal.Refusal
        The folder cannot be written to, or there is no such paper.
    """
    sheet, keyed = (print_round(round_, paper=paper, key=key) for key in (False, True))
    written = write_whole(
        {
            f"{round_.name}.html": lambda path: _write(path, round_page(round_)),
            f"{round_.name}.pdf": lambda path: path.write_bytes(sheet),
        },
        out,
        (),
    )
    return written + write_whole(
        {
            f"{round_.name}.key.html": lambda path: _write(path, key_page(round_)),
            f"{round_.name}.key.pdf": lambda path: path.write_bytes(keyed),
        },
        out / KEYS,
        (),
    )


def write_reading(score: ReadingScore, advice: str, beside: str, out: Path) -> list[Path]:
    """Write what came of a round: ``<name>.result.html``.

    Raises
    ------
    audit.refusal.Refusal
        The folder cannot be written to.
    """
    page = result_page(score, advice, beside)
    return write_whole({f"{score.round.name}.result.html": lambda path: _write(path, page)}, out, ())


def _write(path: Path, page: str) -> None:
    path.write_text(page, encoding="utf-8", newline="\n")
