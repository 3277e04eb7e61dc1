"""The sheets of a season laid out for looking things up: by row, visit, ring, tag and string."""

from __future__ import annotations

from bisect import bisect_left
from collections import defaultdict
from dataclasses import dataclass
from threading import Lock
from typing import TYPE_CHECKING, Any

import numpy as np

from audit.models.ring_number import bare, split_ring
from audit.models.spelling import SlipIndex
from audit.models.tag_text import comparable
from audit.rules.case import Case
from audit.rules.heeded import READER_CLOCK
from audit.rules.layouts import Layouts
from audit.rules.plain import plain_text
from audit.rules.reader_clock import clocks_of
from audit.rules.stock import issued_strings
from audit.rules.tag_keys import keys_of
from audit.season import texts_in

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping, Sequence

    from audit.declarations import Declarations
    from audit.rules.heeded import Columns
    from audit.rules.stock import IssuedString
    from audit.season import Season

__all__ = ["Reads", "Shelves", "shelves_of"]

_STRINGS: Columns = {"ring_stock": ("prefix", "first", "last", "issued_to", "issued")}


@dataclass(frozen=True, slots=True)
class Reads:
    """The download of the hand reader, in the order in which it was read.

    Attributes
    ----------
    rows : tuple of int
        Positions in the table.
    keys, stored, moments : tuple of str
        The tag however written; what the reader's clock showed and when it really was, ISO 8601.
    on : mapping of str to tuple of int
        Day to places in this order.
    """

    rows: tuple[int, ...]
    keys: tuple[str, ...]
    stored: tuple[str, ...]
    moments: tuple[str, ...]
    on: Mapping[str, tuple[int, ...]]


@dataclass(frozen=True, slots=True)
class _Writing:
    """How the tags of a season are written: the usual way, and the key of each text that was met."""

    habit: str | None
    key_of: Mapping[str, str]


class Shelves:
    """Where to find what in a season; each shelf is laid out when something is first looked for in it.

    Parameters
    ----------
    season, declared : Season, Declarations
        Never changed.
    before : Shelves, optional
        Those of the same season before some cells were typed anew: shelves that the edited columns have
        nothing to do with are taken over.
    """

    def __init__(self, season: Season, declared: Declarations, before: Shelves | None = None) -> None:
        self.season = season
        self.declared = declared
        self._layouts = _kept(season, declared, before)

    def prepare(self) -> None:
        """Lay out everything that a question could need, before one is asked."""
        self.reads()
        for table in ("handlings", "visits"):
            self.days_of_box(table, "")
        for table in ("handlings", "ring_losses", "earlier"):
            self.of_ring(table, "")
        # not the log of the antennas, which is long and seldom asked
        for table in ("handlings", "earlier", "tag_stock", "tag_reads"):
            if self.has(table, "tag"):
                self._rows_by_tag(table)
        self.strings()
        if self.has("tag_stock", "tag"):
            self.tags_near("")
        if self.has("boxes", "box"):
            self.boxes_near("")

    # cells

    def has(self, table: str, *fields: str) -> bool:
        """Whether a table is there with all the columns."""
        return self.season.has(table, *fields)

    def labels(self, table: str) -> Sequence[str]:
        """Row labels of a table, by position."""
        made: Sequence[str] = self._get(
            ("labels", table), lambda: [str(label) for label in self.season.tables[table].typed.index], {}
        )
        return made

    def row(self, label: str) -> int | None:
        """Position of a row in its table; None where no table has it."""
        table = self.season.table_of(label)
        if not table:
            return None
        places: Mapping[str, int] = self._get(
            ("rows", table), lambda: {one: i for i, one in enumerate(self.labels(table))}, {}
        )
        return places.get(label)

    def understood(self, label: str, field: str) -> str:
        """Write the value of a cell as it is understood, as a suggestion would name it; else as typed."""
        table = self.season.tables.get(self.season.table_of(label))
        if table is None or self.row(label) is None:
            return ""
        value = plain_text(table.frame.at[label, field]) if field in table.frame.columns else ""
        if value or field not in table.typed.columns:
            return value.strip()
        return str(table.typed.at[label, field]).strip()

    # visits

    def visits(self, table: str) -> Mapping[tuple[str, str], tuple[int, ...]]:
        """Rows by box and day of a table, in sheet order; empty where it has no such columns."""
        if not self.has(table, "box", "date"):
            return {}
        heeds: Columns = {table: ("box", "date")}
        made: Mapping[tuple[str, str], tuple[int, ...]] = self._get(
            ("visits", table),
            lambda: _filed(zip(self._texts(table, "box"), self._days(table), strict=True)),
            heeds,
        )
        return made

    def days_of_box(self, table: str, box: str) -> Sequence[str]:
        """Days on which a table has rows of a box, in order."""
        heeds: Columns = {table: ("box", "date")}

        def make() -> Mapping[str, Sequence[str]]:
            found: dict[str, list[str]] = defaultdict(list)
            for name, day in sorted(self.visits(table)):
                if day:
                    found[name].append(day)
            return found

        made: Mapping[str, Sequence[str]] = self._get(("days of box", table), make, heeds)
        return made.get(box, ())

    def of_box(self, box: str) -> tuple[int, ...]:
        """Rows of the table of boxes with that label."""
        return self._by_text("boxes", "box").get(box, ())

    def boxes_near(self, box: str) -> tuple[int, ...]:
        """Rows of the table of boxes whose labels are one slip away."""
        known: SlipIndex = self._get(
            ("near", "boxes"), lambda: SlipIndex(tuple(self._by_text("boxes", "box"))), {"boxes": ("box",)}
        )
        return tuple(i for label in known.near(box) for i in self.of_box(label))

    # rings

    def of_ring(self, table: str, ring: str) -> tuple[int, ...]:
        """Rows of a table with a ring, with or without its hyphens, in sheet order."""
        if not self.has(table, "ring"):
            return ()
        filed: Mapping[str, tuple[int, ...]] = self._get(
            ("ring", table),
            lambda: _filed(bare(text) for text in self._texts(table, "ring")),
            {table: ("ring",)},
        )
        return filed.get(bare(ring), ()) if ring else ()

    def strings(self) -> tuple[IssuedString, ...]:
        """Strings of rings as issued."""
        made: tuple[IssuedString, ...] = self._get("strings", lambda: issued_strings(self.season), _STRINGS)
        return made

    def strings_about(self, ring: str) -> tuple[int, ...]:
        """Rows of the stock that hold a ring; where none does, the strings next to it in its series."""
        stem, digits = split_ring(ring)
        if not digits:
            return ()
        key, serial = (bare(stem), len(digits)), int(digits)
        series = [one for one in self.strings() if not one.fault and one.key == key]
        found = [one for one in series if one.holds(key, serial)]
        if not found:
            below = [one for one in series if one.last < serial]
            above = [one for one in series if one.first > serial]
            found = [
                *([max(below, key=lambda one: one.last)] if below else []),
                *([min(above, key=lambda one: one.first)] if above else []),
            ]
        rows = (self.row(one.label) for one in found)
        return tuple(row for row in rows if row is not None)

    def holds(self, ring: str) -> bool:
        """Whether a string in stock holds a ring."""
        stem, digits = split_ring(ring)
        return bool(digits) and any(
            one.holds((bare(stem), len(digits)), int(digits)) for one in self.strings()
        )

    # tags

    def key(self, tag: str) -> str:
        """Give the one key of a tag, however it is written."""
        if not tag:
            return ""
        writing = self._writing()
        return writing.key_of.get(tag) or comparable(tag, writing.habit)

    def of_tag(self, table: str, tag: str) -> tuple[int, ...]:
        """Rows of a table with a tag, however written, in sheet order."""
        if not self.has(table, "tag"):
            return ()
        return self._rows_by_tag(table).get(self.key(tag), ()) if tag else ()

    def tags_near(self, tag: str) -> tuple[int, ...]:
        """Rows of the tag stock next to a tag that is not in it: just below and just above."""
        filed: Sequence[tuple[str, int]] = self._get(
            "tags in order",
            lambda: sorted((key, rows[0]) for key, rows in self._rows_by_tag("tag_stock").items() if key),
            {"tag_stock": ("tag",)},
        )
        key = self.key(tag)
        at = bisect_left(filed, (key, 0))
        return tuple(row for other, row in filed[max(0, at - 1) : at + 1] if len(other) == len(key))

    def reads(self) -> Reads:
        """Lay out the download of the hand reader, its clocks set right."""
        made: Reads = self._get("reads", self._lay_out_reads, READER_CLOCK)
        return made

    def _lay_out_reads(self) -> Reads:
        if not self.has("tag_reads", "tag"):
            return Reads((), (), (), (), {})
        frame, clocks = self.season.frame("tag_reads"), clocks_of(self._case())
        true = clocks.moments
        stored = frame["read_at"].to_numpy(dtype="datetime64[s]") if "read_at" in frame.columns else true
        shown, told = (
            ["" if text == "NaT" else text for text in np.datetime_as_string(moments).tolist()]
            for moments in (stored, true)
        )
        texts = texts_in(frame, "tag")
        rows = [i for i in clocks.order.tolist() if texts[i]]
        on: dict[str, list[int]] = defaultdict(list)
        for place, i in enumerate(rows):
            if told[i]:
                on[told[i].partition("T")[0]].append(place)
        return Reads(
            tuple(rows),
            tuple(self.key(texts[i]) for i in rows),
            tuple(shown[i] for i in rows),
            tuple(told[i] for i in rows),
            {day: tuple(places) for day, places in on.items()},
        )

    def _writing(self) -> _Writing:
        """How tags are written: learnt once, since one cell more or less teaches nothing new."""
        made: _Writing = self._get("writing", self._learn_writing, {})
        return made

    def _learn_writing(self) -> _Writing:
        texts = [
            self._texts(table, "tag") if self.has(table, "tag") else []
            for table in ("handlings", "tag_stock", "tag_reads")
        ]
        habit, keys = keys_of(self._case(), *texts)
        # a short print may be completed otherwise in another table
        return _Writing(habit, {text: key for of_text in keys for text, key in of_text.items()})

    def _rows_by_tag(self, table: str) -> Mapping[str, tuple[int, ...]]:
        made: Mapping[str, tuple[int, ...]] = self._get(
            ("tag", table),
            lambda: _filed(self.key(text) for text in self._texts(table, "tag")),
            {table: ("tag",)},
        )
        return made

    # laying out

    def _case(self) -> Case:
        return Case(self.season, self.declared, self.declared.rules["tag_code"], layouts=self._layouts)

    def _get(self, key: object, make: Callable[[], Any], heeds: Columns) -> Any:  # noqa: ANN401 - anything
        return self._layouts.get(("shelf", key), make, heeds)

    def _by_text(self, table: str, field: str) -> Mapping[str, tuple[int, ...]]:
        if not self.has(table, field):
            return {}
        made: Mapping[str, tuple[int, ...]] = self._get(
            (field, table), lambda: _filed(self._texts(table, field)), {table: (field,)}
        )
        return made

    def _texts(self, table: str, field: str) -> list[str]:
        return texts_in(self.season.frame(table), field)

    def _days(self, table: str) -> list[str]:
        days = self.season.frame(table)["date"].to_numpy(dtype="datetime64[D]")
        return ["" if text == "NaT" else text for text in np.datetime_as_string(days).tolist()]


def _filed(keys: Iterable[Any]) -> Mapping[Any, tuple[int, ...]]:
    """File positions under their keys."""
    found: dict[Any, list[int]] = defaultdict(list)
    for i, key in enumerate(keys):
        found[key].append(i)
    return {key: tuple(rows) for key, rows in found.items()}


def _kept(season: Season, declared: Declarations, before: Shelves | None) -> Layouts:
    """Return what was laid out before and still holds."""
    if (
        before is None
        or before.declared is not declared
        or before.season.tables.keys() != season.tables.keys()
    ):
        return Layouts()
    differing: set[tuple[str, str]] = set()
    for name, table in season.tables.items():
        was = before.season.tables[name]
        if was is table:
            continue
        if not was.typed.index.equals(table.typed.index) or list(was.typed) != list(table.typed):
            return Layouts()
        for field in table.typed.columns:
            same = was.typed[field].equals(table.typed[field])
            if same and field in table.frame.columns:
                same = was.frame[field].equals(table.frame[field])
            if not same:
                differing.add((name, str(field)))
    return before._layouts.without(differing)  # noqa: SLF001 - of its own kind


class _Slot:
    """The shelves that were used last, and no others: an older season is let go."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._last: Shelves | None = None

    def of(self, season: Season, declared: Declarations) -> Shelves:
        with self._lock:
            last = self._last
            if last is None or last.season is not season or last.declared is not declared:
                last = self._last = Shelves(season, declared, last)
            return last


_slot = _Slot()


def shelves_of(season: Season, declared: Declarations) -> Shelves:
    """Return the sheets of a season laid out for looking things up; those used last are kept, no others.

    Call ``shelves_of(season, declared).prepare()`` in the background after a season was checked again, and
    the next exhibit need not wait.
    """
    return _slot.of(season, declared)
