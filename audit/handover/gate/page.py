"""The gate as a page: static, readable and printable, with nothing to fetch or run."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.charts.palette import BAND, QUIET, TONES
from audit.handover.gate.engine_tables import engine_tables
from audit.handover.gate.item import by_cell
from audit.handover.gate.sorts import SORTS
from audit.handover.gate.wording import (
    EMPTY,
    NEXT,
    cell_notes,
    cells_named,
    engine_sentence,
    headline,
    listed_words,
    what_is_seen,
)
from audit.review.page_look import piece, whole_page
from audit.review.typed_rows import safe
from audit.review.wording import counted

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from audit.findings import Severity
    from audit.handover.clean.decided_season import DecidedSeason
    from audit.handover.gate.gate import Gate
    from audit.handover.gate.item import OpenItem
    from audit.handover.gate.sorts import Sort

__all__ = ["gate_page", "gate_piece"]

#: Places of one sort shown in a notebook; a page holds all.
_MOST = 50
#: A notebook sets cells to the right, and one that comes from elsewhere leaves style sheets out.
_LEFT = 'style="text-align:left"'
_STYLE = f"""
.wide{{overflow-x:auto}}
.verdict{{border-left:6px solid {BAND};padding:.2rem 1rem}}
.verdict.shut{{border-left-color:{TONES["error"].mark}}}
.items td.text,.items th{{white-space:nowrap}}
.items td{{max-width:34rem}}
.items small{{display:block;font-size:.95em;color:{QUIET}}}
@media print{{.items td.text,.items th{{white-space:normal}}.wide{{overflow:visible}}}}
"""
_CAUTION = (
    "An open gate means that this audit knows of nothing more to ask. It does not make a value true. Your "
    "licence, the rules of your scheme and local law come before it, and what the scheme asks about later is "
    "answered from the field notebook."
)


def gate_page(gate: Gate, decided: DecidedSeason) -> str:
    """Return the whole page.

    Parameters
    ----------
    decided : DecidedSeason
        The season that the gate was asked about.
    """
    title = f"Season {safe(gate.season)}: the gate"
    sections = (
        _verdict(gate),
        _sections(gate.shutting, None),
        _sections([item for item in gate.listed if item.sort not in _APART], None),
        _kept(gate.of_sort("kept"), None),
        _unchecked(gate, decided.clean.notices),
        engine_tables(gate.validations, decided.clean, decided.declared),
        _origins(decided),
    )
    body = "\n".join(part for section in sections for part in section)
    return whole_page(title, body, _STYLE)


def gate_piece(gate: Gate) -> str:
    """Return verdict and items for use in another page, with its own look."""
    parts = (
        *_verdict(gate),
        *_sections(gate.shutting, _MOST),
        *_sections([item for item in gate.listed if item.sort not in _APART], _MOST),
        *_kept(gate.of_sort("kept"), _MOST),
        *_unchecked(gate, ()),
        f"<p>{safe(engine_sentence(gate))}</p>",
    )
    return piece("\n".join(parts))


#: Sorts that have a section of their own.
_APART: tuple[Sort, ...] = ("kept", "not_run")


def _verdict(gate: Gate) -> Iterator[str]:
    look = "verdict" if gate.is_open else "verdict shut"
    yield f'<div class="{look}"><p class="lead"><strong>{safe(headline(gate))}</strong></p>'
    if not gate.is_open:
        yield f"<p>{safe(NEXT)}</p>"
    if words := listed_words(gate):
        yield f"<p>{safe(words)}</p>"
    yield f'<p class="quiet">{safe(_CAUTION)}</p></div>'


def _sections(items: Sequence[OpenItem], most: int | None) -> Iterator[str]:
    """Tell items under the heading of the gravest that is said of each place."""
    by_sort: dict[Sort, list[list[OpenItem]]] = {}
    for place in by_cell(items):
        by_sort.setdefault(place[0].sort, []).append(place)
    for sort, places in by_sort.items():
        words = SORTS[sort]
        shuts = any(item.shuts for place in places for item in place)
        way = "" if shuts else " (not in the way)"
        yield f"<h2>{safe(words.heading)}{way}</h2><p>{safe(words.cure)}</p>"
        heads = ("where", "column", "box, date, ring", "stands there", "what is to be settled")
        caption = f"{words.heading}: {counted(len(places), 'place')}"
        yield from _table(caption, heads, [_row(place) for place in places], most)


def _row(place: Sequence[OpenItem]) -> str:
    cell = place[0].first
    most = max(place, key=lambda item: len(item.cells))
    marks = filter(None, (cell.marks.box, cell.marks.date, cell.marks.ring))
    bird = " ".join(f'<span style="white-space:nowrap">{safe(mark)}</span>' for mark in marks)
    text = safe(cell.text) or EMPTY if place[0].cells else ""
    told = "".join(_said(item) for item in place)
    where = cells_named(most) or place[0].rule or place[0].identity
    return (
        f'<tr><th scope="row" {_LEFT}>{safe(where)}</th><td {_LEFT}>{safe(cell.column)}</td>'
        f'<td {_LEFT}>{bird}</td><td class="text" {_LEFT}><strong>{text}</strong></td>'
        f"<td {_LEFT}>{told}</td></tr>"
    )


def _said(item: OpenItem) -> str:
    severity: Severity = "error" if item.sort == "error" else "suspect"
    is_found = item.sort in ("error", "suspect")
    word = f'<b class="{severity}">{TONES[severity].word}</b> ' if is_found else ""
    lines = [*item.beside, *cell_notes(item), item.remark]
    if item.who and item.sort not in ("error", "suspect", "breach"):
        lines.append(f"{item.who}{f': {item.why}' if item.why else ''}")
    # a division each: in a notebook that comes from elsewhere nothing else sets them apart
    small = "".join(f"<div><small>{_percent(safe(line))}</small></div>" for line in lines if line)
    rule = f" <code>{safe(item.rule)}</code>" if item.rule else ""
    return f"<div>{word}{_percent(safe(item.says))}{rule}{small}</div>"


def _percent(text: str) -> str:
    return text.replace(" %", "&nbsp;%")


def _kept(items: Sequence[OpenItem], most: int | None) -> Iterator[str]:
    if not items:
        return
    words = SORTS["kept"]
    yield f"<h2>{safe(words.heading)}</h2><p>{safe(words.cure)}</p>"
    heads = ("where", "column", "stands there", "what the audit says", "who", "why")
    rows = []
    for item in items:
        rule = f" <code>{safe(item.rule)}</code>" if item.rule else ""
        remark = f"<small>{safe(item.remark)}</small>" if item.remark else ""
        parts = (
            f'<td {_LEFT}>{safe(item.first.column)}</td><td class="text" {_LEFT}>'
            f"<strong>{safe(item.typed) or EMPTY}</strong></td><td {_LEFT}>{_percent(safe(item.says))}"
            f"{rule}{remark}</td>"
            f"<td {_LEFT}>{safe(item.who)}</td><td {_LEFT}>{safe(item.why)}</td>"
        )
        rows.append(f'<tr><th scope="row" {_LEFT}>{safe(cells_named(item))}</th>{parts}</tr>')
    caption = f"Kept against the audit: {counted(len(items), 'finding')}"
    yield from _table(caption, heads, rows, most)


def _unchecked(gate: Gate, notices: Sequence[str]) -> Iterator[str]:
    yield "<h2>What was not checked</h2>"
    skipped = gate.of_sort("not_run")
    if skipped:
        yield f"<p>{safe(SORTS['not_run'].cure)}</p>"
        rows = [
            f'<tr><th scope="row" {_LEFT}><code>{safe(item.rule)}</code></th>'
            f"<td {_LEFT}>{safe(item.says)}</td></tr>"
            for item in skipped
        ]
        yield from _table("Rules, or parts of rules, that did not run", ("rule", "why"), rows, None)
    yield "<ul>"
    yield from (f"<li>{safe(sentence)}</li>" for sentence in (*what_is_seen(gate), *notices))
    yield "</ul>"


def _origins(decided: DecidedSeason) -> Iterator[str]:
    yield "<h2>Where the limits come from</h2>"
    rows = []
    for key in ("gate.shut_from", "gate.must_run"):
        limit = decided.declared.settings[key]
        value = ", ".join(map(str, limit.value)) or "none" if isinstance(limit.value, list) else limit.value
        cells = "".join(f"<td {_LEFT}>{safe(str(text))}</td>" for text in (value, limit.source, limit.grade))
        rows.append(f'<tr><th scope="row" {_LEFT}><code>{safe(key)}</code></th>{cells}</tr>')
    yield from _table(
        "What shuts the gate, as declared in gate.yaml", ("limit", "value", "source", "grade"), rows, None
    )
    yield (
        "<p>What each table must hold is declared in the folder <code>tables</code>, what each rule asks in "
        "the folder <code>rules</code> of the declarations.</p>"
    )


def _table(caption: str, heads: Sequence[str], rows: Sequence[str], most: int | None) -> Iterator[str]:
    yield f'<div class="wide"><table class="items"><caption>{safe(caption)}</caption><thead><tr>'
    yield "".join(f'<th scope="col" {_LEFT}>{safe(head)}</th>' for head in heads)
    yield "</tr></thead><tbody>"
    yield "\n".join(rows[:most])
    yield "</tbody></table></div>"
    if most is not None and len(rows) > most:
        yield f"<p>{counted(len(rows) - most, 'more line')} on the page of the gate.</p>"
