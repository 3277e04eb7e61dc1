"""A round as a page to read or print, its key apart, and what came of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.charts.palette import INK
from audit.practice.drill.answer_words import where_to
from audit.practice.drill.paper import Paper
from audit.practice.drill.share_words import INTERVAL, share_words
from audit.practice.weighing_drill.drawing import display_picture, left_out_picture, spring_picture
from audit.practice.weighing_drill.marking import advice
from audit.practice.weighing_drill.weighing import CELLS, WAYS
from audit.practice.weighing_drill.words import (
    CAUTIONS,
    HEADS,
    LEAD,
    WAYS_SAID,
    answer_words,
    how_to,
    level_words,
    title,
    verdict_words,
    way_words,
)
from audit.review.typed_rows import safe

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from audit.models.interval import Share
    from audit.practice.weighing_drill.balance import Balance
    from audit.practice.weighing_drill.classing import Verdict
    from audit.practice.weighing_drill.marking import MarkedRound
    from audit.practice.weighing_drill.round import Round
    from audit.practice.weighing_drill.weighing import Weighing

__all__ = ["STYLE", "cautions", "figures_of", "key_paper", "pictures_of", "result_paper", "round_paper"]

#: Outcomes of which nothing need be said.
QUIET_KINDS = ("right", "open")

STYLE = f"""
.weighing{{display:inline-block;vertical-align:top;width:28.5rem;max-width:100%;margin:.6rem 1rem .8rem 0}}
.weighing{{break-inside:avoid}}
.weighing h3{{margin:.2rem 0}}
.weighing figure{{display:inline-block;vertical-align:top;margin:0 .6rem 0 0}}
.weighing td{{border:1px solid {INK};height:1.6rem;min-width:6rem}}
.weighing th{{color:{INK}}}
li .weighing{{display:block;width:auto}}
.noted{{font:1.3rem/1.7 Georgia,serif;border:1px solid {INK};padding:.3rem 1rem;display:inline-block}}
@media print{{.apart{{break-before:page}}.weighing{{width:47%;margin-right:1%}}
.weighing svg{{zoom:.78}}.weighing td{{min-width:4.6rem}}}}
"""


def round_paper(made: Round) -> Paper:
    """Return the round as a page, with room to write."""
    told = [f"{title(made)}, {len(made.weighings)} weighings", LEAD]
    told += [f"  {made.mix[WAYS.index(way)]} {WAYS_SAID[way]}" for way in made.ways]
    told.append("Read the pictures on the page and write the masses into the sheet for the answers.")
    return Paper(title(made), "\n".join(_sheet(made)), STYLE, "\n".join(told))


def key_paper(made: Round) -> Paper:
    """Return the key as a page: closed at first, so that nobody sees it by accident."""
    lines = "".join(f"<li>{safe(answer_words(one))}</li>" for one in made.weighings)
    near = "A reading of a pointer is right within half a mark; net is then right if it is gross less bag."
    body = (
        '<p class="lead">This is the key, for whoever marks the round.</p>'
        f"<details><summary>Open the key</summary><ol>{lines}</ol><p>{near}</p></details>"
        f'<section class="caution">{cautions()}</section>'
    )
    return Paper(f"Key to the {title(made)[0].lower() + title(made)[1:]}", body, STYLE)


def result_paper(marked: MarkedRound) -> Paper:
    """Return what came of a round as a page."""
    told = f"Marked: {title(marked.made)[0].lower() + title(marked.made)[1:]}"
    lines = [told, advice(marked), *_shares(marked)]
    for number, (weighing, row) in enumerate(zip(marked.made.weighings, marked.verdicts, strict=True), 1):
        slips = _slips(row)
        if slips:
            lines.append(f"Weighing {number}: {slips}. {answer_words(weighing)}")
    return Paper(told, _result(marked), STYLE, "\n".join(lines))


def _slips(row: Sequence[Verdict]) -> str:
    return "; ".join(verdict_words(one) for one in row if one.kind not in QUIET_KINDS)


def figures_of(weighing: Weighing) -> str:
    """Show a weighing: both balances, or what is written down of it."""
    if not weighing.is_drawn:
        gross, bag = (weighing.gross_on.text(grams) for grams in (weighing.gross, weighing.bag))
        return f'<p class="noted">gross {gross} g<br>bag {bag} g</p>'
    return "".join(
        f"<figure>{drawn}<figcaption>{safe(words)}</figcaption></figure>"
        for drawn, words in zip(pictures_of(weighing), way_words(weighing), strict=True)
    )


def pictures_of(weighing: Weighing) -> tuple[str, str]:
    """Draw both balances of a weighing: bird in its bag, empty bag."""
    bird, bag = way_words(weighing)
    first = _picture(weighing.shown, weighing.gross_on, bird, tared=weighing.is_tared)
    if "bag" not in weighing.known:
        return first, left_out_picture(safe(bag))
    return first, _picture(weighing.bag, weighing.bag_on, bag)


def _picture(grams: float, balance: Balance, words: str, *, tared: bool = False) -> str:
    if balance.is_spring:
        return spring_picture(grams, balance, safe(f"A spring balance, {words}."))
    return display_picture(balance.text(grams), safe(f"A display, {words}."), tared=tared)


def _sheet(made: Round) -> Iterator[str]:
    yield f'<p class="lead">{safe(LEAD)}</p><p>{safe(level_words(made))}</p><h2>What to do</h2><ol>'
    yield from (f"<li>{safe(step)}</li>" for step in how_to(made))
    yield '</ol><section class="caution">'
    yield cautions()
    yield '</section><h2 class="apart">The weighings</h2>'
    yield where_to(made, "read by")
    empty = "<td></td>" * len(CELLS)
    heads = "".join(f'<th scope="col">{safe(HEADS[cell])}</th>' for cell in CELLS)
    for number, weighing in enumerate(made.weighings, 1):
        yield (
            f'<section class="weighing"><h3>Weighing {number}</h3>{figures_of(weighing)}'
            f"<table><thead><tr>{heads}</tr></thead><tbody><tr>{empty}</tr></tbody></table>"
            "</section>"
        )


def _result(marked: MarkedRound) -> str:
    lines = []
    for weighing, row in zip(marked.made.weighings, marked.verdicts, strict=True):
        slips = _slips(row)
        told = f"{_capital(slips)}. {answer_words(weighing)}" if slips else "All right."
        drawn = f'<div class="weighing">{figures_of(weighing)}</div>' if slips else ""
        lines.append(f"<li>{safe(told)}{drawn}</li>")
    shares = "".join(f"<li>{safe(line)}</li>" for line in _shares(marked))
    return (
        f'<p class="lead">{safe(advice(marked))}</p><ul>{shares}</ul>'
        f'<p class="quiet">{safe(INTERVAL)}</p><h2>Weighing by weighing</h2>'
        f'<ol>{"".join(lines)}</ol><section class="caution">{cautions()}</section>'
    )


def _shares(marked: MarkedRound) -> list[str]:
    def told(share: Share) -> str:
        return share_words(share, marked.confidence)

    return [
        f"Weighings wholly right: {told(marked.whole)}.",
        f"Readings of gross and bag: {told(marked.readings)}.",
        f"Nets that come out of what was written: {told(marked.sums)}.",
        *(f"{_capital(WAYS_SAID[way])}: {told(one)}." for way, one in marked.by_way.items()),
    ]


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


def cautions() -> str:
    """Say what must be heeded, as safe HTML."""
    return "".join(f"<p>{safe(one)}</p>" for one in CAUTIONS)
