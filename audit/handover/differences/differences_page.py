"""A comparison of two typings as one page: static, readable and printable, with nothing to fetch or run."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.handover.differences.differences_text import opening, rate_rows, wrong_rows
from audit.models.recapture import sentence
from audit.review.missed_errors import COMPARED, estimate, rates
from audit.review.page_look import whole_page
from audit.review.typed_rows import safe
from audit.review.wording import address, chance, counted

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from audit.findings import Finding
    from audit.review.decisions import Decision
    from audit.review.double_entry import DoubleEntry

__all__ = ["differences_page"]

#: Differences on the page; the table beside it holds all.
_LISTED = 500
_HEADS = ("cell", "box", "date", "ring")
_RATES = ("column", "cells compared", "differ", "share", "95 % interval")
_STYLE = """
.wide{overflow-x:auto}
td.text{white-space:pre-wrap;max-width:14rem;overflow-wrap:anywhere}
td.mark{white-space:nowrap}
"""


def differences_page(double: DoubleEntry, decisions: Sequence[Decision] = ()) -> str:
    """Return the whole page.

    Parameters
    ----------
    decisions : sequence of Decision, optional
        About the first typing: they tell which typing was wrong, and how many errors were missed.
    """
    title = f"{safe(double.names[0])} and {safe(double.names[1])}: where two typings differ"
    return whole_page(title, "\n".join(_parts(double, decisions)), _STYLE)


def _parts(double: DoubleEntry, decisions: Sequence[Decision]) -> Iterator[str]:
    yield f'<p class="lead">{safe(opening(double))}</p>'
    if double.report.notices:
        yield "<ul>"
        yield from (f"<li>{safe(notice)}</li>" for notice in double.report.notices)
        yield "</ul>"
    above = double.report.above_notes
    if above:
        yield "<h2>Differences</h2>"
        yield (
            "<p>Settle each against the field sheet, even where one text is probably right; do not make one "
            "typing agree with the other.</p>"
        )
        yield from _table(double, above[:_LISTED])
        if len(above) > _LISTED:
            yield f"<p>{counted(len(above) - _LISTED, 'more difference')}: see differences.csv.</p>"
        counted_rates = rates(double, decisions)
        yield "<h2>How often the typings differ</h2>"
        yield from _rates(_RATES, rate_rows(double, counted_rates))
        yield (
            "<p>A cell that differs is wrong in one typing or in both; an error that both people typed alike "
            "is in no such share.</p>"
        )
        if counted_rates[-1].undecided < counted_rates[-1].differing:
            yield "<h2>How often each typing is wrong</h2>"
            heads = ("column", "cells compared", "not decided", *(f"{name} wrong" for name in double.names))
            yield from _rates(heads, wrong_rows(double, counted_rates))
    else:
        yield "<p>No cell and no row differs.</p>"
    if above or decisions:
        yield "<h2>Errors that both the comparison and the audit missed</h2>"
        missed = estimate(double, decisions)
        yield f"<p>{safe(missed if isinstance(missed, str) else sentence(missed))}</p>"
        if not isinstance(missed, str):
            yield "<p>The number holds only as far as these sentences do:</p><ul>"
            yield from (f"<li>{safe(said)}</li>" for said in COMPARED)
            yield "</ul>"


def _table(double: DoubleEntry, findings: Sequence[Finding]) -> Iterator[str]:
    names = [safe(name) for name in double.names]
    heads = (*_HEADS, "column", names[0], names[1], "where there", "probably right")
    yield '<div class="wide"><table><thead><tr>'
    yield "".join(f'<th scope="col">{head}</th>' for head in heads)
    yield "</tr></thead><tbody>"
    for finding in findings:
        yield _row(double, finding)
    yield "</tbody></table></div>"


def _row(double: DoubleEntry, finding: Finding) -> str:
    suspect = finding.suspects[0]
    cell, found = suspect.cell, double.found[finding.identity]
    marks = "".join(
        f'<td class="mark">{safe(text)}</td>' for text in (cell.marks.box, cell.marks.date, cell.marks.ring)
    )
    start = f'<tr><th scope="row">{safe(address(suspect))}</th>{marks}'
    if found.chances is None or found.second_cell is None:
        return f'{start}<td colspan="5">{safe(finding.message)}</td></tr>'
    texts = "".join(f'<td class="text">{safe(text) or "(empty)"}</td>' for text in found.texts)
    there = f"{found.second_cell.sheet} row {found.second_cell.row}"
    return (
        f"{start}<td>{safe(cell.column or cell.field)}</td>{texts}<td>{safe(there)}</td>"
        f"<td>{safe(_likelier(double, finding))}</td></tr>"
    )


def _likelier(double: DoubleEntry, finding: Finding) -> str:
    found = double.found[finding.identity]
    if found.chances is None:
        return ""
    first, second, neither = found.chances.first, found.chances.second, found.chances.neither
    tell_from = float(double.declared.settings["double_entry.weigh.tell_from"].value)
    best = max(first, second, neither)
    if best < tell_from:
        return "cannot be told"
    if best == neither:
        return f"neither ({chance(best)})"
    return f"{double.names[0 if best == first else 1]} ({chance(best)})"


def _rates(heads: Sequence[str], rows: Sequence[tuple[str, ...]]) -> Iterator[str]:
    yield '<div class="wide"><table><thead><tr>'
    yield "".join(
        f'<th scope="col"{" class=n" if k else ""}>{safe(head)}</th>' for k, head in enumerate(heads)
    )
    yield "</tr></thead><tbody>"
    for first, *rest in rows:
        cells = "".join(f'<td class="n">{safe(text)}</td>' for text in rest)
        yield f'<tr><th scope="row">{safe(first)}</th>{cells}</tr>'
    yield "</tbody></table></div>"
