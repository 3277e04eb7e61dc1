"""A season with all that was decided: what every file that goes out is made from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from audit.declarations import Declarations
    from audit.findings import Report
    from audit.review.decisions import Decision
    from audit.review.log_records import Damaged
    from audit.review.replay import Replayed
    from audit.season import Season

__all__ = ["DecidedSeason"]


@dataclass(frozen=True, slots=True)
class DecidedSeason:
    """A season as typed, what was decided about it, and what the audit says of it now.

    Attributes
    ----------
    typed : Season
        As typed.
    replayed : Replayed
        All that was decided, in its place; ``replayed.season`` is the clean season.
    decisions : tuple of Decision
        All of the log.
    damaged : tuple of Damaged
        Lines of the log that do not count.
    report : Report
        What the audit finds in the clean season.
    declared : Declarations
        What both were read and audited with.
    """

    typed: Season
    replayed: Replayed
    decisions: tuple[Decision, ...]
    report: Report
    declared: Declarations
    damaged: tuple[Damaged, ...] = ()

    @property
    def clean(self) -> Season:
        """The clean season."""
        return self.replayed.season
