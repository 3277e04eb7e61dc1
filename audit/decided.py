"""What was decided about a season: the list of it, what is left to settle, and the clean season."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from audit.checking import declarations_of
from audit.handover.clean.decided_page import decided_tables, decided_text
from audit.refusal import Refusal
from audit.review.log import DecisionLog, log_path
from audit.review.replay import Replayed, replay

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audit.declarations import Declarations
    from audit.review.log import Damaged
    from audit.season import Season

__all__ = ["Decisions", "decisions"]


@dataclass(frozen=True, slots=True)
class Decisions:
    """All that was decided about a season, as a table that reads well without a kernel.

    Attributes
    ----------
    replayed : Replayed
        What was applied, kept, asked, and what has no place or is in conflict.
    damaged : tuple of Damaged
        Lines of the logs that do not count.
    inputs : tuple of Path
        The season and the logs that were read.
    """

    replayed: Replayed
    damaged: tuple[Damaged, ...] = ()
    inputs: tuple[Path, ...] = ()

    @property
    def season(self) -> Season:
        """The clean season."""
        return self.replayed.season

    @property
    def is_settled(self) -> bool:
        """Whether there is no conflict, no decision without a place and no open question."""
        return self.replayed.is_settled

    def conflicts(self) -> Decisions:
        """Show only the cells on which two decisions differ."""
        return replace(
            self,
            replayed=Replayed(self.season, conflicts=self.replayed.conflicts, held=self.replayed.held),
            damaged=(),
        )

    def orphans(self) -> Decisions:
        """Show only the decisions that have no place in the sheet any more."""
        return replace(self, replayed=Replayed(self.season, orphans=self.replayed.orphans), damaged=())

    def write(self, out: str | Path) -> list[Path]:
        """Write the clean tables and the page of decisions into a folder.

        Raises
        ------
        audit.refusal.Refusal
            The folder cannot be written to, or a result would replace a file that was read.
        """
        from audit.handover.clean.clean_files import write_clean

        return write_clean(self.replayed, Path(out), inputs=self.inputs, damaged=self.damaged)

    def __repr__(self) -> str:
        return decided_text(self.replayed, self.damaged)

    def _repr_html_(self) -> str:
        return decided_tables(self.replayed, self.damaged)


def decisions(
    season: Season,
    log: str | Path | DecisionLog | Sequence[str | Path] | None = None,
    *,
    schemas: str | Path | Declarations | None = None,
) -> Decisions:
    """Gather what was decided about a season.

    Parameters
    ----------
    season : Season
        As typed, read by `audit.read_season`.
    log : path, several paths or DecisionLog, optional
        By default the log beside the season. Logs of several people are put together in memory: none of them
        is written to.
    schemas : path or Declarations, optional
        A team's folder of declarations, laid over the shipped ones.

    Returns
    -------
    Decisions
        Shown as a table; ``season`` is the clean season, ``conflicts()`` and ``orphans()`` what is left.

    Raises
    ------
    audit.refusal.Refusal
        A log that was named is not there or is none.
    """
    source = [Path(season.source)] if season.source and Path(season.source).exists() else []
    if isinstance(log, DecisionLog):
        logs, whole = [log.path] if log.path else [], log
    else:
        logs = _logs(season, log)
        whole = DecisionLog.open(None)
        for path in logs:
            whole.merge(path)
    replayed = replay(season, declarations_of(schemas), whole.decisions)
    return Decisions(replayed, whole.damaged, (*source, *logs))


def _logs(season: Season, log: str | Path | Sequence[str | Path] | None) -> list[Path]:
    if log is None:
        path = log_path(season)
        return [path] if path is not None and path.exists() else []
    return [Path(log)] if isinstance(log, str | Path) else [Path(one) for one in log]


def merge_text(log: Path, other: Path) -> tuple[str, bool]:
    """Add the decisions of another log to one, and say in words what came of it.

    Returns
    -------
    text : str
        What was added, and how many cells people differ on.
    differs : bool
        Whether there is such a cell, or a line that does not count.
    """
    from audit.review.standing import standing
    from audit.review.wording import counted

    if not log.exists():
        raise Refusal(
            "There is no such log of decisions.", where=str(log), cure="Name the file as it is called."
        )
    mine = DecisionLog.open(log)
    added = mine.merge(other)
    conflicts = standing(mine.decisions).conflicts
    told = [f"{counted(added, 'decision')} added to {log}; it holds {len(mine.decisions):,} now."]
    if conflicts:
        told.append(f"{counted(len(conflicts), 'cell')} on which people differ: decide them once more.")
    return "\n".join([*told, *map(str, mine.damaged), *mine.notices]), bool(conflicts or mine.damaged)


def clean_text(done: Decisions, written: Sequence[Path]) -> str:
    """Say what was decided and where the clean season was written."""
    return "\n".join([repr(done), "\nWritten:", *(f"  {path}" for path in written)])
