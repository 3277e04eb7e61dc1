"""Remarks that a bird was put into another box."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audit.rules.case import Case

__all__ = ["said_moved"]


def said_moved(case: Case, labels: Sequence[str]) -> bool:
    """Whether the remark of any of these handlings says that the bird was put into another box."""
    if not case.season.has("handlings", "remarks"):
        return False
    words = "|".join(re.escape(str(word)) for word in case.limit("moved_words"))
    says_so = re.compile(rf"\b(?:{words})", re.IGNORECASE)
    remarks = case.frame("handlings").loc[list(labels), "remarks"].dropna()
    return any(says_so.search(remark) for remark in remarks)
