"""Do the rings of a visit follow the string? Rings are issued and used in order."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.models.ring_number import CLAUSES, bare, join_ring
from audit.models.sequence import missing_inside
from audit.rules.case import At
from audit.rules.crossed.blame import blame_crossing
from audit.rules.crossed.judged import crossings
from audit.rules.earlier_birds import EARLIER, earlier_rings
from audit.rules.expected_rings import Fit, expected_rings, mend_ring
from audit.rules.heeded import RINGINGS, TAG_BOOK, together
from audit.rules.marks import WINGS, Marks
from audit.rules.moves import said_moved
from audit.rules.ringings import ringings_of
from audit.rules.rings_again import LOSSES, is_new_of_string, said_ringed_again, taken_off
from audit.rules.rule import Rule
from audit.rules.tag_book import open_tag_book

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from audit.findings import Finding, NotRun
    from audit.rules.case import Case
    from audit.rules.crossed.visit_rows import Crossing
    from audit.rules.expected_rings import Mend
    from audit.rules.marks import Bird
    from audit.rules.ring_rows import Ringings

__all__ = ["RULE"]


def check(case: Case) -> Iterator[Finding | NotRun]:
    """Find rings that break the run of their visit, and gaps in the string."""
    rings = ringings_of(case)
    mended: dict[int, str] = {}
    for i, mend in _strays(rings):
        mended[i] = mend.ring
        yield _out_of_string(case, rings, i, mend)
    book = open_tag_book(case) if case.season.has("handlings", "tag") else None
    crossed: set[int] = set()
    for verdict in crossings(case, rings, book):
        # tags in the wrong rows are another rule's matter
        crossing, p = verdict.likely[0]
        if crossing.field != "ring" or crossing.rows & mended.keys():
            continue
        crossed |= crossing.rows
        slipped = _slipped(rings, crossing) if crossing.how == "slipped" else None
        if slipped is None:
            yield blame_crossing(case, rings, book, verdict)
        else:
            i, mend = slipped
            mended[i] = mend.ring
            yield _out_of_string(case, rings, i, mend, p)
    for i, ring in _out_of_turn(rings, crossed | set(mended)):
        mended[i] = ring
        message = (
            f"Ring {rings.ring[i]} stands between its neighbours in the sheet where {ring} should stand, "
            f"and {ring} is on no other bird."
        )
        around = [(str(rings.labels[j]), "ring") for j in (i - 1, i + 1)]
        yield case.blame("out_of_turn", [At(str(rings.labels[i]), "ring", ring)], message, around)
    marks = Marks(case, rings, book)
    strange = list(_strange_in_brood(case, rings, mended))
    for j, i in _ringed_as_another(rings, strange, mended):
        mended[j] = str(rings.ring[i])
        strange.remove(i)
        yield _never_put_on(case, rings, j, i)
    for i in strange:
        finding, meant = _unknown_in_brood(case, marks, i, mended)
        if finding is not None:
            mended[i] = meant
            yield finding
    yield from _gaps(case, rings, mended)


def _strays(rings: Ringings) -> Iterator[tuple[int, Mend]]:
    """First ringings that stand alone, with the ring that was meant."""
    stray = rings.first & ~rings.at_home & (rings.serial >= 0)
    taken: set[str] = set()
    for i in np.flatnonzero(stray).tolist():
        mend = mend_ring(rings, i, str(rings.ring[i]))
        if mend and mend.ring not in taken and not _at_an_end(rings, i, mend):
            taken.add(mend.ring)
            yield i, mend


def _slipped(rings: Ringings, crossing: Crossing) -> tuple[int, Mend] | None:
    """Name the slip in the one ring that breaks the order of its visit."""
    ((i, meant),) = crossing.meant
    among = [e for e in expected_rings(rings, i) if bare(e.ring) == meant]
    mend = mend_ring(rings, i, str(rings.ring[i]), among=among, two=True)
    return (i, mend) if mend else None


def _at_an_end(rings: Ringings, i: int, mend: Mend) -> bool:
    """Whether a string begins or ends with this ring: then only a gap in the visit speaks against it."""
    serial, half = int(rings.serial[i]), max(rings.string_length // 2, 1)
    ends = any(string.key == rings.key[i] and serial in (string.first, string.last) for string in rings.stock)
    # strings are also issued by halves
    return (ends or serial % half in (0, 1 % half)) and mend.expected.fit < Fit.BETWEEN


def _out_of_string(case: Case, rings: Ringings, i: int, mend: Mend, p: float | None = None) -> Finding:
    label = str(rings.labels[i])
    p = case.limit("p_of_fit")[mend.expected.fit - 1] if p is None else p
    beside = [str(rings.ring[j]) for j in mend.expected.beside]
    message = (
        f"Ring {rings.ring[i]} is not in line with {' and '.join(beside)}: "
        f"{mend.clause} from {mend.ring}, which is on no other bird."
    )
    witnesses = [(str(rings.labels[j]), "ring") for j in mend.expected.beside]
    return case.blame("out_of_string", [At(label, "ring", mend.ring, p, p)], message, witnesses)


def _out_of_turn(rings: Ringings, settled: set[int]) -> Iterator[tuple[int, str]]:
    """Rows like the third of 34, 35, 38, 37: the number just above stands where one is missing."""
    s, v = rings.serial, rings.visit
    one, two = 1, 2
    if s.size <= two:
        return
    before, here, after = slice(None, -two), slice(one, -one), slice(two, None)
    shape = (
        (v[here] >= 0)
        & (v[before] == v[here])
        & (v[after] == v[here])
        & (s[before] >= 0)
        & (s[after] - s[before] == two)
        & (s[here] != s[before] + one)
        & rings.first[before]
        & rings.first[here]
        & rings.first[after]
    )
    for place in np.flatnonzero(shape).tolist():
        i = place + one
        if i in settled or not rings.key[i - 1] == rings.key[i] == rings.key[i + 1]:
            continue
        at = (rings.key[i], int(s[i - 1]) + one)
        if at in rings.used or at in rings.lost or at[0] not in rings.running:
            continue
        # a lost ring with a later one used in its place would leave the number after it unused in turn
        if len(rings.used.get((rings.key[i], int(s[i])), ())) > 1:
            continue
        ring = join_ring(rings.own[at[0]], at[1], at[0][1])
        if rings.slip(ring, str(rings.ring[i])):
            yield i, ring


def _strange_in_brood(case: Case, rings: Ringings, mended: Mapping[int, str]) -> Iterator[int]:
    """Later encounters of a ring that is strange to its box, where no remark and no history tells why."""
    doubted = _doubted_texts(case)
    remarked = _remarked(case)
    known = earlier_rings(case)
    for i in np.flatnonzero((rings.event == "re-encountered") & (rings.serial >= 0)).tolist():
        same = rings.rows_of_ring[bare(rings.ring[i])]
        if rings.visit[i] < 0 or any(rings.box[j] == rings.box[i] and j != i for j in same):
            continue
        if i in mended or bare(str(rings.ring[i])) in {bare(ring) for ring in mended.values()}:
            continue
        if bare(str(rings.ring[i])) in known:
            # a bird of an earlier season
            continue
        if any(rings.ring[i] == text or rings.slip(str(rings.ring[i]), text) for text in doubted):
            # the row of its first ringing is the one that was blamed
            continue
        elsewhere = [j for j in same if j != i]
        if elsewhere and (not rings.mates(i) or any(not rings.box[j] for j in elsewhere)):
            # a bird of another box: as likely the box is wrong
            continue
        if any(int(rings.day[j]) < int(rings.day[i]) - rings.brood_days for j in elsewhere):
            # an old bird may breed in another box than that of its ringing
            continue
        label = str(rings.labels[i])
        if label in remarked and (said_moved(case, [label]) or said_ringed_again(case, [label])):
            continue
        if is_new_of_string(rings, i):
            # a ring of this day's string is a new one, whatever the event says
            continue
        yield i


def _ringed_as_another(
    rings: Ringings, strange: Sequence[int], mended: Mapping[int, str]
) -> Iterator[tuple[int, int]]:
    """First ringings out of line, each with the row of a ring never put on that would be in line there."""
    odd: dict[str, list[int]] = {}
    for j in np.flatnonzero(rings.first & ~rings.at_home & (rings.serial >= 0) & (rings.visit >= 0)).tolist():
        if j not in mended:
            odd.setdefault(str(rings.box[j]), []).append(j)
    for i in strange:
        here = {bare(str(rings.ring[k])) for k in (*rings.mates(i), i)}
        found = [
            j
            for j in odd.get(str(rings.box[i]), ())
            if 0 < int(rings.day[i]) - int(rings.day[j]) <= rings.brood_days
            and bare(str(rings.ring[j])) not in here
            and any(
                bare(e.ring) == bare(str(rings.ring[i]))
                for e in expected_rings(rings, j)
                if e.fit >= Fit.BESIDE
            )
        ]
        if len(found) == 1 and len(rings.rows_of_ring[bare(str(rings.ring[i]))]) == 1:
            odd[str(rings.box[i])].remove(found[0])
            yield found[0], i


def _never_put_on(case: Case, rings: Ringings, j: int, i: int) -> Finding:
    expected = next(e for e in expected_rings(rings, j) if bare(e.ring) == bare(str(rings.ring[i])))
    p = case.limit("p_of_fit")[expected.fit - 1]
    day = str(np.datetime64(int(rings.day[i]), "D"))
    beside = " and ".join(str(rings.ring[k]) for k in expected.beside)
    message = (
        f"Ring {rings.ring[j]} is not in line with {beside}: "
        f"{rings.ring[i]} would be, and is on a bird of this brood on {day} though nobody put it on."
    )
    witnesses = [(str(rings.labels[k]), "ring") for k in (*expected.beside, i)]
    at = At(str(rings.labels[j]), "ring", str(rings.ring[i]), p, p)
    return case.blame("out_of_string", [at], message, witnesses)


def _unknown_in_brood(
    case: Case, marks: Marks, i: int, mended: Mapping[int, str]
) -> tuple[Finding | None, str]:
    """Say which bird of the brood the one with a strange ring is, if it is one."""
    rings, met = marks.rings, marks.met(i)
    if met is None:
        return None, ""
    bird, p = met.of(i)
    if bird is None or p < case.limit("who_from") or mended.keys() & set(bird.rows):
        return None, ""
    if _beside_its_brood(rings, i, bird):
        # it may be the first visit where the rings stand wrong
        return None, ""
    last = max(str(np.datetime64(int(rings.day[j]), "D")) for j in bird.rows)
    if taken_off(case, bird.ring, last):
        return None, ""
    meant, typed = str(rings.ring[bird.rows[0]]), str(rings.ring[i])
    slip = rings.slip(meant, typed, two=True)
    shared = _shared_tag(marks, i, bird)
    if rings.grown[i] and not slip and not shared:
        # a box has two parents, and a mate may bear any ring
        return None, ""
    by = f"{CLAUSES[slip]} from {meant}" if slip else f"this is rather {meant}"
    tag = f" and has the tag {shared}" if shared else ""
    message = f"No bird of this brood got ring {typed}: {by}, which is missing from this visit{tag}."
    witnesses = [(str(rings.labels[j]), "ring") for j in bird.rows]
    at = At(str(rings.labels[i]), "ring", meant, p, p)
    return case.blame("unknown_in_brood", [at], message, witnesses), meant


def _beside_its_brood(rings: Ringings, i: int, bird: Bird) -> bool:
    """Whether a ring that nobody put on comes right beside one put on when its bird was ringed."""
    at = (rings.key[i], int(rings.serial[i]))
    if at in rings.used or at in rings.lost:
        return False
    ringed = {int(rings.visit[j]) for j in bird.rows if rings.first[j]}
    return any(
        int(rings.visit[k]) in ringed for step in (-1, 1) for k in rings.used.get((at[0], at[1] + step), ())
    )


def _shared_tag(marks: Marks, i: int, bird: Bird) -> str:
    """Return the tag that a row has in common with a bird."""
    here = marks.tags.get(i)
    if (
        here is None
        or marks.book is None
        or all(here.key != marks.tags[j].key for j in bird.rows if j in marks.tags)
    ):
        return ""
    return marks.book.printed(here.key)


def _remarked(case: Case) -> frozenset[str]:
    """Find the handlings with a remark."""
    if not case.season.has("handlings", "remarks"):
        return frozenset()
    remarks = case.frame("handlings")["remarks"]
    return frozenset(str(label) for label in remarks.index[remarks.notna()])


def _doubted_texts(case: Case) -> list[str]:
    """Ring numbers as typed in cells that an earlier rule blamed."""
    typed = case.season.tables["handlings"].typed["ring"]
    known = typed.index
    return [str(typed[label]).upper() for label, field in case.doubted if field == "ring" and label in known]


def _gaps(case: Case, rings: Ringings, mended: dict[int, str]) -> Iterator[Finding]:
    """Numbers in the middle of a string that are on no bird and were not written down as lost."""
    # a loss that is on a bird is itself a slip, perhaps for the number that is missing
    mistaken = [join_ring(rings.own.get(key, key[0]), n, key[1]) for key, n in rings.lost & rings.used.keys()]
    odd = [*_doubted_texts(case), *(str(rings.ring[i]) for i in mended), *mistaken]
    explained = {bare(ring) for ring in mended.values()} | {bare(ring) for ring in rings.rows_of_ring}
    for key, rows in rings.of_series.items():
        if key not in rings.running:
            continue
        for low, high in missing_inside(rings.serial[rows], case.limit("gap_most")):
            below, above = rings.used[key, low - 1][0], rings.used[key, high + 1][0]
            apart = abs(int(rings.day[above]) - int(rings.day[below]))
            numbers = [
                n
                for n in range(low, high + 1)
                if (key, n) not in rings.lost and bare(join_ring(key[0], n, key[1])) not in explained
            ]
            names = [join_ring(rings.own[key], n, key[1]) for n in numbers]
            names = [name for name in names if not any(rings.slip(name, text) for text in odd)]
            if not names or apart > case.limit("gap_days"):
                continue
            what = f"Ring {names[0]} is" if len(names) == 1 else f"Rings {', '.join(names)} are"
            message = (
                f"{what} on no bird and not among the losses, though "
                f"{rings.ring[below]} and {rings.ring[above]} were used."
            )
            witnesses = [(str(rings.labels[below]), "ring")]
            yield case.blame("gap", [At(str(rings.labels[above]), "ring")], message, witnesses)


RULE = Rule(
    "ring_order",
    {"handlings": ("ring", "box", "date")},
    check,
    heeds=together(RINGINGS, TAG_BOOK, WINGS, LOSSES, EARLIER),
)
