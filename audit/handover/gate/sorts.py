"""Sorts of things that are told at the gate: how each is counted and headed, and what to do about it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = ["SORTS", "Sort", "SortWords"]

Sort = Literal[
    "no_rows",
    "engines",
    "failed",
    "must_run",
    "error",
    "suspect",
    "breach",
    "unread",
    "conflict",
    "orphan",
    "held",
    "question",
    "not_run",
    "answered",
    "damaged",
    "kept",
]


@dataclass(frozen=True, slots=True)
class SortWords:
    """How one sort of item is counted and headed, and what to do about it."""

    one: str
    many: str
    heading: str
    cure: str


#: In the order in which they are told.
SORTS: Mapping[Sort, SortWords] = {
    "no_rows": SortWords(
        "season without a handling",
        "seasons without a handling",
        "Nothing to hand over",
        "Look whether the right file was read, and how its sheets were understood.",
    ),
    "engines": SortWords(
        "fault of an engine",
        "faults of the engines",
        "The two engines do not agree",
        "This is a fault of the program, and no decision mends it. Please report it with the line below.",
    ),
    "failed": SortWords(
        "rule that failed",
        "rules that failed",
        "Rules that failed",
        "This is a fault of the program: what the rule asks was not checked. Please report it.",
    ),
    "must_run": SortWords(
        "rule that must run and did not",
        "rules that must run and did not",
        "Rules that your team asks for and that did not run",
        "Fill the table or column that is named, or take the rule out of must_run in your own gate.yaml.",
    ),
    "error": SortWords(
        "error",
        "errors",
        "Errors",
        "Decide each at the desk: accept what is suggested, amend it, or keep it and say why it is right.",
    ),
    "suspect": SortWords(
        "suspect",
        "suspects",
        "Suspects",
        "Decide each at the desk: accept what is suggested, amend it, or keep it and say why it is right.",
    ),
    "breach": SortWords(
        "broken declaration",
        "broken declarations",
        "Cells that break what is declared",
        "Mend the cells in the sheet or at the desk; where the declaration is wrong, mend it in your folder.",
    ),
    "unread": SortWords(
        "cell that could not be read",
        "cells that could not be read",
        "Cells that could not be read",
        "They would go out empty. Type them anew.",
    ),
    "conflict": SortWords(
        "conflict",
        "conflicts",
        "Cells on which people differ",
        "Neither was applied. Decide the cell once more at the desk.",
    ),
    "orphan": SortWords(
        "decision without a place",
        "decisions without a place",
        "Decisions without a place",
        "The sheet was changed since. Decide the cell again as it stands now, or take the decision back.",
    ),
    "held": SortWords(
        "decision held back",
        "decisions held back",
        "Decisions held back",
        "They take effect when the conflict about another cell of the same decision is settled.",
    ),
    "question": SortWords(
        "open question",
        "open questions",
        "Questions still open",
        "Look them up in the field notebook, and enter the answer at the desk or on the query sheet.",
    ),
    "not_run": SortWords(
        "rule that did not run",
        "rules that did not run",
        "Rules that did not run",
        "What they ask was not checked. A team that cannot do without one names it in gate.yaml.",
    ),
    "answered": SortWords(
        "question answered unawares",
        "questions answered unawares",
        "Questions answered by somebody who did not know of them",
        "The answer stands. Tell the one who asked.",
    ),
    "damaged": SortWords(
        "damaged line of the log",
        "damaged lines of the log",
        "Lines of the log that do not count",
        "What such a line decided was not done: its cells stay as typed and were judged as that.",
    ),
    "kept": SortWords(
        "finding kept against the audit",
        "findings kept against the audit",
        "Kept against the audit",
        "A person says that these cells are right. They go out as they stand.",
    ),
}
