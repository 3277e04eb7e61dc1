"""A round of reading as a static page to print and fill in, its key as another, and what came of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.charts.palette import INK
from audit.practice.drill.answer_words import where_to
from audit.practice.drill.paper import Paper
from audit.practice.reading.reading_words import (
    CAUTION,
    HOW_TO,
    TYPING,
    advice,
    headline,
    kind_words,
    read_words,
    title,
)
from audit.review.typed_rows import safe

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.practice.reading.reading_round import ReadingRound
    from audit.practice.reading.reading_score import ReadingScore

__all__ = ["key_paper", "result_paper", "round_paper"]

_STYLE = f"""
.numbers{{display:grid;grid-template-columns:repeat(auto-fill,minmax(20rem,1fr));gap:1.2rem 2rem;
list-style:none;padding:0}}
.numbers li{{max-width:none;break-inside:avoid}}
.numbers svg{{max-width:100%;height:auto;display:block}}
.numbers .write{{display:block;border-bottom:1px solid {INK};height:2rem;margin-left:2rem}}
td.drawn svg{{width:14rem;height:auto;display:block}}
summary{{font-size:1.1rem;padding:.6rem 0}}
@media print{{.numbers{{grid-template-columns:1fr 1fr}}.apart{{break-before:page}}}}
"""


def round_paper(round_: ReadingRound) -> Paper:
    """Return the round as a page, with an empty line below each drawing."""
    drawn = [f"  {number:>2}  {one.says}" for number, one in enumerate(round_.shown, 1)]
    told = "\n".join([title(round_), round_.level.says, *drawn])
    return Paper(title(round_), "\n".join((*_words(round_), *_numbers(round_))), _STYLE, told)


def key_paper(round_: ReadingRound) -> Paper:
    """Return the key as a page: closed at first, so that nobody sees it by accident."""
    lines = "".join(
        f'<tr><th scope="row">{number}</th><td>{safe(one.says)}</td><td>{safe(one.meant)}</td></tr>'
        for number, one in enumerate(round_.shown, 1)
    )
    told = title(round_)
    return Paper(
        f"Key to {told[0].lower() + told[1:]}",
        '<p class="lead">This is the key, for whoever marks the round.</p><details><summary>Open the key'
        '</summary><table><thead><tr><th scope="col">number</th><th scope="col">what is drawn</th>'
        f'<th scope="col">what stands there</th></tr></thead><tbody>{lines}</tbody></table></details>',
        _STYLE,
    )


def result_paper(score: ReadingScore, beside: str) -> Paper:
    """Return what came of a round as a page.

    Parameters
    ----------
    beside : str
        How all rounds of the trainee stand beside what others published.
    """
    told = f"Marked: {_lower(score)}"
    lines = [
        f"  {number:>2}  {one.shown.meant:<15}  {one.typed or '-':<15}  {read_words(one)}"
        for number, one in enumerate(score.read, 1)
    ]
    text = "\n".join([told, headline(score), *lines, advice(score), beside])
    return Paper(told, "\n".join(_result(score, advice(score), beside)), _STYLE, text)


def _lower(score: ReadingScore) -> str:
    told = title(score.round)
    return told[0].lower() + told[1:]


def _words(round_: ReadingRound) -> Iterator[str]:
    level = round_.level
    yield f'<p class="lead">Level {level.number}, {len(round_.shown)} numbers. {safe(level.says)}</p>'
    yield "<h2>What to do</h2><ol>"
    yield from (f"<li>{safe(step)}</li>" for step in HOW_TO)
    yield f'</ol><section class="caution"><p>{safe(CAUTION)}</p></section>'


def _numbers(round_: ReadingRound) -> Iterator[str]:
    yield '<h2 class="apart">The numbers</h2>'
    yield f"{where_to(round_, 'read by')}<p>{safe(TYPING)}</p>"
    yield '<ol class="numbers">'
    for number, one in enumerate(round_.shown, 1):
        yield f'<li><strong>{number}</strong>{one.svg}<span class="write"></span></li>'
    yield "</ol>"


def _result(score: ReadingScore, told: str, beside: str) -> Iterator[str]:
    yield f'<p class="lead">{safe(headline(score))}</p><p>{safe(told)}</p>'
    if score.kinds:
        listed = "".join(
            f'<tr><th scope="row">{safe(kind_words(kind))}</th><td class="n">{times}</td></tr>'
            for kind, times in score.kinds.items()
        )
        yield (
            '<table><thead><tr><th scope="col">slip</th><th scope="col" class="n">times</th></tr></thead>'
            f"<tbody>{listed}</tbody></table>"
        )
    heads = "".join(
        f'<th scope="col">{head}</th>' for head in ("number", "drawing", "stands there", "typed", "outcome")
    )
    yield f"<table><thead><tr>{heads}</tr></thead><tbody>"
    for number, one in enumerate(score.read, 1):
        yield (
            f'<tr><th scope="row">{number}</th><td class="drawn">{one.shown.svg}</td>'
            f"<td>{safe(one.shown.meant)}</td><td>{safe(one.typed or '-')}</td>"
            f"<td>{safe(read_words(one))}</td></tr>"
        )
    yield f'</tbody></table><p>{safe(beside)}</p><p class="quiet">{safe(CAUTION)}</p>'
