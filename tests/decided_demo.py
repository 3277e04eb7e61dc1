"""The demo season with decisions on most findings: what files that go out are made from in tests."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

from audit.checking import check, read_season
from audit.declarations import load_declarations
from audit.demo import demo_season
from audit.handover.clean.decided_season import DecidedSeason
from audit.review.decisions import Decision
from audit.review.places import decided_cell
from audit.review.replay import replay

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audit.declarations import Declarations
    from audit.findings import Report
    from audit.season import Season

AT = "2026-11-02T10:00:00+00:00"


@cache
def decided_demo() -> tuple[DecidedSeason, Report]:
    """The demo season as decided, and the report of it as typed.

    Of the errors and suspects the fourth is kept with a reason, the eighth asked about, the twelfth left; two
    people differ on the fifteenth; all others that have a suggestion are accepted.
    """
    path, schemas = demo_season()
    declared = load_declarations(schemas)
    season = read_season(path, schemas=declared)
    before = check(season, schemas=declared)
    decisions = _decisions(season, before)
    return decide_season(season, declared, decisions), before


def decide_season(
    season: Season, declared: Declarations, decisions: Sequence[Decision] = ()
) -> DecidedSeason:
    replayed = replay(season, declared, decisions)
    report = check(replayed.season, schemas=declared)
    return DecidedSeason(season, replayed, tuple(decisions), report, declared)


def _decisions(season: Season, report: Report) -> list[Decision]:
    made = []
    for i, finding in enumerate(report.above_notes):
        who = ("AB", "IP", "MK")[i % 3]
        named = [suspect for suspect in finding.suspects if suspect.suggested]
        if i in (3, 7):
            verb, texts, why = (
                ("keep", "ask")[i == 7],
                [(s, None) for s in finding.suspects],
                "The notebook says so.",
            )
        elif i == 11 or not named:
            continue
        else:
            verb, texts, why = "accept", [(s, s.suggested) for s in named], ""
        cells = tuple(decided_cell(season, s.cell.label, s.cell.field, text) for s, text in texts)
        made.append(Decision(f"{i:04}", AT, who, verb, cells, reason=why))
    suspect = report.above_notes[14].suspects[0]
    other = decided_cell(season, suspect.cell.label, suspect.cell.field, "1")
    return [*made, Decision("other", AT, "IP", "amend", (other,))]
