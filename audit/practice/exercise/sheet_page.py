"""A practice sheet as one static page, to read or to print and write on; and its key as another."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.charts.palette import BAND, INK, PAPER
from audit.practice.exercise.explanations import explain_slip, right_words
from audit.practice.exercise.words import CAUTION, HOW_TO, MEANINGS, WHY, heading, lead, title
from audit.review.page_look import piece, whole_page
from audit.review.typed_rows import safe

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from audit.practice.exercise.aids import Aid
    from audit.practice.exercise.exercise import Exercise

__all__ = ["STYLE", "key_page", "sheet_page", "sheet_piece", "table_of", "words_piece"]

STYLE = f"""
main{{max-width:none}}
table.page{{font-size:.95rem;border:1px solid {INK}}}
table.page th,table.page td{{border:1px solid {INK};padding:.25rem .5rem;white-space:nowrap}}
table.page thead th{{color:{INK};border-bottom:2px solid {INK};vertical-align:bottom;white-space:normal}}
table.page td.write{{height:1.5rem;border-top:1px dotted {BAND}}}
table.page tr.line td,table.page tr.line th{{border-bottom:0}}
dl.words{{columns:2 24rem;max-width:60rem}}
dl.words dt{{font-weight:bold;break-after:avoid}}
dl.words dd{{margin:0 0 .4rem;break-inside:avoid}}
summary{{font-size:1.1rem;padding:.6rem 0}}
.who{{margin:1rem 0}}
@media print{{
@page{{size:landscape;margin:12mm}}
body{{background:{PAPER}}}
.apart{{break-before:page}}
table.page tr{{break-inside:avoid}}
}}
"""


def sheet_page(exercise: Exercise, aids: Sequence[Aid]) -> str:
    """Return the sheet as a whole page, with room to write below each line."""
    body = "\n".join((*_words(exercise), *_sheet(exercise, aids, write=True)))
    return whole_page(safe(title(exercise)), body, STYLE)


def sheet_piece(exercise: Exercise, aids: Sequence[Aid]) -> str:
    """Return the sheet for use in another page, such as a notebook."""
    body = "\n".join((*_words(exercise), *_sheet(exercise, aids, write=False)))
    return piece(f"<style>.nestproof{{{STYLE}}}</style><h2>{safe(title(exercise))}</h2>\n{body}")


def words_piece(exercise: Exercise, aids: Sequence[Aid]) -> str:
    """Return all but the table: what to do and what helps, folded away but for the lead."""
    told = "\n".join(_words(exercise)).split("</p>", 1)
    helps = "".join(_aids(aids))
    # whoever is new sees at once what everything means
    look = " open" if exercise.level.number == 1 else ""
    return piece(
        f"<h2>{safe(title(exercise))}</h2>{told[0]}</p>"
        f"<details{look}><summary>What to do, and what the columns mean</summary>{told[1]}</details>"
        + (f"<details open><summary>What helps</summary>{helps}</details>" if helps else "")
    )


def key_page(exercise: Exercise) -> str:
    """Return the key as a whole page: closed at first, so that nobody sees it by accident."""
    body = (
        '<p class="lead">This is the key, for whoever marks the sheet.</p>'
        f"<details><summary>Open the key</summary>{''.join(_key(exercise))}</details>"
    )
    return whole_page(f"Key to {safe(title(exercise)[0].lower() + title(exercise)[1:])}", body, STYLE)


def _words(exercise: Exercise) -> Iterator[str]:
    yield f'<p class="lead">{safe(lead(exercise))}</p>'
    yield f"<p>{safe(WHY)}</p>"
    yield "<h2>What to do</h2><ol>"
    yield from (f"<li>{safe(step)}</li>" for step in HOW_TO)
    yield '</ol><h2>What the columns mean</h2><dl class="words">'
    for field in exercise.fields:
        if field in MEANINGS:
            yield f"<dt>{safe(heading(field))}</dt><dd>{safe(MEANINGS[field])}</dd>"
    yield f'</dl><section class="caution"><p>{safe(CAUTION)}</p></section>'


def _sheet(exercise: Exercise, aids: Sequence[Aid], *, write: bool) -> Iterator[str]:
    yield '<h2 class="apart">The page</h2>'
    if write:
        yield '<p class="who">marked by ______________ on ______________</p>'
    yield table_of(exercise, write=write)
    if aids:
        yield "<h2>What helps</h2>"
    yield from _aids(aids)


def _aids(aids: Sequence[Aid]) -> Iterator[str]:
    for aid in aids:
        yield f"<p>{safe(aid.says)}</p>"
        if aid.rows:
            yield _table(aid.heads, aid.rows)


def table_of(
    exercise: Exercise,
    *,
    write: bool = False,
    marked: Mapping[tuple[str, str], tuple[str, str]] | None = None,
) -> str:
    """Return the lines of a sheet as a table.

    Parameters
    ----------
    write : bool
        Whether an empty line to write on stands below each.
    marked : mapping of (label, column) to (str, str), optional
        Cells with a look of their own: name of a severity, and what stands there.
    """
    looks = marked or {}
    typed = exercise.season.tables["handlings"].typed
    heads = "".join(f'<th scope="col">{safe(heading(field))}</th>' for field in exercise.fields)
    lines = []
    for number, label in enumerate(exercise.labels, 1):
        cells = "".join(
            _cell(str(typed.loc[label, field]), looks.get((label, field))) for field in exercise.fields
        )
        lines.append(f'<tr class="line"><th scope="row">{number}</th>{cells}</tr>')
        if write:
            empty = "<td class=write></td>" * (len(exercise.fields) + 1)
            lines.append(f"<tr>{empty}</tr>")
    return (
        f'<div class="typed"><table class="page"><thead><tr><th scope="col">line</th>{heads}</tr></thead>\n'
        f"<tbody>{''.join(lines)}</tbody></table></div>"
    )


def _cell(text: str, look: tuple[str, str] | None) -> str:
    return f"<td>{safe(text)}</td>" if look is None else f'<td class="{look[0]}">{safe(look[1])}</td>'


def _table(heads: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    head = "".join(f'<th scope="col">{safe(text)}</th>' for text in heads)
    body = "".join("<tr>" + "".join(f"<td>{safe(text)}</td>" for text in row) + "</tr>" for row in rows)
    return f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"


def _key(exercise: Exercise) -> Iterator[str]:
    if not exercise.planted:
        yield f"<p>{safe(right_words(exercise))}</p>"
    for planted in sorted(exercise.planted, key=lambda one: exercise.line(one.slip.changes[0].label)):
        told = explain_slip(exercise, planted)
        yield f"<h2>{safe(told.what)}</h2><ul>"
        yield from (f"<li>{safe(cell)}.</li>" for cell in told.cells)
        yield "</ul>"
        yield from (f"<p>The audit says: {safe(said)}</p>" for said in told.audit)
        if told.ask:
            yield f"<p>{safe(told.ask)}</p>"
    innocent = [place for place in exercise.doubtful if place not in exercise.changes]
    for label, field in innocent:
        yield (
            f"<p>Line {exercise.line(label)}, {safe(heading(field))}: right as it stands, but a remark "
            "calls it into doubt. To ask is right; to change it is not.</p>"
        )
