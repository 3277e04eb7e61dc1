"""The trainer's overview as a page and as text."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.practice.power_words import percent
from audit.review.page_look import piece, whole_page
from audit.review.typed_rows import safe
from audit.review.wording import counted

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.practice.exercise.overview import Overview, TraineeView

__all__ = ["overview_page", "overview_piece", "overview_text"]

_TITLE = "Practice: how each trainee gets on"
_EMPTY = "No practice sheet has been marked yet."
_NOTE = (
    "A share stands with the interval that holds the true one in 19 of 20 such cases: of few slips it says "
    "little. The figures are for choosing what to practise. They say nothing about work at a box, and are "
    "no certificate."
)
_HEADS = ("sheets", "found", "mended or rightly asked", "asked", "earlier and later half", "comes next")


def overview_page(overview: Overview) -> str:
    """Return the whole page."""
    return whole_page(_TITLE, "\n".join(_body(overview)))


def overview_piece(overview: Overview) -> str:
    """Return the same for use in another page, such as a notebook."""
    return piece(f"<h2>{_TITLE}</h2>" + "\n".join(_body(overview)))


def _body(overview: Overview) -> Iterator[str]:
    if not overview.trainees:
        yield f"<p>{_EMPTY}</p>"
    for view in overview.trainees:
        yield f"<h2>{safe(view.who)}: {_sheets(view)}</h2><p>{safe(view.advice)}</p>"
        yield from (f"<p>{safe(line)}</p>" for line in view.drills)
        if not view.sheets:
            continue
        head = "".join(f'<th scope="col">{name}</th>' for name in _HEADS)
        yield f'<table><thead><tr><th scope="col">kind of slip</th>{head}</tr></thead><tbody>'
        for title, *cells in _lines(view):
            told = "".join(f"<td>{safe(text)}</td>" for text in cells)
            yield f'<tr><th scope="row">{safe(title)}</th>{told}</tr>'
        yield f"</tbody></table><p>{safe(_blamed(view))}</p>"
    yield from (f"<p>{safe(notice)}</p>" for notice in overview.notices)
    yield f'<p class="quiet">{safe(_NOTE)}</p>'


def overview_text(overview: Overview) -> str:
    """Return the overview as plain text."""
    told = [] if overview.trainees else [_EMPTY]
    for view in overview.trainees:
        told.append(f"{view.who}: {_sheets(view)}. {view.advice}")
        told += [f"  {line}" for line in view.drills]
        if not view.sheets:
            continue
        table = [("kind of slip", *_HEADS), *_lines(view)]
        widths = [max(len(line[i]) for line in table) for i in range(len(table[0]))]
        told += [
            "  " + "  ".join(text.ljust(width) for text, width in zip(line, widths, strict=True)).rstrip()
            for line in table
        ]
        told.append(f"  {_blamed(view)}")
    return "\n".join([*told, *overview.notices, _NOTE])


def _lines(view: TraineeView) -> Iterator[tuple[str, ...]]:
    for line in view.kinds:
        yield (
            line.title,
            str(line.sheets),
            percent(line.found),
            percent(line.mended),
            str(line.asked),
            line.trend,
            "due" if line.due else "later",
        )


def _sheets(view: TraineeView) -> str:
    return counted(view.sheets, "sheet")


def _blamed(view: TraineeView) -> str:
    cells = counted(view.blamed, "innocent cell") if view.blamed else "No innocent cell"
    verb = "was" if view.blamed in (0, 1) else "were"
    return f"{cells} {verb} changed; sheets without one: {percent(view.innocent)}."
