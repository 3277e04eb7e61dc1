"""Where a row of the season stands in the field notebook: which visit, which bird of the brood.

The notebook is filled visit by visit, so its pages come in order of the day, and within a day in the order in
which the boxes were visited: by the time of the visit where one was typed, else as the sheet has them.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from dataclasses import dataclass, replace
from math import isnan
from typing import TYPE_CHECKING

from audit.models.box_label import natural_order
from audit.models.time_of_day import clock, minutes_of
from audit.season import split_label

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Mapping, Sequence

    from audit.season import Season, Table

__all__ = ["FieldPages", "FieldPlace", "Visit", "lay_pages", "natural"]

#: Tables whose rows are written down at a box.
_AT_A_BOX = ("visits", "handlings")


@dataclass(frozen=True, slots=True)
class Visit:
    """One page of the field notebook: one box on one day, or a list that is kept apart.

    Attributes
    ----------
    day : str
        ISO 8601 where it could be read, else as typed; empty where there is none.
    box : str
        Empty where none was typed.
    sheet : str
        Name of the list for rows that belong to no visit; empty for a visit.
    time : str
        When the visit began, such as ``09:30``; empty where no time was typed.
    ringers, scribes : str
        Initials typed for the rows of the visit.
    birds : int
        Birds in the hand at this visit.
    """

    day: str
    box: str
    sheet: str = ""
    time: str = ""
    ringers: str = ""
    scribes: str = ""
    birds: int = 0


@dataclass(frozen=True, slots=True)
class FieldPlace:
    """Where one row stands in the notebook.

    Attributes
    ----------
    visit : Visit
    order : tuple of int
        Sorts rows as the notebook is leafed through.
    label : str
        Row label.
    bird : int
        Which bird of the visit, from 1; 0 for a row that is no bird.
    time, ring, tag, ringer, scribe : str
        As typed in the row.
    above, below : str
        Rings of the birds above and below in the sheet, empty where there are none.
    """

    visit: Visit
    order: tuple[int, ...]
    label: str
    bird: int = 0
    time: str = ""
    ring: str = ""
    tag: str = ""
    ringer: str = ""
    scribe: str = ""
    above: str = ""
    below: str = ""


@dataclass(frozen=True, slots=True)
class _Line:
    """One row of a table written at a box."""

    label: str
    bird: bool
    day: str
    box: str
    time: str
    ring: str = ""
    tag: str = ""
    ringer: str = ""
    scribe: str = ""

    @property
    def key(self) -> tuple[str, str]:
        return self.day, self.box.upper()


@dataclass(frozen=True, slots=True)
class FieldPages:
    """All pages of a season."""

    _places: Mapping[str, FieldPlace]
    _tables: Mapping[str, int]

    def place_of(self, label: str) -> FieldPlace:
        """Return where a row stands; a row that belongs to no visit stands in a list, behind all visits."""
        if label in self._places:
            return self._places[label]
        sheet, row = split_label(label)
        return FieldPlace(Visit("", "", sheet), (1, self._tables.get(sheet, len(self._tables)), row), label)


def lay_pages(season: Season, doubted: Collection[tuple[str, str]] = ()) -> FieldPages:
    """Lay out the pages of a season.

    Parameters
    ----------
    season : Season
    doubted : collection of (label, field)
        Cells in doubt. A row whose day or box is in doubt is looked for where the rows above and below it
        stand, if these two are of one visit; a time in doubt does not tell the order of visits.
    """
    misplaced = frozenset(label for label, field in doubted if field in ("date", "box"))
    mistimed = frozenset(label for label, field in doubted if field == "time")
    lines = [
        line
        for name in _AT_A_BOX
        if name in season.tables
        for line in _put_right(list(_lines(season.tables[name], bird=name == "handlings")), misplaced)
    ]
    visits: dict[tuple[str, str], list[_Line]] = defaultdict(list)
    # The birds say in which order the sheet has the visits; visits without a bird follow.
    for line in sorted(lines, key=lambda line: not line.bird):
        visits[line.key].append(line)
    made = {key: _visit(inside, mistimed) for key, inside in visits.items()}
    order = {key: i for i, key in enumerate(_in_order(made))}
    places: dict[str, FieldPlace] = {}
    for key, inside in visits.items():
        visit = made[key]
        birds = [line for line in inside if line.bird]
        others = [line for line in inside if not line.bird]
        for number, line in enumerate([*others, *birds]):
            bird = number - len(others) + 1 if line.bird else 0
            places[line.label] = FieldPlace(
                visit,
                (0, order[key], number),
                line.label,
                bird,
                line.time,
                line.ring,
                line.tag,
                line.ringer,
                line.scribe,
                birds[bird - 2].ring if bird > 1 else "",
                birds[bird].ring if 0 < bird < len(birds) else "",
            )
    sheets = dict.fromkeys(sheet for table in season.tables.values() for sheet, _ in table.columns)
    return FieldPages(places, {sheet: i for i, sheet in enumerate(sheets)})


def _lines(table: Table, *, bird: bool) -> Iterator[_Line]:
    frame, typed = table.frame, table.typed

    def texts(field: str) -> list[str]:
        return typed[field].fillna("").tolist() if field in typed.columns else [""] * len(typed)

    def understood(field: str) -> list[str]:
        if field not in frame.columns:
            return texts(field)
        column = frame[field]
        read = (column.dt.strftime("%Y-%m-%d") if field == "date" else column).astype("str")
        return [
            text if missing else str(value).strip()
            for value, text, missing in zip(read, texts(field), column.isna(), strict=True)
        ]

    columns = (
        understood("date"),
        understood("box"),
        understood("time"),
        *(texts(field) for field in ("ring", "tag")),
        *(understood(field) for field in ("ringer", "scribe")),
    )
    for label, *values in zip(map(str, frame.index), *columns, strict=True):
        yield _Line(label, bird, *values)


def _put_right(lines: Sequence[_Line], misplaced: frozenset[str]) -> Iterator[_Line]:
    for i, line in enumerate(lines):
        if line.label in misplaced and 0 < i < len(lines) - 1:
            above, below = lines[i - 1], lines[i + 1]
            sheets = {split_label(one.label)[0] for one in (above, line, below)}
            if above.key == below.key and len(sheets) == 1:
                yield replace(line, day=above.day, box=above.box)
                continue
        yield line


def _visit(inside: Sequence[_Line], mistimed: frozenset[str]) -> Visit:
    # the list of visits, where there is one, knows best when a visit began
    known = (
        minutes_of(line.time)
        for line in sorted(inside, key=lambda line: line.bird)
        if line.label not in mistimed
    )
    began = next((minutes for minutes in known if not isnan(minutes)), None)
    return Visit(
        inside[0].day,
        inside[0].box,
        "",
        "" if began is None else clock(began),
        ", ".join(dict.fromkeys(line.ringer for line in inside if line.ringer)),
        ", ".join(dict.fromkeys(line.scribe for line in inside if line.scribe)),
        sum(line.bird for line in inside),
    )


def _in_order(visits: Mapping[tuple[str, str], Visit]) -> list[tuple[str, str]]:
    """Sort visits, given in the order of the sheet, as the notebook has them."""
    keys: dict[tuple[str, str], tuple[str, str, int]] = {}
    day = time = ""
    for position, (key, visit) in enumerate(visits.items()):
        if _is_day(visit.day) and visit.day != day:
            day, time = visit.day, ""
        # a visit without a day that could be read, or without a time, follows the one above it
        time = visit.time or time
        keys[key] = (day, time, position)
    return sorted(keys, key=keys.__getitem__)


def _is_day(text: str) -> bool:
    try:
        dt.date.fromisoformat(text)
    except ValueError:
        return False
    return True


def natural(text: str) -> tuple[bool, list[tuple[int, str]]]:
    """Sort key that lets SL-9 stand before SL-10, and what is empty last.

    Examples
    --------
    >>> sorted(["SL-10", "", "SL-9"], key=natural)
    ['SL-9', 'SL-10', '']
    """
    return not text.strip(), natural_order(text.strip().upper())
