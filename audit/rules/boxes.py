"""Is every box one of ours? A label may be unknown, written otherwise, or that of another brood."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from audit.models.box_label import same_box
from audit.models.ring_number import bare, join_ring, split_ring
from audit.models.spelling import one_slip_apart
from audit.rules.case import At
from audit.rules.heeded import RINGINGS, together
from audit.rules.pages import exchanged_broods, misplaced_pages
from audit.rules.ringings import Ringings, ringings_of
from audit.rules.rule import Rule
from audit.rules.sheet_order import NO_DAY, Block, blocks_of
from audit.rules.strays import STRAYS, stray_limits, strays_of

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator

    from audit.findings import Finding, NotRun
    from audit.rules.case import Case

__all__ = ["RULE"]


def check(case: Case) -> Iterator[Finding | NotRun]:
    """Find boxes that do not exist, were not in place, or are not those of the birds in the row."""
    frame = case.sure("handlings")
    rings = ringings_of(case)
    blamed: set[int] = set()
    listed = _listed(case)
    for table in ("handlings", "visits"):
        if case.season.has(table, "box", "date"):
            for finding, rows in _labels(case, table, rings, listed):
                if table == "handlings":
                    blamed.update(rows)
                yield finding
    if not listed:
        yield case.not_run("unknown", "no table 'boxes', or one that lacks too many boxes")
    blocks = blocks_of(frame)
    for rows, finding in _among_others(case, blocks, rings, blamed):
        blamed.update(rows)
        yield finding
    for page, finding in _pages(case, blocks, rings, blamed):
        blamed.update(page)
        yield finding
    yield from _strays(case, rings, blamed)
    yield from _brood_elsewhere(case, blocks, rings, blamed)
    yield from _in_place(case, {str(rings.labels[i]) for i in blamed})


def _listed(case: Case) -> frozenset[str]:
    """Labels of the table of boxes, when it lists nearly all boxes used."""
    if not case.season.has("boxes", "box"):
        return frozenset()
    listed = frozenset(str(box) for box in case.frame("boxes")["box"].dropna())
    used = case.frame("handlings")[["box", "date"]].dropna().drop_duplicates()
    lacking = ~used["box"].isin(list(listed))
    return listed if lacking.mean() <= case.limit("unknown_share") or not len(used) else frozenset()


def _labels(
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
            known = listed or {other for other in count if count[other] > 1}
            closest = _closest(box, known, likely, rings)
            meant = closest[0] if len(closest) == 1 else usual
            outcome = "unknown" if listed else "spelling"
            others = [] if meant else case.evenly(outcome, closest)
            suspects = [At(label, "box", meant, others=others) for label in labels]
            if listed:
                message = f"There is no box {box} in the table of boxes"
                message += f": {meant} was probably meant." if meant else "."
            elif meant != usual:
                message = f"No other box is written like {box}; {meant} stands beside it, one slip away."
            else:
                message = f"Box {box} is written {meant} on {count[meant]} other rows."
            yield case.blame(outcome, suspects, message), places


def _spellings(case: Case, count: Counter[str], rings: Ringings) -> dict[str, str]:
    """Labels that are an unusual spelling of another one, with the usual one."""
    shapes = Counter(_shape(box) for box in count)
    rank = {box: (shapes[_shape(box)], count[box]) for box in count}
    common = case.limit("common_least")
    found: dict[str, str] = {}
    for box in count:
        if shapes[_shape(box)] >= common or not any(c.isdigit() for c in box):
            continue
        usual = [
            other
            for other in count
            if other != box and rank[other] > rank[box] and same_box(other, box, rings.look_alikes)
        ]
        if len(usual) == 1:
            found[box] = usual[0]
    return found


def _shape(label: str) -> str:
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


def _in_place(case: Case, blamed: set[str]) -> Iterator[Finding]:
    """Birds handled at a box before it was put up or after it was taken down.

    A year of hardly any other row is a question of the date, and asked there.
    """
    bounds = [name for name in ("since", "until") if case.season.has("boxes", name)]
    if not bounds:
        return
    boxes = case.sure("boxes").dropna(subset=["box"])
    boxes = boxes[~boxes["box"].duplicated().to_numpy()]
    rows_of = pd.Series(boxes.index, index=boxes["box"].to_numpy())
    frame = case.sure("handlings")[["box", "date"]].dropna()
    year = frame["date"].dt.year
    least = min(max(case.limit("year_share") * len(frame), 2), len(frame) / 2)
    usual = year.groupby(year).transform("size") >= least
    frame = frame[(usual & ~frame.index.isin(list(blamed))).to_numpy()]
    for name in bounds:
        limit = boxes.set_index("box")[name].reindex(frame["box"]).set_axis(frame.index)
        outside = (frame["date"] < limit) if name == "since" else (frame["date"] > limit)
        rows = frame[outside.to_numpy(dtype=bool)]
        for box, group in rows.groupby("box", sort=False):
            days = sorted({day.date() for day in group["date"]})
            edge = limit[group.index[0]].date()
            when = f"was put up on {edge} only" if name == "since" else f"was taken down on {edge}"
            handled = f"{days[0]}" if len(days) == 1 else f"{len(days)} days, {days[0]} the first"
            message = f"Box {box} {when}, but birds were handled there on {handled}."
            entry = At(str(rows_of[box]), name, "", case.limit("p_table"))
            labels = [str(label) for label in group.index]
            if len(days) > 1:
                witnesses = [(label, "box") for label in labels]
                yield case.blame("not_in_place", [entry], message, witnesses)
            else:
                yield case.blame("not_in_place", [*(At(label, "box") for label in labels), entry], message)


def _among_others(
    case: Case, blocks: list[Block], rings: Ringings, blamed: set[int]
) -> Iterator[tuple[list[int], Finding]]:
    """Rows between two of a brood that they belong to, with another box."""
    seen = Counter((block.box, block.day) for block in blocks)
    for above, block, other in zip(blocks, blocks[1:], blocks[2:], strict=False):
        if not above.page == block.page == other.page or above.box != other.box:
            continue
        if seen[block.box, block.day] > 1 or len(block.rows) > 1:
            continue
        i = block.rows[0]
        if i in blamed or not blamed.isdisjoint(other.rows):
            continue
        if not _belongs(rings, i, above.rows + other.rows):
            continue
        message = (
            f"This row says box {block.box}, but it stands with the brood of box {other.box} "
            f"and its ring belongs there."
        )
        witnesses = [(str(rings.labels[j]), "box") for j in other.rows]
        yield (
            [i],
            case.blame("among_others", [At(str(rings.labels[i]), "box", other.box)], message, witnesses),
        )


def _pages(
    case: Case, blocks: list[Block], rings: Ringings, blamed: set[int]
) -> Iterator[tuple[tuple[int, ...], Finding]]:
    """Whole visits under another box: two that were exchanged, and one whose own visit has no bird."""
    for pairs in exchanged_broods(case, blocks, rings, blamed):
        suspects = []
        for pair in pairs:
            one, other = pair.boxes
            suspects += [At(str(rings.labels[i]), "box", other, pair.p, pair.p) for i in pair.first]
            suspects += [At(str(rings.labels[i]), "box", one, pair.p, pair.p) for i in pair.second]
        one, other = sorted(pairs[0].boxes)
        days = " or on ".join(str(_date(pair.day)) for pair in pairs)
        message = f"The broods of boxes {one} and {other} stand under each other's box on {days}."
        rows = tuple(i for pair in pairs for i in (*pair.first, *pair.second))
        yield rows, case.blame("exchanged", suspects, message)
    for page in misplaced_pages(case, blocks, rings, blamed):
        suspects = [At(str(rings.labels[i]), "box", page.meant, page.p, page.p) for i in page.rows]
        message = (
            f"No visit to box {page.box} is listed on {_date(page.day)}, but one to box {page.meant},"
            f" of which no bird is written: the {len(page.rows)} rows probably belong there."
        )
        yield page.rows, case.blame("page", suspects, message)


def _strays(case: Case, rings: Ringings, blamed: set[int]) -> Iterator[Finding]:
    """Single rows whose box was probably that of the visit next to them, or else their date."""
    limits = stray_limits(case)
    for stray in strays_of(case, rings, limits, blamed):
        even = max(stray.p_cell, stray.p_other) < limits["stray_p_least"] <= stray.p_cell + stray.p_other
        if not even and (stray.field != "box" or stray.p_cell < limits["stray_p_least"]):
            continue
        blamed.add(stray.row)
        label = str(rings.labels[stray.row])
        suspects, meant = [], []
        for place, p_cell in ((stray.meant, stray.p_cell), (stray.other, stray.p_other)):
            if place is None or (place is stray.other and not even):
                continue
            day = _date(place[1])
            p = min(p_cell, case.limit("p_most"))
            p_fix = min(p, stray.p)
            here = str(rings.box[stray.row])
            if place[0] == here:
                days = [(_date(day), share) for (box, day), share in stray.shares.items() if box == here]
                suspects.append(At(label, "date", day, p, p_fix, days))
            else:
                boxes = [(box, share) for (box, _), share in stray.shares.items() if box != here]
                suspects.append(At(label, "box", place[0], p, p_fix, boxes))
            meant.append(f"to box {place[0]} on {day}")
        why = " and ".join(stray.why) or "it stands beside its rows"
        message = (
            f"This row says box {rings.box[stray.row]}, but belongs to the visit {' or '.join(meant)}: {why}."
        )
        yield case.blame("among_others", suspects, message)


def _date(day: int) -> dt.date:
    made: dt.date = np.datetime64(day, "D").astype(dt.date)
    return made


def _belongs(rings: Ringings, i: int, rows: tuple[int, ...]) -> bool:
    """Whether the bird of a row belongs to those of other rows, and not to the box of its own."""
    same = rings.rows_of_ring.get(bare(rings.ring[i]), [])
    if not rings.first[i] and any(rings.box[j] == rings.box[i] and j != i for j in same):
        return False
    return rings.belongs(i, rows)


def _brood_elsewhere(case: Case, blocks: list[Block], rings: Ringings, blamed: set[int]) -> Iterator[Finding]:
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
        if not whole:
            for i, origin in strange:
                message = (
                    f"The young bird {rings.ring[i]} was ringed in box {rings.box[origin]} "
                    f"{block.day - int(rings.day[origin])} days before it was seen in box {block.box}."
                )
                witness = [(str(rings.labels[origin]), "box")]
                yield case.blame("moved", [At(str(rings.labels[i]), "box")], message, witness)
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
    alike = Counter(_shape(label) for label in rings.rows_of_box)
    usual = int(alike[_shape(box)] >= case.limit("common_least"))
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


RULE = Rule(
    "boxes",
    {"handlings": ("box", "date", "ring")},
    check,
    heeds=together(RINGINGS, STRAYS, {"boxes": ("box", "since", "until"), "visits": ("time", "alive")}),
)
