"""The download beside the sheet as a plain table: it reads without JavaScript and without the picture."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.charts.download import counts_of
from audit.charts.download_lines import differing, levels
from audit.charts.download_spots import NO_READ, NO_ROW, NO_TAG, tone_of
from audit.review.page_look import piece
from audit.review.typed_rows import safe
from audit.season import split_label

if TYPE_CHECKING:
    from collections.abc import Iterator
    from collections.abc import Set as AbstractSet

    from audit.charts.download_lines import Beside, ReadTag, TypedTag

__all__ = ["download_table", "download_text"]

#: A notebook sets cells to the right, and one that comes from elsewhere leaves style sheets out.
_LEFT = "text-align:left"
_HEADS = ("row", "box", "ring", "tag as typed", "tag as read", "at", "")


def download_table(beside: Beside) -> str:
    """Return the table, for use in another page: safe HTML with its own look."""
    body = "\n".join(_lines(beside))
    heads = "".join(f'<th scope="col" style="{_LEFT}">{head}</th>' for head in _HEADS)
    return piece(
        f'<div style="overflow-x:auto"><table><caption>{safe(_opening(beside))}</caption>'
        f"<thead><tr>{heads}</tr></thead>\n<tbody>{body}</tbody></table></div>"
    )


def download_text(beside: Beside) -> str:
    """Return the same in plain words, one line for each row or read."""
    told = [_opening(beside)]
    for row, read in _in_order(beside):
        parts = [
            f"row {split_label(row.label)[1]} {row.ring} {row.tag or NO_TAG}" if row else "",
            f"read {read.tag} at {read.clock}" if read else "",
            _says(row, read),
        ]
        told.append("; ".join(part for part in parts if part))
    return "\n".join(told)


def _opening(beside: Beside) -> str:
    return "; ".join([f"{beside.name}: {counts_of(beside)}", *beside.remarks])


def _in_order(beside: Beside) -> Iterator[tuple[TypedTag | None, ReadTag | None]]:
    """Go through the levels of the picture; a row whose read stands on another level has it beside it."""
    claimed = set(beside.pairs.values())
    for row, read in levels(beside):
        if row is not None:
            paired = beside.pairs.get(row)
            yield beside.rows[row], None if paired is None else beside.reads[paired]
        elif read is not None and read not in claimed:
            yield None, beside.reads[read]


def _lines(beside: Beside) -> Iterator[str]:
    for row, read in _in_order(beside):
        typed_marks, read_marks = _marks(row, read)
        row_number = split_label(row.label)[1] if row else ""
        severity = row.severity if row else None
        word = f'<b class="{severity}">{tone_of(row).word}</b> ' if row and severity else ""
        cells = (
            (safe(row.box) if row else "", f"{_LEFT};white-space:nowrap"),
            (safe(row.ring) if row else "", _LEFT),
            (_code(row.tag, typed_marks) if row else "", _LEFT),
            (_code(read.tag, read_marks) if read else "", _LEFT),
            (safe(read.clock) if read else "", _LEFT),
            (f"{word}{safe(_says(row, read))}", _LEFT),
        )
        told = "".join(f'<td style="{style}">{text}</td>' for text, style in cells)
        yield f'<tr><th scope="row" style="{_LEFT}">{row_number}</th>{told}</tr>'


def _marks(row: TypedTag | None, read: ReadTag | None) -> tuple[AbstractSet[int], AbstractSet[int]]:
    if row is None or read is None or not row.tag:
        return frozenset(), frozenset()
    return differing(row.tag, read.tag)


def _code(code: str, marks: AbstractSet[int]) -> str:
    """Write a code, the signs that differ bold and underlined."""
    return "".join(f"<b><u>{safe(sign)}</u></b>" if i in marks else safe(sign) for i, sign in enumerate(code))


def _says(row: TypedTag | None, read: ReadTag | None) -> str:
    if row is None:
        return (read.remark if read else "") or NO_ROW
    if row.message:
        return row.message
    if not row.tag:
        return NO_TAG
    if read is None:
        return NO_READ
    return "agrees" if row.tag == read.tag else "differs"
