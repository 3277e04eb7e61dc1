"""The report as one page: readable without JavaScript, without a network, and in print."""

from __future__ import annotations

from functools import partial
from itertools import groupby
from typing import TYPE_CHECKING

from audit.charts.palette import TONES
from audit.findings import SEVERITIES
from audit.handover.finding_places import by_place
from audit.review.page_look import piece, whole_page
from audit.review.typed_rows import TypedRows, safe
from audit.review.wording import address, chance, counted, headline, rows_read

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from pathlib import Path

    from audit.charts.outline import Outline
    from audit.declarations import Declarations
    from audit.findings import Finding, Report, Suspect
    from audit.season import Season

__all__ = ["begin_pictures", "findings_text", "page_text", "write_page"]

#: With more findings than this the boxes are folded; a click or print opens them.
_OPEN_UP_TO = 40
#: With more birds than this a still picture shows counts, to keep the page small.
_MOST_POINTS = 600

_CAUTION = (
    "Your licence, your scheme's rules and local law come before anything on this page. No finding is worth "
    "a visit that the licence does not allow: where a value can only be settled in the field, leave it as "
    "typed and say so. Stop when a bird is distressed, keep young warm and in the dark, work at height in "
    "pairs, and wear gloves and a mask against nest dust."
)


#: What gives a picture, and what it shows in words.
BegunPicture = tuple["Callable[[], str]", str]


def write_page(
    report: Report,
    season: Season,
    declared: Declarations,
    path: Path,
    pictures: Sequence[BegunPicture] | None = None,
) -> None:
    """Write the report as one HTML file; nothing in it is fetched or run.

    Parameters
    ----------
    pictures : sequence, optional
        As `begin_pictures` gave them.
    """
    path.write_text(page_text(report, season, declared, pictures), encoding="utf-8", newline="\n")


def page_text(
    report: Report,
    season: Season,
    declared: Declarations,
    pictures: Sequence[BegunPicture] | None = None,
) -> str:
    """Return the whole page."""
    title = f"Season {safe(report.season)}: what to look at"
    if pictures is None:
        pictures = begin_pictures(report, season, declared)
    sections = (
        _opening(report),
        _counts(report, declared),
        _findings(report, season),
        _unchecked(report),
        _pictures(pictures),
        _caution(season, declared),
        _origins(report, declared),
    )
    body = "\n".join(part for section in sections for part in section)
    return whole_page(title, body)


def findings_text(report: Report, season: Season) -> str:
    """Return the findings by box and day, with the rows as typed around each, for use in another page."""
    body = "\n".join(_findings(report, season)) or "<p>Nothing was found.</p>"
    return piece(body)


def _opening(report: Report) -> Iterator[str]:
    yield f'<p class="lead">{headline(report)}</p>'
    yield f"<p>Read: {safe(rows_read(report)) or 'no rows'}.</p>"
    if report.findings:
        marks = ", ".join(
            f'<span class="{severity}">{TONES[severity].word}</span> {meaning}'
            for severity, meaning in zip(
                SEVERITIES, ("cannot be true", "is unlikely", "is worth knowing"), strict=True
            )
        )
        yield (
            f"<p>{marks}. In the rows as typed a suspect cell is framed and underlined in the same way; "
            "cells in bold led to the finding and are not in doubt. Nothing in your file was changed.</p>"
        )


def _counts(report: Report, declared: Declarations) -> Iterator[str]:
    if not report.findings:
        return
    yield "<h2>Found, by rule</h2>"
    yield "<table><caption>Findings by severity and rule</caption><thead><tr>"
    yield '<th scope="col">severity</th><th scope="col" class="n">findings</th>'
    yield '<th scope="col">rule</th><th scope="col">what it says</th></tr></thead><tbody>'
    for rule, severity, number in report.by_rule():
        yield (
            f'<tr><td><b class="{severity}">{TONES[severity].word}</b></td><td class="n">{number:,}</td>'
            f'<th scope="row"><code>{_in_parts(rule)}</code></th><td>{safe(_says(rule, declared))}</td></tr>'
        )
    yield "</tbody></table>"


def _in_parts(rule: str) -> str:
    """Let the name of a rule break between its words, where there is no room for it in a line."""
    return safe(rule).replace(".", ".<wbr>").replace("_", "_<wbr>")


def _says(rule: str, declared: Declarations) -> str:
    slug, _, outcome = rule.partition(".")
    known = declared.rules.get(slug)
    return known.outcomes[outcome].says if known and outcome in known.outcomes else ""


def _pictures(begun: Sequence[BegunPicture]) -> Iterator[str]:
    if begun:
        yield "<h2>The season in pictures</h2>"
    for picture, description in begun:
        yield f"<figure>{picture()}<figcaption>{safe(description)}</figcaption></figure>"


def begin_pictures(report: Report, season: Season, declared: Declarations) -> list[BegunPicture]:
    """Begin the pictures of the page, since another process may draw them while the rest is written."""
    return list(_begun(report, season, declared))


def _begun(report: Report, season: Season, declared: Declarations) -> Iterator[BegunPicture]:
    from audit.charts import bag_day, mass_wing, ring_order
    from audit.charts.still import begin_still_outline

    outlined: list[Callable[[], Outline | None]] = [
        partial(mass_wing.outline, season, declared, report, species, most_points=_MOST_POINTS)
        for species in mass_wing.species_present(season, declared) or (None,)
    ]
    outlined += [
        partial(one.outline, season, declared, report, most_points=_MOST_POINTS)
        for one in (ring_order, bag_day)
    ]
    outlines = (outline for work_out in outlined if (outline := work_out()) is not None)
    for number, outline in enumerate(outlines, 1):
        yield begin_still_outline(outline, f"p{number}")


def _findings(report: Report, season: Season) -> Iterator[str]:
    if not report.findings:
        return
    yield "<h2>Findings by box and day</h2>"
    rows = TypedRows(season)
    placed, written = by_place(report.findings, season)
    boxes = [(box, list(inside)) for box, inside in groupby(placed, key=lambda one: one[0][0])]
    if len(boxes) > 1:
        yield '<ul class="boxes">'
        for number, (box, inside) in enumerate(boxes, 1):
            yield f'<li><a href="#box{number}">{_box_name(box, written)}</a> ({len(inside):,})</li>'
        yield "</ul>"
    is_open = " open" if len(report.findings) <= _OPEN_UP_TO else ""
    for number, (box, inside) in enumerate(boxes, 1):
        told = ", ".join(
            counted(n, words[0], words[1])
            for severity, words in _WORDS.items()
            if (n := sum(finding.severity == severity for _, finding in inside))
        )
        name = f"<strong>{_box_name(box, written)}</strong>"
        yield f'<details id="box{number}"{is_open}><summary>{name} {told}</summary>'
        for (_, day), of_day in groupby(inside, key=lambda one: one[0]):
            found = [finding for _, finding in of_day]
            yield f'<section><h3>{safe(day) or "no date"}</h3><ul class="found">'
            yield from (_told(finding) for finding in found)
            yield "</ul>"
            yield from rows.around(found)
            yield "</section>"
        yield "</details>"


_WORDS = {"error": ("error", "errors"), "suspect": ("suspect", "suspects"), "note": ("note", "notes")}


def _box_name(box: str, written: dict[str, str]) -> str:
    return safe(written.get(box, box)) if box else "no box"


def _told(finding: Finding) -> str:
    cells = "; ".join(_suspect(finding, suspect) for suspect in finding.suspects)
    word = TONES[finding.severity].word
    message = safe(finding.message).replace(" %", "&nbsp;%")
    return (
        f'<li id="f-{safe(finding.identity)}"><b class="{finding.severity}">{word}</b> '
        f"{message} <small>{cells} <code>{safe(finding.rule)}</code></small></li>"
    )


def _suspect(finding: Finding, suspect: Suspect) -> str:
    cell = suspect.cell
    said = [f"{safe(address(suspect))} ({safe(cell.column or cell.field)})"]
    said.append(f"typed {safe(cell.observed)}" if cell.observed else "typed nothing")
    if finding.severity != "note":
        said.append(f"wrong with chance {chance(suspect.p_error)}")
    if suspect.suggested:
        sure = "" if suspect.p_fix is None else f" (chance {chance(suspect.p_fix)})"
        said.append(f"suggested <strong>{safe(suspect.suggested)}</strong>{sure}")
        said.extend(f"or {safe(value)} ({chance(p)})" for value, p in suspect.others)
    return ", ".join(said)


def _unchecked(report: Report) -> Iterator[str]:
    if report.not_run:
        yield "<h2>What could not be checked</h2>"
        yield "<table><caption>Rules, or parts of rules, that did not run</caption>"
        yield '<thead><tr><th scope="col">rule</th><th scope="col">why</th></tr></thead><tbody>'
        for part in report.not_run:
            yield f'<tr><th scope="row"><code>{safe(part.rule)}</code></th><td>{safe(part.reason)}</td></tr>'
        yield "</tbody></table>"
    if report.notices:
        yield "<h2>How the file was read</h2><ul>"
        yield from (f"<li>{safe(notice)}</li>" for notice in report.notices)
        yield "</ul>"


def _caution(season: Season, declared: Declarations) -> Iterator[str]:
    from audit.charts.mass_wing import species_present

    yield '<section class="caution"><h2>Before anybody goes back to a box</h2>'
    yield f"<p>{_CAUTION}</p>"
    by_text: dict[str, list[str]] = {}
    for slug in species_present(season, declared):
        one = declared.species[slug]
        if one.caution:
            by_text.setdefault(one.caution, []).append(one.english)
    for text, names in by_text.items():
        yield f"<p><strong>{safe(', '.join(names).capitalize())}.</strong> {safe(text)}</p>"
    yield "</section>"


def _origins(report: Report, declared: Declarations) -> Iterator[str]:
    yield "<h2>Where the limits come from</h2>"
    if report.sources:
        yield "<p>Declarations read, the later over the earlier:</p><ul>"
        yield from (f"<li><code>{safe(source)}</code></li>" for source in report.sources)
        yield "</ul>"
    lines = list(_limits(report.rules_run, declared))
    if lines:
        # dozens of pages, which paper shows only where they were opened
        yield '<details class="aside"><summary>Numbers used by the rules that ran</summary><table>'
        yield "<caption>Each number with its source and how well it is known</caption><thead><tr>"
        heads = ("rule", "limit", "value", "source", "grade")
        yield "".join(f'<th scope="col">{head}</th>' for head in heads) + "</tr></thead><tbody>"
        yield from lines
        yield "</tbody></table></details>"


def _limits(rules: Sequence[str], declared: Declarations) -> Iterator[str]:
    for slug in rules:
        known = declared.rules.get(slug)
        for name, limit in known.limits.items() if known else ():
            value = f"{limit.value} {limit.unit}".strip()
            cells = "".join(f"<td>{safe(text)}</td>" for text in (name, value, limit.source, limit.grade))
            yield f'<tr><th scope="row"><code>{safe(slug)}</code></th>{cells}</tr>'
