"""Sheets with a column for each person or repeat, such as ``wing AB`` beside ``wing MK``."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from audit.intake.grid import EMPTY, RawCell

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.intake.grid import Sheet
    from audit.intake.knowledge import Knowledge

__all__ = ["Part", "parts_of"]

#: A known header, then initials in capitals or the number of the repeat, or both; one letter alone may be a
#: side of the bird.
_BESIDE = re.compile(
    r"^(?P<stem>.*?[^\s_.:/-])[\s_.:/-]+(?P<who>[^\W\d_]{2,4})?[\s_.:/-]*(?P<time>\d)?\s*(?P<unit>[(\[]\w+[)\]])?$"
)


@dataclass(frozen=True, slots=True)
class Part:
    """A sheet with the columns of one person or repeat alone, the others left empty in their places.

    Attributes
    ----------
    who : str
        Initials in the headers; empty where they name none.
    time : int
        Number of the repeat in the headers; 0 where they name none.
    """

    sheet: Sheet
    who: str = ""
    time: int = 0


def parts_of(sheet: Sheet, table: str, known: Knowledge) -> tuple[Part, ...]:
    """Take a sheet apart by the people or repeats that its headers name; one part where they name none."""
    for number, row in enumerate(sheet.rows[: known.habits.rows_searched]):
        found = dict(_columns(row, table, known))
        groups = sorted({(time, who) for _, who, time in found.values()})
        if len(groups) > 1:
            return tuple(Part(_only(sheet, number, found, who, time), who, time) for time, who in groups)
    return (Part(sheet),)


def _columns(
    row: tuple[RawCell, ...], table: str, known: Knowledge
) -> Iterator[tuple[int, tuple[str, str, int]]]:
    for index, cell in enumerate(row):
        match = _BESIDE.match(cell.text.strip())
        if match is None or not (match["who"] or match["time"]):
            continue
        who = match["who"] or ""
        if who != who.upper() or known.vocabulary.recognise(cell.text, table) is not None:
            continue
        stem = f"{match['stem']} {match['unit'] or ''}".strip()
        meant = known.vocabulary.recognise(stem, table)
        if meant is not None and known.declared.tables[table].field(meant.field).kind == "number":
            yield index, (stem, who, int(match["time"] or 0))


def _only(sheet: Sheet, header: int, found: dict[int, tuple[str, str, int]], who: str, time: int) -> Sheet:
    kept = {index: stem for index, (stem, *group) in found.items() if group == [who, time]}
    rows = [list(row) for row in sheet.rows]
    for number, row in enumerate(rows[header:], header):
        for index in found:
            if index < len(row):
                if index not in kept:
                    row[index] = EMPTY
                elif number == header:
                    row[index] = RawCell(kept[index], kept[index])
    return replace(sheet, rows=tuple(tuple(row) for row in rows))
