"""A round as a page to read or print, its key apart, and what came of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.charts.palette import INK
from audit.handover.query.print import PAPERS
from audit.practice.weighing_drill.drawing import display_picture, spring_picture
from audit.practice.weighing_drill.marking import advice
from audit.practice.weighing_drill.weighing import CELLS
from audit.practice.weighing_drill.words import (
    CAUTIONS,
    HEADS,
    HOW_TO,
    LEAD,
    WAYS_SAID,
    answer_words,
    title,
    verdict_words,
    way_words,
)
from audit.refusal import Refusal
from audit.review.page_look import piece, whole_page
from audit.review.typed_rows import safe

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.models.interval import Share
    from audit.practice.weighing_drill.marking import MarkedRound
    from audit.practice.weighing_drill.round import Round
    from audit.practice.weighing_drill.weighing import Weighing

__all__ = [
    "key_page",
    "pictures_of",
    "result_page",
    "result_piece",
    "result_text",
    "round_page",
    "round_piece",
]

STYLE = f"""
.weighing{{display:inline-block;vertical-align:top;width:28.5rem;margin:.6rem 1rem .8rem 0}}
.weighing{{break-inside:avoid}}
.weighing h3{{margin:.2rem 0}}
.weighing figure{{display:inline-block;vertical-align:top;margin:0 .6rem 0 0}}
.weighing td{{border:1px solid {INK};height:1.6rem;min-width:6rem}}
.weighing th{{color:{INK}}}
.who{{margin:1rem 0}}
@media print{{.apart{{break-before:page}}.weighing{{width:47%;margin-right:1%}}
.weighing svg{{max-width:100%}}.weighing figure{{width:44%}}}}
"""


def round_page(made: Round, paper: str = "a4") -> str:
    """Return the round as a whole page, with room to write.

    Parameters
    ----------
    paper : str
        ``a4`` or ``letter``.

    Raises
    ------
    audit.refusal.Refusal
        There is no such paper.
    """
    if paper not in PAPERS:
        raise Refusal(f"There is no paper '{paper}'.", where="paper", cure=f"Name {' or '.join(PAPERS)}.")
    sized = f"@media print{{@page{{size:{paper} portrait;margin:12mm}}}}"
    return whole_page(safe(title(made)), "\n".join(_sheet(made)), STYLE + sized)


def round_piece(made: Round) -> str:
    """Return the round for use in another page, such as a notebook."""
    body = "\n".join(_sheet(made))
    return piece(f"<style>.nestproof{{{STYLE}}}</style><h2>{safe(title(made))}</h2>\n{body}")


def key_page(made: Round) -> str:
    """Return the key as a whole page: closed at first, so that nobody sees it by accident."""
    lines = "".join(f"<li>{safe(answer_words(one))}</li>" for one in made.weighings)
    near = "A reading of a pointer is right within half a mark; net is then right if it is gross less bag."
    body = (
        '<p class="lead">This is the key, for whoever marks the round.</p>'
        f"<details><summary>Open the key</summary><ol>{lines}</ol><p>{near}</p></details>"
        f'<section class="caution">{_cautions()}</section>'
    )
    return whole_page(f"Key to the {safe(title(made)[0].lower() + title(made)[1:])}", body, STYLE)


def pictures_of(weighing: Weighing) -> tuple[str, str]:
    """Draw both balances of a weighing: bird in its bag, empty bag."""
    told = way_words(weighing)
    shown = (weighing.shown, weighing.bag)
    drawn = []
    for grams, balance, words, tared in zip(
        shown, (weighing.gross_on, weighing.bag_on), told, (weighing.is_tared, False), strict=True
    ):
        if balance.is_spring:
            drawn.append(spring_picture(grams, balance, f"A spring balance, {words}."))
        else:
            drawn.append(display_picture(balance.text(grams), f"A display, {words}.", tared=tared))
    return drawn[0], drawn[1]


def _sheet(made: Round) -> Iterator[str]:
    yield f'<p class="lead">{safe(LEAD)}</p><h2>What to do</h2><ol>'
    yield from (f"<li>{safe(step)}</li>" for step in HOW_TO)
    yield '</ol><section class="caution">'
    yield _cautions()
    yield '</section><h2 class="apart">The weighings</h2>'
    yield '<p class="who">read by ______________ on ______________</p>'
    empty = "<td></td>" * len(CELLS)
    heads = "".join(f'<th scope="col">{safe(HEADS[cell])}</th>' for cell in CELLS)
    for number, weighing in enumerate(made.weighings, 1):
        figures = "".join(
            f"<figure>{drawn}<figcaption>{safe(words)}</figcaption></figure>"
            for drawn, words in zip(pictures_of(weighing), way_words(weighing), strict=True)
        )
        yield (
            f'<section class="weighing"><h3>Weighing {number}</h3>{figures}'
            f"<table><thead><tr>{heads}</tr></thead><tbody><tr>{empty}</tr></tbody></table>"
            "</section>"
        )


def result_page(marked: MarkedRound) -> str:
    """Return what came of a round as a whole page."""
    return whole_page(f"{safe(title(marked.made))}: what came of it", _result(marked), STYLE)


def result_piece(marked: MarkedRound) -> str:
    """Return what came of a round for use in another page."""
    return piece(f"<h2>{safe(title(marked.made))}: what came of it</h2>{_result(marked)}")


def _result(marked: MarkedRound) -> str:
    lines = []
    for weighing, row in zip(marked.made.weighings, marked.verdicts, strict=True):
        told = "; ".join(verdict_words(one) for one in row if one.kind != "right")
        told = f"{_capital(told)}. {answer_words(weighing)}" if told else "All right."
        lines.append(f"<li>{safe(told)}</li>")
    shares = "".join(f"<li>{safe(line)}</li>" for line in _shares(marked))
    return (
        f'<p class="lead">{safe(advice(marked))}</p><ul>{shares}</ul><h2>Weighing by weighing</h2>'
        f'<ol>{"".join(lines)}</ol><section class="caution">{_cautions()}</section>'
    )


def _shares(marked: MarkedRound) -> list[str]:
    return [
        f"Weighings wholly right: {_share(marked.whole)}.",
        f"Readings of gross and bag: {_share(marked.readings)}.",
        f"Nets that come out of what was written: {_share(marked.sums)}.",
        *(f"{_capital(WAYS_SAID[way])}: {_share(one)}." for way, one in marked.by_way.items()),
    ]


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


def _cautions() -> str:
    return "".join(f"<p>{safe(one)}</p>" for one in CAUTIONS)


def _share(share: Share) -> str:
    return f"{share.hits} of {share.trials} right (95 % interval {share.low:.2f} to {share.high:.2f})"


def result_text(marked: MarkedRound) -> str:
    """Return what came of a round in plain text."""
    lines = [f"{title(marked.made)}: what came of it", advice(marked), *_shares(marked)]
    for number, (weighing, row) in enumerate(zip(marked.made.weighings, marked.verdicts, strict=True), 1):
        told = "; ".join(verdict_words(one) for one in row if one.kind != "right")
        if told:
            lines.append(f"Weighing {number}: {told}. {answer_words(weighing)}")
    return "\n".join(lines)
