"""A sheet as pages and blocks: rows of one day that stand together, and within them rows of one box."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.models.sequence import longest_rising

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

    from audit.rules.case import Case

__all__ = [
    "NO_DAY",
    "Block",
    "Bracket",
    "blocks_in",
    "blocks_of",
    "day_of",
    "days_of",
    "number_of",
    "order_brackets",
    "stands_in_order",
]

#: Earliest and latest day that other evidence allows.
Bracket = tuple[int, int]

NO_DAY = int(np.iinfo(np.int64).min)


@dataclass(frozen=True, slots=True)
class Block:
    """Rows of one box and day that stand together.

    Attributes
    ----------
    rows : tuple of int
        Positions in the table.
    sheet, box : str
    day : int
        Days since 1970.
    page : int
        Blocks of one day that stand together share it.
    """

    rows: tuple[int, ...]
    sheet: str
    box: str
    day: int
    page: int


def days_of(dates: pd.Series[pd.Timestamp]) -> NDArray[np.int64]:
    """Return days since 1970; `NO_DAY` where missing."""
    values = dates.to_numpy(dtype="datetime64[D]")
    return np.asarray(np.where(np.isnat(values), NO_DAY, values.astype(np.int64)), dtype=np.int64)


def day_of(day: int) -> dt.date:
    """Make a date of days since 1970."""
    made: dt.date = np.datetime64(day, "D").astype(dt.date)
    return made


def number_of(day: dt.date) -> int:
    """Count the days since 1970."""
    return int(np.datetime64(day, "D").astype(np.int64))


def blocks_in(case: Case, table: str) -> list[Block]:
    """Split a table of a season into blocks, once for all rules that see the same; to be read only."""
    return case.lay_out(_lay_out, case.layouts.all_of(table, ("date", "box")), table)


def _lay_out(case: Case, table: str) -> list[Block]:
    return blocks_of(case.sure(table))


def blocks_of(frame: pd.DataFrame) -> list[Block]:
    """Split a table into blocks in sheet order; rows without day or box are left out."""
    day = days_of(frame["date"])
    box = frame["box"].fillna("").to_numpy(dtype=object)
    sheet = np.array([str(label).rpartition("!")[0] for label in frame.index], dtype=object)
    at = np.flatnonzero((day != NO_DAY) & (box != ""))
    if at.size == 0:
        return []
    new_page = np.ones(at.size, dtype=bool)
    new_page[1:] = (day[at[1:]] != day[at[:-1]]) | (sheet[at[1:]] != sheet[at[:-1]])
    new_block = new_page.copy()
    new_block[1:] |= box[at[1:]] != box[at[:-1]]
    page = np.cumsum(new_page) - 1
    starts = np.flatnonzero(new_block)
    ends = np.append(starts[1:], at.size)
    return [
        Block(
            rows=tuple(at[start:end].tolist()),
            sheet=str(sheet[at[start]]),
            box=str(box[at[start]]),
            day=int(day[at[start]]),
            page=int(page[start]),
        )
        for start, end in zip(starts.tolist(), ends.tolist(), strict=True)
    ]


def order_brackets(blocks: list[Block], *, share: float, least: int, window: int) -> dict[int, Bracket]:
    """Find the pages that break the order of a sheet kept day by day.

    Parameters
    ----------
    blocks : list of Block
        Of one table, in sheet order.
    share : float
        Smallest share of the pages that must stand in order; else the sheet is not kept by day.
    least : int
        Fewest pages that show an order.
    window : int
        Pages above and below that are looked at.

    Returns
    -------
    dict of int to (int, int)
        Page -> days of the pages before and after it, where the page lies outside.
    """
    by_sheet: dict[str, dict[int, int]] = {}
    for block in blocks:
        by_sheet.setdefault(block.sheet, {})[block.page] = block.day
    found: dict[int, Bracket] = {}
    for pages in by_sheet.values():
        names = list(pages)
        day = np.array(list(pages.values()), dtype=np.int64)
        if day.size < least:
            continue
        member = longest_rising(day)
        if member.sum() < min(share * day.size, day.size - 1):
            continue
        falls = np.flatnonzero(np.diff(day) < 0)
        doubtful = np.union1d(np.union1d(falls, falls + 1), np.flatnonzero(~member))
        for i in doubtful.tolist():
            around = np.arange(max(i - window, 0), min(i + window + 1, day.size))
            others = around[around != i]
            kept = others[longest_rising(day[others])]
            before, after = kept[kept < i], kept[kept > i]
            if before.size == 0 or after.size == 0:
                continue
            low, high = int(day[before[-1]]), int(day[after[0]])
            if not low <= day[i] <= high:
                found[names[i]] = (low, high)
    return found


def stands_in_order(blocks: list[Block], at: int, day: int) -> bool:
    """Whether a block could bear another day and still stand between the days above and below it."""
    sheet = blocks[at].sheet
    above = next((b.day for b in reversed(blocks[:at]) if b.page != blocks[at].page), None)
    below = next((b.day for b in blocks[at + 1 :] if b.page != blocks[at].page), None)
    beside = [b for b in (at - 1, at + 1) if 0 <= b < len(blocks) and blocks[b].sheet == sheet]
    if any(blocks[b].day == blocks[at].day for b in beside):
        # it stands among others of its day
        above = blocks[at].day if at - 1 in beside and blocks[at - 1].day == blocks[at].day else above
        below = blocks[at].day if at + 1 in beside and blocks[at + 1].day == blocks[at].day else below
    return (above is None or above <= day) and (below is None or day <= below)
