"""Does every cell keep to its declaration? The declared checks, run by pandera.

Foreign keys are left to the rule ``boxes`` and cells that could not be read to the rule ``reading``, so that
one slip is blamed once.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.declarations.to_pandera import blame
from audit.rules.breaches.bounds import out_of_range
from audit.rules.breaches.empty import left_out, missing
from audit.rules.breaches.fault import Fault
from audit.rules.breaches.twins import stands_again
from audit.rules.breaches.words import not_allowed, odd_form
from audit.rules.rule import EVERYTHING, Rule

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from audit.declarations.breach import Breach
    from audit.declarations.tables import TableDeclaration
    from audit.findings import Finding, NotRun
    from audit.rules.case import Case
    from audit.rules.layouts import Layouts

__all__ = ["RULE", "check", "known_breaches"]


def check(case: Case) -> Iterator[Finding | NotRun]:
    """Run the declared checks of every table and say what was probably meant.

    Parameters
    ----------
    case : Case
        The season, typed; every table that is declared is checked.

    Yields
    ------
    Finding
        ``missing``, ``range``, ``set``, ``pattern``, ``unique``, ``repeated`` or ``left_out``.
    """
    for name, table in case.declared.tables.items():
        if case.season.has(name):
            for fault in _faults(case, table):
                yield from _ANSWERS[fault.check](case, fault)
    if case.season.has("handlings"):
        yield from left_out(case)


RULE = Rule(
    slug="declared",
    needs={},
    check=check,
    heeds=EVERYTHING,
)


def known_breaches(layouts: Layouts, table: TableDeclaration, breaches: Sequence[Breach]) -> None:
    """Lay out the cells that break the declaration of a table, where they were found with those of others.

    Parameters
    ----------
    layouts : Layouts
        Of a season that no rule was asked about yet.
    table : TableDeclaration
    breaches : sequence of Breach
        From `declarations.to_pandera.blame_each`.
    """
    _breaches(layouts, table, lambda: breaches)


def _breaches(
    layouts: Layouts, table: TableDeclaration, find: Callable[[], Sequence[Breach]]
) -> Sequence[Breach]:
    found: Sequence[Breach] = layouts.get(("breaches", table.name), find, {table.name: table.names})
    return found


def _faults(case: Case, table: TableDeclaration) -> list[Fault]:
    found: dict[tuple[str, str], list[str]] = {}
    frame = case.frame(table.name)
    breaches = _breaches(case.layouts, table, lambda: blame(table, frame))
    for breach in breaches:
        # an absent column is refused by the reader
        if breach.label and not case.in_doubt(breach.label, breach.field):
            found.setdefault((breach.field, breach.check), []).append(breach.label)
    return [
        Fault(table, table.field(field), check, tuple(labels)) for (field, check), labels in found.items()
    ]


_ANSWERS = {
    "required": missing,
    "minimum": out_of_range,
    "maximum": out_of_range,
    "enum": not_allowed,
    "pattern": odd_form,
    "unique": stands_again,
}
