"""What the second engine was asked of each table, and the cells that broke it: tables for the page."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.charts.palette import TONES
from audit.handover.gate.expected import expected
from audit.handover.gate.item import cell_at
from audit.handover.gate.wording import EMPTY
from audit.review.typed_rows import safe
from audit.review.wording import counted

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from audit.declarations import Declarations
    from audit.declarations.tables import TableDeclaration
    from audit.declarations.validation import Judged, Validation
    from audit.season import Season

__all__ = ["engine_tables"]

#: Broken cells of one table that the page lists; the document beside it holds all.
_MOST = 300
_LEFT = 'style="text-align:left"'


def engine_tables(validations: Sequence[Validation], season: Season, declared: Declarations) -> Iterator[str]:
    """Make a section: one table of expectations for each table, those with a broken one open."""
    yield "<h2>What the second engine was asked</h2>"
    yield (
        "<p>Beside the rules of the audit, all that is declared of the tables was checked once more by a "
        f"second engine, {safe(validations[0].engine) if validations else 'great-expectations'}, which knows "
        "nothing of the first. Its own results stand in <code>validation.json</code>. A single cell on which "
        "the two differ shuts the gate.</p>"
    )
    for validation in validations:
        table = declared.tables[validation.table]
        failing = sum(not one.holds for one in validation.judged)
        outcome = f"{failing:,} broken" if failing else "all hold"
        shown = " open" if failing else ""
        yield (
            f"<details{shown}><summary><strong>{safe(validation.table)}</strong> "
            f"{counted(validation.rows, 'row')}, {counted(len(validation.judged), 'expectation')}: {outcome}"
            "</summary>"
        )
        yield from _expectations(validation, table)
        yield from _broken(validation, table, season)
        yield "</details>"


def _expectations(validation: Validation, table: TableDeclaration) -> Iterator[str]:
    heads = (("column", ""), ("expected", ""), ("cells looked at", "n"), ("empty", "n"), ("broken", "n"))
    yield f'<div class="wide"><table><caption>Expected of {safe(table.name)}</caption><thead><tr>'
    yield "".join(f'<th scope="col"{_look(look)}>{head}</th>' for head, look in heads)
    yield '<th scope="col">outcome</th></tr></thead><tbody>'
    for one in validation.judged:
        yield _expectation(one, table)
    yield "</tbody></table></div>"


def _look(look: str) -> str:
    return f' class="{look}"' if look else f" {_LEFT}"


def _expectation(one: Judged, table: TableDeclaration) -> str:
    numbers = ("", "", "") if one.check == "needed" else (one.looked_at, one.empty, one.broken)
    counts = "".join(f'<td class="n">{f"{n:,}" if isinstance(n, int) else n}</td>' for n in numbers)
    outcome = "held" if one.holds else f'<b class="error">{TONES["error"].word}</b> broken'
    return (
        f'<tr><th scope="row" {_LEFT}>{safe(one.field)}</th>'
        f"<td {_LEFT}>{safe(expected(table, one.field, one.check))}</td>{counts}"
        f"<td {_LEFT}>{outcome}</td></tr>"
    )


def _broken(validation: Validation, table: TableDeclaration, season: Season) -> Iterator[str]:
    breaches = [one for one in validation.breaches if one.label]
    if not breaches:
        return
    yield f'<div class="wide"><table><caption>Broken cells of {safe(table.name)}</caption><thead><tr>'
    heads = ("where", "column", "stands there", "expected")
    yield "".join(f'<th scope="col" {_LEFT}>{head}</th>' for head in heads)
    yield "</tr></thead><tbody>"
    for one in breaches[:_MOST]:
        cell = cell_at(season, one.label, one.field)
        text = safe(cell.text) or EMPTY
        yield (
            f'<tr><th scope="row" {_LEFT}>{safe(cell.where)}</th><td {_LEFT}>{safe(cell.column)}</td>'
            f'<td class="error" {_LEFT}>{text}</td>'
            f"<td {_LEFT}>{safe(expected(table, one.field, one.check))}</td></tr>"
        )
    yield "</tbody></table></div>"
    if len(breaches) > _MOST:
        yield f"<p>{counted(len(breaches) - _MOST, 'more cell')}: see validation.json.</p>"
