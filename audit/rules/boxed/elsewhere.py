"""Visits whose birds all belong to another box, and single young birds that changed boxes."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

import numpy as np

from audit.models.ring_number import bare, join_ring, split_ring
from audit.rules.boxed.labels import shape_of
from audit.rules.case import At
from audit.rules.moves import accounted_for, moved_remarks, said_moved
from audit.rules.sheet_order import NO_DAY, Block

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator

    from audit.findings import Finding
    from audit.rules.case import Case
    from audit.rules.ring_rows import Ringings

__all__ = ["broods_elsewhere"]


def broods_elsewhere(case: Case, blocks: list[Block], rings: Ringings, blamed: set[int]) -> Iterator[Finding]:
    """Visits whose birds all belong to another box, and single young birds that changed boxes."""
    most = case.limit("brood_days")
    home: dict[str, Counter[str]] = {}
    for block in blocks:
        for i in block.rows:
            if rings.ring[i] and i not in blamed:
                home.setdefault(bare(rings.ring[i]), Counter())[block.box] += 1
    ringed = {
        bare(rings.ring[i]): i
        for i in np.flatnonzero((rings.event == "ringed") & (rings.ring != "")).tolist()
        if i not in blamed
    }
    pulli = _pulli(case, rings)
    for block in blocks:
        strange = [
            (i, origin)
            for i in block.rows
            if i not in blamed
            and rings.event[i] == "re-encountered"
            and (origin := ringed.get(bare(rings.ring[i]))) is not None
            and rings.box[origin] != block.box
            and rings.day[origin] != NO_DAY
            and 0 <= block.day - int(rings.day[origin]) <= most
            and pulli[origin]
        ]
        if not strange:
            continue
        boxes = {str(rings.box[origin]) for _, origin in strange}
        # a full-grown bird of the visit was perhaps met nowhere else
        young = [i for i in block.rows if rings.ring[i] and pulli[i]]
        whole = len(strange) == len(young) > 1 and len(boxes) == 1
        if not whole or said_moved(case, [str(rings.labels[i]) for i, _ in strange]):
            for i, origin in strange:
                label = str(rings.labels[i])
                remarks = moved_remarks(case, [label])
                message = (
                    f"The young bird {rings.ring[i]} was ringed in box {rings.box[origin]} "
                    f"{block.day - int(rings.day[origin])} days before it was seen in box {block.box}"
                    f"{f'; {accounted_for(remarks[0])}' if remarks else ''}."
                )
                witness = [(str(rings.labels[origin]), "box")]
                yield case.blame("moved_said" if remarks else "moved", [At(label, "box")], message, witness)
            continue
        yield _wrong_visit(case, block, strange, rings, home)


def _pulli(case: Case, rings: Ringings) -> np.ndarray:
    frame = case.frame("handlings")
    if "age" not in frame.columns:
        return np.ones(len(rings.labels), dtype=bool)
    return frame["age"].fillna("1").isin(["1", "pullus"]).to_numpy(dtype=bool)


def _wrong_visit(
    case: Case, block: Block, strange: list[tuple[int, int]], rings: Ringings, home: dict[str, Counter[str]]
) -> Finding:
    """Say which of two visits bears the wrong box: the one that the other visits do not confirm."""
    origins = [origin for _, origin in strange]
    other = str(rings.box[origins[0]])
    here = sum(home[bare(rings.ring[i])][block.box] for i, _ in strange)
    there = sum(home[bare(rings.ring[i])][other] for i, _ in strange)
    if here == there:
        # a box with other birds at the time, or without a listed visit, is the less likely place
        birds = {bare(rings.ring[j]) for i in (block.rows[0], origins[0]) for j in (i, *rings.mates(i))}
        here = _room(case, rings, (block.box, block.day), birds)
        there = _room(case, rings, (other, int(rings.day[origins[0]])), birds)
    message = f"All {len(strange)} birds of this visit to box {block.box} were ringed in box {other}"
    again = [str(rings.labels[i]) for i in block.rows]
    page = rings.rows_of_visit.get(int(rings.visit[origins[0]]), origins)
    beside = [j for j in page if rings.age[j] not in ("", "1") or not rings.ring[j]]
    # what was written on the page beside the brood belongs with it
    first = [
        str(rings.labels[i])
        for i in sorted({*origins, *(beside if set(page) <= {*origins, *beside} else ())})
    ]
    if there > here:
        witnesses = [(label, "box") for label in first]
        return case.blame(
            "brood_elsewhere", [At(label, "box", other) for label in again], f"{message}.", witnesses
        )
    if here > there:
        witnesses = [(label, "box") for label in again]
        message += f", but seen in box {block.box} at all other visits."
        return case.blame(
            "brood_elsewhere", [At(label, "box", block.box) for label in first], message, witnesses
        )
    even = case.limit("p_even")
    half = [At(label, "box", other, even) for label in again]
    half += [At(label, "box", block.box, even) for label in first]
    return case.blame("brood_elsewhere", half, f"{message}: one of the two boxes is wrong.")


def _room(case: Case, rings: Ringings, visit: tuple[str, int], ours: set[str]) -> int:
    """Say how well a box suits the rows of one visit.

    For it speak a listed visit, a label like the others, and numbered neighbours; birds of another brood
    speak against it.
    """
    most = case.limit("brood_days")
    box, day = visit
    others = [
        j
        for j in rings.rows_of_box.get(box, ())
        if rings.ring[j] and bare(rings.ring[j]) not in ours and abs(int(rings.day[j]) - day) <= most
    ]
    alike = Counter(shape_of(label) for label in rings.rows_of_box)
    usual = int(alike[shape_of(box)] >= case.limit("common_least"))
    listed = 0
    if case.season.has("visits", "box", "date"):
        visits = case.sure("visits")
        on_day = visits["date"] == np.datetime64(day, "D")
        listed = int((on_day & (visits["box"] == box)).any())
    return listed + usual + _neighbours(box, rings.rows_of_box.keys()) - int(len(others) > 1)


def _neighbours(box: str, labels: Collection[str]) -> int:
    """Count the labels that come just before and after one in a numbered row of boxes."""
    stem, digits = split_ring(box)
    return (
        sum(join_ring(stem, int(digits) + step, len(digits)) in labels for step in (-1, 1)) if digits else 0
    )
