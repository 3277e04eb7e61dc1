"""Is each ring on one bird, once? Where a number stands twice, the run of its visit tells which is wrong."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.models.ring_number import bare, next_code
from audit.rules.case import At
from audit.rules.expected_rings import Expected, Fit, Mend, best_expected, expected_rings, mend_ring
from audit.rules.heeded import RINGINGS, TAG_BOOK, together
from audit.rules.moves import said_moved
from audit.rules.ringings import ringings_of
from audit.rules.rings_again import said_ringed_again
from audit.rules.rows_alike import is_measured, same_measures, same_row
from audit.rules.rule import Rule
from audit.season import texts_in

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from audit.findings import Finding, NotRun
    from audit.rules.case import Case
    from audit.rules.ring_rows import Ringings

__all__ = ["RULE"]


def check(case: Case) -> Iterator[Finding | NotRun]:
    """Find numbers that are said to be on two birds, or on one bird twice."""
    rings = ringings_of(case)
    repeated = [rows for rows in rings.rows_of_ring.values() if len(rows) > 1]
    tags = texts_in(case.sure("handlings"), "tag")
    again: dict[int, list[tuple[int, int]]] = {}
    for rows in repeated:
        settled: set[int] = set()
        for pair in _pairs_in_visit(rings, rows):
            finding = _in_visit(case, rings, tags, pair, settled)
            if finding:
                yield finding
        ringed = [i for i in rows if rings.first[i] and i not in settled]
        if len(ringed) > 1:
            yield from _ringed_twice(case, rings, tags, ringed, again)
        told = [i for i in rows if rings.event[i] == "ringed" and i not in settled]
        if len(told) == 1:
            yield from _seen_before(case, rings, told[0], [i for i in rows if i not in settled])
        yield from _two_boxes(case, rings, tags, [i for i in rows if i not in settled])
    for pairs in again.values():
        yield _ringed_again(case, rings, pairs)
    yield from _never_ringed(case, rings, tags)


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
    options = [(i, mend) for i in pair if (mend := _meant(rings, tags, i, pair))]
    best = None if same and is_measured(case, labels[1]) else _best(rings, options)
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
        p = case.limit("p_of_fit")[mend.expected.fit - 1]
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
    suspects = _either(case, rings, list(pair), suggested)
    witnesses = [(label, "ring") for label in labels if label not in {at.label for at in suspects}]
    return case.blame("in_visit", suspects, message, witnesses)


def _either(case: Case, rings: Ringings, rows: list[int], suggested: str = "") -> list[At]:
    """Blame rows of which one is wrong; of two that stand together the lower, copied from the upper."""
    labels = [str(rings.labels[i]) for i in rows]
    if max(rows) - min(rows) == 1:
        p = case.limit("p_copied")
        return [At(str(rings.labels[max(rows)]), "ring", suggested, p, p)]
    even = 1 / len(rows)
    return [At(label, "ring", suggested, even, even) for label in labels]


def _meant(rings: Ringings, tags: list[str], i: int, pair: Sequence[int]) -> Mend | None:
    """Find the ring that was probably meant in one of two rows with the same number."""
    borne = {
        bare(rings.ring[j]): j
        for j in rings.rows_of_box.get(str(rings.box[i]), ())
        if tags[i] and tags[j] == tags[i] and j not in pair and rings.ring[j]
    }
    if bare(rings.ring[i]) in borne:
        return None
    if len(borne) == 1:
        j = next(iter(borne.values()))
        # the same tag elsewhere names the bird, whatever the slip was
        return Mend(Expected(str(rings.ring[j]), Fit.BETWEEN, (j,)), "copied")
    expected = expected_rings(rings, i)
    mend = mend_ring(rings, i, str(rings.ring[i]), least=Fit.TIP, among=expected)
    if mend:
        return mend
    if not rings.first[i] and not rings.between_neighbours(i, str(rings.ring[i])):
        # several siblings are missing and a slip away: one of them may fit between the rows above and below
        fitting = [e for e in expected if rings.between_neighbours(i, e.ring)]
        if mend := mend_ring(rings, i, str(rings.ring[i]), least=Fit.TIP, among=fitting):
            return mend
    if i == 0 or rings.ring[i - 1] != rings.ring[i] or not rings.event[i]:
        return None
    # copied from the row above: the slip says nothing about the digits, so the place must say it all
    fitting = [e for e in expected if rings.between_neighbours(i, e.ring)]
    best = best_expected(rings, i, fitting)
    return Mend(best, "copied") if best else None


def _best(rings: Ringings, options: list[tuple[int, Mend]]) -> tuple[int, Mend] | None:
    """Choose the row that is wrong, when one stands out."""
    snug = [(i, mend) for i, mend in options if rings.snug[i]]
    if len(snug) < len(options):
        # a ring right beside one of its visit stands where it belongs
        options = [option for option in options if option not in snug]
    if not options:
        return None
    fit = max(mend.expected.fit for _, mend in options)
    leading = [(i, mend) for i, mend in options if mend.expected.fit == fit]
    if len(leading) > 1 and rings.first[leading[0][0]]:
        leading = [(i, mend) for i, mend in leading if rings.between_neighbours(i, mend.ring)]
    if len(leading) > 1 and not rings.first[leading[0][0]]:
        # birds met again are often written in the order of their rings: one row alone breaks it
        broken = [
            (i, mend)
            for i, mend in leading
            if not rings.between_neighbours(i, str(rings.ring[i])) and rings.between_neighbours(i, mend.ring)
        ]
        leading = broken or leading
    if len(leading) > 1:
        strays = [(i, mend) for i, mend in leading if not rings.at_home[i]]
        leading = strays if rings.first[leading[0][0]] and strays else leading
    return leading[0] if len(leading) == 1 else None


def _ringed_twice(
    case: Case,
    rings: Ringings,
    tags: list[str],
    rows: list[int],
    again: dict[int, list[tuple[int, int]]],
) -> Iterator[Finding]:
    """Judge first ringings with one number, each against the one that stands best."""
    rows = sorted(rows, key=lambda i: (int(rings.day[i]), i))
    options = [(i, mend) for i in rows if (mend := _meant(rings, tags, i, rows))]
    first = rows[0]
    while len(rows) > 1:
        strays = [i for i in rows if not rings.at_home[i]]
        doubtful = strays if len(strays) < len(rows) and strays else rows
        best = _best(rings, [(i, mend) for i, mend in options if i in doubtful])
        later = next((i for i in rows[1:] if _same_bird(rings, tags, first, i)), None)
        if later is not None and (best is None or tags[later] or rings.at_home[first]):
            rows.remove(later)
            if rings.event[later] == "ringed":
                again.setdefault(int(rings.visit[later]), []).append((first, later))
            continue
        if best:
            i, mend = best
            rows.remove(i)
            yield _blame_ring(case, rings, i, mend, rows[0])
            continue
        told = [i for i in rows if rings.event[i] == "ringed"]
        if len(told) > 1:
            yield _blame_either(case, rings, told)
        return


def _same_bird(rings: Ringings, tags: list[str], first: int, later: int) -> bool:
    if rings.day[first] == rings.day[later]:
        return False
    if not (rings.box[first] and rings.box[later]) and tags[first] and tags[first] == tags[later]:
        # of a box in doubt nothing is known, but ring and tag are the same
        return True
    if rings.box[first] != rings.box[later]:
        return False
    return not (tags[first] and tags[later] and tags[first] != tags[later])


def _two_boxes(case: Case, rings: Ringings, tags: list[str], rows: list[int]) -> Iterator[Finding]:
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
        strange = strange if len(strange) == 1 else [j, i]
        boxes = f"box {rings.box[j]} and in box {rings.box[i]}"
        message = f"Ring {rings.ring[i]} was seen in {boxes} on {_day(rings, i)}"
        if len(strange) > 1 and i == j + 1:
            k = i
            strange = [i]
        if len(strange) > 1:
            half = [At(str(rings.labels[k]), "ring", "", case.limit("p_even")) for k in strange]
            yield case.blame("two_boxes", half, f"{message}.")
            continue
        k = strange[0]
        meant = _meant(rings, tags, k, rows)
        message += f", and {meant.ring} is missing from box {rings.box[k]}." if meant else "."
        at = At(str(rings.labels[k]), "ring", meant.ring if meant else "")
        other = i if k == j else j
        yield case.blame("two_boxes", [at], message, [(str(rings.labels[other]), "ring")])


def _never_ringed(case: Case, rings: Ringings, tags: list[str]) -> Iterator[Finding]:
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
        earlier = [j for j in rings.rows_of_ring[bare(rings.ring[i])] if rings.day[j] < rings.day[i]]
        if any(rings.event[j] == "ringed" and rings.ring[j] and not rings.at_home[j] for j in rings.mates(i)):
            # the rings of this visit may stand in each other's rows
            continue
        if beside and not earlier and _had_another(case, rings, tags, i):
            # met before, with another ring: the event is as it should be
            continue
        if beside and not earlier:
            names = " and ".join(str(rings.ring[j]) for j in beside)
            message = (
                f"Ring {rings.ring[i]} was on no bird before, and {names} beside it on the string "
                f"came on at this visit: the event is ringed."
            )
            witnesses = [(str(rings.labels[j]), "event") for j in beside]
            yield case.blame(
                "never_ringed", [At(str(rings.labels[i]), "event", "ringed")], message, witnesses
            )


def _had_another(case: Case, rings: Ringings, tags: list[str], i: int) -> bool:
    """Whether a remark says that a bird got another ring, or its tag was on one before."""
    same = (j for j in rings.rows_of_box.get(str(rings.box[i]), ()) if tags[i] and tags[j] == tags[i])
    met = any(rings.day[j] < rings.day[i] and rings.ring[j] != rings.ring[i] for j in same)
    return met or said_ringed_again(case, [str(rings.labels[i])])


def _day(rings: Ringings, i: int) -> str:
    return str(np.datetime64(int(rings.day[i]), "D")) if rings.visit[i] >= 0 else "another day"


def _place(rings: Ringings, i: int) -> str:
    """Say where and when; the box of a row may be in doubt, and is then not named."""
    box = str(rings.box[i])
    return f"in box {box} on {_day(rings, i)}" if box else "at a visit whose box is in doubt"


def _blame_ring(case: Case, rings: Ringings, i: int, mend: Mend, other: int) -> Finding:
    place = _place(rings, other)
    clause = "" if mend.kind == "copied" else f": {mend.clause} from {mend.ring}"
    message = f"Ring {rings.ring[i]} was put on a bird {place} too, and {mend.ring} is missing here{clause}."
    p = case.limit("p_of_fit")[mend.expected.fit - 1]
    at = At(str(rings.labels[i]), "ring", mend.ring, p, p)
    return case.blame("ringed_twice", [at], message, [(str(rings.labels[other]), "ring")])


def _blame_either(case: Case, rings: Ringings, rows: list[int]) -> Finding:
    beside = [i for i in rows if rings.at_home[i]]
    strays = [i for i in rows if not rings.at_home[i]]
    places = " and ".join(_place(rings, i) for i in rows)
    message = f"Ring {rings.ring[rows[0]]} was put on a bird {places}"
    if len(beside) == 1 and strays:
        message += f", but it stands in line only with the rings of {_day(rings, beside[0])}."
        witnesses = [(str(rings.labels[i]), "ring") for i in beside]
        return case.blame(
            "ringed_twice", [At(str(rings.labels[i]), "ring") for i in strays], message, witnesses
        )
    return case.blame("ringed_twice", _either(case, rings, rows), f"{message}.")


def _ringed_again(case: Case, rings: Ringings, pairs: list[tuple[int, int]]) -> Finding:
    first, later = pairs[0]
    names = ", ".join(str(rings.ring[i]) for _, i in pairs)
    what = f"Ring {names} was" if len(pairs) == 1 else f"Rings {names} were"
    message = (
        f"{what} put on {_place(rings, first)} already: on {_day(rings, later)} the event is re-encountered."
    )
    suspects = [At(str(rings.labels[i]), "event", "re-encountered") for _, i in pairs]
    witnesses = [(str(rings.labels[i]), "event") for i, _ in pairs]
    return case.blame("ringed_again", suspects, message, witnesses)


def _seen_before(case: Case, rings: Ringings, ringed: int, rows: list[int]) -> Iterator[Finding]:
    before = [
        i
        for i in rows
        if rings.event[i] == "re-encountered"
        and rings.visit[i] >= 0
        and rings.visit[ringed] >= 0
        and rings.day[i] < rings.day[ringed]
    ]
    if not before:
        return
    seen = before[0]
    label = str(rings.labels[seen])
    message = (
        f"Ring {rings.ring[seen]} was seen on {_day(rings, seen)}, "
        f"before it was put on a bird on {_day(rings, ringed)}"
    )
    witnesses = [(str(rings.labels[ringed]), "ring"), (str(rings.labels[ringed]), "date")]
    above = str(rings.ring[seen - 1]) if seen and rings.visit[seen - 1] == rings.visit[seen] else ""
    elsewhere = rings.box[seen] != rings.box[ringed]
    if elsewhere and above and bare(str(rings.ring[seen])) in (bare(above), next_code(bare(above))):
        p = case.limit("p_drawn_down")
        message += ": it was probably drawn down from the row above."
        yield case.blame("seen_before_ringed", [At(label, "ring", "", p)], message, witnesses)
        return
    mend = mend_ring(rings, seen, str(rings.ring[seen]))
    if mend and rings.box[seen] != rings.box[ringed]:
        p = case.limit("p_of_fit")[mend.expected.fit - 1]
        message += f": {mend.clause} from {mend.ring}, which is missing from that visit."
        yield case.blame("seen_before_ringed", [At(label, "ring", mend.ring, p, p)], message, witnesses)
        return
    meant = _meant(rings, [""] * len(rings.ring), ringed, (seen, ringed))
    if meant and rings.box[seen] != rings.box[ringed]:
        p = case.limit("p_of_fit")[meant.expected.fit - 1]
        message += f": {meant.ring} is missing there."
        at = At(str(rings.labels[ringed]), "ring", meant.ring, p, p)
        yield case.blame("seen_before_ringed", [at], message, [(label, "ring"), (label, "date")])
        return
    mates = [rings.event[j] for j in rings.mates(seen) if rings.event[j]]
    if rings.box[seen] == rings.box[ringed] and mates and all(event == "ringed" for event in mates):
        message += ": the other birds of that visit were ringed then."
        suspects = [At(label, "event", "ringed")]
        others = [rings.event[j] for j in rings.mates(ringed) if rings.event[j]]
        if others and all(event == "re-encountered" for event in others):
            suspects.append(At(str(rings.labels[ringed]), "event", "re-encountered"))
        yield case.blame("seen_before_ringed", suspects, message, witnesses)
        return
    half = case.limit("p_even")
    field = "event" if rings.box[seen] == rings.box[ringed] else "ring"
    suspects = [At(str(rings.labels[i]), field, "", half) for i in (seen, ringed)]
    yield case.blame("seen_before_ringed", suspects, f"{message}.", witnesses)


RULE = Rule(
    "ring_twice",
    {"handlings": ("ring", "box", "date")},
    check,
    heeds=together(RINGINGS, TAG_BOOK, {"handlings": ("time", "gross_g", "net_g", "wing_mm")}),
)
