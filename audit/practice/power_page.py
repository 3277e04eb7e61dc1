"""A self-test as one page: static, readable and printable, with nothing to fetch or run."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.charts.palette import BAND, GRID, LINE
from audit.practice.power_words import (
    CAUTION,
    column,
    lacking,
    opening,
    percent,
    roomless,
    seldom,
    total,
)
from audit.review.page_look import whole_page
from audit.review.typed_rows import safe

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.models.interval import Share
    from audit.practice.power import Power, Tally

__all__ = ["power_page"]

#: Size of the line that shows a share, in pixels.
_WIDE, _HIGH, _DOT = 130, 14, 4
#: One width for each column, so that the tables stand below each other.
_COLUMNS = "".join(f'<col style="width:{rem}rem">' for rem in (24, 4, 9.5, 9.5, 9.5, 9.5))

_STYLE = f"""
.wide{{overflow-x:auto}}
.power{{table-layout:fixed;width:100%;min-width:56rem;max-width:66rem}}
.power td{{white-space:nowrap}}
.power svg{{display:block;margin:.15rem 0}}
.power tr.all>*{{border-top:2px solid {BAND};font-weight:bold}}
"""


def power_page(power: Power) -> str:
    """Return the whole page."""
    title = f"Season {safe(power.season)}: what an audit would find"
    body = "\n".join((*_opening(power), *_tables(power), *_limits(power)))
    return whole_page(title, body, _STYLE)


def _opening(power: Power) -> Iterator[str]:
    first, *others = opening(power)
    yield f'<p class="lead">{safe(first)}</p>'
    yield from (f"<p>{safe(sentence)}</p>" for sentence in others)
    if power.planted:
        yield (
            '<p class="quiet">A dot marks the share and the bar around it the interval, on a line from none '
            "to all.</p>"
        )


def _tables(power: Power) -> Iterator[str]:
    for field, tallies in power.by_field().items():
        yield f"<h2>{safe(column(power, field))}</h2>"
        yield '<div class="wide"><table class="power">'
        yield f"<caption>What would become of slips in {safe(field)}</caption>{_COLUMNS}"
        yield '<thead><tr><th scope="col">what happened</th><th scope="col" class="n">slips</th>'
        yield '<th scope="col" colspan="2">found</th>'
        yield '<th scope="col" colspan="2">mended right by the first suggestion</th></tr></thead><tbody>'
        yield from (_row(tally) for tally in tallies)
        if len(tallies) > 1:
            yield _row(total(power, tallies), ' class="all"')
        yield "</tbody></table></div>"


def _row(tally: Tally, look: str = "") -> str:
    shares = "".join(
        f"<td>{_line(share)}</td><td>{percent(share)}</td>" for share in (tally.found, tally.mended)
    )
    return (
        f'<tr{look}><th scope="row">{safe(tally.says)}</th><td class="n">{tally.planted:,}</td>{shares}</tr>'
    )


def _line(share: Share) -> str:
    """Draw a share with its interval; the words beside it say the same."""
    inner, middle = _WIDE - 2 * _DOT, _HIGH / 2
    low, dot, high = (round(_DOT + inner * part, 1) for part in (share.low, share.value, share.high))
    return (
        f'<svg width="{_WIDE}" height="{_HIGH}" viewBox="0 0 {_WIDE} {_HIGH}" aria-hidden="true">'
        f'<path d="M{_DOT} {middle}H{_WIDE - _DOT}" stroke="{GRID}" stroke-width="1"/>'
        f'<path d="M{low} {middle}H{high}" stroke="{BAND}" stroke-width="{_HIGH / 2}"/>'
        f'<circle cx="{dot}" cy="{middle}" r="{_DOT}" fill="{LINE}"/></svg>'
    )


def _limits(power: Power) -> Iterator[str]:
    notes = [note for note in (*lacking(power), roomless(power)) if note]
    if notes:
        yield "<h2>What could not be tried</h2>"
        yield from (f"<p>{safe(note)}</p>" for note in notes)
    yield "<h2>What this sheet cannot show</h2><ul>"
    yield from (f"<li>{safe(said)}</li>" for said in (seldom(power), *power.blind) if said)
    yield "</ul>"
    yield f'<section class="caution"><h2>How far these figures go</h2><p>{CAUTION}</p></section>'
