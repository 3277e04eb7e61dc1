"""All sections of the report, in the order in which a reader wants them."""

from __future__ import annotations

from itertools import chain
from typing import TYPE_CHECKING

from audit.handover.season_report.brood_accounts import brood_accounts
from audit.handover.season_report.brood_section import brood_section
from audit.handover.season_report.closing import cautions, origins
from audit.handover.season_report.content import Contents
from audit.handover.season_report.decided_section import decided_section
from audit.handover.season_report.growth_section import growth_section
from audit.handover.season_report.marks_section import marks_section
from audit.handover.season_report.opening import opening
from audit.handover.season_report.typing_section import typing_section
from audit.handover.season_report.unchecked_section import unchecked_section

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audit.findings import Report
    from audit.handover.clean.decided_season import DecidedSeason

__all__ = ["contents"]


def contents(decided: DecidedSeason, before: Report, inputs: Sequence[tuple[str, str]] = ()) -> Contents:
    """Lay out the report of a decided season.

    Parameters
    ----------
    before : Report
        What the audit found in the season as typed.
    inputs : sequence of (str, str)
        Names of the files that were read, with their SHA-256.
    """
    accounts = brood_accounts(decided.clean, decided.declared)
    blocks = chain(
        opening(decided, before),
        brood_section(accounts, decided.declared),
        marks_section(decided),
        growth_section(decided),
        decided_section(decided, before),
        typing_section(decided),
        unchecked_section(decided),
        cautions(decided),
        origins(decided, inputs),
    )
    sender = decided.declared.sender
    title = sender.title or f"Season {decided.clean.name}"
    return Contents(f"{title}: report of the season", tuple(blocks))
