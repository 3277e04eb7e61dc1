"""What was decided about a season of an archive: read from the log that lies beside its file."""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING

from audit.handover.gate.said import Said, said_in
from audit.intake.wording import counted
from audit.review.log import DecisionLog, log_beside
from audit.review.replay import replay

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from pathlib import Path

    from audit.declarations import Declarations
    from audit.findings import Finding
    from audit.review.log import Damaged
    from audit.review.replay import Replayed
    from audit.season import Season

__all__ = ["NOTHING_SAID", "decided_beside", "has_log", "log_digest", "not_answered", "said_beside"]

#: Of a season beside which no log lies.
NOTHING_SAID = Said({}, frozenset())


def has_log(path: Path) -> bool:
    """Whether a log of decisions lies beside a file, or a folder of text files."""
    return log_beside(path).exists()


def log_digest(path: Path) -> str:
    """Give a checksum of the log beside a file; empty where there is none."""
    log = log_beside(path)
    return hashlib.blake2b(log.read_bytes(), digest_size=16).hexdigest() if log.exists() else ""


def decided_beside(season: Season, path: Path, declared: Declarations) -> tuple[Season, tuple[str, ...]]:
    """Give a season with all that was decided about it, and what a person should know of that.

    Parameters
    ----------
    season : Season
        As typed, read from `path`.
    path : Path
    declared : Declarations

    Raises
    ------
    audit.refusal.Refusal
        What lies beside it is no log, or may not be read.
    """
    if not has_log(path):
        return season, ()
    replayed, damaged = _replayed(season, path, declared)
    return replayed.season, tuple(_notices(replayed, damaged))


def said_beside(season: Season, path: Path, declared: Declarations) -> tuple[Season, Said]:
    """Give a season with all that was decided about it, and what was said of each of its cells."""
    if not has_log(path):
        return season, NOTHING_SAID
    replayed, _ = _replayed(season, path, declared)
    return replayed.season, said_in(replayed)


def not_answered(findings: Iterable[Finding], said: Said) -> list[Finding]:
    """Take the findings of which a cell is left that nobody kept or amended knowing of them."""
    return [
        finding
        for finding in findings
        if not finding.suspects
        or any(
            said.stand((one.cell.label, one.cell.field), finding.rule, finding.identity) != "answered"
            for one in finding.suspects
        )
    ]


def _replayed(season: Season, path: Path, declared: Declarations) -> tuple[Replayed, tuple[Damaged, ...]]:
    log = DecisionLog.open(log_beside(path))
    return replay(season, declared, log.decisions), log.damaged


def _notices(replayed: Replayed, damaged: tuple[Damaged, ...]) -> Iterator[str]:
    yield "What was decided about it stands in the log beside it, and is not asked again."
    left = {
        "cell is disputed": "cells are disputed",
        "decided cell has no place in it any more": "decided cells have no place in it any more",
        "line of the log does not count": "lines of the log do not count",
    }
    many = (len(replayed.conflicts), len(replayed.orphans), len(damaged))
    for number, (one, several) in zip(many, left.items(), strict=True):
        if number:
            yield f"{counted(number, one, several)}: nestproof gate tells which."
