"""A ring that stands twice in one visit: a row typed twice, a bird measured twice, or a wrong number."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.rules.case import At
from audit.rules.rows_alike import is_measured, same_measures, same_row
from audit.rules.twice.meant_ring import either, meant_in, p_of, stands_out

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.findings import Finding
    from audit.rules.case import Case
    from audit.rules.ring_rows import Ringings

__all__ = ["twice_in_visit"]


def twice_in_visit(
    case: Case, rings: Ringings, tags: list[str], rows: list[int], settled: set[int]
) -> Iterator[Finding]:
    """Judge rows of one ring that stand in one visit; those that are told of are added to `settled`."""
    for pair in _pairs_in_visit(rings, rows):
        finding = _in_visit(case, rings, tags, pair, settled)
        if finding:
            yield finding


def _pairs_in_visit(rings: Ringings, rows: list[int]) -> Iterator[tuple[int, int]]:
    by_visit: dict[int, int] = {}
    for i in rows:
        visit = int(rings.visit[i])
        if visit >= 0 and visit in by_visit:
            yield by_visit[visit], i
        by_visit[visit] = i


def _in_visit(
    case: Case, rings: Ringings, tags: list[str], pair: tuple[int, int], settled: set[int]
) -> Finding | None:
    one, two = pair
    labels = [str(rings.labels[i]) for i in pair]
    ring = str(rings.ring[two])
    same = same_row(case, *labels)
    options = [(i, mend) for i in pair if (mend := meant_in(rings, tags, i, pair))]
    best = None if same and is_measured(case, labels[1]) else stands_out(rings, options)
    if same and best is None:
        settled.add(two)
        row = labels[0].rpartition("!")[2]
        message = f"This row repeats row {row} in every cell."
        return case.blame("row_twice", [At(labels[1], "ring")], message, [(labels[0], "ring")])
    if best:
        i, mend = best
        settled.add(i)
        other = labels[0] if i == two else labels[1]
        row = other.rpartition("!")[2]
        message = (
            f"Ring {ring} stands in row {row} of the same visit too, and {mend.ring} is missing from it."
        )
        p = p_of(case, mend)
        return case.blame(
            "in_visit", [At(str(rings.labels[i]), "ring", mend.ring, p, p)], message, [(other, "ring")]
        )
    settled.update(pair)
    if tags[one] and tags[one] == tags[two] and same_measures(case, *labels):
        row = labels[0].rpartition("!")[2]
        message = (
            f"This row has ring, tag and every measure of row {row} of the same visit: it was typed twice."
        )
        return case.blame("row_twice", [At(labels[1], "ring")], message, [(labels[0], "ring")])
    if tags[one] and tags[one] == tags[two]:
        message = f"The bird with ring {ring} and tag {tags[one]} stands twice in this visit."
        return case.blame("measured_twice", [At(labels[1], "ring")], message, [(labels[0], "ring")])
    shared = {mend.ring for _, mend in options}
    suggested = shared.pop() if len(shared) == 1 else ""
    row_numbers = [label.rpartition("!")[2] for label in labels]
    message = f"Ring {ring} stands twice in this visit, in rows {' and '.join(row_numbers)}"
    message += f", and {suggested} is missing from it." if suggested else "."
    suspects = either(case, rings, list(pair), suggested)
    witnesses = [(label, "ring") for label in labels if label not in {at.label for at in suspects}]
    return case.blame("in_visit", suspects, message, witnesses)
