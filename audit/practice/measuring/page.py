"""Repeated measures as one page: static, readable and printable, with nothing to fetch or run."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.charts.still import still
from audit.practice.measuring.cautions import CAUTIONS, HOW_FAR
from audit.practice.measuring.figures import PAIR_COLUMNS, pair_rows
from audit.practice.measuring.gist import gist
from audit.practice.measuring.pictures import differences, digits, observer_biases, repeats
from audit.practice.measuring.told import opening, told_of
from audit.review.page_look import whole_page
from audit.review.typed_rows import safe

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.charts.living import Living
    from audit.practice.measuring.account import Account
    from audit.practice.measuring.record import Measuring

__all__ = ["measuring_body", "measuring_page"]

_HEADS = tuple(name.replace("_", " ") for name in PAIR_COLUMNS[1:])
_ASIDE = ", birds that stand out left aside"
_STYLE = """
.pairs td{white-space:nowrap}
.gist li{font-size:1.1rem}
@media print{@page{size:A4 portrait}figure svg{max-height:95mm}}
"""


def measuring_page(measuring: Measuring) -> str:
    """Return the whole page."""
    title = f"Repeated measures: {safe(measuring.sheet.name)}"
    return whole_page(title, measuring_body(measuring), _STYLE)


def measuring_body(measuring: Measuring, level: int = 2) -> str:
    """Return what the page says, for use in another page too.

    Parameters
    ----------
    level : int
        Of the headings of measures; those below are one lower.
    """
    return "\n".join(_body(measuring, level))


def _body(measuring: Measuring, level: int) -> Iterator[str]:
    first, *others = opening(measuring)
    yield f'<p class="lead">{safe(first)}</p>'
    yield from (f"<p>{safe(sentence)}</p>" for sentence in others)
    gists = "".join(f"<li>{safe(gist(one, measuring.declared))}</li>" for one in measuring.accounts)
    yield f'<h{level}>In short</h{level}><ul class="gist">{gists}</ul>'
    yield f'<section class="caution">{"".join(f"<p>{safe(said)}</p>" for said in CAUTIONS)}</section>'
    for place, account in enumerate(measuring.accounts):
        yield f"<h{level}>{safe(account.repeats.measure.title)}</h{level}>"
        for heading, sentences in told_of(account, measuring.declared).sections():
            yield f"<h{level + 1}>{safe(heading)}</h{level + 1}>"
            yield f"<ul>{''.join(f'<li>{safe(said)}</li>' for said in sentences)}</ul>"
        yield from _figures(account, f"m{place}")
        yield from _pairs(account)
    yield f"<h{level}>How far these figures go</h{level}>"
    yield from (f"<p>{safe(said)}</p>" for said in HOW_FAR)


def _figures(account: Account, name: str) -> Iterator[str]:
    drawn: list[Living] = [differences(account, number) for number in _shown(account)]
    rest = account.without_odd
    if rest is not None:
        drawn += [differences(rest, number, _ASIDE) for number in _shown(rest)]
    drawn += [observer_biases(rest or account), repeats(account)]
    drawn += [digits(account, observer) for observer, _ in account.digits]
    for number, one in enumerate(drawn):
        if one.chart is not None:
            yield f"<figure>{still(one.chart, f'{name}-{number}')}</figure>"


def _shown(account: Account) -> list[int]:
    """Choose what is drawn: people against each other, or own repeats where nobody else measured."""
    people = [number for number, pairs in enumerate(account.comparisons) if pairs.between_people]
    return people or list(range(len(account.comparisons)))


def _pairs(account: Account) -> Iterator[str]:
    rows = list(pair_rows(account))
    if not rows:
        return
    unit = safe(account.repeats.measure.unit)
    yield f"<details><summary>All {len(rows):,} pairs, in {unit}</summary>"
    yield '<div class="typed"><table class="pairs">'
    heads = "".join(f'<th scope="col">{safe(name)}</th>' for name in _HEADS)
    yield f"<thead><tr>{heads}</tr></thead>"
    yield "<tbody>"
    for _, *cells in rows:
        told = "".join(
            f'<td class="n">{cell:g}</td>' if isinstance(cell, float) else f"<td>{safe(str(cell))}</td>"
            for cell in cells
        )
        yield f"<tr>{told}</tr>"
    yield "</tbody></table></div></details>"
