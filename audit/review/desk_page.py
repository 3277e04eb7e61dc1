"""The desk as a page: what is left, what was decided, the rows beside it. Read without a kernel."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.review.desk_words import HEADS, counted_states, line_of
from audit.review.page_look import piece
from audit.review.typed_rows import safe
from audit.review.wording import counted

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from audit.review.deciding import Deciding
    from audit.review.exhibit import Excerpt, Line
    from audit.season import Season

__all__ = ["desk_page", "desk_text", "excerpts_html", "record_html"]

#: Lines of the worklist and of the decisions that a page shows; the log holds all.
_MOST = 100


def desk_page(deciding: Deciding) -> str:
    """Show what is left to decide and what was decided, as HTML without script."""
    return piece("\n".join(_page(deciding)))


def desk_text(deciding: Deciding) -> str:
    """Say the same in plain words."""
    left = [item for item in deciding.items if deciding.item_state(item) == "open"]
    lines = [f"{counted(len(left), 'slip')} to decide, {counted(len(deciding.board.live), 'decision')} made."]
    lines += [" | ".join(line_of(item)) for item in left[:_MOST]]
    if len(left) > _MOST:
        lines.append(f"{len(left) - _MOST:,} more are not shown.")
    return "\n".join(lines)


def _page(deciding: Deciding) -> Iterator[str]:
    yield f'<p class="lead">{counted_states(deciding)}</p>'
    left = [item for item in deciding.items if deciding.item_state(item) == "open"]
    if left:
        more = f"; {len(left) - _MOST:,} more are not shown" if len(left) > _MOST else ""
        yield from _table(
            f"To decide, the greatest harm first{more}",
            [head.text for head in HEADS],
            (line_of(one) for one in left[:_MOST]),
        )
    made = deciding.board.live[-_MOST:]
    if made:
        heads = ("decided", "by", "cell", "typed", "instead", "why")
        lines = (
            (
                one.verb,
                one.who,
                f"{cell.sheet} row {cell.row} {cell.field}",
                cell.observed,
                cell.instead or "",
                one.reason,
            )
            for one in made
            for cell in one.cells
        )
        yield from _table("Decided, as the log says", heads, lines)


def _table(caption: str, heads: Sequence[str], lines: Iterator[tuple[str, ...]]) -> Iterator[str]:
    yield f'<div class="typed"><table><caption>{safe(caption)}</caption><thead><tr>'
    yield "".join(f'<th scope="col">{safe(head)}</th>' for head in heads) + "</tr></thead><tbody>"
    for line in lines:
        yield f"<tr>{''.join(f'<td>{safe(text)}</td>' for text in line)}</tr>"
    yield "</tbody></table></div>"


def excerpts_html(excerpts: Sequence[Excerpt]) -> str:
    """Show rows of several sheets, suspect and witness cells marked as on the report page."""
    return piece("\n".join(part for one in excerpts for part in _excerpt(one))) if excerpts else ""


def _excerpt(one: Excerpt) -> Iterator[str]:
    more = f"; {counted(one.left_out, 'more row')} not shown" if one.left_out else ""
    yield f'<div class="typed"><table><caption>{safe(one.title)}{more}</caption><thead><tr>'
    yield '<th scope="col" class="n">row</th>' + "".join(
        f'<th scope="col">{safe(head)}</th>' for head in one.heads
    )
    yield "</tr></thead><tbody>"
    for line in one.lines:
        yield f'<tr><th scope="row" class="n">{safe(line.place)}</th>{"".join(_cells(one, line))}</tr>'
    yield "</tbody></table></div>"


def _cells(one: Excerpt, line: Line) -> Iterator[str]:
    for field, text in zip(one.fields, line.texts, strict=True):
        place = (line.label, field)
        if place in one.suspects:
            yield f'<td class="error" title="suspect">{safe(text) or "(empty)"}</td>'
        else:
            yield (
                f'<td class="w" title="led to the finding">{safe(text)}</td>'
                if place in one.witnesses
                else f"<td>{safe(text)}</td>"
            )


def record_html(season: Season, label: str) -> str:
    """Show one row of the season, as safe HTML."""
    typed = season.tables[season.table_of(label)].typed.loc[label]
    said = ", ".join(f"{safe(str(field))} <b>{safe(str(text))}</b>" for field, text in typed.items() if text)
    return (
        f'<div role="status">{safe(label.replace("!", ", row "))}: {said}. Nothing is asked about it.</div>'
    )
