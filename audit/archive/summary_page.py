"""What was found in an archive, as a page to read and print."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from audit.archive.summary import headline, how_asked, team_rows, whose
from audit.findings import SEVERITIES
from audit.intake.wording import counted
from audit.review.page_look import whole_page
from audit.review.typed_rows import safe

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from audit.archive.audited import Audited
    from audit.archive.tally import First
    from audit.declarations import Declarations

__all__ = ["summary_page"]

_TEAMS, _BOXES = 400, 40


def summary_page(audited: Audited, declared: Declarations) -> str:
    """Write the page: what to look at first, counts by season and team, box and rule, and what was not asked.

    Parameters
    ----------
    audited : Audited
    declared : Declarations
        Its rules say what each count is of.
    """
    return whole_page("Seasons of an archive", "\n".join(_body(audited, declared)))


def _body(audited: Audited, declared: Declarations) -> Iterator[str]:
    yield f'<p class="lead">{safe(headline(audited))}</p>'
    yield f"<p>{safe(how_asked(audited, declared))}</p>"
    yield '<p class="quiet">One line for each suspect cell is in findings/season=.../findings.csv. '
    yield "Look each one up on the field sheet before it is changed.</p>"
    first = audited.tally.first
    if first:
        yield "<h2>Look at these first</h2>"
        yield '<p class="quiet">The greatest expected harm first: how likely the cell is wrong, times what '
        yield "it costs when nobody mends it.</p>"
        yield '<ol class="found">'
        yield from (_told(one) for one in first)
        yield "</ol>"
    teams = team_rows(audited)
    if teams:
        yield "<h2>Seasons and teams</h2>"
        rows = [(safe(name), *(f"{many[severity]:,}" for severity in SEVERITIES)) for name, many in teams]
        yield from _table(("season and team", *SEVERITIES), rows, _TEAMS)
    boxes = audited.tally.by_box.most_common()
    if boxes:
        yield "<h2>Boxes with most errors and suspects</h2>"
        shown = [
            (f"{safe(box)} ({safe(whose(season, scheme, team))})", f"{many:,}")
            for (season, scheme, team, box), many in boxes
        ]
        yield from _table(("box", "findings"), shown, _BOXES)
    rules = Counter[tuple[str, str]]()
    for (_, rule, severity), many in audited.tally.by_rule.items():
        rules[rule, severity] += many
    if rules:
        yield "<h2>Rules</h2>"
        ordered = sorted(rules.items(), key=lambda one: (SEVERITIES.index(one[0][1]), -one[1], one[0][0]))
        told = [
            (f"{safe(_says(rule, declared))} <code>{safe(rule)}</code>", severity, f"{many:,}")
            for (rule, severity), many in ordered
        ]
        yield from _table(("what", "how grave", "findings"), told, len(told))
    if audited.notices:
        yield "<h2>How the files were read</h2><ul>"
        yield from (f"<li>{safe(notice)}</li>" for notice in audited.notices)
        yield "</ul>"


def _told(one: First) -> str:
    line = one.line
    bird = " ".join(text for text in (line["box"], line["date"], line["ring"]) if text)
    more = counted(one.cells - 1, "more cell", "more cells")
    cells = f", and {more}" if one.cells > 1 else ""
    place = f"{line['file']}, row {line['row']}, {line['column']}{cells}"
    return (
        f'<li><b class="{line["severity"]}">{line["severity"]}</b> {safe(line["message"])}'
        f"<small>{safe(place)}{' · ' if bird else ''}{safe(bird)}</small></li>"
    )


def _says(rule: str, declared: Declarations) -> str:
    name, _, outcome = rule.partition(".")
    known = declared.rules.get(name)
    found = None if known is None else known.outcomes.get(outcome)
    return "" if found is None else found.says


def _table(heads: Sequence[str], rows: Sequence[Iterable[str]], most: int) -> Iterator[str]:
    """Write a table of safe cells; numbers stand to the right."""
    yield "<table><thead><tr>" + "".join(f"<th>{head}</th>" for head in heads) + "</tr></thead><tbody>"
    for row in rows[:most]:
        cells = (f'<td class="{"n" if _is_number(cell) else ""}">{cell}</td>' for cell in row)
        yield f"<tr>{''.join(cells)}</tr>"
    yield "</tbody></table>"
    if len(rows) > most:
        yield f'<p class="quiet">{len(rows) - most:,} more.</p>'


def _is_number(text: str) -> bool:
    return text.replace(",", "").isdigit()
