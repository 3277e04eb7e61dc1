"""A practice sheet in print: a PDF, set offline by typst, with its key on a last page where wished for."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from audit.handover.paper import paper_named, shown, typeset
from audit.practice.exercise.explanations import explain_slip, right_words
from audit.practice.exercise.words import CAUTION, HOW_TO, MEANINGS, WHY, heading, lead, title

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
    return typeset(_SETTING, _told(exercise, aids, paper_named(paper)[0], key=key))


def _told(exercise: Exercise, aids: Sequence[Aid], paper: str, *, key: bool) -> dict[str, Any]:
    typed = exercise.season.tables["handlings"].typed
    return {
        "title": shown(title(exercise)),
        "paper": paper,
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
