"""A block whose day does not fit: why, and the days one slip away that would."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from audit.models.calendar_slips import date_slips
from audit.models.ring_number import bare
from audit.rules.expected_rings import Fit, mend_ring
from audit.rules.sheet_order import NO_DAY, Block, Bracket, day_of, number_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.rules.case import Case
    from audit.rules.dated.evidence import DaysKnown
    from audit.rules.ring_rows import Ringings

__all__ = ["DateDoubt", "doubt_of", "left_out"]

#: Reasons that come from where a row stands.
_PLACED = frozenset({"order", "clock", "reads", "rows", "visit"})


@dataclass(slots=True)
class DateDoubt:
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


def doubt_of(case: Case, blocks: list[Block], at: int, rings: Ringings, known: DaysKnown) -> DateDoubt:
    """Gather what speaks against the day of a block, and the days that all of it allows."""
    block = blocks[at]
    doubt = DateDoubt(block)
    reasons = doubt.reasons
    day = day_of(block.day)
    allowed: list[Bracket] = []
    if known.today != NO_DAY and block.day > known.today:
        reasons["future"] = f"it is later than today, {day_of(known.today)}"
        allowed.append((NO_DAY, known.today))
    if day.year < case.limit("oldest_year") or day.year > max(known.years, default=day.year) + 1:
        reasons["year"] = f"{day.year} is no year of this season"
    elif day.year not in known.years and known.pages_of_year.get(day.year) == 1:
        reasons["rare"] = f"no other row is of {day.year}"
    listed = (block.box, block.day) in known.visited
    sure = listed or not known.agreed.isdisjoint(block.rows)
    bracket = known.brackets.get(block.page)
    if bracket:
        reasons["order"] = f"the sheet goes from {day_of(bracket[0])} to {day_of(bracket[1])} here"
        allowed.append(bracket)
    timed = [known.against[i] for i in block.rows if i in known.against]
    alone = len(block.rows) == 1 and _may_be_ring(rings, block.rows[0])
    if timed and len(timed) * 2 > len(block.rows) and not listed and not alone:
        low, high = max(low for low, _ in timed), min(high for _, high in timed)
        if low <= high:
            reasons["clock"] = (
                f"the rings next to these went on birds on {day_of(low)}"
                if low == high
                else f"the rings next to these went on birds on {day_of(low)} and {day_of(high)}"
            )
            allowed.append((low, high))
    read = _when_read(block, rings, known)
    if read is not None and not listed:
        what = "this tag" if len(block.rows) == 1 else "these tags"
        reasons["reads"] = f"the hand reader read {what} on {day_of(read)}"
        allowed.append((read, read))
    around = _around(blocks, at, rings)
    if around is not None and not sure and known.handled[block.box, block.day] == len(block.rows):
        reasons["rows"] = f"the rows of box {block.box} above and below are of {day_of(around)}"
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


def _when_read(block: Block, rings: Ringings, known: DaysKnown) -> int | None:
    """Find the one day on which the tags of a block were read instead of on its own."""
    told = [known.read[i] for i in block.rows if i in known.read]
    if not told or any(block.day in days for days in told) or len(told) * 2 < len(block.rows):
        return None
    shared = frozenset.intersection(*told)
    shared = frozenset(day for day in shared if not _seen(block, day, rings))
    return min(shared) if len(shared) == 1 else None


def _of_one_brood(blocks: list[Block], at: int, other: int) -> bool:
    return blocks[at].box == blocks[other].box and blocks[at].sheet == blocks[other].sheet


def _may_be_ring(rings: Ringings, i: int) -> bool:
    """Whether a slip in the ring rather than in the date would explain a row."""
    return mend_ring(rings, i, str(rings.ring[i]), least=Fit.TIP) is not None


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


def _has_company(case: Case, day: int, known: DaysKnown) -> bool:
    most = case.limit("season_days")
    return any(other != day and abs(other - day) <= most for other in known.on_day)


def _fitting(
    blocks: list[Block],
    at: int,
    doubt: DateDoubt,
    allowed: list[Bracket],
    told: tuple[Ringings, DaysKnown],
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
    for other in date_slips(day_of(block.day)):
        day = number_of(other)
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
        elif doubt.reasons.keys() == {"visit"} and not left_out(block, day, rings, known):
            continue
        signs = len(allowed) - ("future" in doubt.reasons) + unmet
        signs += here or day in beside
        if signs:
            yield day, 2 * signs + (day in beside) + (day in known.on_day)


def _seen(block: Block, day: int, rings: Ringings) -> bool:
    """Whether a bird of a block has a row of its own on another day in the same box."""
    there = {bare(rings.ring[j]) for j in rings.rows_of_box.get(block.box, ()) if int(rings.day[j]) == day}
    return not there.isdisjoint(bare(rings.ring[i]) for i in block.rows if rings.ring[i])


def left_out(block: Block, day: int, rings: Ringings, known: DaysKnown) -> bool:
    """Whether a single row may belong to a listed visit at which its bird has no row."""
    if len(block.rows) > 1 or (known.visited and (block.box, day) not in known.visited):
        return False
    i = block.rows[0]
    there = [j for j in rings.rows_of_box.get(block.box, ()) if int(rings.day[j]) == day]
    if not there or bare(rings.ring[i]) in {bare(rings.ring[j]) for j in there}:
        return False
    return rings.belongs(i, there)
