"""What became of every decision, as text, as tables and as a page of its own."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.handover.clean.decided_lines import HEADS, headline, sections
from audit.review.page_look import piece, whole_page
from audit.review.typed_rows import safe
from audit.review.wording import counted

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audit.handover.clean.decided_lines import Section
    from audit.review.log_records import Damaged
    from audit.review.replay import Replayed

__all__ = ["decided_page", "decided_tables", "decided_text"]

#: Lines of one kind shown in a notebook or a terminal; a page holds all.
_MOST = 200
#: A notebook sets cells to the right, and one that comes from elsewhere leaves style sheets out.
_LEFT = 'style="text-align:left"'


def decided_text(replayed: Replayed, damaged: Sequence[Damaged] = ()) -> str:
    """Tell it in plain words: what is left to settle cell by cell, the rest counted."""
    told = [headline(replayed)]
    for section in sections(replayed, damaged):
        if not section.note:
            continue
        told += ["", f"{section.heading}: {section.note}"]
        told += [f"  {'; '.join(filter(None, _said(line.parts)))}" for line in section.lines[:_MOST]]
        if len(section.lines) > _MOST:
            told.append(f"  and {len(section.lines) - _MOST:,} more")
    return "\n".join(told)


def _said(parts: tuple[str, ...]) -> tuple[str, ...]:
    where, column, typed, text, who, why = parts
    return f"{where} {column}".strip(), f"{typed} -> {text}" if text else typed, who, why


def decided_tables(replayed: Replayed, damaged: Sequence[Damaged] = ()) -> str:
    """Return tables for use in a notebook: safe HTML with its own look."""
    return piece("\n".join(_body(replayed, damaged, _MOST)))


def decided_page(replayed: Replayed, damaged: Sequence[Damaged] = ()) -> str:
    """Return the whole page."""
    title = f"Season {safe(replayed.season.name)}: what was decided"
    return whole_page(title, "\n".join(_body(replayed, damaged, None)))


def _body(replayed: Replayed, damaged: Sequence[Damaged], most: int | None) -> list[str]:
    parts = [f'<p class="lead">{safe(headline(replayed))}</p>']
    for section in sections(replayed, damaged):
        parts += [f"<h2>{safe(section.heading)}</h2>"]
        if section.note:
            parts.append(f"<p>{safe(section.note)}</p>")
        parts.append(_table(section, most))
    return parts


def _table(section: Section, most: int | None) -> str:
    heads = "".join(f'<th scope="col" {_LEFT}>{head}</th>' for head in HEADS)
    rows = "\n".join(
        "<tr>" + "".join(f"<td {_LEFT}>{safe(part)}</td>" for part in line.parts) + "</tr>"
        for line in section.lines[:most]
    )
    more = ""
    if most is not None and len(section.lines) > most:
        more = f"<p>and {len(section.lines) - most:,} more</p>"
    caption = f"{section.heading}: {counted(len(section.lines), 'line')}"
    return (
        f'<div style="overflow-x:auto"><table><caption>{safe(caption)}</caption>'
        f"<thead><tr>{heads}</tr></thead>\n<tbody>{rows}</tbody></table></div>{more}"
    )
