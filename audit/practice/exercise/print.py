"""A practice sheet in print: a PDF, set offline by typst, with its key on a last page where wished for."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

from audit.handover.query.print import PAPERS, is_brought_along, shown
from audit.practice.exercise.explanations import explain_slip, right_words
from audit.practice.exercise.words import CAUTION, HOW_TO, MEANINGS, WHY, heading, lead, title
from audit.refusal import Refusal

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audit.practice.exercise.aids import Aid
    from audit.practice.exercise.exercise import Exercise

__all__ = ["print_sheet"]

_SETTING = Path(__file__).with_name("sheet.typ")


def print_sheet(exercise: Exercise, aids: Sequence[Aid], *, paper: str = "a4", key: bool = False) -> bytes:
    """Return the PDF; the same sheet gives the same bytes.

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
    told = json.dumps(_told(exercise, aids, paper, key=key), ensure_ascii=False)
    fonts = typst.Fonts(include_system_fonts=not is_brought_along(told), include_embedded_fonts=True)
    return bytes(typst.compile(_SETTING.read_bytes(), font_paths=fonts, sys_inputs={"sheet": told}))


def _told(exercise: Exercise, aids: Sequence[Aid], paper: str, *, key: bool) -> dict[str, Any]:
    typed = exercise.season.tables["handlings"].typed
    return {
        "title": shown(title(exercise)),
        "paper": PAPERS[paper][0],
        "lead": shown(lead(exercise)),
        "why": WHY,
        "steps": HOW_TO,
        "meanings": [(heading(field), MEANINGS[field]) for field in exercise.fields if field in MEANINGS],
        "caution": CAUTION,
        "heads": ["line", *(heading(field) for field in exercise.fields)],
        "rows": [
            [str(number), *(shown(str(typed.loc[label, field])) for field in exercise.fields)]
            for number, label in enumerate(exercise.labels, 1)
        ],
        "aids": [{"says": shown(aid.says), "heads": aid.heads, "rows": aid.rows} for aid in aids],
        "key": _key(exercise) if key else [],
        "words": {
            "what": "What to do",
            "columns": "What the columns mean",
            "page": "The page",
            "who": "marked by",
            "helps": "What helps",
            "key": "Key",
            "foot": "Practice: an invented page.",
        },
    }


def _key(exercise: Exercise) -> list[dict[str, Any]]:
    if not exercise.planted:
        return [{"what": right_words(exercise), "cells": [], "said": []}]
    found = []
    for planted in exercise.planted:
        told = explain_slip(exercise, planted)
        said = [f"The audit says: {shown(one)}" for one in told.audit]
        found.append(
            {
                "what": shown(told.what),
                "cells": [f"{shown(cell)}." for cell in told.cells],
                "said": [*said, told.ask] if told.ask else said,
            }
        )
    return found
