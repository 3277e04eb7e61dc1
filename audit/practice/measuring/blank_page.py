"""A blank sheet as one static page: what to do first, then one person's page on each sheet of paper."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.charts.palette import INK
from audit.handover.paper import page_size
from audit.practice.measuring.blank_words import (
    HOW_TO,
    LINES,
    blank_cautions,
    heading,
    lead,
    page_title,
    title,
)
from audit.review.page_look import piece, whole_page
from audit.review.typed_rows import safe

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.practice.measuring.blank import Blank

__all__ = ["blank_page", "blank_piece", "blank_text"]

_STYLE = f"""
.blank table{{font-size:1rem;border:1px solid {INK};width:100%;max-width:60rem}}
.blank th,.blank td{{border:1px solid {INK};padding:.25rem .5rem;white-space:nowrap}}
.blank thead th{{color:{INK};border-bottom:2px solid {INK}}}
.blank tbody th{{color:{INK};font-weight:bold}}
.blank tbody td{{height:1.7rem;min-width:4rem}}
.blank td.remarks{{width:30%}}
.blank .lines span{{display:inline-block;white-space:nowrap;margin:.3rem 1.2rem .3rem 0}}
.blank .lines i{{display:inline-block;border-bottom:1px solid {INK};min-width:6rem;height:1.1rem}}
@media print{{.blank{{break-before:page}}.blank table{{font-size:11pt}}.blank tr{{break-inside:avoid}}}}
"""


def blank_page(blank: Blank, paper: str = "a4") -> str:
    """Return the whole page.

    Parameters
    ----------
    paper : str
        ``a4`` or ``letter``.

    Raises
    ------
    audit.refusal.Refusal
        There is no such paper.
    """
    return whole_page(safe(title(blank)), "\n".join(_body(blank)), _STYLE + page_size(paper))


def blank_piece(blank: Blank) -> str:
    """Return the sheet for use in another page, such as a notebook."""
    body = "\n".join(_body(blank))
    return piece(f"<style>.nestproof{{{_STYLE}}}</style><h2>{safe(title(blank))}</h2>\n{body}")


def blank_text(blank: Blank) -> str:
    """Say in plain text what was planned."""
    return "\n".join([f"{title(blank)}.", lead(blank), *blank_cautions(blank)])


def _body(blank: Blank) -> Iterator[str]:
    yield f'<p class="lead">{safe(lead(blank))}</p><h2>What to do</h2><ol>'
    yield from (f"<li>{safe(step)}</li>" for step in HOW_TO)
    cautions = "".join(f"<p>{safe(said)}</p>" for said in blank_cautions(blank))
    yield f'</ol><section class="caution">{cautions}</section>'
    heads = [safe(heading(field)) for field in blank.fields]
    head = "".join(f'<th scope="col">{name}</th>' for name in ("bird", *heads, "remarks"))
    cells = "<td></td>" * len(heads) + '<td class="remarks"></td>'
    lines = "".join(f"<span>{safe(line)} <i></i></span>" for line in LINES)
    for page in blank.pages:
        yield f'<section class="blank"><h2>{safe(page_title(page, blank))}</h2>'
        yield f'<p class="lines">{lines}</p>'
        yield f"<table><thead><tr>{head}</tr></thead><tbody>"
        yield from (f'<tr><th scope="row">{safe(bird)}</th>{cells}</tr>' for bird in page.birds)
        yield f'</tbody></table><p class="quiet">Code of these pages: {blank.code}</p></section>'
