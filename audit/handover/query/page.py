"""The query sheet as one static page to print: nothing is fetched, nothing is run."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.charts.palette import INK, PAPER, QUIET
from audit.handover.query.words import (
    ANSWER,
    BY_WHOM,
    CAUTION,
    HOW_TO,
    MARKS,
    REMARK,
    bird_words,
    lead,
    reason_words,
    title,
    typed_words,
    visit_details,
    visit_name,
)
from audit.review.page_look import piece, whole_page
from audit.review.typed_rows import safe

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from audit.handover.query.sheet import Page, QuerySheet
    from audit.review.questions import Question

__all__ = ["page_piece", "page_text", "write_page"]

#: Black on white only, since many print so. The paper is the printer's own: A4 and Letter both fit.
_STYLE = f"""
main{{max-width:48rem}}
.index{{columns:3 12rem;column-gap:1.8rem;padding-left:1.1rem;font-size:.9rem}}
.index span{{white-space:nowrap}}
table.visit{{width:100%;margin:0 0 1.6rem;font-size:1rem;border:1px solid {INK}}}
table.visit thead th{{color:{INK};font-size:1rem;border-bottom:2px solid {INK};white-space:normal;
padding:.4rem .6rem}}
table.visit thead b{{font-size:1.1rem}}
table.visit td{{border:0;padding:.15rem .6rem;font-family:Georgia,"Times New Roman",serif}}
table.visit tbody tr:first-child td{{border-top:1px solid {INK};padding-top:.5rem}}
table.visit tbody tr:last-child td{{padding-bottom:.7rem}}
td.no{{width:2.2rem;font-weight:bold;font-size:1.1rem}}
td.typed{{width:40%}}
.typed q{{font-family:"DejaVu Sans Mono",Menlo,Consolas,monospace;quotes:none;border:1px solid {INK};
padding:0 .3rem;overflow-wrap:anywhere}}
.told{{color:{INK};overflow-wrap:anywhere}}
.answer{{display:flex;align-items:flex-end;margin-top:.6rem;gap:.5rem}}
.answer i{{flex:1;border-bottom:1.5px solid {INK};height:1.6rem}}
.answer i.short{{flex:0 0 5rem}}
.tick{{display:inline-block;width:.85em;height:.85em;border:1.5px solid {INK};vertical-align:-.1em;
margin:0 .35em 0 0}}
.marks{{margin:.5rem 0 0}}
.marks span{{margin-right:1.4rem;white-space:nowrap}}
.small{{font-size:.85rem;color:{QUIET}}}
@page{{@bottom-right{{content:counter(page) " of " counter(pages)}}}}
@media print{{
@page{{size:auto;margin:14mm 14mm 16mm}}
main{{max-width:none}}
body{{font-size:11pt;background:{PAPER}}}
table.visit{{break-inside:auto}}
table.visit.short,table.visit tbody{{break-inside:avoid}}
table.visit thead{{display:table-header-group;break-after:avoid}}
.small{{color:{INK}}}
.apart{{break-before:page}}
h2{{break-after:avoid}}
}}
"""

#: A visit with no more questions than this is kept on one sheet of paper.
_KEPT_TOGETHER = 4


def write_page(sheet: QuerySheet, path: Path) -> None:
    """Write the page as one HTML file."""
    path.write_text(page_text(sheet), encoding="utf-8", newline="\n")


def page_text(sheet: QuerySheet) -> str:
    """Return the whole page."""
    return whole_page(safe(title(sheet.season)), "\n".join(_body(sheet)), _STYLE)


def page_piece(sheet: QuerySheet) -> str:
    """Return the questions for use in another page, such as a notebook."""
    body = "\n".join(_body(sheet))
    return piece(f"<style>.nestproof{{{_STYLE}}}</style><h1>{safe(title(sheet.season))}</h1>\n{body}")


def _body(sheet: QuerySheet) -> Iterator[str]:
    pages = sheet.pages
    yield f'<p class="lead">{lead(len(sheet.questions), len(pages))}</p>'
    if pages:
        yield f"<p>{HOW_TO}</p>"
        yield '<p class="answer">looked up by <i></i> on <i></i></p>'
    yield f'<section class="caution"><h2>No visit for a typing error</h2><p>{CAUTION}</p>'
    for names, text in sheet.cautions:
        yield f"<p><strong>{safe(names)}.</strong> {safe(text)}</p>"
    yield "</section>"
    if len(pages) > 1:
        yield '<h2>By box</h2><ul class="index">'
        for box, inside in sheet.by_box():
            told = "; ".join(
                f"<span>{safe(page.visit.day or page.visit.sheet)}</span> (no. {_numbers(page)})"
                for page in inside
            )
            yield f"<li><strong>{safe(box) or 'no box'}</strong> {told}</li>"
        yield "</ul>"
    if pages:
        yield '<h2 class="apart">In the order of the field notebook</h2>'
    for page in pages:
        yield from _visit(page)
    if sheet.lost:
        yield "<h2>Asked earlier, but no longer in the sheet</h2><ul>"
        yield from (f"<li>{safe(sentence)}</li>" for sentence in sheet.lost)
        yield "</ul>"
    if sheet.suggestions:
        yield from _suggestions(sheet)


def _numbers(page: Page) -> str:
    return ", ".join(str(question.number) for question in page.questions)


def _visit(page: Page) -> Iterator[str]:
    short = " short" if len(page.questions) <= _KEPT_TOGETHER else ""
    details = visit_details(page.visit)
    yield (
        f'<table class="visit{short}"><thead><tr><th colspan="3" scope="colgroup">'
        f"<b>{safe(visit_name(page.visit))}</b>{f' {safe(details)}' if details else ''}</th></tr></thead>"
    )
    for question in page.questions:
        yield from _question(question)
    yield "</table>"


def _question(question: Question) -> Iterator[str]:
    yield (
        f'<tbody><tr><td class="no">{question.number}</td><td>{safe(bird_words(question))}<br>'
        f'<span class="small">typed in {safe(question.sheet)} {safe(question.address)}</span></td>'
        f'<td class="typed">{safe(question.column)}: typed <q>{safe(typed_words(question))}</q></td></tr>'
    )
    reason = reason_words(question)
    yield (
        f'<tr><td></td><td colspan="2" class="told">{safe(question.sentence)} '
        f"<em>Look for {safe(question.look_for)}.</em>{f' {safe(reason)}' if reason else ''}</td></tr>"
    )
    marks = "".join(f'<span><b class="tick"></b>{mark}</span>' for mark in MARKS)
    yield (
        f'<tr><td></td><td colspan="2"><div class="answer">{ANSWER} <i></i></div>'
        f'<p class="marks">{marks}</p>'
        f'<div class="answer">{BY_WHOM} <i class="short"></i> {REMARK} <i></i></div></td></tr></tbody>'
    )


def _suggestions(sheet: QuerySheet) -> Iterator[str]:
    yield '<h2 class="apart">What was probably meant: look here only after the notebook</h2>'
    yield '<table><thead><tr><th scope="col">no.</th><th scope="col">column</th><th scope="col">typed</th>'
    yield '<th scope="col">probably meant</th><th scope="col">the whole sentence</th></tr></thead><tbody>'
    for question in sheet.questions:
        cells = (
            question.column,
            typed_words(question),
            " or ".join(question.suggested) or "(nothing can be named)",
            question.said,
        )
        told = "".join(f"<td>{safe(text)}</td>" for text in cells)
        yield f'<tr><th scope="row">{question.number}</th>{told}</tr>'
    yield "</tbody></table>"
