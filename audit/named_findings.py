"""Findings put in order, each with a name of its own, and joined where one slip explains several."""

from __future__ import annotations

import hashlib
from collections import Counter
from dataclasses import replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from audit.findings import Cell, Finding

__all__ = ["identify", "join_groups", "sort_findings"]


def sort_findings(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Sort by sheet, row, column and rule of the first suspect."""

    def key(finding: Finding) -> tuple[str, int, int, str, str, str]:
        cell = finding.suspects[0].cell
        letters = cell.address.rstrip("0123456789")
        return (cell.sheet, cell.row, len(letters), letters, finding.rule, finding.message)

    return tuple(sorted(findings, key=key))


def identify(findings: Sequence[Finding]) -> tuple[Finding, ...]:
    """Give each finding an identity made from what was typed, not from where it stands.

    Two findings that cannot be told apart that way (the same row typed twice) are numbered in sheet order.
    """
    seen: Counter[str] = Counter()
    named = []
    for finding in findings:
        # sorted, so that two blamed rows may change places
        content = "\x1f".join([finding.rule, *sorted(_typed_content(s.cell) for s in finding.suspects)])
        digest = hashlib.blake2b(content.encode(), digest_size=6).hexdigest()
        seen[digest] += 1
        identity = digest if seen[digest] == 1 else f"{digest}-{seen[digest]}"
        named.append(replace(finding, identity=identity, group=finding.group or identity))
    return tuple(named)


def _typed_content(cell: Cell) -> str:
    marks = cell.marks
    return f"{cell.field}\x1e{cell.observed}\x1e{marks.box}\x1e{marks.date}\x1e{marks.ring}\x1e{marks.tag}"


def join_groups(findings: Sequence[Finding]) -> tuple[Finding, ...]:
    """Let findings that blame the same cell share a group: one slip explains them.

    Notes never pull other findings together. The group bears the first name of its members, whatever their
    order, so that it does not depend on row numbers either.
    """
    leader = {finding.group: finding.group for finding in findings}

    def find(group: str) -> str:
        while leader[group] != group:
            leader[group] = leader[leader[group]]
            group = leader[group]
        return group

    first_at: dict[tuple[str, str], str] = {}
    for finding in findings:
        if finding.severity == "note":
            continue
        for suspect in finding.suspects:
            key = (suspect.cell.label, suspect.cell.field)
            other = first_at.setdefault(key, finding.group)
            name, joined = sorted((find(finding.group), find(other)))
            leader[joined] = name
    return tuple(replace(finding, group=find(finding.group)) for finding in findings)
