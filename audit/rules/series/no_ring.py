"""Handlings without a ring number: those of new rings, and those whose tag tells the ring."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import numpy as np

from audit.models.ring_number import bare
from audit.rules.case import At
from audit.rules.expected_rings import Fit, expected_rings

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.findings import Finding
    from audit.rules.case import Case
    from audit.rules.expected_rings import Expected
    from audit.rules.ring_rows import Ringings

__all__ = ["rows_without_ring"]


def rows_without_ring(case: Case, rings: Ringings) -> Iterator[Finding]:
    """Find rows that ought to have a ring number and have none."""
    typed = case.season.tables["handlings"].typed["ring"]
    empty = case.frame("handlings")["ring"].isna() & (typed.str.strip() == "")
    told = np.zeros(len(empty), dtype=bool)
    words = "|".join(re.escape(word) for word in case.limit("not_ringed_words"))
    for column in ("remarks", "condition"):
        if case.season.has("handlings", column):
            text = case.frame("handlings")[column]
            told |= text.str.contains(words, case=False, regex=True, na=False).to_numpy(dtype=bool)
    worn = _worn(case, rings)
    for i in np.flatnonzero(empty.to_numpy() & ~told).tolist():
        event = rings.event[i]
        if i in worn:
            j = worn[i]
            message = (
                f"This bird has no ring number; the bird with its tag had ring {rings.ring[j]} "
                f"on {np.datetime64(int(rings.day[j]), 'D')}."
            )
            suspect = At(str(rings.labels[i]), "ring", rings.ring[j], p_fix=case.limit("p_fix_signs"))
            yield case.blame("missing", [suspect], message, [(str(rings.labels[j]), "ring")])
            continue
        holes = [e for e in expected_rings(rings, i) if e.fit == Fit.BETWEEN] if event == "ringed" else []
        hole: Expected | None = holes[0] if len(holes) == 1 else None
        at = At(str(rings.labels[i]), "ring", hole.ring if hole else "")
        missing = f": {hole.ring} is missing from this visit" if hole else ""
        witnesses = [(str(rings.labels[j]), "ring") for j in hole.beside] if hole else []
        if event == "ringed":
            message = f"This bird was ringed, but no ring number is given{missing}."
            yield case.blame("missing", [at], message, witnesses)
        else:
            message = "This bird has no ring number, and no remark says why."
            yield case.blame("not_given", [at], message)


def _worn(case: Case, rings: Ringings) -> dict[int, int]:
    """Rows without a ring whose tag stands on one ring at another visit: the row of that ring."""
    if not case.season.has("handlings", "tag"):
        return {}
    tags = case.sure("handlings")["tag"].fillna("").to_numpy(dtype=object)
    rows_of_tag: dict[str, list[int]] = {}
    for i in np.flatnonzero(tags != "").tolist():
        rows_of_tag.setdefault(str(tags[i]), []).append(i)
    found = {}
    for i in np.flatnonzero((rings.ring == "") & (tags != "")).tolist():
        others = [
            j
            for j in rows_of_tag[str(tags[i])]
            if rings.ring[j] and rings.visit[j] not in (-1, rings.visit[i])
        ]
        if len({bare(str(rings.ring[j])) for j in others}) == 1:
            found[i] = others[0]
    return found
