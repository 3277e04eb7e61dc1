"""A round as a page to read or print, its key apart, and what came of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.charts.palette import INK
from audit.practice.ageing.clue import clues_of
from audit.practice.ageing.drawing import ages_picture
from audit.practice.ageing.marking import advice
from audit.practice.ageing.words import (
    age_words,
    brood_words,
    cautions,
    clue_words,
    how_far,
    how_to,
    lead,
    look_words,
    plumage_rows,
    plumage_sources,
    size_words,
    title,
    window_words,
)
from audit.practice.drill.answer_words import where_to
from audit.practice.drill.paper import Paper
from audit.practice.drill.share_words import INTERVAL, share_words
from audit.review.typed_rows import safe

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.declarations import Declarations
    from audit.practice.ageing.marking import MarkedAges
    from audit.practice.ageing.round import AgeingRound

__all__ = ["STYLE", "introduction", "key_paper", "result_paper", "round_paper"]

_NOT_MEASURED = "not measured"
STYLE = f"""
table.ask td,table.ask th{{border:1px solid {INK};color:{INK}}}
table.ask td.write{{min-width:7rem}}
@media print{{.apart{{break-before:page}}table,figure{{break-inside:avoid}}}}
"""


def round_paper(made: AgeingRound, declared: Declarations) -> Paper:
    """Return the round as a page, with room to write."""
    told = [title(made), lead(made, declared)]
    for number, bird in enumerate(made.nestlings, 1):
        told.append(
            ". ".join(part for part in (f"  nestling {number}: {size_words(bird)}", look_words(bird)) if part)
        )
    for number, brood in enumerate(made.broods, 1):
        told.append(f"  brood {number}: wings {', '.join(f'{bird.wing:.0f}' for bird in brood.birds)} mm")
    last = f"<p>{safe(how_far(declared))}</p>"
    body = "\n".join((introduction(made, declared), *_questions(made, declared), last))
    return Paper(title(made), body, STYLE, "\n".join(told))


def key_paper(made: AgeingRound, declared: Declarations) -> Paper:
    """Return the key as a page: closed at first, so that nobody sees it by accident."""
    birds = "".join(f"<li>{safe(age_words(bird, declared))}</li>" for bird in made.nestlings)
    broods = "".join(f"<li>{safe(brood_words(brood))}</li>" for brood in made.broods)
    asked = f"<h2>Broods</h2><ol>{broods}</ol>" if broods else ""
    body = (
        '<p class="lead">This is the key, for whoever marks the round.</p><details><summary>Open the key'
        f"</summary><h2>Nestlings</h2><ol>{birds}</ol>{asked}</details>{_caution(made, declared)}"
    )
    return Paper(f"Key to the {title(made)[0].lower() + title(made)[1:]}", body, STYLE)


def result_paper(marked: MarkedAges, declared: Declarations) -> Paper:
    """Return what came of a round as a page."""
    made, told = marked.made, f"Marked: {title(marked.made)[0].lower() + title(marked.made)[1:]}"
    text = "\n".join([told, advice(marked), *_shares(marked), *_lines(marked, declared)])
    shares, lines = (
        "".join(f"<li>{safe(one)}</li>" for one in part)
        for part in (_shares(marked), _lines(marked, declared))
    )
    drawn = ages_picture(marked, clues_of(declared)[0][made.species])
    body = (
        f'<p class="lead">{safe(advice(marked))}</p><ul>{shares}</ul>'
        f'<p class="quiet">{safe(INTERVAL)}</p><figure>{drawn}</figure>'
        f"<h2>One by one</h2><ul>{lines}</ul><p>{safe(how_far(declared))}</p>{_caution(made, declared)}"
    )
    return Paper(told, body, STYLE, text)


def introduction(made: AgeingRound, declared: Declarations) -> str:
    """Say what is asked and how it is done, with the table, as safe HTML."""
    steps = "".join(f"<li>{safe(step)}</li>" for step in how_to(made, declared))
    clue = clues_of(declared)[0][made.species]
    name, unit = ("wing", "mm") if clue.is_wing else ("net mass", "g")
    table = clue.table(int(declared.settings["practice.ageing.table_rows"].value))
    english = safe(declared.species[made.species].english)
    texts = [(f"{age:.0f}", clue.text(size), f"{half:.0f}") for age, size, half in table]
    rows = "".join(f"<tr>{''.join(f'<td class=n>{one}</td>' for one in line)}</tr>" for line in texts)
    return (
        f'<p class="lead">{safe(lead(made, declared))}</p><p>{safe(clue_words(made, declared))}</p>'
        f"<h2>What to do</h2><ol>{steps}</ol>{_caution(made, declared)}"
        f"<h2>{name.capitalize()} by age, {english}</h2>"
        f'<table><thead><tr><th class="n">age, days</th><th class="n">{name}, {unit}</th>'
        f'<th class="n">age right to &plusmn; days</th></tr></thead><tbody>{rows}</tbody></table>'
        f"{_plumages(made, declared, english)}"
    )


def _plumages(made: AgeingRound, declared: Declarations, english: str) -> str:
    """Lay out how the feathers look by age; empty where that is not declared."""
    states = plumage_rows(made, declared)
    if not states:
        return ""
    rows = "".join(f"<tr><td>{safe(days)}</td><td>{safe(says)}</td></tr>" for days, says in states)
    return (
        f"<h2>Feathers by age, {english}</h2><table><thead><tr><th>age, days</th><th>what is seen</th></tr>"
        f'</thead><tbody>{rows}</tbody></table><p class="quiet">{safe(plumage_sources(made, declared))}</p>'
    )


def _questions(made: AgeingRound, declared: Declarations) -> Iterator[str]:
    yield '<h2 class="apart">How old is it?</h2>'
    yield where_to(made, "answered by")
    yield '<table class="ask"><thead><tr><th>nestling</th>'
    has_wing = any(bird.wing is not None for bird in made.nestlings)
    has_feathers = any(bird.plumage for bird in made.nestlings)
    yield "<th>wing, mm</th>" * has_wing + "<th>net mass, g</th>" + "<th>feathers</th>" * has_feathers
    yield "<th>age, days</th></tr></thead><tbody>"
    for number, bird in enumerate(made.nestlings, 1):
        wing = _NOT_MEASURED if bird.wing is None else f"{bird.wing:.0f}"
        cells = f"<td>{wing}</td>" * has_wing + f"<td>{bird.weight or _NOT_MEASURED}</td>"
        cells += f"<td>{safe(bird.plumage.says) if bird.plumage else ''}</td>" * has_feathers
        yield f'<tr><td>{number}</td>{cells}<td class="write"></td></tr>'
    yield "</tbody></table>"
    if not made.broods:
        return
    yield f"<h2>Within the days of ringing?</h2><p>{safe(window_words(made, declared))}</p>"
    yield f"<p>Write {safe(', '.join(made.verdicts[:-1]))} or {safe(made.verdicts[-1])}.</p>"
    yield '<table class="ask"><thead><tr><th>brood</th><th>wings, mm</th><th>answer</th></tr></thead><tbody>'
    for number, brood in enumerate(made.broods, 1):
        wings = ", ".join(f"{bird.wing:.0f}" for bird in brood.birds)
        yield f'<tr><td>{number}</td><td>{wings}</td><td class="write"></td></tr>'
    yield "</tbody></table>"


def _lines(marked: MarkedAges, declared: Declarations) -> Iterator[str]:
    for number, (bird, one) in enumerate(zip(marked.made.nestlings, marked.estimates, strict=True), 1):
        kind = "inside the interval" if one.kind == "inside" else one.kind
        off = "not answered" if one.off is None else f"{one.written} is {kind}, {one.off:+.1f} days"
        yield f"Nestling {number}: {off}; {age_words(bird, declared)}."
    for number, (said, brood) in enumerate(zip(marked.verdicts, marked.made.broods, strict=True), 1):
        told = "right" if said == brood.verdict else f"'{said}' is not right" if said else "not answered"
        yield f"Brood {number}: {told}; {brood_words(brood)}."


def _shares(marked: MarkedAges) -> list[str]:
    told = [f"Ages inside the interval of the curve: {share_words(marked.inside, marked.confidence)}."]
    if marked.made.broods:
        told.append(f"Broods: {share_words(marked.broods, marked.confidence)}.")
    return told


def _caution(made: AgeingRound, declared: Declarations) -> str:
    told = "".join(f"<p>{safe(one)}</p>" for one in cautions(made, declared))
    return f'<section class="caution">{told}</section>'
