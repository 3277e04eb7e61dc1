"""The visits of a season with their rows and reads side by side: what a chart and a table of them show."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.charts.download_lines import Beside, ReadTag, TypedTag
from audit.findings import SEVERITIES
from audit.review.wording import counted
from audit.rules.case import Case
from audit.rules.download import download_of
from audit.rules.heeded import TAG_BOOK
from audit.rules.layouts import Layouts
from audit.rules.tag_book import open_tag_book
from audit.season import split_label

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from audit.declarations import Declarations
    from audit.findings import Finding, Report
    from audit.rules.stored_read import StoredRead
    from audit.rules.tag_book import TagBook, TagRow
    from audit.season import Season

__all__ = ["NO_DOWNLOAD", "DownloadVisits", "VisitDoubt", "download_visits"]

#: What to say where there is nothing to lay side by side.
NO_DOWNLOAD = "No tags were typed on a day that has a download of the hand reader (table tag_reads)."

_REMARKS = {"again": "read again", "test": "test tag"}
_MINUTE_S, _HOUR_MIN, _DAY_MIN = 60, 60, 24 * 60


@dataclass(frozen=True, slots=True)
class VisitDoubt:
    """How much is doubtful at one visit.

    Attributes
    ----------
    marked : int
        Rows with an error or a suspect on the tag.
    alone : int
        Rows that were not read, and reads between them that stand on no row.
    """

    day: str
    box: str
    rows: int
    marked: int
    alone: int


@dataclass(frozen=True, slots=True)
class DownloadVisits:
    """All rows and reads of a season, by day.

    Attributes
    ----------
    rows : mapping of str to tuple of TagRow
        Rows by day, in sheet order.
    reads : mapping of str to tuple of StoredRead
        Reads by day, in the order in which they really were.
    """

    rows: Mapping[str, tuple[TagRow, ...]]
    reads: Mapping[str, tuple[StoredRead, ...]]
    _book: TagBook
    _told: Mapping[str, Finding]
    _meant: Mapping[str, str]
    _typed: Mapping[str, str]
    _misdated: Mapping[tuple[str, str], TagRow]

    def by_doubt(self) -> tuple[VisitDoubt, ...]:
        """List the visits of days with a download, the most doubtful first, then in time."""
        found = []
        for day in sorted(self.rows.keys() & self.reads.keys()):
            for box in dict.fromkeys(row.box for row in self.rows[day]):
                rows, reads = self._of_visit(day, box)
                met = {read.row for read in reads}
                found.append(
                    VisitDoubt(
                        day,
                        box,
                        len(rows),
                        sum(row.label in self._told for row in rows),
                        sum(bool(row.tag) and row.label not in met for row in rows)
                        + sum(read.role == "no_row" for read in reads),
                    )
                )
        return tuple(sorted(found, key=lambda one: (-(one.marked + one.alone), one.day, one.box)))

    def beside(self, day: str, box: str | None = None) -> Beside:
        """Lay the rows of a day, or of one box on that day, beside the reads that belong there."""
        rows, reads = self._of_visit(day, box)
        place = {row.label: i for i, row in enumerate(rows)}
        pairs: dict[int, int] = {}
        for i, read in enumerate(reads):
            if read.row in place and read.role in ("bird", "slip"):
                pairs.setdefault(place[read.row], i)
        claimed = set(pairs.values())
        where = "" if box is None else f", {box or 'no box'}"
        return Beside(
            f"{day}{where}",
            tuple(self._typed_tag(row) for row in rows),
            tuple(self._read_tag(read, rows, place, claimed=i in claimed) for i, read in enumerate(reads)),
            pairs,
            tuple(_clock_remarks(reads)),
        )

    def _of_visit(self, day: str, box: str | None) -> tuple[list[TagRow], list[StoredRead]]:
        rows = [row for row in self.rows.get(day, ()) if box is None or row.box == box]
        reads = list(self.reads.get(day, ()))
        if box is None:
            return rows, reads
        of_row = {row.label for row in rows}
        anchors = [i for i, read in enumerate(reads) if read.row]
        kept = []
        for i, read in enumerate(reads):
            if read.row:
                if read.row in of_row:
                    kept.append(read)
            elif _beside(i, anchors, lambda at: reads[at].row in of_row):
                kept.append(read)
        return rows, kept

    def _typed_tag(self, row: TagRow) -> TypedTag:
        finding = self._told.get(row.label)
        return TypedTag(
            row.label,
            row.box,
            row.ring,
            row.tag or self._typed.get(row.label, ""),
            finding.severity if finding else None,
            finding.message if finding else "",
            self._meant.get(row.label, ""),
        )

    def _read_tag(
        self, read: StoredRead, rows: Sequence[TagRow], place: Mapping[str, int], *, claimed: bool
    ) -> ReadTag:
        tag = self._book.printed(read.key)
        if claimed and read.role == "bird":
            # the same tag may be written another way on the sheet
            tag = rows[place[read.row]].tag
        remark = _REMARKS.get(read.role, "")
        elsewhere = self._misdated.get((read.day, read.key))
        if read.role == "no_row" and elsewhere is not None:
            remark = f"row {split_label(elsewhere.label)[1]}, dated {elsewhere.day}"
        if not claimed and read.role == "bird":
            remark = _REMARKS["again"]
        return ReadTag(
            tag,
            read.moment.partition("T")[2],
            read.stored.replace("T", " ") if read.stored != read.moment else "",
            remark,
        )


def _beside(place: int, anchors: Sequence[int], own: Callable[[int], bool]) -> bool:
    """Whether the read before or after a place that belongs to a row belongs to one of this visit."""
    at = int(np.searchsorted(anchors, place))
    before, after = anchors[:at][-1:], anchors[at : at + 1]
    return any(own(one) for one in (*before, *after))


def _clock_remarks(reads: Sequence[StoredRead]) -> list[str]:
    """Say of each reader how far its clock was off that day, where that is a minute or more."""
    off: dict[str, list[int]] = defaultdict(list)
    for read in reads:
        if read.stored and read.moment:
            apart = np.datetime64(read.stored) - np.datetime64(read.moment)
            off[read.reader].append(int(apart / np.timedelta64(1, "s")))
    told = []
    for reader, seconds in off.items():
        minutes = round(float(np.median(seconds)) / _MINUTE_S)
        if minutes:
            which = "ahead" if minutes > 0 else "behind"
            name = f"reader {reader}" if reader else "the reader"
            told.append(f"the clock of {name} was {_lasting(abs(minutes))} {which}; times are set right")
    return told


def _lasting(minutes: int) -> str:
    if minutes >= _DAY_MIN:
        return counted(round(minutes / _DAY_MIN), "day")
    hours, rest = divmod(minutes, _HOUR_MIN)
    return " ".join([*([f"{hours} h"] if hours else []), *([f"{rest} min"] if rest else [])])


def download_visits(
    season: Season, declared: Declarations, report: Report, layouts: Layouts | None = None
) -> DownloadVisits:
    """Lay rows and reads of a season side by side; both are empty where no tags or no download were typed.

    Parameters
    ----------
    layouts : Layouts, optional
        Where what was laid out of this season before is kept.
    """
    told: dict[str, Finding] = {}
    meant: dict[str, str] = {}
    days: dict[str, str] = {}
    for finding in report.above_notes:
        for suspect in finding.suspects:
            label, field = suspect.cell.label, suspect.cell.field
            if field == "date" and suspect.suggested:
                days.setdefault(label, suspect.suggested)
            if field != "tag":
                continue
            other = told.get(label)
            if other is None or SEVERITIES.index(finding.severity) < SEVERITIES.index(other.severity):
                told[label] = finding
            if suspect.suggested:
                meant.setdefault(label, suspect.suggested)
    layouts = Layouts() if layouts is None else layouts
    case = Case(season, declared, declared.rules["tag_code"], layouts=layouts)
    laid: _Laid = layouts.get(("download visits",), lambda: _lay_out(case), TAG_BOOK)
    misdated = {
        (day, row.key): row
        for label, day in days.items()
        if (row := laid.by_label.get(label)) is not None and row.key
    }
    return DownloadVisits(laid.rows, laid.reads, laid.book, told, meant, laid.typed, misdated)


@dataclass(frozen=True, slots=True)
class _Laid:
    """What does not depend on the report."""

    rows: Mapping[str, tuple[TagRow, ...]]
    reads: Mapping[str, tuple[StoredRead, ...]]
    book: TagBook
    typed: Mapping[str, str]
    by_label: Mapping[str, TagRow]


def _lay_out(case: Case) -> _Laid:
    if not case.season.has("handlings", "tag"):
        return _Laid({}, {}, open_tag_book(case), {}, {})
    book, download = open_tag_book(case), download_of(case)
    rows: dict[str, list[TagRow]] = defaultdict(list)
    by_label = {}
    for row in sorted((*book.rows, *book.aside.values()), key=lambda row: row.place):
        if row.day:
            rows[row.day].append(row)
            by_label[row.label] = row
    reads: dict[str, list[StoredRead]] = defaultdict(list)
    for read in download.reads:
        if read.day:
            reads[read.day].append(read)
    typed = case.season.tables["handlings"].typed
    return _Laid(
        {day: tuple(of_day) for day, of_day in rows.items()},
        {day: tuple(of_day) for day, of_day in reads.items()},
        book,
        dict(zip(map(str, typed.index), typed["tag"].fillna("").tolist(), strict=True))
        if "tag" in typed.columns
        else {},
        by_label,
    )
