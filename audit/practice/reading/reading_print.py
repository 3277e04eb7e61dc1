"""A round of reading in print: a PDF, set offline by typst, with its key on a last page where wished for."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from audit.handover.paper import paper_named, shown, typeset
from audit.practice.drill.answer_words import typed_into
from audit.practice.reading.reading_words import CAUTION, HOW_TO, TYPING, title

if TYPE_CHECKING:
    from audit.practice.reading.reading_round import ReadingRound

__all__ = ["print_round"]

_SETTING = Path(__file__).with_name("reading.typ")


def print_round(round_: ReadingRound, *, paper: str = "a4", key: bool = False) -> bytes:
    """Return the PDF; the same round gives the same bytes.

    Parameters
    ----------
    paper, key
        As for `audit.practice.exercise.print.print_sheet`.
    """
    level = round_.level
    told = {
        "title": shown(title(round_)),
        "paper": paper_named(paper)[0],
        "lead": shown(f"Level {level.number}, {len(round_.shown)} numbers. {level.says}"),
        "steps": HOW_TO,
        "caution": CAUTION,
        "who": "read by",
        "typed": shown(f"{typed_into(round_)} {TYPING}"),
        "foot": "Practice: invented numbers.",
        "drawings": [{"svg": one.svg, "says": one.says} for one in round_.shown],
        "keyed": "Key",
        "key": [one.meant for one in round_.shown] if key else [],
    }
    return typeset(_SETTING, told)
