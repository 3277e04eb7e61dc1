"""Birds that got another ring: a worn one replaced, as remarks and the string tell."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audit.rules.case import Case
    from audit.rules.ringings import Ringings

__all__ = ["is_new_of_string", "said_ringed_again"]


def said_ringed_again(case: Case, labels: Sequence[str]) -> bool:
    """Whether the remark of any of these handlings says that the bird got another ring."""
    if not case.season.has("handlings", "remarks"):
        return False
    listed = case.declared.rules["ring_order"].limits["ringed_again_words"].value
    words = "|".join(re.escape(str(word)) for word in listed)
    says_so = re.compile(rf"\b(?:{words})", re.IGNORECASE)
    remarks = case.frame("handlings").loc[list(labels), "remarks"].dropna()
    return any(says_so.search(remark) for remark in remarks)


def is_new_of_string(rings: Ringings, row: int) -> bool:
    """Whether the ring of a row stands on the string beside one that was put on around that day."""
    key, number, day = rings.key[row], int(rings.serial[row]), int(rings.day[row])
    if number < 0 or key not in rings.running or rings.visit[row] < 0:
        return False
    return any(
        abs(int(rings.day[j]) - day) <= rings.tip_days
        for step in range(1, rings.reach + 1)
        for at in ((key, number - step), (key, number + step))
        for j in rings.used.get(at, ())
        if j != row
    )
