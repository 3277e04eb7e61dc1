"""Remarks that a bird was put into another box."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audit.rules.case import Case

__all__ = ["accounted_for", "moved_remarks", "said_moved"]


def moved_remarks(case: Case, labels: Sequence[str]) -> list[str]:
    """Give the remarks of these handlings that say that the bird was put into another box."""
    if not labels or not case.season.has("handlings", "remarks"):
        return []
    # one list of words for all rules
    declared = case.declared.rules["ring_twice"].limits["moved_words"].value
    words = "|".join(re.escape(str(word)) for word in declared)
    says_so = re.compile(rf"\b(?:{words})", re.IGNORECASE)
    remarks = case.frame("handlings").loc[list(labels), "remarks"].dropna()
    return [str(remark) for remark in remarks if says_so.search(remark)]


def said_moved(case: Case, labels: Sequence[str]) -> bool:
    """Whether the remark of any of these handlings says that the bird was put into another box."""
    return bool(moved_remarks(case, labels))


def accounted_for(remark: str) -> str:
    """Say that a remark accounts for what is odd, as the end of a sentence."""
    return f'the remark "{remark.strip()}" accounts for that'
