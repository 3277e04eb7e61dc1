"""The report in a few lines of plain text, for the command line."""

from __future__ import annotations

from itertools import groupby
from operator import itemgetter
from typing import TYPE_CHECKING

from audit.findings import SEVERITIES
from audit.handover.terminal import on_one_line, wrapped
from audit.review.wording import address, headline, rows_read, suggestion

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from audit.findings import Finding, Report

__all__ = ["summary_text"]

#: Findings told in full; how many more there are is always said.
SHOWN = 12


def summary_text(report: Report, width: int = 80, *, files: Sequence[Path] = (), shown: int = SHOWN) -> str:
    """Summarise a report.

    Parameters
    ----------
    report : Report
        What was found.
    width : int
        Longest line in characters; words and file names are not broken.
    files : sequence of Path, optional
        Files written, named at the end.
    shown : int, optional
        Findings told in full, gravest first.
    """
    lines = [
        *wrapped(f"Season {report.season}: {rows_read(report) or 'no rows'} read.", width),
        *wrapped(headline(report), width),
    ]
    if report.findings:
        lines += ["", *_by_rule(report), "", *_first(report, width, shown)]
    if report.not_run:
        lines += ["", "Not checked:"]
        for part in report.not_run:
            lines += wrapped(f"{part.rule}: {part.reason}", width, "  ")
    if report.notices:
        lines += ["", "How the file was read:"]
        for notice in report.notices:
            lines += wrapped(notice, width, "  ")
    if files:
        lines += ["", "Written:", *(f"  {path}" for path in files)]
    return "\n".join(lines)


def _by_rule(report: Report) -> Iterator[str]:
    table = report.by_rule()
    digits = max(len(str(number)) for _, _, number in table)
    for rule, severity, number in table:
        yield f"  {number:>{digits}}  {severity:<7}  {rule}"


def _first(report: Report, width: int, shown: int) -> Iterator[str]:
    gravest_first = sorted(report.findings, key=lambda finding: SEVERITIES.index(finding.severity))
    for finding in gravest_first[:shown]:
        yield from _told(finding, width)
    more = len(gravest_first) - shown
    if more > 0:
        yield f"{more} more in the files."


def _told(finding: Finding, width: int) -> Iterator[str]:
    places = _places(finding)
    marks = finding.suspects[0].cell.marks
    bird = " ".join(text for text in (marks.box, marks.date, marks.ring) if text)
    yield from wrapped(
        f"{finding.severity.upper()} {on_one_line(places)}" + (f" ({on_one_line(bird)})" if bird else ""),
        width,
    )
    yield from wrapped(on_one_line(finding.message), width, "  ")
    several = len(finding.suspects) > 1
    named = [(suspect.cell.address, text) for suspect in finding.suspects if (text := suggestion(suspect))]
    if named:
        # cells of which the same is suggested, one after the other, share it
        alike = groupby(named, key=itemgetter(1))
        shared = [(", ".join(cell for cell, _ in cells), text) for text, cells in alike]
        told = "; ".join(f"{cells} {text}" if several else text for cells, text in shared)
        yield from wrapped(on_one_line(told), width, "  -> ")


def _places(finding: Finding) -> str:
    """Name the suspect cells, the sheet once where it is the same as before: ``Ringing B17, B18``."""
    places: list[str] = []
    before = ""
    for suspect in finding.suspects:
        place, sheet = address(suspect), suspect.cell.sheet
        places.append(place.removeprefix(f"{sheet} ") if sheet == before else place)
        before = sheet
    return ", ".join(places)
