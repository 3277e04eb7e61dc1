"""A rule: one question about a season, and what it needs to answer it."""

from __future__ import annotations

from dataclasses import dataclass, field
from types import MappingProxyType
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping

    from audit.findings import Finding, NotRun
    from audit.rules.case import Case
    from audit.season import Season

__all__ = ["EVERYTHING", "Rule"]

#: What a rule heeds that looks at every column of every table, or at how cells were read.
EVERYTHING: Mapping[str, tuple[str, ...]] = MappingProxyType({"*": ("*",)})


#: What is said where a table is missing that nobody types.
_WANTING = {"earlier": "no earlier season was given"}


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
    heeds : mapping of str to tuple of str
        Every column on which the answers depend, by table, `needs` included: a rule is not asked again when
        a cell of another column was edited. Box, date, ring and tag by which a finding is found again, and
        texts as typed that it shows, do not count. `EVERYTHING` for a rule that does not say.
    """

    slug: str
    needs: Mapping[str, tuple[str, ...]]
    check: Callable[[Case], Iterator[Finding | NotRun]]
    heeds: Mapping[str, tuple[str, ...]] = field(default_factory=lambda: EVERYTHING)

    def minds(self, columns: Iterable[tuple[str, str]]) -> bool:
        """Whether the answers may depend on any of these columns, given as (table, column)."""
        return self.heeds is EVERYTHING or any(name in self.heeds.get(table, ()) for table, name in columns)

    def missing(self, season: Season) -> str:
        """Say which tables or columns are missing; empty when all are there."""
        lacking = []
        for table, fields in self.needs.items():
            if not season.has(table):
                lacking.append(_WANTING.get(table, f"no table '{table}'"))
                continue
            absent = [name for name in fields if not season.has(table, name)]
            if absent:
                names = ", ".join(f"'{name}'" for name in absent)
                lacking.append(f"'{table}' has no column {names}")
        return "; ".join(lacking)
