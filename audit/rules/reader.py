"""Ask whether the reader agrees with the sheet: its clock, tags read twice, on no row, or not at all.

What a read says of a written tag is said by the rules of tags; here is what is left. Nothing is blamed.
"""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

import numpy as np

from audit.models.clock_calendar import DAY_S, exchange_day_and_month
from audit.rules.case import At
from audit.rules.download import download_of
from audit.rules.heeded import TAG_BOOK
from audit.rules.reader_clock import clocks_of
from audit.rules.rule import Rule
from audit.rules.tag_book import of_test_range, open_tag_book

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from audit.findings import Finding, NotRun
    from audit.models.clock_segments import Segment
    from audit.rules.case import Case
    from audit.rules.download import Download
    from audit.rules.reader_clock import ReaderClock
    from audit.rules.stored_read import StoredRead
    from audit.rules.tag_book import TagBook, TagRow

__all__ = ["RULE", "check"]

_MINUTE, _HOUR = (int(np.timedelta64(1, unit) / np.timedelta64(1, "s")) for unit in ("m", "h"))
_DAY = int(DAY_S)
_PPM = float(np.timedelta64(1, "us") / np.timedelta64(1, "s"))

_GUESS = {
    "hour": "daylight saving?",
    "hours": "another zone?",
    "half_hours": "another zone?",
    "days": "its date set wrong?",
    "exchanged": "day and month exchanged when it was set?",
    "year": "its year set wrong?",
}


def check(case: Case) -> Iterator[Finding | NotRun]:
    """Say what was odd about each reader's clock, then about the reads."""
    if case.season.has("tag_reads", "read_at"):
        for clock in clocks_of(case).clocks:
            yield from _about_clock(case, clock)
    if not case.season.has("handlings", "tag", "date"):
        return
    book, download = open_tag_book(case), download_of(case)
    yield from _again(case, download)
    yield from _tests(case, book, download)
    yield from _on_no_row(case, book, download)
    yield from _not_read(case, book, download)


# --- the clock


def _about_clock(case: Case, reader: ReaderClock) -> Iterator[Finding]:
    clock = reader.clock
    if clock.right:
        return
    labels = case.frame("tag_reads").index
    who = "The reader's clock" if not reader.reader else f"The clock of reader {reader.reader}"
    if clock.exchanged:
        turned = exchange_day_and_month(reader.stored)
        odd = int(np.flatnonzero(turned != reader.stored)[0])
        yield case.blame(
            "calendar_exchanged",
            [At(str(labels[reader.rows[odd]]), "read_at")],
            f"The download has day and month exchanged: {_day(reader.stored[odd])} is {_day(turned[odd])};"
            " its days were read the other way round.",
        )
    true = clock.corrected(reader.stored)
    for segment in clock.segments:
        at = clock.order[segment.first : segment.last + 1]
        label = str(labels[reader.rows[at[0]]])
        begins, ends = _day(true[at].min()), _day(true[at].max())
        when = _when(begins, ends, (_day(true.min()), _day(true.max())))
        if segment.kind == "reset":
            yield case.blame(
                "clock_reset",
                [At(label, "read_at")],
                f"{who} began anew{when}, at first it showed {_moment(segment.since)} (a flat battery?): its"
                f" moments were read plus {_span(-segment.offset)}{_as_far_as(segment)}.",
            )
        elif segment.kind != "right":
            ahead = segment.offset > 0
            guess = f" ({_GUESS[segment.kind]})" if segment.kind in _GUESS else ""
            yield case.blame(
                "clock_off",
                [At(label, "read_at")],
                f"{who} was {_span(abs(segment.offset))} {'ahead' if ahead else 'behind'}{when}{guess}: its"
                f" moments were read {'less' if ahead else 'plus'} as much{_as_far_as(segment)}.",
            )
        if segment.drift:
            a_day = segment.drift * DAY_S
            whole = abs(segment.drift) * (float(true[at].max()) - float(true[at].min()))
            yield case.blame(
                "clock_drifts",
                [At(label, "read_at")],
                f"{who} {'gains' if segment.drift > 0 else 'loses'} {abs(a_day):.1f} s a day"
                f" ({abs(segment.drift) / _PPM:.0f} ppm), {_span(whole)} from {begins} to {ends}.",
            )


def _when(begins: str, ends: str, season: tuple[str, str]) -> str:
    """Say which part of the season a segment is; nothing where it is the whole."""
    first, last = season
    if begins <= first and ends >= last:
        return ""
    if begins <= first:
        return f" until {ends}"
    return f" from {begins} on" if ends >= last else f" from {begins} to {ends}"


def _day(moment: float) -> str:
    return str(np.datetime64(int(moment // _DAY), "D"))


def _moment(moment: float) -> str:
    return str(np.datetime64(int(moment) // _MINUTE, "m")).replace("T", " ")


def _span(seconds: float) -> str:
    """Write a duration in days, hours and minutes.

    Examples
    --------
    >>> _span(19800.0), _span(86400.0), _span(78.0)
    ('5 h 30 min', '1 day', '1 min')
    """
    minutes = round(seconds / _MINUTE)
    days, rest = divmod(minutes, _DAY // _MINUTE)
    hours, rest = divmod(rest, _HOUR // _MINUTE)
    parts = [
        f"{days} day{'' if days == 1 else 's'}" if days else "",
        f"{hours} h" if hours else "",
        f"{rest} min" if rest else "",
    ]
    return " ".join(filter(None, parts)) or "0 min"


def _as_far_as(segment: Segment) -> str:
    """Say how far the offset is known, where only days told."""
    if segment.exact or segment.high - segment.low < _HOUR:
        return ""
    low, high = sorted(abs(bound) for bound in (segment.low, segment.high))
    return f"; the days of the sheet allow {_span(low)} to {_span(high)}"


# --- the reads


def _again(case: Case, download: Download) -> Iterator[Finding]:
    again = [read for read in download.reads if read.role == "again"]
    if not again:
        return
    tags = len({(read.key, read.day) for read in again})
    what = "A tag was" if tags == 1 else f"{tags} tags were"
    yield case.blame(
        "read_twice",
        [At(read.label, "tag") for read in again[:1]],
        f"{what} stored more than once while the bird was in the hand"
        f"{', ' if tags == 1 else ', the first '}{again[0].tag} on {again[0].day}: each was counted once.",
    )


def _tests(case: Case, book: TagBook, download: Download) -> Iterator[Finding]:
    reads: dict[str, list[StoredRead]] = defaultdict(list)
    for read in download.reads:
        if read.role == "test":
            reads[read.key].append(read)
    for found in reads.values():
        days = len({read.day for read in found})
        first = found[0]
        why = (
            "lies in the test range 999"
            if not book.test_season and of_test_range(case, first.key)
            else "stands on no row"
        )
        on = f"{days} days" if days > 1 else first.day or "a day not given"
        yield case.blame(
            "test_tag_read",
            [At(first.label, "tag")],
            f"Tag {first.tag} {why} and was read on {on}: it was taken for one that tests the reader.",
        )


def _on_no_row(case: Case, book: TagBook, download: Download) -> Iterator[Finding]:
    """Tell reads that no row explains, those of a day together."""
    doubtful = {row.key for row in (*book.rows, *book.aside.values()) if not row.day}
    by_day: dict[str, dict[str, StoredRead]] = defaultdict(dict)
    for read in download.reads:
        if read.role == "no_row" and read.day and read.key not in doubtful:
            by_day[read.day].setdefault(read.key, read)
    rows_on = {row.day for row in (*book.rows, *book.aside.values())}
    for day, reads in by_day.items():
        found = list(reads.values())
        few = len(found) <= case.limit("few")
        if few and day in rows_on:
            for read in found:
                own = next((row for row in book.rows if row.key == read.key), None)
                where = f", but on that of {own.day}" if own else ""
                yield case.blame(
                    "read_without_row",
                    [At(read.label, "tag")],
                    f"Tag {read.tag} was read on {day} at {_clock(read)} and stands on no row of that day"
                    f"{where}.",
                )
            continue
        what = f"Tag {found[0].tag} was" if len(found) == 1 else f"{len(found)} tags were"
        no_rows = "that day has no row" if day not in rows_on else "they stand on no row of that day"
        yield case.blame(
            "read_without_row", [At(found[0].label, "tag")], f"{what} read on {day}, but {no_rows}."
        )


def _clock(read: StoredRead) -> str:
    return read.moment.partition("T")[2][: len("00:00")]


def _not_read(case: Case, book: TagBook, download: Download) -> Iterator[Finding]:
    """Tell tags that the reader lacks though it stored the others of their visit."""
    rows = {row.label: row for row in book.rows}
    slips = {read.row for read in download.reads if read.role == "slip"}
    of_visit: dict[tuple[str, str], list[str]] = defaultdict(list)
    for row in book.rows:
        of_visit[row.visit].append(row.label)
    lacking = set(download.unread)
    missed = []
    for label in download.unread:
        if label in slips or label not in rows:
            continue
        mates = of_visit[rows[label].visit]
        read = sum(mate not in lacking for mate in mates)
        if read >= max(case.limit("unread_share") * len(mates), 1):
            missed.append(rows[label])
    yield from _missed(case, missed, len(book.rows))


def _missed(case: Case, missed: Sequence[TagRow], of: int) -> Iterator[Finding]:
    if not missed:
        return
    if len(missed) > case.limit("few"):
        yield case.blame(
            "row_without_read",
            [At(missed[0].label, "tag")],
            f"{len(missed)} of {of} tags on the sheet were not read that day, though others of their visits"
            f" were, the first {missed[0].tag} on {missed[0].day}.",
        )
        return
    for row in missed:
        yield case.blame(
            "row_without_read",
            [At(row.label, "tag")],
            f"Tag {row.tag} was not read on {row.day}, though the others of box {row.box} were.",
        )


RULE = Rule("reader", {"tag_reads": ("tag",)}, check, heeds=TAG_BOOK)
