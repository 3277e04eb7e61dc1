"""What must be looked up in the field notebook, and what was found there."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING

from audit.checking import check, declarations_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audit.declarations import Declarations
    from audit.findings import Finding
    from audit.handover.query.sheet import QuerySheet
    from audit.handover.query.taken import Taken
    from audit.review.decisions import Decision
    from audit.review.log import DecisionLog
    from audit.season import Season

__all__ = ["query_sheet", "read_answers"]


def query_sheet(
    season: Season,
    decisions: Sequence[Decision] | str | Path | None = None,
    *,
    unasked: bool = False,
    suggestions: bool = False,
    schemas: str | Path | Declarations | None = None,
) -> QuerySheet:
    """List what must be looked up in the field notebook, in the order of its pages.

    Parameters
    ----------
    season : Season
        As read by `audit.read_season`.
    decisions : sequence of Decision or path, optional
        All decisions on the season, or the log of them; by default the log beside the season.
    unasked : bool
        Whether open errors and suspects are listed, too, although nobody has asked about them.
    suggestions : bool
        Whether a last page says what was probably meant; the questions themselves never do.
    schemas : path or Declarations, optional
        A team's folder of declarations, laid over the shipped ones.

    Returns
    -------
    QuerySheet
        Shows itself in a notebook; ``write(folder)`` makes page, print and workbook.
    """
    from audit.handover.query.sheet import make_query
    from audit.review.log import DecisionLog, log_path

    declared = declarations_of(schemas)
    if decisions is None:
        decisions = log_path(season) or ()
    if isinstance(decisions, str | Path):
        decisions = DecisionLog.open(Path(decisions)).decisions
    findings = _findings(season, declared, decisions)
    return make_query(season, declared, decisions, findings, unasked=unasked, suggestions=suggestions)


def read_answers(
    season: Season,
    filled: str | Path,
    log: DecisionLog | str | Path,
    *,
    who: str = "",
    schemas: str | Path | Declarations | None = None,
) -> Taken:
    """Read a filled query sheet and add its answers to the log of decisions.

    Parameters
    ----------
    season : Season
        As read by `audit.read_season`.
    filled : path
        The query sheet as it came back: .xlsx, .ods or .csv.
    log : DecisionLog or path
        The log that the sheet was made from. Answers that it has already are not added again.
    who : str
        Who looked up the lines that name nobody.
    schemas : path or Declarations, optional
        A team's folder of declarations, laid over the shipped ones.

    Returns
    -------
    Taken
        What was added, and what was not, with the cure.

    Raises
    ------
    audit.refusal.SeasonRefusal
        The file cannot be read, or is no query sheet.
    """
    from audit.handover.query.answers import take_answers
    from audit.handover.query.filled import read_filled
    from audit.review.log import DecisionLog
    from audit.review.questions import CELL

    declared = declarations_of(schemas)
    lines = read_filled(Path(filled), declared)
    if not isinstance(log, DecisionLog):
        log = DecisionLog.open(Path(log))
    decisions = log.decisions
    unasked = any(line.identity.startswith(CELL) for line in lines)
    findings = _findings(season, declared, decisions) if unasked else ()
    now = dt.datetime.now().astimezone().isoformat(timespec="seconds")
    taken = take_answers(lines, season, declared, decisions, findings, at=now, who=who)
    for decision in taken.decisions:
        log.append(decision)
    return taken


def _findings(season: Season, declared: Declarations, decisions: Sequence[Decision]) -> tuple[Finding, ...]:
    """Audit the season with the decisions applied."""
    from audit.review.replay import replay

    return check(replay(season, declared, decisions).season, schemas=declared).findings
