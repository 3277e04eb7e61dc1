"""Open the desk of a season: its log found beside the workbook, its decisions taken up again."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from audit.review.deciding import Deciding
from audit.review.log import DecisionLog, log_path

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from audit.checked import Checked
    from audit.findings import Finding, Report
    from audit.review.desk import Desk
    from audit.review.excerpts import Excerpt

__all__ = ["open_desk", "take_up"]


def take_up(
    checked: Checked, *, who: str = "", log: str | Path | None = None, also: Sequence[Finding] = ()
) -> Deciding:
    """Take up a season where its log leaves off.

    Parameters
    ----------
    checked : Checked
        The season as typed, audited.
    who : str
        Initials of the person; may be typed at the desk.
    log : path, optional
        The log of decisions; by default ``<stem>.decisions.jsonl`` beside the workbook. A season made of data
        frames has no file, and its decisions are kept in memory unless a log is named.
    also : sequence of Finding
        Findings beside those of the audit.

    Raises
    ------
    audit.refusal.Refusal
        The log cannot be read.
    """
    path = log_path(checked.season) if log is None else Path(log)
    return Deciding(checked, DecisionLog.open(path), who, also)


def open_desk(
    checked: Checked,
    report: Report,
    *,
    who: str = "",
    log: str | Path | None = None,
    also: Sequence[Finding] = (),
    evidence: Callable[[Finding], Excerpt | None] | None = None,
) -> Desk:
    """Open the desk of a season that was audited.

    Parameters
    ----------
    who, log, also
        As for `take_up`.
    evidence : callable, optional
        Gives a further excerpt for a finding, such as the row of a second typing.
    """
    from audit.review.desk import Desk

    del report  # that of the season as it was audited
    return Desk(take_up(checked, who=who, log=log, also=also), evidence)
