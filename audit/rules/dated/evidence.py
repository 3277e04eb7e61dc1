"""What a season says about days: its years, the order of sheet and rings, visits listed, tags read."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.rules.reader_clock import clocks_of
from audit.rules.ring_clock import ring_brackets
from audit.rules.sheet_order import NO_DAY, Block, Bracket, blocks_in, day_of, number_of, order_brackets
from audit.season import texts_in

if TYPE_CHECKING:
    from collections.abc import Mapping

    from audit.rules.case import Case
    from audit.rules.ring_rows import Ringings

__all__ = ["DaysKnown", "days_known"]


@dataclass(frozen=True, slots=True)
class DaysKnown:
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


def days_known(case: Case, blocks: list[Block], rings: Ringings) -> DaysKnown:
    """Gather what the season says about days; `today` is none where most dates lie after it."""
    handled: Counter[tuple[str, int]] = Counter()
    on_day: Counter[int] = Counter()
    years: Counter[int] = Counter()
    for block in blocks:
        handled[block.box, block.day] += len(block.rows)
        on_day[block.day] += len(block.rows)
        years[day_of(block.day).year] += len(block.rows)
    least = min(max(case.limit("year_share") * years.total(), 2), years.total() / 2)
    today = _today(case)
    if sum(n for day, n in on_day.items() if day > today) * 2 > years.total():
        today = NO_DAY
    visited: frozenset[tuple[str, int]] = frozenset()
    if case.season.has("visits", "date", "box"):
        visited = frozenset((block.box, block.day) for block in blocks_in(case, "visits"))
    listed = sum(place in visited for place in handled)
    against, agreed = ring_brackets(
        rings,
        reach=case.limit("reach"),
        most_days=case.limit("clock_days"),
        share=case.limit("contest_share"),
        own_share=case.limit("own_string_share"),
        apart=case.limit("string_turn_share"),
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
    return DaysKnown(
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
            day_of(day).year for day in {block.page: block.day for block in blocks}.values()
        ),
        read=_days_read(case, blocks),
    )


def _today(case: Case) -> int:
    told = str(case.setting("season.clock.today"))
    day = dt.date.today() if told == "today" else dt.date.fromisoformat(told)  # noqa: DTZ011 - the ringer's own day
    return number_of(day)


def _days_read(case: Case, blocks: list[Block]) -> dict[int, frozenset[int]]:
    """Days on which the hand reader read the tag of each row; none where its calendar is wrong."""
    if not (case.season.has("tag_reads", "tag", "read_at") and case.season.has("handlings", "tag")):
        return {}
    moments = clocks_of(case).moments
    stamps = np.where(np.isnat(moments), NO_DAY, moments.astype("datetime64[D]").astype(np.int64))
    days: dict[str, set[int]] = {}
    for tag, day in zip(texts_in(case.sure("tag_reads"), "tag"), stamps.tolist(), strict=True):
        if tag and day != NO_DAY:
            days.setdefault(tag, set()).add(day)
    tags = case.sure("handlings")["tag"].fillna("").tolist()
    read = {i: frozenset(days[tags[i]]) for block in blocks for i in block.rows if tags[i] in days}
    agreed = sum(block.day in read[i] for block in blocks for i in block.rows if i in read)
    return read if agreed >= case.limit("reads_share") * len(read) else {}


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
