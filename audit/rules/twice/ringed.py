"""A ring that was put on more than once: another number, or the same bird, which was met again."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.rules.case import At
from audit.rules.twice.meant_ring import day_in_words, either, meant_in, p_of, place_in_words, stands_out

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.findings import Finding
    from audit.rules.case import Case
    from audit.rules.expected_rings import Mend
    from audit.rules.ring_rows import Ringings

__all__ = ["ringed_again", "ringed_twice"]


def ringed_twice(
    case: Case,
    rings: Ringings,
    tags: list[str],
    rows: list[int],
    again: dict[int, list[tuple[int, int]]],
) -> Iterator[Finding]:
    """Judge first ringings with one number, each against the one that stands best."""
    rows = sorted(rows, key=lambda i: (int(rings.day[i]), i))
    options = [(i, mend) for i in rows if (mend := meant_in(rings, tags, i, rows))]
    first = rows[0]
    while len(rows) > 1:
        strays = [i for i in rows if not rings.at_home[i]]
        doubtful = strays if len(strays) < len(rows) and strays else rows
        best = stands_out(rings, [(i, mend) for i, mend in options if i in doubtful])
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
            yield _blameeither(case, rings, told)
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


def _blame_ring(case: Case, rings: Ringings, i: int, mend: Mend, other: int) -> Finding:
    place = place_in_words(rings, other)
    clause = "" if mend.kind == "copied" else f": {mend.clause} from {mend.ring}"
    message = f"Ring {rings.ring[i]} was put on a bird {place} too, and {mend.ring} is missing here{clause}."
    p = p_of(case, mend)
    at = At(str(rings.labels[i]), "ring", mend.ring, p, p)
    return case.blame("ringed_twice", [at], message, [(str(rings.labels[other]), "ring")])


def _blameeither(case: Case, rings: Ringings, rows: list[int]) -> Finding:
    beside = [i for i in rows if rings.at_home[i]]
    strays = [i for i in rows if not rings.at_home[i]]
    places = " and ".join(place_in_words(rings, i) for i in rows)
    message = f"Ring {rings.ring[rows[0]]} was put on a bird {places}"
    if len(beside) == 1 and strays:
        message += f", but it stands in line only with the rings of {day_in_words(rings, beside[0])}."
        witnesses = [(str(rings.labels[i]), "ring") for i in beside]
        return case.blame(
            "ringed_twice", [At(str(rings.labels[i]), "ring") for i in strays], message, witnesses
        )
    return case.blame("ringed_twice", either(case, rings, rows), f"{message}.")


def ringed_again(case: Case, rings: Ringings, pairs: list[tuple[int, int]]) -> Finding:
    """Say of birds of one visit, as rows (first, later), that they had been ringed before."""
    first, later = pairs[0]
    names = ", ".join(str(rings.ring[i]) for _, i in pairs)
    what = f"Ring {names} was" if len(pairs) == 1 else f"Rings {names} were"
    message = (
        f"{what} put on {place_in_words(rings, first)} already: "
        f"on {day_in_words(rings, later)} the event is re-encountered."
    )
    suspects = [At(str(rings.labels[i]), "event", "re-encountered") for _, i in pairs]
    witnesses = [(str(rings.labels[i]), "event") for i, _ in pairs]
    return case.blame("ringed_again", suspects, message, witnesses)
