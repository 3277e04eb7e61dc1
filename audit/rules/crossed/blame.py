"""The cells of a crossing blamed, and the sentence."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

import numpy as np

from audit.rules.case import At

if TYPE_CHECKING:
    from audit.findings import Finding
    from audit.rules.case import Case
    from audit.rules.crossed.judged import Verdict
    from audit.rules.crossed.visit_rows import Field
    from audit.rules.ring_rows import Ringings
    from audit.rules.tag_book import TagBook

__all__ = ["blame_crossing"]

_ORDERS_SAID = {
    "first": "the order of the string",
    "again": "the order of the other birds",
    "events": "the events",
}


def blame_crossing(case: Case, rings: Ringings, book: TagBook | None, verdict: Verdict) -> Finding:
    """Blame the cells of one crossing together, and those of another that is as likely."""
    first = verdict.likely[0][0]
    written = rings.written

    def shown(field: Field, code: str) -> str:
        return written.get(code, code) if field == "ring" else book.printed(code) if book else code

    suspects: dict[tuple[int, Field], At] = {}
    others: dict[tuple[int, Field], list[tuple[object, float]]] = defaultdict(list)
    for crossing, p in verdict.likely:
        for place, code in crossing.meant:
            meant = shown(crossing.field, code)
            others[place, crossing.field].append((meant, p))
            suspects.setdefault(
                (place, crossing.field), At(str(rings.labels[place]), crossing.field, meant, p, p)
            )
    p_of = {
        cell: sum(
            p for crossing, p in verdict.likely if cell[1] == crossing.field and cell[0] in crossing.rows
        )
        for cell in suspects
    }
    witnesses = [(str(rings.labels[place]), "tag" if book else "ring") for place in verdict.others]
    outcome = first.how if first.field == "tag" else f"rings_{first.how}"
    return case.blame(
        outcome,
        [
            At(at.label, at.field, at.suggested, min(p_of[cell], 1.0), at.p_fix, others[cell])
            for cell, at in suspects.items()
        ],
        _says(rings, verdict),
        witnesses,
    )


def _says(rings: Ringings, verdict: Verdict) -> str:
    first = verdict.likely[0][0]
    rows = sorted(first.rows)
    day = _day(rings, rows[0])
    fields = {crossing.field for crossing, _ in verdict.likely}
    both = " or ".join(f"the {field}s" for field in ("tag", "ring") if field in fields)
    against = _against(rings, verdict)
    if first.how != "exchanged":
        low, high = rings.labels[rows[0]].rpartition("!")[2], rings.labels[rows[-1]].rpartition("!")[2]
        rows_named = f"rows {low} to {high}" if low != high else f"row {low}"
        if first.how == "counted":
            return (
                f"On {day} {both} of {rows_named} count on by one from the row above, against {against}: "
                "a cell was probably drawn down."
            )
        return (
            f"On {day} {both} of {rows_named} stand one row too high or too low, "
            f"compared with {against}: the column has probably slid."
        )
    names = " and ".join(sorted(str(rings.ring[place]) for place in rows))
    if not all(rings.ring[place] for place in rows):
        names = f"of rows {' and '.join(rings.labels[place].rpartition('!')[2] for place in rows)}"
    if first.field == "tag":
        says = f"On {day} the birds {names} have each other's tags"
    else:
        says = f"On {day} the rings {names} stand in each other's rows"
    return f"{says}, compared with {against}: {both} were probably exchanged."


def _against(rings: Ringings, verdict: Verdict) -> str:
    first = verdict.likely[0][0]
    if verdict.by_order == "read":
        return "the order in which the reader stored them"
    if verdict.by_order:
        return _ORDERS_SAID[verdict.by_order]
    day = _day(rings, min(first.rows))
    other = next((_day(rings, place) for place in verdict.others if _day(rings, place) != day), "")
    what = "those" if first.field == "tag" else "their tags"
    return f"{what} on {other}" if other else f"{what} at another visit"


def _day(rings: Ringings, place: int) -> str:
    return str(np.datetime64(int(rings.day[place]), "D"))
