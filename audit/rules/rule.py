"""A rule: one question about a season, and what it needs to answer it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping

    from audit.findings import Finding, NotRun
    from audit.rules.case import Case
    from audit.season import Season

__all__ = ["Rule"]


@dataclass(frozen=True, slots=True)
class Rule:
    """One question.

    Attributes
    ----------
    slug : str
        Name of the rule and of its declaration ``schemas/rules/<slug>.yaml``.
    needs : mapping of str to tuple of str
        Canonical columns needed, by table. Without them the rule reports itself as not run.
    check : callable
        Takes a `Case`, yields findings and, for parts that could not run, `NotRun` records.
    """

    slug: str
    needs: Mapping[str, tuple[str, ...]]
    check: Callable[[Case], Iterator[Finding | NotRun]]

    def missing(self, season: Season) -> str:
        """Say which tables or columns are missing; empty when all are there."""
        lacking = []
        for table, fields in self.needs.items():
            if not season.has(table):
                lacking.append(f"no table '{table}'")
                continue
            absent = [name for name in fields if not season.has(table, name)]
            if absent:
                names = ", ".join(f"'{name}'" for name in absent)
                lacking.append(f"'{table}' has no column {names}")
        return "; ".join(lacking)
