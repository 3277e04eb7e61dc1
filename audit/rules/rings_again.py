"""Birds that got another ring: a worn one replaced, as remarks, losses and the string tell."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import numpy as np

from audit.models.ring_number import bare

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from audit.rules.case import Case
    from audit.rules.ring_rows import Ringings

__all__ = ["LOSSES", "is_new_of_string", "said_ringed_again", "taken_off"]

_REMARKS: Mapping[str, tuple[str, ...]] = {"handlings": ("remarks",)}

#: What tells that a ring was taken off a bird.
LOSSES: Mapping[str, tuple[str, ...]] = {"ring_losses": ("ring", "date")}


def said_ringed_again(case: Case, labels: Sequence[str]) -> bool:
    """Whether the remark of any of these handlings says that the bird got another ring."""
    return not _said(case).isdisjoint(labels)


def _said(case: Case) -> frozenset[str]:
    """Find the handlings whose remark says that the bird got another ring."""
    return case.lay_out(_find_said, _REMARKS)


def _find_said(case: Case) -> frozenset[str]:
    if not case.season.has("handlings", "remarks"):
        return frozenset()
    listed = case.declared.rules["ring_order"].limits["ringed_again_words"].value
    words = "|".join(re.escape(str(word)) for word in listed)
    says_so = re.compile(rf"\b(?:{words})", re.IGNORECASE)
    remarks = case.frame("handlings")["remarks"].dropna()
    return frozenset(
        str(label) for label, text in zip(remarks.index, remarks, strict=True) if says_so.search(str(text))
    )


def taken_off(case: Case, ring: str, last: str) -> bool:
    """Whether the losses say that a ring was lost or destroyed on or after a day on which a bird had it.

    Parameters
    ----------
    ring : str
        As typed.
    last : str
        The day as ISO 8601; empty where unknown.
    """
    if not case.season.has("ring_losses", "ring") or not last:
        return False
    losses = case.frame("ring_losses")
    same = losses["ring"].fillna("").map(bare).eq(bare(ring))
    if "date" not in losses.columns or not same.any():
        return bool(same.any())
    days = losses.loc[same, "date"]
    return bool((days.isna() | (days >= np.datetime64(last))).any())


def is_new_of_string(rings: Ringings, row: int) -> bool:
    """Whether the ring of a row stands on the string beside one that was put on another bird that day."""
    key, number, day = rings.key[row], int(rings.serial[row]), int(rings.day[row])
    if number < 0 or key not in rings.running or rings.visit[row] < 0:
        return False
    return any(
        int(rings.day[j]) == day and j != row
        for step in range(1, rings.reach + 1)
        for at in ((key, number - step), (key, number + step))
        for j in rings.used.get(at, ())
    )
