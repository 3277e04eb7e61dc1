"""A round as a page to read or print, its key apart, and what came of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.charts.palette import INK
from audit.handover.query.print import PAPERS
from audit.models.growth import mean, spread
from audit.practice.ageing.marking import advice
from audit.practice.ageing.round import VERDICTS, aged_species
from audit.refusal import Refusal
from audit.review.page_look import piece, whole_page
from audit.review.typed_rows import safe

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.declarations import Declarations
    from audit.practice.ageing.marking import MarkedAges
    from audit.practice.ageing.round import AgeingRound, Nestling

__all__ = ["cautions", "key_page", "result_page", "result_piece", "result_text", "round_page", "round_piece"]

_STYLE = f"""
table.ask td,table.ask th{{border:1px solid {INK};color:{INK}}}
table.ask td.write{{min-width:7rem}}
@media print{{.apart{{break-before:page}}}}
"""
_LEAD = (
    "The wing of a nestling tells its age better than its mass does, since a hungry bird still grows its "
    "wing. Estimate the age of each nestling in days since hatching, and say of each brood whether it is "
    "within the days of ringing."
)
_HOW_FAR = (
    "Ages come from the declared curve of the wing and are good to some days only; birds of other places "
    "grow otherwise. The state of the feathers tells age, too, but no description of it with a page to name "
    "is declared, so none is shown here."
)
_HANDLING = (
    "Practise on paper. Nobody opens a nest box or holds a nestling without the licence for it, and no bird "
    "is held longer to guess its age: measure, ring, and put it back. Do not visit in cold, wind or rain, "
    "keep the young warm and dark, and stop at the first sign of distress."
)
_LICENCE = (
    "Whether a brood may be ringed is for the licence and the ringing scheme to say, not for this page."
)


def cautions(made: AgeingRound, declared: Declarations) -> tuple[str, ...]:
    """Return what must be heeded: in general, and of this species."""
    return _HANDLING, _LICENCE, declared.species[made.species].caution


def title(made: AgeingRound) -> str:
    """Name a round."""
    return f"Ageing drill {made.number} of {made.trainee}"


def round_page(made: AgeingRound, declared: Declarations, paper: str = "a4") -> str:
    """Return the round as a whole page, with room to write; `paper` is ``a4`` or ``letter``.

    Raises
    ------
    audit.refusal.Refusal
        There is no such paper.
    """
    if paper not in PAPERS:
        raise Refusal(f"There is no paper '{paper}'.", where="paper", cure=f"Name {' or '.join(PAPERS)}.")
    sized = f"@media print{{@page{{size:{paper} portrait;margin:12mm}}}}"
    return whole_page(safe(title(made)), "\n".join(_sheet(made, declared)), _STYLE + sized)


def round_piece(made: AgeingRound, declared: Declarations) -> str:
    """Return the round for use in another page, such as a notebook."""
    body = "\n".join(_sheet(made, declared))
    return piece(f"<style>.nestproof{{{_STYLE}}}</style><h2>{safe(title(made))}</h2>\n{body}")


def key_page(made: AgeingRound, declared: Declarations) -> str:
    """Return the key as a whole page: closed at first, so that nobody sees it by accident."""
    birds = "".join(f"<li>{safe(_age(bird))}</li>" for bird in made.nestlings)
    broods = "".join(f"<li>{safe(_brood(brood, meant))}</li>" for brood, meant in made.broods)
    body = (
        '<p class="lead">This is the key, for whoever marks the round.</p><details><summary>Open the key'
        f"</summary><h2>Nestlings</h2><ol>{birds}</ol><h2>Broods</h2><ol>{broods}</ol></details>"
        f"{_caution(made, declared)}"
    )
    return whole_page(f"Key to the {safe(title(made)[0].lower() + title(made)[1:])}", body, _STYLE)


def _age(bird: Nestling) -> str:
    return f"wing {bird.wing:.0f} mm: {bird.age:.1f} days ({bird.low:.0f} to {bird.high:.0f})"


def _brood(brood: tuple[Nestling, ...], meant: str) -> str:
    return f"{meant}: " + ", ".join(f"{bird.wing:.0f} mm ({bird.age:.0f} days)" for bird in brood)


def _caution(made: AgeingRound, declared: Declarations) -> str:
    told = "".join(f"<p>{safe(one)}</p>" for one in cautions(made, declared))
    return f'<section class="caution">{told}</section>'


def _window(made: AgeingRound, declared: Declarations) -> str:
    limits = declared.species[made.species].limits
    first, last = limits["ringing.youngest_day"], limits["ringing.oldest_day"]
    return (
        f"Days of ringing as declared: {first.value:g} ({first.source}; {first.grade}) to {last.value:g} "
        f"({last.source}; {last.grade}). A brood is within them when its youngest is old enough and its "
        "oldest not too old."
    )


def _sheet(made: AgeingRound, declared: Declarations) -> Iterator[str]:
    yield f'<p class="lead">{safe(_LEAD)}</p>{_caution(made, declared)}<p>{safe(_HOW_FAR)}</p>'
    curve = aged_species(declared)[0][made.species]
    step = float(declared.settings["practice.ageing.table_every"].value)
    ages = np.arange(np.ceil(curve.first_day / step) * step, curve.last_day + 1, step)
    sizes = [(age, float(mean(curve, age)), float(spread(curve, age))) for age in ages]
    rows = "".join(f"<tr>{''.join(f'<td>{one:.0f}</td>' for one in row)}</tr>" for row in sizes)
    yield (
        f"<h2>Wing by age, {safe(declared.species[made.species].english)}</h2><table><thead><tr><th>days</th>"
        f"<th>wing, mm</th><th>standard deviation, mm</th></tr></thead><tbody>{rows}</tbody></table>"
    )
    yield '<h2 class="apart">How old is it?</h2><table class="ask"><thead><tr><th>nestling</th>'
    yield "<th>wing, mm</th><th>net mass, g</th><th>age, days</th></tr></thead><tbody>"
    for number, bird in enumerate(made.nestlings, 1):
        mass = "" if bird.mass is None else f"{bird.mass:.0f}"
        yield f'<tr><td>{number}</td><td>{bird.wing:.0f}</td><td>{mass}</td><td class="write"></td></tr>'
    yield "</tbody></table><h2>Within the days of ringing?</h2>"
    yield f"<p>{safe(_window(made, declared))} Write {safe(', '.join(VERDICTS))}.</p>"
    yield '<table class="ask"><thead><tr><th>brood</th><th>wings, mm</th><th>answer</th></tr></thead><tbody>'
    for number, (brood, _) in enumerate(made.broods, 1):
        wings = ", ".join(f"{bird.wing:.0f}" for bird in brood)
        yield f'<tr><td>{number}</td><td>{wings}</td><td class="write"></td></tr>'
    yield "</tbody></table>"


def _lines(marked: MarkedAges) -> Iterator[str]:
    for number, (bird, one) in enumerate(zip(marked.made.nestlings, marked.estimates, strict=True), 1):
        off = "not answered" if one.off is None else f"{one.written} is {one.kind}, {one.off:+.1f} days"
        yield f"Nestling {number}: {off}; {_age(bird)}."
    for number, (said, (brood, meant)) in enumerate(zip(marked.verdicts, marked.made.broods, strict=True), 1):
        told = "right" if said == meant else f"'{said}' is not right" if said else "not answered"
        yield f"Brood {number}: {told}; {_brood(brood, meant)}."


def _shares(marked: MarkedAges) -> list[str]:
    return [
        f"{what}: {one.hits} of {one.trials} (95 % interval {one.low:.2f} to {one.high:.2f})."
        for what, one in (("Ages inside the interval", marked.inside), ("Broods right", marked.broods))
    ]


def result_text(marked: MarkedAges) -> str:
    """Return what came of a round in plain text."""
    head = f"{title(marked.made)}: what came of it"
    return "\n".join([head, advice(marked), *_shares(marked), *_lines(marked)])


def result_piece(marked: MarkedAges, declared: Declarations) -> str:
    """Return what came of a round for use in another page."""
    return piece(f"<h2>{safe(title(marked.made))}: what came of it</h2>{_result(marked, declared)}")


def result_page(marked: MarkedAges, declared: Declarations) -> str:
    """Return what came of a round as a whole page."""
    return whole_page(f"{safe(title(marked.made))}: what came of it", _result(marked, declared), _STYLE)


def _result(marked: MarkedAges, declared: Declarations) -> str:
    told = [_shares(marked), list(_lines(marked))]
    shares, lines = ("".join(f"<li>{safe(one)}</li>" for one in part) for part in told)
    return (
        f'<p class="lead">{safe(advice(marked))}</p><ul>{shares}</ul><h2>One by one</h2><ul>{lines}</ul>'
        f"<p>{safe(_HOW_FAR)}</p>{_caution(marked.made, declared)}"
    )
