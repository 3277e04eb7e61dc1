"""A ring met where it cannot be: before it was put on, in two boxes on one day, or never put on."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.models.ring_number import bare, next_code
from audit.rules.case import At
from audit.rules.expected_rings import mend_ring
from audit.rules.moves import said_moved
from audit.rules.rings_again import said_ringed_again
from audit.rules.twice.meant_ring import day_in_words, meant_in, p_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.findings import Finding
    from audit.rules.case import Case
    from audit.rules.ring_rows import Ringings

__all__ = ["met_before_ringed", "met_in_two_boxes", "never_ringed"]


def met_before_ringed(case: Case, rings: Ringings, ringed: int, rows: list[int]) -> Iterator[Finding]:
    """Find a ring that was seen before it was put on, in the row `ringed`; all `rows` bear it."""
    before = [
        i
        for i in rows
        if rings.event[i] == "re-encountered"
        and min(rings.visit[i], rings.visit[ringed]) >= 0
        and rings.day[i] < rings.day[ringed]
    ]
    if not before:
        return
    seen = before[0]
    judge = _event_wrong if rings.box[seen] == rings.box[ringed] else _ring_wrong
    suspects, why = judge(case, rings, seen, ringed)
    message = (
        f"Ring {rings.ring[seen]} was seen on {day_in_words(rings, seen)}, "
        f"before it was put on a bird on {day_in_words(rings, ringed)}{why}."
    )
    blamed = {at.label for at in suspects}
    other = seen if blamed == {str(rings.labels[ringed])} else ringed
    witnesses = [(str(rings.labels[other]), field) for field in ("ring", "date")]
    yield case.blame("seen_before_ringed", suspects, message, witnesses)


def _ring_wrong(case: Case, rings: Ringings, seen: int, ringed: int) -> tuple[list[At], str]:
    """Say which of two rings at different boxes is wrong, and why."""
    label, ring = str(rings.labels[seen]), str(rings.ring[seen])
    above = str(rings.ring[seen - 1]) if seen and rings.visit[seen - 1] == rings.visit[seen] else ""
    if above and bare(ring) in (bare(above), next_code(bare(above))):
        at = At(label, "ring", "", case.limit("p_drawn_down"))
        return [at], ": it was probably drawn down from the row above"
    if mend := mend_ring(rings, seen, ring):
        p = p_of(case, mend)
        why = f": {mend.clause} from {mend.ring}, which is missing from that visit"
        return [At(label, "ring", mend.ring, p, p)], why
    if meant := meant_in(rings, [""] * len(rings.ring), ringed, (seen, ringed)):
        p = p_of(case, meant)
        return [At(str(rings.labels[ringed]), "ring", meant.ring, p, p)], f": {meant.ring} is missing there"
    return _either_cell(case, rings, "ring", seen, ringed), ""


def _event_wrong(case: Case, rings: Ringings, seen: int, ringed: int) -> tuple[list[At], str]:
    """Say which of two events at one box is wrong, by the birds beside it."""
    mates, others = ([rings.event[j] for j in rings.mates(i) if rings.event[j]] for i in (seen, ringed))
    if not mates or any(event != "ringed" for event in mates):
        return _either_cell(case, rings, "event", seen, ringed), ""
    suspects = [At(str(rings.labels[seen]), "event", "ringed")]
    if others and all(event == "re-encountered" for event in others):
        suspects.append(At(str(rings.labels[ringed]), "event", "re-encountered"))
    return suspects, ": the other birds of that visit were ringed then"


def _either_cell(case: Case, rings: Ringings, field: str, *rows: int) -> list[At]:
    return [At(str(rings.labels[i]), field, "", case.limit("p_even")) for i in rows]


def met_in_two_boxes(case: Case, rings: Ringings, tags: list[str], rows: list[int]) -> Iterator[Finding]:
    """Find a bird that was in the hand in two boxes on one day, though no remark says that it was moved."""
    seen: dict[int, int] = {}
    labels = [str(rings.labels[i]) for i in rows]
    if len({str(rings.box[i]) for i in rows}) == 1 or said_moved(case, labels):
        return
    for i in rows:
        if rings.visit[i] < 0 or rings.event[i] != "re-encountered":
            continue
        j = seen.setdefault(int(rings.day[i]), i)
        if rings.box[i] == rings.box[j]:
            continue
        strange = [k for k in (j, i) if not any(rings.box[m] == rings.box[k] and m != k for m in rows)]
        boxes = f"box {rings.box[j]} and in box {rings.box[i]}"
        message = f"Ring {rings.ring[i]} was seen in {boxes} on {day_in_words(rings, i)}"
        if len(strange) != 1 and i != j + 1:
            yield case.blame("two_boxes", _either_cell(case, rings, "ring", j, i), f"{message}.")
            continue
        # of two rows that stand together the lower was copied
        k = strange[0] if len(strange) == 1 else i
        meant = meant_in(rings, tags, k, rows)
        message += f", and {meant.ring} is missing from box {rings.box[k]}." if meant else "."
        at = At(str(rings.labels[k]), "ring", meant.ring if meant else "")
        other = i if k == j else j
        yield case.blame("two_boxes", [at], message, [(str(rings.labels[other]), "ring")])


def never_ringed(case: Case, rings: Ringings, tags: list[str]) -> Iterator[Finding]:
    """Find birds said to be seen again whose ring comes from the string used at this very visit."""
    for i in np.flatnonzero((rings.event == "re-encountered") & (rings.serial >= 0)).tolist():
        key, number = rings.key[i], int(rings.serial[i])
        if key not in rings.running or (key, number) in rings.used or rings.visit[i] < 0:
            continue
        beside = [
            j
            for step in (-1, 1)
            for j in rings.used.get((key, number + step), ())
            if rings.visit[j] == rings.visit[i] and rings.event[j] == "ringed"
        ]
        if not beside or any(rings.day[j] < rings.day[i] for j in rings.rows_of_ring[bare(rings.ring[i])]):
            continue
        if any(rings.event[j] == "ringed" and rings.ring[j] and not rings.at_home[j] for j in rings.mates(i)):
            # the rings of this visit may stand in each other's rows
            continue
        if _had_another(case, rings, tags, i):
            # met before, with another ring: the event is as it should be
            continue
        names = " and ".join(str(rings.ring[j]) for j in beside)
        message = (
            f"Ring {rings.ring[i]} was on no bird before, and {names} beside it on the string "
            f"came on at this visit: the event is ringed."
        )
        witnesses = [(str(rings.labels[j]), "event") for j in beside]
        yield case.blame("never_ringed", [At(str(rings.labels[i]), "event", "ringed")], message, witnesses)


def _had_another(case: Case, rings: Ringings, tags: list[str], i: int) -> bool:
    """Whether a remark says that a bird got another ring, or its tag was on one before."""
    same = (j for j in rings.rows_of_box.get(str(rings.box[i]), ()) if tags[i] and tags[j] == tags[i])
    met = any(rings.day[j] < rings.day[i] and rings.ring[j] != rings.ring[i] for j in same)
    return met or said_ringed_again(case, [str(rings.labels[i])])
