"""The page to read before records are sent; the same as a piece for a notebook."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from audit.review.page_look import piece, whole_page
from audit.review.typed_rows import safe
from audit.review.wording import counted
from audit.season import split_label

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from audit.handover.exchange.records import ExchangeRecords

__all__ = ["exchange_page", "exchange_tables"]

#: Lines of a table in a notebook, and on the page; the files hold all.
_FEW, _MANY = 20, 500
#: A notebook sets cells to the right, and one that comes from elsewhere leaves style sheets out.
_LEFT = 'style="text-align:left"'

_VERIFY = ("field", "code", "meaning", "records", "known", "compare with", "marked at")
_LEFT_OUT = ("where", "box", "date", "ring", "why")
_ASKED = ("where", "record", "field", "question", "grounds")

_STEPS = """
Ask your ringing scheme which form it takes, and whether it wants records from you in this code at all.
Its rules, your licence and local law come before anything written here.

Compare every line of the list below with the current manual. What you have compared can be marked as
verified in exchange.yaml of your own folder, at the keys in the last column: {verified: true, grade: read,
source: ...}, a species in its own file. It is then no longer listed.

Answer the questions in the clean season or in sender.yaml, and hand the season over again. Do not edit
the records: they are made anew each time.

The records hold exact nest sites. Send them to the scheme only.
"""

_MADE = """
One record is one bird in the hand. 'Mentioned' is what the sheet says; 'concluded' repeats it as a
proposal, since only the scheme concludes.

A tag is written as put on at the first row that has it when the bird is known from its ringing on or
the tag was in stock, then as there already, and as replaced when the number is another. Its number
stands in the remarks.

Age in days is taken from the day of hatching that was seen, else from the estimate on the sheet with
the declared accuracy. It is never worked out from the wing, which would only repeat the wing; if the
estimate on the sheet was made from the wing, say so to whoever uses both.

Distance, direction and days are worked out from the ringing in this season or in the earlier seasons
given; nobody types them.

A bird is written as dead only where the condition says nothing else; a longer text is asked about.

The form 2020 has decimal degrees and dots in place of the packed co-ordinates. Current place code and
the list of more marks stay empty, since how they are written was not known.

records.csv shows the same records as a table and names sheet and row of each. A spreadsheet may drop
zeros in front there; the two text files are what is sent.
"""


def exchange_page(records: ExchangeRecords) -> str:
    """Return the whole page."""
    title = f"Season {safe(records.season)}: records for the ringing scheme"
    body = [
        *_opening(records),
        "<h2>Before you send</h2><ol>",
        *_items(_STEPS),
        "</ol>",
        *_tables(records, _MANY),
        "<h2>How the records were made</h2><ul>",
        *_items(_MADE),
        "</ul>",
    ]
    return whole_page(title, "\n".join(body))


def exchange_tables(records: ExchangeRecords) -> str:
    """Return the sentences and the tables, for use in another page."""
    lead = f"<p><strong>{safe(records.season)}</strong>: records for the ringing scheme</p>"
    return piece("\n".join([lead, *_opening(records), *_tables(records, _FEW)]))


def _items(text: str) -> Iterator[str]:
    """Make an item of each paragraph."""
    yield from (f"<li>{safe(' '.join(part.split()))}</li>" for part in text.strip().split("\n\n"))


def _opening(records: ExchangeRecords) -> Iterator[str]:
    yield from (f"<p>{safe(sentence)}</p>" for sentence in records.told)


def _tables(records: ExchangeRecords, most: int) -> Iterator[str]:
    if records.to_verify:
        yield "<h2>To compare with the manual</h2>"
        rows = [
            (one.field, one.code, one.label, f"{one.records:,}", one.known, one.against, one.key)
            for one in records.to_verify
        ]
        yield from _table("Codes and rules that were not read in the manual", _VERIFY, rows, most)
    if records.cautions:
        yield "<h2>Questions to the records</h2>"
        titles = {field.name: field.title for field in records.declared.exchange.fields}
        checks = records.declared.exchange.checks
        kinds = Counter(one.check for one in records.cautions)
        asked = sorted(records.cautions, key=lambda one: (kinds[one.check], one.check))
        questions = [
            (
                _where(one.label),
                one.reference,
                titles.get(one.field, one.field),
                one.said,
                checks[one.check].basis,
            )
            for one in asked
        ]
        yield from _table("Written all the same; rare questions first", _ASKED, questions, most)
    if records.left_out:
        yield "<h2>Left out</h2>"
        without = [(_where(one.label), one.box, one.date, one.ring, one.why) for one in records.left_out]
        yield from _table("Handlings without a record", _LEFT_OUT, without, most)


def _where(label: str) -> str:
    sheet, row = split_label(label)
    return f"{sheet} row {row}"


def _table(caption: str, heads: Sequence[str], rows: Sequence[tuple[str, ...]], most: int) -> Iterator[str]:
    shown = f", of which {most:,} are shown" if len(rows) > most else ""
    yield (
        f'<div style="overflow-x:auto"><table><caption>{safe(caption)}: {counted(len(rows), "line")}{shown}'
        "</caption><thead><tr>"
    )
    yield "".join(f'<th scope="col" {_LEFT}>{safe(head)}</th>' for head in heads)
    yield "</tr></thead><tbody>"
    for row in rows[:most]:
        yield "<tr>" + "".join(f"<td {_LEFT}>{safe(text)}</td>" for text in row) + "</tr>"
    yield "</tbody></table></div>"
