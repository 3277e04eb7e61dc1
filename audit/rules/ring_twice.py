"""Is each ring on one bird, once? Where a number stands twice, the run of its visit tells which is wrong."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.models.ring_number import bare
from audit.rules.case import At
from audit.rules.ringings import Expected, Fit, Mend, Ringings, ringings_of
from audit.rules.rule import Rule

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    import pandas as pd

    from audit.findings import Finding, NotRun
    from audit.rules.case import Case

__all__ = ["RULE"]


def check(case: Case) -> Iterator[Finding | NotRun]:
    """Find numbers that are said to be on two birds, or on one bird twice."""
    rings = ringings_of(case)
    repeated = [rows for rows in rings.rows_of_ring.values() if len(rows) > 1]
    if not repeated:
        return
    tags = _column(case.sure("handlings"), "tag")
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
    for pairs in again.values():
        yield _ringed_again(case, rings, pairs)


def _column(frame: pd.DataFrame, name: str) -> list[str]:
    if name not in frame.columns:
        return [""] * len(frame)
    return [str(value) for value in frame[name].fillna("")]


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
    if _same_row(case, *labels):
        settled.add(two)
        row = labels[0].rpartition("!")[2]
        message = f"This row repeats row {row} in every cell."
        return case.blame("row_twice", [At(labels[1], "ring")], message, [(labels[0], "ring")])
    options = [(i, mend) for i in pair if (mend := _meant(rings, tags, i, pair))]
    best = _best(rings, options)
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
    if tags[one] and tags[one] == tags[two]:
        message = f"The bird with ring {ring} and tag {tags[one]} stands twice in this visit."
        return case.blame("measured_twice", [At(labels[1], "ring")], message, [(labels[0], "ring")])
    even = case.limit("p_even")
    shared = {mend.ring for _, mend in options}
    suggested = shared.pop() if len(shared) == 1 else ""
    row_numbers = [label.rpartition("!")[2] for label in labels]
    message = f"Ring {ring} stands twice in this visit, in rows {' and '.join(row_numbers)}"
    message += f", and {suggested} is missing from it." if suggested else "."
    return case.blame("in_visit", [At(label, "ring", suggested, even, even) for label in labels], message)


def _same_row(case: Case, one: str, two: str) -> bool:
    typed = case.season.tables["handlings"].typed
    return bool((typed.loc[one] == typed.loc[two]).all())


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
    expected = rings.expected(i)
    mend = rings.mend(i, str(rings.ring[i]), among=expected)
    if mend:
        return mend
    above = (
        i > 0
        and rings.ring[i - 1] == rings.ring[i]
        and (rings.visit[i - 1] == rings.visit[i] or rings.event[i] == "ringed")
    )
    fitting = [e for e in expected if e.fit == Fit.BETWEEN and rings.between_neighbours(i, e.ring)]
    return Mend(fitting[0], "copied") if above and len(fitting) == 1 else None


def _best(rings: Ringings, options: list[tuple[int, Mend]]) -> tuple[int, Mend] | None:
    """Choose the row that is wrong, when one stands out."""
    if not options:
        return None
    fit = max(mend.expected.fit for _, mend in options)
    leading = [(i, mend) for i, mend in options if mend.expected.fit == fit]
    if len(leading) > 1:
        leading = [(i, mend) for i, mend in leading if rings.between_neighbours(i, mend.ring)]
    if len(leading) > 1:
        strays = [(i, mend) for i, mend in leading if not rings.at_home[i]]
        leading = strays or leading
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
        best = _best(rings, [(i, mend) for i, mend in options if i in rows])
        later = next((i for i in rows[1:] if _same_bird(rings, tags, first, i)), None)
        if later is not None and (best is None or tags[later]):
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
    if rings.box[first] != rings.box[later] or rings.day[first] == rings.day[later]:
        return False
    return not (tags[first] and tags[later] and tags[first] != tags[later])


def _day(rings: Ringings, i: int) -> str:
    return str(np.datetime64(int(rings.day[i]), "D")) if rings.visit[i] >= 0 else "another day"


def _blame_ring(case: Case, rings: Ringings, i: int, mend: Mend, other: int) -> Finding:
    place = f"in box {rings.box[other]} on {_day(rings, other)}"
    clause = "" if mend.kind == "copied" else f": {mend.clause} from {mend.ring}"
    message = f"Ring {rings.ring[i]} was put on a bird {place} too, and {mend.ring} is missing here{clause}."
    p = case.limit("p_of_fit")[mend.expected.fit - 1]
    at = At(str(rings.labels[i]), "ring", mend.ring, p, p)
    return case.blame("ringed_twice", [at], message, [(str(rings.labels[other]), "ring")])


def _blame_either(case: Case, rings: Ringings, rows: list[int]) -> Finding:
    beside = [i for i in rows if rings.at_home[i]]
    strays = [i for i in rows if not rings.at_home[i]]
    places = " and ".join(f"in box {rings.box[i]} on {_day(rings, i)}" for i in rows)
    message = f"Ring {rings.ring[rows[0]]} was put on a bird {places}"
    if len(beside) == 1 and strays:
        message += f", but it stands in line only with the rings of {_day(rings, beside[0])}."
        witnesses = [(str(rings.labels[i]), "ring") for i in beside]
        return case.blame(
            "ringed_twice", [At(str(rings.labels[i]), "ring") for i in strays], message, witnesses
        )
    p = 1 / len(rows)
    return case.blame("ringed_twice", [At(str(rings.labels[i]), "ring", "", p) for i in rows], f"{message}.")


def _ringed_again(case: Case, rings: Ringings, pairs: list[tuple[int, int]]) -> Finding:
    first, later = pairs[0]
    names = ", ".join(str(rings.ring[i]) for _, i in pairs)
    what = f"Ring {names} was" if len(pairs) == 1 else f"Rings {names} were"
    message = (
        f"{what} put on in box {rings.box[first]} on {_day(rings, first)} already: "
        f"on {_day(rings, later)} the event is re-encountered."
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
    mend = rings.mend(seen, str(rings.ring[seen]))
    if mend and rings.box[seen] != rings.box[ringed]:
        p = case.limit("p_of_fit")[mend.expected.fit - 1]
        message += f": {mend.clause} from {mend.ring}, which is missing from that visit."
        yield case.blame("seen_before_ringed", [At(label, "ring", mend.ring, p, p)], message, witnesses)
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


RULE = Rule("ring_twice", {"handlings": ("ring", "box", "date")}, check)
