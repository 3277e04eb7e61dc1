"""The ledgers as one page: static, readable and printable, with nothing to fetch or run."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.charts.palette import BAND
from audit.handover.ledger.ledger_strips import rings_chart, tags_chart
from audit.handover.ledger.ledger_words import (
    heads,
    opening,
    questions,
    series_rows,
    string_rows,
    tag_heads,
    tag_rows,
)
from audit.review.page_look import piece, whole_page
from audit.review.typed_rows import safe
from audit.review.wording import counted

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from audit.charts.ring_strings import Drawing
    from audit.rules.ring_ledger.ledger import RingLedger
    from audit.rules.ring_ledger.lines import Worn
    from audit.rules.tag_ledger import TagLedger

__all__ = ["ledger_page", "ledger_tables"]

#: Questions on the page; the tables beside it hold all.
_QUESTIONS = 300
#: Lines of cells drawn on the page.
_LINES = 60
#: Rings of other strings listed on the page.
_OTHERS = 200
_SERIES = ("first", "last", "put on", "losses", "missing between", "these")
_STYLE = f"""
.wide{{overflow-x:auto}}
.ledger tr:last-child>*{{border-top:2px solid {BAND};font-weight:bold}}
.ledger td{{white-space:nowrap}}
"""


def ledger_page(season: str, rings: RingLedger, tags: TagLedger) -> str:
    """Return the whole page."""
    title = f"Season {safe(season)}: what became of every ring and tag"
    parts = (
        *(f'<p class="lead">{safe(sentence)}</p>' for sentence in opening(rings, tags)),
        *_questions(questions(rings, tags)),
        "<h2>Rings</h2>",
        *_ring_tables(rings),
        *_picture(rings_chart(rings, most_lines=_LINES), "r"),
        *_others(rings),
        *_tags(tags),
        *_closing(rings),
    )
    return whole_page(title, "\n".join(parts), _STYLE)


def ledger_tables(season: str, rings: RingLedger, tags: TagLedger) -> str:
    """Return the tables and the questions, for use in another page."""
    parts = (
        f"<p><strong>{safe(season)}</strong></p>",
        *(f"<p>{safe(sentence)}</p>" for sentence in opening(rings, tags)),
        *_ring_tables(rings),
        *(_table("Tags by batch", tag_heads(), list(tag_rows(tags))) if tags.lines else ()),
        *_questions(questions(rings, tags)),
    )
    return piece("\n".join(parts))


def _questions(asked: Sequence[str]) -> Iterator[str]:
    yield "<h2>Questions to answer</h2>"
    if not asked:
        yield "<p>None: every ring and tag has one fate, and nothing contradicts it.</p>"
        return
    yield "<ul>"
    yield from (f"<li>{safe(sentence)}</li>" for sentence in asked[:_QUESTIONS])
    yield "</ul>"
    if len(asked) > _QUESTIONS:
        yield f"<p>{counted(len(asked) - _QUESTIONS, 'more question')}: see the tables beside this page.</p>"


def _ring_tables(rings: RingLedger) -> Iterator[str]:
    if rings.strings:
        yield from _table(
            "Rings by string; each line sums to its rings", heads(rings), list(string_rows(rings))
        )
    if rings.series:
        without = " without a string in the stock" if rings.strings else ""
        yield from _table(
            f"Rings put on, by series{without}", _SERIES, list(series_rows(rings)), summed=False
        )


def _tags(tags: TagLedger) -> Iterator[str]:
    if not tags.lines and not tags.others:
        return
    yield "<h2>Tags</h2>"
    if tags.lines:
        yield from _table("Tags by batch; each line sums to its tags", tag_heads(), list(tag_rows(tags)))
        yield from _picture(tags_chart(tags, most_lines=_LINES), "t")
    if tags.others and tags.has_stock:
        rows = [(t.tag, t.fate.value, t.ring, t.box, t.date or t.read) for t in tags.others[:_OTHERS]]
        caption = f"Tags that are not in stock: {len(tags.others):,}, of which {len(rows):,} are listed"
        yield from _table(caption, ("tag", "what became of it", "ring", "box", "date"), rows, summed=False)
        yield "<p>Birds tagged in earlier years or elsewhere come back with such tags.</p>"


def _others(rings: RingLedger) -> Iterator[str]:
    known = [other.worn for other in rings.others if not other.asked]
    if not known or not rings.strings:
        return
    yield "<h3>Birds that bore a ring already</h3>"
    yield "<p>Rings of earlier years and of other people: nothing is asked about them here.</p>"
    rows = [_met(worn) for worn in known[:_OTHERS]]
    caption = f"Rings in none of the strings: {len(known):,}, of which {len(rows):,} are listed"
    yield from _table(caption, ("ring", "first met", "box", "species", "row"), rows, summed=False)


def _met(worn: Worn) -> tuple[str, ...]:
    return (worn.ring, worn.day, worn.box, worn.species.replace("_", " "), f"{worn.sheet} row {worn.row}")


def _picture(chart: Drawing | None, name: str) -> Iterator[str]:
    if chart is None:
        return
    from audit.charts.still import description_of, still

    yield f"<figure>{still(chart, name)}<figcaption>{safe(description_of(chart))}</figcaption></figure>"


def _closing(rings: RingLedger) -> Iterator[str]:
    yield "<h2>How this ledger is kept</h2><ul>"
    if rings.strings:
        yield (
            "<li>Every ring of every string has exactly one fate, as typed: a ring that is on a bird counts "
            "as that even where the losses name it too, and the question is asked above. What the findings "
            "of the audit suggest instead stands in a column of its own in ring-ledger.csv.</li>"
        )
        yield (
            "<li>In hand are the rings that their string has not reached yet; unaccounted are those that "
            "were passed over. In a string that was issued in an earlier year, or on a day not given, the "
            "rings below the first one of this season count as used before, or unknown.</li>"
        )
    yield (
        "<li>A ring that cannot be accounted for is reported to the scheme by its rules; they come before "
        "anything on this page.</li></ul>"
    )


def _table(
    caption: str, head: Sequence[str], rows: Sequence[tuple[str, ...]], *, summed: bool = True
) -> Iterator[str]:
    number = [
        i > 0 and bool(rows) and all(row[i].replace(",", "").isdecimal() for row in rows)
        for i in range(len(head))
    ]
    look = ' class="ledger"' if summed else ""
    yield f'<div class="wide"><table{look}><caption>{safe(caption)}</caption><thead><tr>'
    yield "".join(
        f'<th scope="col"{_right(right)}>{safe(text)}</th>' for text, right in zip(head, number, strict=True)
    )
    yield "</tr></thead><tbody>"
    for row in rows:
        first, *rest = row
        cells = "".join(
            f"<td{_right(right)}>{safe(text)}</td>" for text, right in zip(rest, number[1:], strict=True)
        )
        yield f'<tr><th scope="row">{safe(first)}</th>{cells}</tr>'
    yield "</tbody></table></div>"


def _right(right: bool) -> str:
    return ' class="n"' if right else ""
