"""Labels that are not those of a box: unknown, or written otherwise than on all other rows."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from audit.models.box_label import joined_otherwise, same_box
from audit.models.ring_number import bare
from audit.models.spelling import one_slip_apart
from audit.rules.case import At

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    import pandas as pd

    from audit.findings import Finding
    from audit.rules.case import Case
    from audit.rules.ring_rows import Ringings

__all__ = ["listed_boxes", "odd_labels", "shape_of"]


def listed_boxes(case: Case) -> frozenset[str]:
    """Labels of the table of boxes, when it lists nearly all boxes used."""
    if not case.season.has("boxes", "box"):
        return frozenset()
    listed = frozenset(str(box) for box in case.frame("boxes")["box"].dropna())
    used = case.frame("handlings")[["box", "date"]].dropna().drop_duplicates()
    lacking = ~used["box"].isin(list(listed))
    return listed if lacking.mean() <= case.limit("unknown_share") or not len(used) else frozenset()


def odd_labels(
    case: Case, table: str, rings: Ringings, listed: frozenset[str]
) -> Iterator[tuple[Finding, list[int]]]:
    """Labels that are not those of a box, label by label and day by day."""
    frame = case.sure(table)
    count = Counter(str(box) for box in frame["box"].dropna())
    spelled = {box: "" for box in count if box not in listed} if listed else _spellings(case, count, rings)
    position = {str(label): i for i, label in enumerate(frame.index)}
    for box, usual in spelled.items():
        rows = frame[(frame["box"] == box).to_numpy()]
        for day, labels in _by_day(rows):
            places = [position[label] for label in labels]
            likely = _likely(case, table, rings, day, places)
            known = listed or {other for other in count if count[other] > 1 and other != box}
            closest = _closest(box, known, likely, rings)
            meant = closest[0] if len(closest) == 1 else usual
            same = bool(meant) and same_box(meant, box, {})
            outcome = ("otherwise" if same else "unknown") if listed else "spelling"
            others = [] if meant else case.evenly(outcome, closest)
            suspects = [At(label, "box", meant, others=others) for label in labels]
            if listed and same:
                message = f"Box {box} is written {meant} in the table of boxes."
            elif listed:
                message = f"There is no box {box} in the table of boxes"
                message += f": {meant} was probably meant." if meant else "."
            elif meant != usual:
                message = f"No other box is written like {box}; {meant} stands beside it, one slip away."
            else:
                message = f"Box {box} is written {meant} on {count[meant]} other rows."
            yield case.blame(outcome, suspects, message), places


def _spellings(case: Case, count: Counter[str], rings: Ringings) -> dict[str, str]:
    """Labels that are an unusual spelling of another one, with the usual one."""
    shapes = Counter(shape_of(box) for box in count)
    rank = {box: (shapes[shape_of(box)], count[box]) for box in count}
    common = case.limit("common_least")
    found: dict[str, str] = {}
    for box in count:
        if not any(c.isdigit() for c in box):
            continue
        # a way of writing may be one of the team, but WH-01 and WH01 are one box whoever writes them
        ours = shapes[shape_of(box)] >= common
        usual = [
            other
            for other in count
            if other != box
            and rank[other] > rank[box]
            and (joined_otherwise(other, box) or (not ours and same_box(other, box, rings.look_alikes)))
        ]
        if len(usual) == 1:
            found[box] = usual[0]
    return found


def shape_of(label: str) -> str:
    """Write a label with 9 for each digit and A for each letter."""
    return "".join("9" if c.isdigit() else "A" if c.isalpha() else c for c in label)


def _by_day(rows: pd.DataFrame) -> Iterator[tuple[object, list[str]]]:
    for day, group in rows.groupby("date", dropna=False, sort=False):
        yield day, [str(label) for label in group.index]


def _likely(case: Case, table: str, rings: Ringings, day: object, rows: list[int]) -> list[set[str]]:
    """Boxes that some rows probably belong to, the strongest evidence first.

    Those of their birds at other visits; those with a visit but no bird on that day; for a single row
    those of the rows above and below.
    """
    if table != "handlings":
        return []
    homes = {
        str(rings.box[j])
        for i in rows
        for j in rings.rows_of_ring.get(bare(rings.ring[i]), ())
        if j not in rows
    }
    unmet: set[str] = set()
    if case.season.has("visits", "box", "date"):
        visits, handlings = case.sure("visits"), case.sure("handlings")
        visited = visits["box"][(visits["date"] == day).to_numpy()]
        unmet = set(visited.dropna()) - set(handlings["box"][(handlings["date"] == day).to_numpy()].dropna())
    around: set[str] = set()
    if len(rows) == 1:
        near = [j for j in (rows[0] - 1, rows[0] + 1) if 0 <= j < len(rings.box)]
        around = {str(rings.box[j]) for j in near if rings.day[j] == rings.day[rows[0]]}
    return [homes, unmet, around]


def _closest(box: str, known: Iterable[str], likely: list[set[str]], rings: Ringings) -> list[str]:
    """Find the known labels where the rows belong by other evidence, or other spellings, or a slip away.

    Where the rows belong tells more than the spelling: SL-3 on a page of SL-43 lost a digit, it is not SL-03.
    """
    candidates = sorted(known)
    spelled = [label for label in candidates if same_box(label, box, rings.look_alikes)]
    near = [label for label in candidates if label in spelled or one_slip_apart(label, box)]
    for boxes in likely:
        among = [label for label in near if label in boxes]
        if len(among) == 1:
            return among
    return spelled or near
