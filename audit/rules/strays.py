"""Single rows that differ from a neighbouring visit in one cell: the box, the date, or neither.

Place, rings, times, young counted and the table of visits are weighed together, each as a likelihood ratio.
"""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.models.calendar_slips import date_slips
from audit.models.ring_number import bare
from audit.models.spelling import one_slip_apart
from audit.rules.columns import minutes_of_rows, numbers_of
from audit.rules.sheet_order import NO_DAY, blocks_in, day_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from numpy.typing import NDArray

    from audit.rules.boxed.visit_table import Visit
    from audit.rules.case import Case
    from audit.rules.heeded import Columns
    from audit.rules.ring_rows import Ringings

    Floats = NDArray[np.float64]

__all__ = ["STRAYS", "Stray", "stray_limits", "strays_of"]

#: Columns that tell where a row belongs, beside those of the rings.
STRAYS: Columns = {"handlings": ("time", "brood_size"), "visits": ("date", "box")}


@dataclass(frozen=True, slots=True)
class Stray:
    """A row that probably belongs to another visit.

    Attributes
    ----------
    row : int
        Position in the handlings.
    field : str
        ``box`` or ``date``: the likeliest cell.
    meant : (str, int)
        Visit that it belongs to.
    p : float
        Probability that this cell is wrong and this visit was meant.
    p_cell : float
        Probability that this cell is wrong, whatever was meant.
    p_other : float
        Probability that the other of the two cells is wrong.
    other : (str, int) or None
        Visit meant if it is the other cell.
    why : tuple of str
        What speaks for it, in words.
    shares : mapping of visit to float
        Probability of each visit that was weighed.
    """

    row: int
    field: str
    meant: Visit
    p: float
    p_cell: float
    p_other: float
    other: Visit | None
    why: tuple[str, ...]
    shares: Mapping[Visit, float]


@dataclass(frozen=True, slots=True)
class _Sheet:
    """Rows by visit, and how often innocent rows look odd in this season."""

    visit: list[Visit]
    rows: Mapping[Visit, list[int]]
    split: frozenset[Visit]
    listed: frozenset[Visit]
    span: tuple[int, int]
    single: float
    parted: float
    unlisted: float
    minutes: Floats
    size: Floats
    tidy: bool
    odd_labels: frozenset[str]
    sheets: NDArray[np.object_]


def stray_limits(case: Case) -> dict[str, float]:
    """Return the likelihood ratios that are declared with the rule of the boxes."""
    limits = case.declared.rules["boxes"].limits
    return {name: one.value for name, one in limits.items() if name.startswith("stray_")}


def strays_of(case: Case, rings: Ringings, limits: Mapping[str, float], blamed: set[int]) -> list[Stray]:
    """Weigh every row that stands alone in its visit, or apart from the rest of it.

    Parameters
    ----------
    case : Case
    rings : Ringings
    limits : mapping of str to float
        Likelihood ratios, declared with the rule of the boxes.
    blamed : set of int
        Rows that are explained already.
    """
    sheet = _sheet(case, limits)
    found = []
    for place, rows in sheet.rows.items():
        apart = place in sheet.split and sheet.parted < limits["stray_apart_most"]
        absent = sheet.span[0] <= place[1] <= sheet.span[1] and place not in sheet.listed
        if len(rows) == 1 or apart or (absent and len(rows) <= 2):  # noqa: PLR2004 - two rows of one slip each
            for i in rows:
                if i not in blamed and (len(rows) == 1 or absent or _stands_alone(sheet, i)):
                    stray = _weigh(sheet, rings, limits, i)
                    if stray is not None:
                        found.append(stray)
    return found


def _sheet(case: Case, limits: Mapping[str, float]) -> _Sheet:
    frame = case.sure("handlings")
    blocks = blocks_in(case, "handlings")
    visit: list[Visit] = [("", NO_DAY)] * len(frame)
    rows: dict[Visit, list[int]] = defaultdict(list)
    pieces: dict[Visit, list[int]] = defaultdict(list)
    for block in blocks:
        place = (block.box, block.day)
        pieces[place].append(len(block.rows))
        rows[place].extend(block.rows)
        for i in block.rows:
            visit[i] = place
    listed: frozenset[Visit] = frozenset()
    if case.season.has("visits", "date", "box"):
        listed = frozenset((block.box, block.day) for block in blocks_in(case, "visits"))
    # slips themselves make single rows and rows apart, so that visits of several rows show the habit
    first, last = _span(listed)
    large = {place for place, at in rows.items() if len(at) > 1 and first <= place[1] <= last}
    lacking = len(large - listed)
    if lacking > limits["stray_unlisted_share"] * len(large):
        listed = frozenset()
    single = sum(len(at) == 1 and (place in listed or not listed) for place, at in rows.items())
    split = {place: sizes for place, sizes in pieces.items() if len(sizes) > 1}
    parted = sum(len(sizes) > 2 or min(sizes) > 1 for sizes in split.values())  # noqa: PLR2004 - two pieces

    return _Sheet(
        visit=visit,
        rows=rows,
        split=frozenset(split),
        listed=listed,
        span=_span(listed),
        single=(single + 1 / 2) / (len(rows) + 1),
        parted=(parted + 1 / 2) / (len(rows) + 1),
        unlisted=(lacking + 1 / 2) / (len(large) + 1),
        minutes=minutes_of_rows(case),
        size=numbers_of(case, "brood_size"),
        tidy=sum(len(sizes) for sizes in pieces.values()) - len(rows)
        <= limits["stray_untidy_most"] * max(len(frame) - len(rows), 1),
        odd_labels=_odd_labels({box for box, _ in rows}),
        sheets=np.array([str(label).rpartition("!")[0] for label in frame.index], dtype=object),
    )


def _span(listed: frozenset[Visit]) -> tuple[int, int]:
    """First and last day in the table of visits: of others it tells nothing."""
    days = [day for _, day in listed]
    return min(days, default=0), max(days, default=-1)


def _odd_labels(boxes: set[str]) -> frozenset[str]:
    """Labels of a form of their own, where others share one."""
    forms = {box: re.sub(r"[0-9]", "9", re.sub(r"[^\W0-9_]", "A", box)) for box in boxes}
    count = Counter(forms.values())
    return frozenset(box for box, form in forms.items() if count[form] == 1 < max(count.values()))


def _stands_alone(sheet: _Sheet, i: int) -> bool:
    return all(sheet.visit[j] != sheet.visit[i] for j in (i - 1, i + 1) if 0 <= j < len(sheet.visit))


def _weigh(sheet: _Sheet, rings: Ringings, limits: Mapping[str, float], i: int) -> Stray | None:
    box, day = sheet.visit[i]
    if (box, day) in sheet.listed and len(sheet.rows[box, day]) == 1:
        # a slip hardly ever lands on a visit that is listed and has no other bird
        return None
    odds: dict[Visit, float] = {}
    why: dict[Visit, tuple[str, ...]] = {}
    # in an order of its own, so that of two as likely places always the same is named
    for place in sorted(_candidates(sheet, rings, i)):
        if (place[0] == box) != (place[1] == day):
            odds[place], why[place] = _odds(sheet, rings, limits, i, place)
    if not odds:
        return None
    total = 1 + sum(odds.values())
    best = max(odds, key=lambda place: odds[place])
    field = "date" if best[0] == box else "box"
    cell = sum(x for place, x in odds.items() if (place[0] == box) == (field == "date")) / total
    rivals = {place: x for place, x in odds.items() if (place[0] == box) != (field == "date")}
    return Stray(
        row=i,
        field=field,
        meant=best,
        p=odds[best] / total,
        p_cell=cell,
        p_other=sum(rivals.values()) / total,
        other=max(rivals, key=lambda place: rivals[place]) if rivals else None,
        why=why[best],
        shares={place: x / total for place, x in odds.items()},
    )


def _next_to(sheet: _Sheet, i: int) -> list[int]:
    """Rows just above and below, where the sheet is kept visit by visit."""
    if not sheet.tidy:
        return []
    return [j for j in (i - 1, i + 1) if 0 <= j < len(sheet.visit) and sheet.sheets[j] == sheet.sheets[i]]


def _candidates(sheet: _Sheet, rings: Ringings, i: int) -> set[Visit]:
    """Visits of the rows above and below, of the rings next to this one, and of this bird's home that day."""
    box, day = sheet.visit[i]
    near = {sheet.visit[j] for j in _next_to(sheet, i)}
    if rings.first[i] and rings.serial[i] >= 0:
        near |= {sheet.visit[j] for j in _beside(rings, i)}
    homes = {sheet.visit[j][0] for j in rings.rows_of_ring.get(bare(str(rings.ring[i])), ()) if j != i}
    near |= {(home, day) for home in homes if (home, day) in sheet.rows or (home, day) in sheet.listed}
    return {place for place in near if place != (box, day) and place[0] and place[1] != NO_DAY}


def _beside(rings: Ringings, i: int) -> list[int]:
    """First ringings with the ring just below and above."""
    return [
        j
        for step in (-1, 1)
        for j in rings.used.get((rings.key[i], int(rings.serial[i]) + step), ())
        if j != i
    ]


def _odds(
    sheet: _Sheet, rings: Ringings, limits: Mapping[str, float], i: int, place: Visit
) -> tuple[float, tuple[str, ...]]:
    """Multiply the prior odds of a slip by what each piece of evidence tells."""
    own = sheet.visit[i]
    by_date = place[0] == own[0]
    told = list(_told(sheet, rings, limits, i, place))
    odds = limits["stray_rate"] * float(np.prod([ratio for ratio, _ in told]))
    if by_date:
        meant, typed = (day_of(d) for d in (place[1], own[1]))
        odds *= 1.0 if meant in date_slips(typed) else limits["stray_far_date"]
    return odds, tuple(words for ratio, words in told if words and ratio > 1)


def _told(
    sheet: _Sheet, rings: Ringings, limits: Mapping[str, float], i: int, place: Visit
) -> Iterator[tuple[float, str]]:
    own = sheet.visit[i]
    there = sheet.rows.get(place, [])
    near = _next_to(sheet, i)
    if sum(sheet.visit[j] == place for j in near) > 1:
        yield limits["stray_between_rows"], "it stands between its rows"
    elif all(sheet.visit[j] != place for j in near) and (not sheet.listed or own in sheet.listed):
        yield limits["stray_not_beside"], ""
    if len(sheet.rows[own]) == 1:
        yield min(1 / sheet.single, limits["stray_most"]), ""
        if sheet.span[0] <= own[1] <= sheet.span[1]:
            yield min(1 / sheet.unlisted, limits["stray_most"]), "no visit is listed where it stands"
    elif own in sheet.split:
        yield min(limits["stray_visited_too"] / sheet.parted, limits["stray_most"]), ""
    if sheet.listed and place not in sheet.listed and own in sheet.listed:
        yield limits["stray_listed"], ""
    if place[0] != own[0] and own[0] in sheet.odd_labels and one_slip_apart(place[0], own[0]):
        yield limits["stray_odd_label"], f"no other box is written like {own[0]}"
    yield from _told_by_rings(sheet, rings, limits, i, place)
    near = [j for j in near if sheet.visit[j] == place]
    gaps = np.abs(sheet.minutes[near] - sheet.minutes[i])
    if np.isfinite(gaps).any():
        yield (
            (limits["stray_soon"], "")
            if np.nanmin(gaps) <= limits["stray_soon_min"]
            else (limits["stray_late"], "")
        )
    young = sheet.size[there]
    if there and np.isfinite(sheet.size[i]) and np.isfinite(young).any():
        if not (young == sheet.size[i]).any():
            yield limits["stray_other_size"], ""
        elif len(there) + 1 == sheet.size[i] > 1:
            yield limits["stray_one_short"], "just this row is lacking there"
        else:
            yield limits["stray_same_size"], ""


def _told_by_rings(
    sheet: _Sheet, rings: Ringings, limits: Mapping[str, float], i: int, place: Visit
) -> Iterator[tuple[float, str]]:
    own, by_date = sheet.visit[i], place[0] == sheet.visit[i][0]
    elsewhere = [sheet.visit[j] for j in rings.rows_of_ring.get(bare(str(rings.ring[i])), ()) if j != i]
    if place in elsewhere:
        yield limits["stray_same_bird"], ""
    if not by_date and elsewhere:
        if own[0] in {home for home, _ in elsewhere}:
            yield limits["stray_at_home"], ""
        elif place[0] in {home for home, _ in elsewhere}:
            yield limits["stray_home_there"], "the bird was handled there at another visit"
    if rings.first[i] and rings.serial[i] >= 0:
        beside = [sheet.visit[j] for j in _beside(rings, i)]
        if len(beside) > 1 and all(v == place or (by_date and v[1] == place[1]) for v in beside):
            yield limits["stray_between_rings"], "the rings next to its own were used there"
        elif beside and not any(v == place or (by_date and v[1] == place[1]) for v in beside):
            yield limits["stray_rings_elsewhere"], ""
