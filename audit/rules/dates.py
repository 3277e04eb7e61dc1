"""Is every date a possible day of this season? Sheet, rings and visits each say when a row was written."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from audit.models.calendar_slips import date_slips
from audit.models.ring_number import bare
from audit.rules.case import At
from audit.rules.hatching import hatching
from audit.rules.heeded import READER_CLOCK, RINGINGS, together
from audit.rules.reader_clock import clocks_of
from audit.rules.ring_clock import ring_brackets
from audit.rules.ringings import Fit, Ringings, ringings_of
from audit.rules.rule import Rule
from audit.rules.sheet_order import (
    NO_DAY,
    Block,
    Bracket,
    blocks_of,
    order_brackets,
    stands_in_order,
)
from audit.rules.strays import STRAYS, stray_limits, strays_of
from audit.rules.tag_keys import texts_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from audit.findings import Finding, NotRun
    from audit.rules.case import Case

__all__ = ["RULE"]

_KINDS = {
    "exchanged": "day and month were exchanged",
    "year": "a slip in the year",
    "month": "a slip in the month",
    "day": "a slip in the day",
    "next": "a day off",
}

#: Reasons that come from where a row stands.
_PLACED = frozenset({"order", "clock", "reads", "rows", "visit"})


@dataclass(frozen=True, slots=True)
class _Known:
    """What the season says about days.

    `brackets` of pages, `against` and `agreed` of rows; `visited` box-days of the table of visits, `handled`
    those of the handlings; `complete` whether the table of visits lacks hardly any; `years` of this season;
    `pages_of_year` how many pages of the sheet are of each year; `read` days on which the reader read the tag
    of a row.
    """

    today: int
    years: frozenset[int]
    months: tuple[int, int]
    brackets: Mapping[int, Bracket]
    against: Mapping[int, Bracket]
    agreed: frozenset[int]
    visited: frozenset[tuple[str, int]]
    handled: Mapping[tuple[str, int], int]
    on_day: Mapping[int, int]
    complete: bool
    pages_of_year: Mapping[int, int]
    read: Mapping[int, frozenset[int]]


@dataclass(slots=True)
class _Doubt:
    """A block whose day does not fit, why, and the days that would.

    `days` have the number of signs in their favour; `unmet` are those of visits without any bird.
    """

    block: Block
    reasons: dict[str, str] = field(default_factory=dict)
    days: dict[int, int] = field(default_factory=dict)
    unmet: set[int] = field(default_factory=set)

    @property
    def leading(self) -> list[int]:
        """Days with the most signs in their favour."""
        best = max(self.days.values(), default=0)
        return [day for day, score in self.days.items() if score == best]


def check(case: Case) -> Iterator[Finding | NotRun]:
    """Find dates that cannot be, or that a single slip would put in their place."""
    frame = case.sure("handlings")
    blocks = blocks_of(frame)
    if not blocks:
        yield case.not_run("slip", "no handling has both date and box")
        return
    labels = [str(label) for label in frame.index]
    rings = ringings_of(case)
    known = _known(case, blocks, rings)
    if known.today == NO_DAY:
        yield case.not_run("future", "most dates lie after today: the clock of this computer may be wrong")
    doubts = [doubt for i in range(len(blocks)) if (doubt := _doubt(case, blocks, i, rings, known)).reasons]
    blamed: set[int] = set()
    for finding, rows in _say(case, doubts, labels):
        if finding.severity != "note":
            blamed.update(rows)
        yield finding
    for finding, row in _strays(case, rings, blamed):
        blamed.add(row)
        yield finding
    yield from _seen_before(case, blocks, rings, known, blamed)
    yield from hatching(case, frozenset(labels[i] for i in blamed))


def _known(case: Case, blocks: list[Block], rings: Ringings) -> _Known:
    handled: Counter[tuple[str, int]] = Counter()
    on_day: Counter[int] = Counter()
    years: Counter[int] = Counter()
    for block in blocks:
        handled[block.box, block.day] += len(block.rows)
        on_day[block.day] += len(block.rows)
        years[_date(block.day).year] += len(block.rows)
    least = min(max(case.limit("year_share") * years.total(), 2), years.total() / 2)
    today = _today(case)
    if sum(n for day, n in on_day.items() if day > today) * 2 > years.total():
        today = NO_DAY
    visited: frozenset[tuple[str, int]] = frozenset()
    if case.season.has("visits", "date", "box"):
        visited = frozenset((block.box, block.day) for block in blocks_of(case.sure("visits")))
    listed = sum(place in visited for place in handled)
    against, agreed = ring_brackets(
        rings,
        reach=case.limit("reach"),
        most_days=case.limit("clock_days"),
        share=case.limit("contest_share"),
    )
    brackets = {
        page: bracket
        for page, bracket in order_brackets(
            blocks,
            share=case.limit("order_share"),
            least=case.limit("order_least"),
            window=case.limit("order_window"),
        ).items()
        if bracket[1] - bracket[0] <= case.limit("order_days")
    }
    sure = {
        block.page
        for block in blocks
        if (block.box, block.day) in visited or not agreed.isdisjoint(block.rows)
    }
    return _Known(
        today=today,
        years=frozenset(year for year, n in years.items() if n >= least),
        months=(case.setting("season.window.first_month"), case.setting("season.window.last_month")),
        brackets={
            page: brackets[page]
            for page in brackets.keys()
            - sure
            - _contested(blocks, brackets, sure, case.limit("contest_share"))
        },
        against=against,
        agreed=agreed,
        visited=visited,
        handled=handled,
        on_day=on_day,
        complete=listed >= case.limit("visits_share") * len(handled),
        pages_of_year=Counter(
            _date(day).year for day in {block.page: block.day for block in blocks}.values()
        ),
        read=_days_read(case, blocks),
    )


def _days_read(case: Case, blocks: list[Block]) -> dict[int, frozenset[int]]:
    """Days on which the hand reader read the tag of each row; none where its calendar is wrong."""
    if not (case.season.has("tag_reads", "tag", "read_at") and case.season.has("handlings", "tag")):
        return {}
    moments = clocks_of(case).moments
    stamps = np.where(np.isnat(moments), NO_DAY, moments.astype("datetime64[D]").astype(np.int64))
    days: dict[str, set[int]] = {}
    for tag, day in zip(texts_of(case.sure("tag_reads"), "tag"), stamps.tolist(), strict=True):
        if tag and day != NO_DAY:
            days.setdefault(tag, set()).add(day)
    tags = case.sure("handlings")["tag"].fillna("").tolist()
    read = {i: frozenset(days[tags[i]]) for block in blocks for i in block.rows if tags[i] in days}
    agreed = sum(block.day in read[i] for block in blocks for i in block.rows if i in read)
    return read if agreed >= case.limit("reads_share") * len(read) else {}


def _when_read(block: Block, rings: Ringings, known: _Known) -> int | None:
    """Find the one day on which the tags of a block were read instead of on its own."""
    told = [known.read[i] for i in block.rows if i in known.read]
    if not told or any(block.day in days for days in told) or len(told) * 2 < len(block.rows):
        return None
    shared = frozenset.intersection(*told)
    shared = frozenset(day for day in shared if not _seen(block, day, rings))
    return min(shared) if len(shared) == 1 else None


def _contested(
    blocks: list[Block], brackets: Mapping[int, Bracket], sure: set[int], share: float
) -> set[int]:
    """Pages that break the order, but of which the one above or below may as well be the wrong one."""
    rows: Counter[int] = Counter()
    for block in blocks:
        rows[block.page] += len(block.rows)
    return {
        page
        for page in brackets
        for other in (page - 1, page + 1)
        if other in brackets and other not in sure and rows[page] > share * rows[other]
    }


def _today(case: Case) -> int:
    told = str(case.setting("season.clock.today"))
    day = dt.date.today() if told == "today" else dt.date.fromisoformat(told)  # noqa: DTZ011 - the ringer's own day
    return int(np.datetime64(day, "D").astype(np.int64))


def _date(day: int) -> dt.date:
    made: dt.date = np.datetime64(day, "D").astype(dt.date)
    return made


def _number(day: dt.date) -> int:
    return int(np.datetime64(day, "D").astype(np.int64))


def _doubt(case: Case, blocks: list[Block], at: int, rings: Ringings, known: _Known) -> _Doubt:
    """Gather what speaks against the day of a block, and the days that all of it allows."""
    block = blocks[at]
    doubt = _Doubt(block)
    reasons = doubt.reasons
    day = _date(block.day)
    allowed: list[Bracket] = []
    if known.today != NO_DAY and block.day > known.today:
        reasons["future"] = f"it is later than today, {_date(known.today)}"
        allowed.append((NO_DAY, known.today))
    if day.year < case.limit("oldest_year") or day.year > max(known.years, default=day.year) + 1:
        reasons["year"] = f"{day.year} is no year of this season"
    elif day.year not in known.years and known.pages_of_year.get(day.year) == 1:
        reasons["rare"] = f"no other row is of {day.year}"
    listed = (block.box, block.day) in known.visited
    sure = listed or not known.agreed.isdisjoint(block.rows)
    bracket = known.brackets.get(block.page)
    if bracket:
        reasons["order"] = f"the sheet goes from {_date(bracket[0])} to {_date(bracket[1])} here"
        allowed.append(bracket)
    timed = [known.against[i] for i in block.rows if i in known.against]
    alone = len(block.rows) == 1 and _may_be_ring(rings, block.rows[0])
    if timed and len(timed) * 2 > len(block.rows) and not listed and not alone:
        low, high = max(low for low, _ in timed), min(high for _, high in timed)
        if low <= high:
            reasons["clock"] = (
                f"the rings next to these went on birds on {_date(low)}"
                if low == high
                else f"the rings next to these went on birds on {_date(low)} and {_date(high)}"
            )
            allowed.append((low, high))
    read = _when_read(block, rings, known)
    if read is not None and not listed:
        what = "this tag" if len(block.rows) == 1 else "these tags"
        reasons["reads"] = f"the hand reader read {what} on {_date(read)}"
        allowed.append((read, read))
    around = _around(blocks, at, rings)
    if around is not None and not sure and known.handled[block.box, block.day] == len(block.rows):
        reasons["rows"] = f"the rows of box {block.box} above and below are of {_date(around)}"
        allowed.append((around, around))
    if known.complete and known.visited and not listed:
        reasons["visit"] = f"no visit to box {block.box} is listed on {day}"
    first, last = known.months
    if not first <= day.month <= last and not _has_company(case, block.day, known):
        reasons["season"] = f"month {day.month} lies outside the season"
    if reasons:
        doubt.days.update(_fitting(blocks, at, doubt, allowed, (rings, known)))
    if read is not None and "reads" in reasons and not doubt.days and len(block.rows) > 1:
        doubt.days.update({read: 1} if all(low <= read <= high for low, high in allowed) else {})
    if not doubt.days and len(reasons.keys() & _PLACED) > 1:
        # more than one slip away, but two kinds of evidence agree on the day of the same brood next to it
        beside = {
            blocks[j].day for j in (at - 1, at + 1) if 0 <= j < len(blocks) and _of_one_brood(blocks, at, j)
        }
        doubt.days.update(
            (other, 0)
            for other in beside
            if all(low <= other <= high for low, high in allowed)
            and ("visit" not in reasons or (block.box, other) in known.visited)
            and not _seen(block, other, rings)
        )
    return doubt


def _of_one_brood(blocks: list[Block], at: int, other: int) -> bool:
    return blocks[at].box == blocks[other].box and blocks[at].sheet == blocks[other].sheet


def _may_be_ring(rings: Ringings, i: int) -> bool:
    """Whether a slip in the ring rather than in the date would explain a row."""
    return rings.mend(i, str(rings.ring[i]), least=Fit.TIP) is not None


def _around(blocks: list[Block], at: int, rings: Ringings) -> int | None:
    """Day of the same box just above and just below, when it is one and the same other day.

    Birds that have a row of that day of their own stand there because the sheet is sorted by ring.
    """
    if not 0 < at < len(blocks) - 1:
        return None
    above, here, below = blocks[at - 1], blocks[at], blocks[at + 1]
    same = above.sheet == here.sheet == below.sheet and above.box == here.box == below.box
    if not same or not above.day == below.day != here.day:
        return None
    birds = {bare(rings.ring[i]) for i in here.rows} - {""}
    others = {
        bare(rings.ring[j]) for j in rings.rows_of_box.get(here.box, ()) if int(rings.day[j]) == above.day
    }
    return above.day if birds.isdisjoint(others) else None


def _has_company(case: Case, day: int, known: _Known) -> bool:
    most = case.limit("season_days")
    return any(other != day and abs(other - day) <= most for other in known.on_day)


def _fitting(
    blocks: list[Block],
    at: int,
    doubt: _Doubt,
    allowed: list[Bracket],
    told: tuple[Ringings, _Known],
) -> Iterator[tuple[int, int]]:
    """Days one slip away that all evidence allows, each with the number of signs in its favour."""
    rings, known = told
    block = blocks[at]
    first, last = known.months
    beside = {
        blocks[j].day for j in (at - 1, at + 1) if 0 <= j < len(blocks) and blocks[j].sheet == block.sheet
    }
    same_box = {
        blocks[j].day for j in (at - 1, at + 1) if 0 <= j < len(blocks) and blocks[j].box == block.box
    }
    for other in date_slips(_date(block.day)):
        day = _number(other)
        if not all(low <= day <= high for low, high in allowed):
            continue
        if other.year not in known.years or not first <= other.month <= last:
            continue
        if "visit" in doubt.reasons and (block.box, day) not in known.visited:
            continue
        if "rare" in doubt.reasons and not allowed and (day not in same_box or _seen(block, day, rings)):
            continue
        unmet = (block.box, day) in known.visited and not known.handled.get((block.box, day))
        here = known.handled.get((block.box, day), 0) > 0
        if unmet:
            doubt.unmet.add(day)
        elif doubt.reasons.keys() == {"visit"} and not _left_out(block, day, rings, known):
            continue
        signs = len(allowed) - ("future" in doubt.reasons) + unmet
        signs += here or day in beside
        if signs:
            yield day, 2 * signs + (day in beside) + (day in known.on_day)


def _seen(block: Block, day: int, rings: Ringings) -> bool:
    """Whether a bird of a block has a row of its own on another day in the same box."""
    there = {bare(rings.ring[j]) for j in rings.rows_of_box.get(block.box, ()) if int(rings.day[j]) == day}
    return not there.isdisjoint(bare(rings.ring[i]) for i in block.rows if rings.ring[i])


def _left_out(block: Block, day: int, rings: Ringings, known: _Known) -> bool:
    """Whether a single row may belong to a listed visit at which its bird has no row."""
    if len(block.rows) > 1 or (known.visited and (block.box, day) not in known.visited):
        return False
    i = block.rows[0]
    there = [j for j in rings.rows_of_box.get(block.box, ()) if int(rings.day[j]) == day]
    if not there or bare(rings.ring[i]) in {bare(rings.ring[j]) for j in there}:
        return False
    return rings.belongs(i, there)


def _say(case: Case, doubts: list[_Doubt], labels: list[str]) -> Iterator[tuple[Finding, tuple[int, ...]]]:
    """Make one finding of the blocks that one slip explains."""
    pages: dict[tuple[int, str, int | None], list[_Doubt]] = {}
    for doubt in doubts:
        meant = doubt.leading[0] if len(doubt.leading) == 1 else None
        outcome = _outcome(doubt.reasons, bool(doubt.days), meant is not None)
        if outcome == "no_visit" and meant not in doubt.unmet:
            outcome = "slip"
        if outcome:
            pages.setdefault((doubt.block.page, outcome, meant), []).append(doubt)
    for (_, outcome, meant), group in pages.items():
        rows = tuple(i for doubt in group for i in doubt.block.rows)
        day = _date(group[0].block.day)
        reasons = dict(item for doubt in group for item in doubt.reasons.items())
        if len(reasons) > 1:
            reasons.pop("visit", None)
        why = " and ".join(reasons.values())
        suggested = "" if meant is None else _date(meant)
        p = _probability(case, reasons, outcome)
        suspects = []
        for doubt in group:
            others = [] if suggested else case.evenly(outcome, [_date(other) for other in doubt.leading])
            suspects += [At(labels[i], "date", suggested, p, p, others) for i in doubt.block.rows]
        if outcome == "no_visit" and meant is not None:
            suspects = _of_two_tables(case, suspects, group[0].block, meant)
        message = f"{day} does not fit: {why}"
        if meant is not None:
            slip = date_slips(day).get(_date(meant))
            how = f" ({_KINDS[slip]})" if slip else ""
            message += f"; {suggested} was probably meant{how}"
        yield case.blame(outcome, suspects, f"{message}."), rows


def _of_two_tables(case: Case, handled: list[At], block: Block, meant: int) -> list[At]:
    """Say which of two dates is wrong: the one whose sheet could bear the other, or perhaps either."""
    listed = blocks_of(case.sure("visits"))
    labels = case.frame("visits").index
    at = next((k for k, other in enumerate(listed) if (other.box, other.day) == (block.box, meant)), None)
    if at is None:
        return handled
    visit_fits = stands_in_order(listed, at, block.day)
    blocks = blocks_of(case.sure("handlings"))
    place = next(k for k, other in enumerate(blocks) if other.rows == block.rows)
    handling_fits = stands_in_order(blocks, place, meant)
    listed_rows = [At(str(labels[i]), "date", _date(block.day)) for i in listed[at].rows]
    if visit_fits == handling_fits:
        return handled + listed_rows
    p = case.limit("p_one_table")
    return [replace(one, p_error=p) for one in (handled if handling_fits else listed_rows)]


def _outcome(reasons: Mapping[str, str], reachable: bool, named: bool) -> str:
    """Choose the answer that the reasons allow; empty when they are too weak."""
    if "future" in reasons:
        return "future"
    if "year" in reasons:
        return "year"
    if "rows" in reasons and reachable:
        return "slip"
    if reasons.keys() & {"clock", "order", "reads"} and named:
        return "slip"
    if "rare" in reasons and named:
        return "slip"
    if "season" in reasons:
        return "slip" if named else "out_of_season"
    if "visit" in reasons and named:
        return "no_visit"
    return ""


def _probability(case: Case, reasons: Mapping[str, str], outcome: str) -> float | None:
    if outcome != "slip":
        return None
    steps = case.limit("p_of_support")
    return float(steps[min(len(reasons), len(steps)) - 1])


def _strays(case: Case, rings: Ringings, blamed: set[int]) -> Iterator[tuple[Finding, int]]:
    """Single rows whose date was probably that of the visit next to them."""
    limits = stray_limits(case)
    for stray in strays_of(case, rings, limits, blamed):
        if stray.field != "date" or stray.p_cell < limits["stray_p_least"]:
            continue
        label, (box, day) = str(rings.labels[stray.row]), stray.meant
        why = " and ".join(stray.why) or "it stands beside its rows"
        typed = _date(int(rings.day[stray.row]))
        kind = date_slips(typed).get(_date(day))
        how = f" ({_KINDS[kind]})" if kind else ""
        message = (
            f"{typed} does not fit: the row belongs to the visit to box {box} on {_date(day)}{how}: {why}."
        )
        p = min(stray.p_cell, case.limit("p_most"))
        others = [(_date(other), share) for (there, other), share in stray.shares.items() if there == box]
        yield case.blame("slip", [At(label, "date", _date(day), p, stray.p, others)], message), stray.row


def _seen_before(
    case: Case, blocks: list[Block], rings: Ringings, known: _Known, blamed: set[int]
) -> Iterator[Finding]:
    """Rows of one visit whose birds were ringed at one later visit to the same box."""
    ringed_at = {
        (bare(rings.ring[i]), str(rings.box[i])): i
        for i in np.flatnonzero(rings.event == "ringed").tolist()
        if i not in blamed and rings.visit[i] >= 0
    }
    for block in blocks:
        if not blamed.isdisjoint(block.rows):
            continue
        if any(rings.event[i] != "re-encountered" for i in block.rows):
            continue
        origins = [ringed_at.get((bare(rings.ring[i]), block.box)) for i in block.rows]
        told = [i for i in origins if i is not None]
        later = {int(rings.day[i]) for i in told}
        if len(told) < len(origins) or len(later) != 1 or min(later) <= block.day:
            continue
        yield _before_ringing(case, rings, known, block, told)


def _before_ringing(case: Case, rings: Ringings, known: _Known, block: Block, origins: list[int]) -> Finding:
    ringed = int(rings.day[origins[0]])
    message = (
        f"The birds of box {block.box} were seen again on {_date(block.day)}, "
        f"before they were ringed on {_date(ringed)}"
    )
    seen = [str(rings.labels[i]) for i in block.rows]
    first = [str(rings.labels[i]) for i in origins]
    if known.agreed.isdisjoint(origins):
        suspects = [At(label, "date") for label in (*seen, *first)]
        return case.blame("seen_before_ringed", suspects, f"{message}: one of the two dates is wrong.")
    slips = date_slips(_date(block.day))
    most = case.limit("brood_days")
    near = [
        day
        for day in slips
        if (0 < _number(day) - ringed <= most and (block.box, _number(day)) not in known.handled)
        or (_number(day) != ringed and _left_out(block, _number(day), rings, known))
    ]
    turned = [day for day in near if slips[day] in ("exchanged", "year")] or near
    suggested = turned[0] if len(turned) == 1 else ""
    message += f": {suggested} was probably meant." if suggested else "."
    p = case.limit("p_seen")
    others = [] if suggested else case.evenly("seen_before_ringed", turned)
    suspects = [At(label, "date", suggested, p, others=others) for label in seen]
    return case.blame("seen_before_ringed", suspects, message, [(label, "date") for label in first])


RULE = Rule(
    "dates",
    {"handlings": ("date", "box", "ring")},
    check,
    heeds=together(RINGINGS, STRAYS, READER_CLOCK, {"handlings": ("age_days", "hatch_date")}),
)
