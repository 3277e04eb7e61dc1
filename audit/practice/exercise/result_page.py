"""A marked practice sheet as a page: what was found, what was missed, what was blamed, and why."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.practice.exercise.explanations import (
    cell_words,
    explain_marks,
    explain_slip,
    headline,
    outcome_words,
    right_words,
    slip_words,
)
from audit.practice.exercise.sheet_page import STYLE, table_of
from audit.practice.exercise.words import CAUTION, title
from audit.review.page_look import piece, whole_page
from audit.review.typed_rows import safe

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from audit.practice.exercise.score import Score

__all__ = ["result_page", "result_piece", "result_text"]


def result_page(score: Score, titles: Mapping[str, str], advice: str = "") -> str:
    """Return the whole page.

    Parameters
    ----------
    titles : mapping of str to str
        Kind of slip -> how it is called.
    advice : str
        What to practise next.
    """
    return whole_page(f"Marked: {safe(_title(score))}", "\n".join(_body(score, titles, advice)), STYLE)


def result_piece(score: Score, titles: Mapping[str, str], advice: str = "") -> str:
    """Return the same for use in another page, such as a notebook."""
    body = "\n".join(_body(score, titles, advice))
    return piece(f"<style>.nestproof{{{STYLE}}}</style><h2>Marked: {safe(_title(score))}</h2>\n{body}")


def _title(score: Score) -> str:
    told = title(score.exercise)
    return told[0].lower() + told[1:]


def _body(score: Score, titles: Mapping[str, str], advice: str) -> Iterator[str]:
    exercise = score.exercise
    yield f'<p class="lead">{safe(headline(score))}</p>'
    if advice:
        yield f"<p>{safe(advice)}</p>"
    if score.kinds:
        yield _kinds(score, titles)
    if not score.slips:
        yield f"<p>{safe(right_words(exercise))}</p>"
    for slip in score.slips:
        told = explain_slip(exercise, slip.planted)
        yield f"<h2>{safe(told.what)} {safe(slip_words(slip).capitalize())}.</h2><ul>"
        for cell in slip.cells:
            told_cell = safe(cell_words(exercise, cell.place).capitalize())
            yield f"<li>{told_cell}. <strong>{safe(outcome_words(exercise, cell))}</strong></li>"
        yield "</ul>"
        yield from (f"<p>The audit says: {safe(said)}</p>" for said in told.audit)
        if told.ask:
            yield f"<p>{safe(told.ask)}</p>"
    marks = explain_marks(score)
    if marks:
        yield "<h2>Cells that you marked without a slip in them</h2><ul>"
        yield from (f"<li>{safe(said)}</li>" for said in marks)
        yield "</ul>"
    yield "<h2>The page once more</h2><p>Cells with a slip show what stands there and what was meant.</p>"
    yield table_of(exercise, marked=dict(_marked(score)))
    yield f'<section class="caution"><p>{safe(CAUTION)}</p></section>'


def _marked(score: Score) -> Iterator[tuple[tuple[str, str], tuple[str, str]]]:
    """Show each cell with a slip as it was meant, and each innocent one that was marked."""
    exercise = score.exercise
    for slip in score.slips:
        for cell in slip.cells:
            look = "error" if cell.outcome == "missed" else "note"
            typed, meant = exercise.typed(cell.place), exercise.meant(cell.place)
            yield cell.place, (look, f"{typed} \N{RIGHTWARDS ARROW} {meant}")
    for cell in score.marks:
        yield cell.place, ("suspect", f"{exercise.typed(cell.place)} (right)")


def _kinds(score: Score, titles: Mapping[str, str]) -> str:
    rows = "".join(
        f'<tr><th scope="row">{safe(titles.get(one.kind, one.kind))}</th><td class="n">{one.slips}</td>'
        f'<td class="n">{one.found}</td><td class="n">{one.slips - one.found}</td>'
        f'<td class="n">{one.mended}</td>'
        f'<td class="n">{one.asked}</td></tr>'
        for one in score.kinds
    )
    heads = ("slips", "found", "missed", "mended or asked", "of these asked")
    head = "".join(f'<th scope="col" class="n">{name}</th>' for name in heads)
    return (
        f'<table><thead><tr><th scope="col">kind of slip</th>{head}</tr></thead><tbody>{rows}</tbody></table>'
    )


def result_text(score: Score, advice: str = "") -> str:
    """Return the result as plain text."""
    exercise = score.exercise
    lines = [f"Marked: {_title(score)}. {headline(score)}"]
    if not score.slips:
        lines.append(right_words(exercise))
    for slip in score.slips:
        told = explain_slip(exercise, slip.planted)
        lines.append(f"{told.what} {slip_words(slip).capitalize()}.")
        lines += [
            f"  {cell_words(exercise, cell.place)}. {outcome_words(exercise, cell)}" for cell in slip.cells
        ]
        lines += [f"  The audit says: {said}" for said in told.audit]
        if told.ask:
            lines.append(f"  {told.ask}")
    lines += explain_marks(score)
    return "\n".join([*lines, advice] if advice else lines)
