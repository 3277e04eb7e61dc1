"""The section on what was checked, found and decided, by whom, and what is left."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from audit.charts.wording import clipped
from audit.findings import SEVERITIES
from audit.handover.clean.decided_lines import sections
from audit.handover.gate.said import said_in
from audit.handover.season_report.content import NAME, Heading, Rows, Words
from audit.handover.season_report.still_open import still_open
from audit.review.decisions import VERBS
from audit.review.wording import counted

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from audit.declarations import Declarations
    from audit.findings import Report
    from audit.handover.clean.decided_season import DecidedSeason
    from audit.handover.season_report.content import Block
    from audit.season import Season

__all__ = ["decided_section"]

#: Lines of one table that are told; how many there are is always said.
_MOST = 40
#: Sections of the page of decisions that are told line by line.
_TOLD = ("In conflict", "Without a place", "Still asked", "Held back", "Lines of the log that do not count")


def decided_section(decided: DecidedSeason, before: Report) -> Iterator[Block]:
    """Tell what was checked, found and decided."""
    yield Heading("Checked, found, decided")
    now, then = len(decided.report.rules_run), len(before.rules_run)
    ran = "as typed and" if now == then else f"as typed ({then:,}) and"
    yield Words(f"{counted(now, 'rule')} of the audit ran on the season {ran} as decided.")
    rules = _by_rule(before, decided.report, decided.declared)
    if rules:
        yield Rows(
            "Findings by rule",
            ("rule", "what it says", "severity", "as typed", "as decided"),
            tuple(rules),
            numbers=frozenset((3, 4)),
        )
    people = _by_person(decided)
    if people:
        yield Rows(
            "Decisions by person, in the order of the alphabet; one decision may be about many cells",
            ("person", *_heads()),
            tuple(people),
            numbers=frozenset(range(1, len(VERBS) + 1)),
            total=True,
        )
        yield Words(
            "Accept takes the suggestion of the audit, amend another text, keep leaves the cell as typed, "
            "ask leaves it until the notebook was looked up, undo takes a decision back. Decisions that were "
            "taken back or replaced later are among these.",
            "quiet",
        )
    else:
        yield Words("Nothing was decided.")
    changed = _by_column(decided)
    if changed:
        yield Rows(
            "Cells changed, by column",
            ("table", "column", "cells changed", "already mended in the sheet"),
            tuple(changed),
            numbers=frozenset((2, 3)),
            total=True,
        )
    yield from _kept(decided)
    yield from _left(decided, before)


def _heads() -> tuple[str, ...]:
    return tuple(VERBS)


def _by_rule(before: Report, after: Report, declared: Declarations) -> list[tuple[str, ...]]:
    typed = {(rule, severity): n for rule, severity, n in before.by_rule()}
    now = {(rule, severity): n for rule, severity, n in after.by_rule()}
    keys = sorted({*typed, *now}, key=lambda key: (SEVERITIES.index(key[1]), key[0]))
    return [
        (
            rule,
            _says(rule, declared),
            severity,
            f"{typed.get((rule, severity), 0):,}",
            f"{now.get((rule, severity), 0):,}",
        )
        for rule, severity in keys
    ]


def _says(rule: str, declared: Declarations) -> str:
    slug, _, outcome = rule.partition(".")
    known = declared.rules.get(slug)
    return known.outcomes[outcome].says if known and outcome in known.outcomes else ""


def _by_person(decided: DecidedSeason) -> list[tuple[str, ...]]:
    counts = Counter((one.who, one.verb) for one in decided.decisions)
    people = sorted({who for who, _ in counts})
    lines = [
        (clipped(who, NAME) or "(no initials)", *(f"{counts[who, verb]:,}" for verb in VERBS))
        for who in people
    ]
    if lines:
        lines.append(("all", *(f"{sum(counts[who, verb] for who in people):,}" for verb in VERBS)))
    return lines


def _by_column(decided: DecidedSeason) -> list[tuple[str, ...]]:
    season = decided.clean
    counts = Counter((season.table_of(one.label), one.field, one.already) for one in decided.replayed.applied)
    columns = sorted({key[:2] for key in counts})
    lines: list[tuple[str, ...]] = [
        (table, field, f"{counts[table, field, False]:,}", f"{counts[table, field, True]:,}")
        for table, field in columns
    ]
    if lines:
        sums = [sum(n for key, n in counts.items() if key[2] is already) for already in (False, True)]
        lines.append(("all", "", f"{sums[0]:,}", f"{sums[1]:,}"))
    return lines


def _kept(decided: DecidedSeason) -> Iterator[Block]:
    """Cells that a person vouches for and the audit still doubts."""
    said = said_in(decided.replayed)
    lines, doubted = [], set()
    for finding in decided.report.above_notes:
        for suspect in finding.suspects:
            place = suspect.cell.label, suspect.cell.field
            doubted.add(place)
            if said.stand(place, finding.rule, finding.identity) != "answered":
                continue
            one = said.settled[place]
            reasons = dict.fromkeys(decision.reason for decision, _ in one.choices if decision.reason)
            lines.append(
                (
                    _place(decided.clean, one.label, one.field),
                    one.text or "(empty)",
                    finding.message,
                    ", ".join(dict.fromkeys(decision.who for decision, _ in one.choices)),
                    " ".join(reasons) or "(no reason written)",
                )
            )
    if lines:
        yield Rows(
            _cut("Kept or amended, though the audit doubts it", lines),
            ("where", "stands there", "what the audit says", "by", "reason"),
            tuple(lines[:_MOST]),
        )
    rest = sum((one.label, one.field) not in doubted for one in decided.replayed.kept)
    if rest:
        more = "other " if lines else ""
        yield Words(
            f"{counted(rest, f'{more}cell was', f'{more}cells were')} looked at and kept as typed; the audit "
            "no longer doubts them, or has them as a note."
        )


def _left(decided: DecidedSeason, before: Report) -> Iterator[Block]:
    told = False
    for section in sections(decided.replayed, decided.damaged):
        if section.heading not in _TOLD:
            continue
        told = True
        yield Words(section.note, start=f"{section.heading}.")
        lines = [tuple(line.parts) for line in section.lines]
        yield Rows(
            _cut(section.heading, lines),
            ("where", "column", "as typed", "decided text", "by", "why"),
            tuple(lines[:_MOST]),
        )
    left = still_open(decided)
    if left:
        yield Rows(
            _cut("Found, and nobody has settled it yet", left),
            ("where", "as typed", "what the audit says"),
            tuple(
                (
                    ", ".join(
                        _place(decided.clean, s.cell.label, s.cell.field) for s in finding.suspects[:_FEW]
                    ),
                    ", ".join(s.cell.observed or "(empty)" for s in finding.suspects[:_FEW]),
                    finding.message,
                )
                for finding in left[:_MOST]
            ),
        )
    elif not told:
        found = bool(before.above_notes)
        yield Words(f"Nothing is left to settle{': every error and suspect was decided' if found else ''}.")


#: Cells of one finding that are named.
_FEW = 4


def _place(season: Season, label: str, field: str) -> str:
    cell = season.cell(label, field)
    return f"{cell.sheet} {cell.address if cell.column else f'row {cell.row}'}"


def _cut(caption: str, lines: Sequence[object]) -> str:
    cut = f" (the first {_MOST} are listed)" if len(lines) > _MOST else ""
    return f"{caption}: {len(lines):,}{cut}"
