"""How the ledgers are worded: the table by string, and the questions that are left."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.review.wording import counted, some_of
from audit.rules.fates import FATES, Fate
from audit.rules.tag_ledger import TagFate

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.rules.ring_ledger.ledger import RingLedger
    from audit.rules.ring_ledger.lines import RingLine, Worn
    from audit.rules.tag_ledger import TagLedger, TagLine

__all__ = ["heads", "opening", "questions", "series_rows", "string_rows", "tag_heads", "tag_rows"]

#: Fates that have a column though no ring has them.
_ALWAYS = (Fate.ON_A_BIRD, Fate.IN_HAND, Fate.UNACCOUNTED)
#: Names in one sentence.
_NAMED = 8


def opening(rings: RingLedger, tags: TagLedger) -> Iterator[str]:
    """Say what there is: rings, tags."""
    if rings.strings:
        told = ", ".join(f"{number:,} {fate}" for fate, number in rings.total.items() if number)
        yield f"{counted(len(rings), 'ring')} in {counted(len(rings.strings), 'string')}: {told}."
    elif rings.has_stock:
        yield "No string of the ring stock can be laid out; below are the rings that were put on, by series."
    else:
        yield (
            "There is no table of the strings issued (ring stock), so nothing tells what is still in hand; "
            "below are the rings that were put on, by series."
        )
    if tags.lines:
        told = ", ".join(
            f"{number:,} {fate}" for fate in TagFate if (number := sum(t.fate is fate for t in tags.lines))
        )
        yield f"{counted(len(tags.lines), 'tag')} in stock: {told}."
    elif any(tag.fate is TagFate.ON_A_BIRD for tag in tags.others):
        yield "There is no list of the tags in stock, so nothing tells which are still in hand."


def fates_shown(rings: RingLedger) -> tuple[Fate, ...]:
    """Fates that have a column."""
    return tuple(fate for fate in FATES if fate in _ALWAYS or rings.total[fate])


def heads(rings: RingLedger) -> tuple[str, ...]:
    """Heads of the table by string."""
    return ("string", "holder", "issued", "rings", *(fate.value for fate in fates_shown(rings)))


def string_rows(rings: RingLedger) -> Iterator[tuple[str, ...]]:
    """Rows of the table by string; the last one is the sum."""
    shown = fates_shown(rings)
    for which, string in enumerate(rings.strings):
        counts = rings.counts(which)
        issued = "" if string.issued is None else string.issued.date().isoformat()
        length = f"{string.last - string.first + 1:,}"
        yield (str(string), string.holder, issued, length, *(f"{counts[fate]:,}" for fate in shown))
    yield ("all", "", "", f"{len(rings):,}", *(f"{rings.total[fate]:,}" for fate in shown))


def series_rows(rings: RingLedger) -> Iterator[tuple[str, ...]]:
    """Rows of the table by series, for a season without strings: first, last, used, losses, missing."""
    for series in rings.series:
        gaps = some_of(series.gaps, _NAMED)
        yield (
            series.first,
            series.last,
            f"{series.used:,}",
            f"{series.lost:,}",
            f"{series.missing:,}",
            gaps,
        )


def tag_heads() -> tuple[str, ...]:
    """Heads of the table by batch."""
    return ("batch", "tags", *(fate.value for fate in TagFate))


def tag_rows(tags: TagLedger) -> Iterator[tuple[str, ...]]:
    """Rows of the table by batch; the last one is the sum."""
    total = dict.fromkeys(TagFate, 0)
    for batch, lines in tags.by_batch.items():
        counts = tags.counts(batch)
        for fate in TagFate:
            total[fate] += counts[fate]
        yield (batch or "no batch", f"{len(lines):,}", *(f"{counts[fate]:,}" for fate in TagFate))
    yield ("all", f"{len(tags.lines):,}", *(f"{number:,}" for number in total.values()))


def questions(rings: RingLedger, tags: TagLedger) -> list[str]:
    """Say what is left to answer, one sentence each: contradictions first."""
    return [*_about_rings(rings), *_about_tags(tags)]


def _about_rings(rings: RingLedger) -> Iterator[str]:
    for string in rings.unread:
        fault = string.fault or "is too long to be one string"
        yield f"The string {string} ({string.label}) {fault}: it is not in this ledger."
    for line in rings.conflicts():
        yield f"Ring {line.ring}{_where(line)}: {line.remark}."
    for which, string in enumerate(rings.strings):
        names = rings.names(which, Fate.UNACCOUNTED)
        number = rings.counts(which)[Fate.UNACCOUNTED]
        if not number:
            continue
        holder = f" ({string.holder})" if string.holder else ""
        left = rings.counts(which, likely=True)[Fate.UNACCOUNTED]
        rest = ""
        if left < number:
            rest = (
                f"; with what the findings suggest {counted(left, 'ring')} would be left"
                if left
                else ("; with what the findings suggest none would be left")
            )
        is_are = "is" if number == 1 else "are"
        yield (
            f"{counted(number, 'ring')} of the string {string}{holder} {is_are} on no bird and among no "
            f"losses, though the string is in use beyond: {some_of(names, _NAMED)}{rest}."
        )
    for other in rings.others:
        if other.asked:
            yield f"Ring {other.worn.ring}{_place(other.worn)} was put on, but is in none of the strings."
    for series in rings.series if rings.strings else ():
        yield (
            f"{counted(series.used, 'ring')} from {series.first} to {series.last} were put on, "
            f"but no string of this series is in the stock."
        )
    if rings.lost_elsewhere and rings.strings:
        number = len(rings.lost_elsewhere)
        names = [lost.ring for lost in rings.lost_elsewhere]
        yield (
            f"{counted(number, 'ring')} among the losses "
            f"{'is' if number == 1 else 'are'} in none of the strings: {some_of(names, _NAMED)}."
        )


def _about_tags(tags: TagLedger) -> Iterator[str]:
    for line in tags.conflicts():
        yield f"Tag {line.tag}: {line.remark}."
    unread = [line.tag for line in tags.lines if line.fate is TagFate.READ_ONLY]
    if unread:
        yield (
            f"{counted(len(unread), 'tag')} of the stock {'was' if len(unread) == 1 else 'were'} read, "
            f"but {'stands' if len(unread) == 1 else 'stand'} on no row: {some_of(unread, _NAMED)}."
        )
    if tags.has_stock:
        for line in tags.others:
            if line.fate is TagFate.ON_A_BIRD and line.fitted:
                yield f"Tag {line.tag}{_tag_place(line)} was fitted, but is not in stock."


def _where(line: RingLine) -> str:
    return _place(line.worn) if line.worn else ""


def _place(worn: Worn) -> str:
    told = ", ".join(filter(None, (worn.box, worn.day, f"{worn.sheet} row {worn.row}")))
    return f" ({told})"


def _tag_place(line: TagLine) -> str:
    told = ", ".join(filter(None, (line.box, line.date, f"{line.sheet} row {line.row}")))
    return f" ({told})"
