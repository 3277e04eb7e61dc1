"""A round of reading in print: a PDF, set offline by typst, with its key on a last page where wished for."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

from audit.handover.query.print import PAPERS, is_brought_along, shown
from audit.practice.reading.reading_words import CAUTION, HOW_TO, title
from audit.refusal import Refusal

if TYPE_CHECKING:
    from audit.practice.reading.reading_round import ReadingRound

__all__ = ["print_round"]

_SETTING = Path(__file__).with_name("reading.typ")


def print_round(round_: ReadingRound, *, paper: str = "a4", key: bool = False) -> bytes:
    """Return the PDF; the same round gives the same bytes.

    Parameters
    ----------
    paper : str
        ``a4`` or ``letter``.
    key : bool
        Whether the key stands on a page of its own at the end.

    Raises
    ------
    audit.refusal.Refusal
        There is no such paper.
    """
    import typst

    if paper not in PAPERS:
        raise Refusal(f"There is no paper '{paper}'.", where="paper", cure=f"Name {' or '.join(PAPERS)}.")
    level = round_.level
    told = json.dumps(
        {
            "title": shown(title(round_)),
            "paper": PAPERS[paper][0],
            "lead": shown(f"Level {level.number}, {len(round_.shown)} numbers. {level.says}"),
            "steps": HOW_TO,
            "caution": CAUTION,
            "who": "read by",
            "foot": "Practice: invented numbers.",
            "drawings": [{"svg": one.svg, "says": one.says} for one in round_.shown],
            "keyed": "Key",
            "key": [one.meant for one in round_.shown] if key else [],
        },
        ensure_ascii=False,
    )
    fonts = typst.Fonts(include_system_fonts=not is_brought_along(told), include_embedded_fonts=True)
    return bytes(typst.compile(_SETTING.read_bytes(), font_paths=fonts, sys_inputs={"round": told}))
