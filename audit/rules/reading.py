"""Could every cell be read for what it says? Turns the notes of the intake into findings."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace
from typing import TYPE_CHECKING

from audit.rules.case import At, Case
from audit.rules.rule import EVERYTHING, Rule
from audit.season import split_label

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.findings import Finding, NotRun
    from audit.season import Reading

__all__ = ["RULE"]


def check(case: Case) -> Iterator[Finding | NotRun]:
    """Tell every cell that was not plain: errors and suspects one by one, many like notes together."""
    silent = frozenset(case.limit("without_finding"))
    alike: dict[tuple[str, str, str], list[Reading]] = defaultdict(list)
    for reading in case.season.readings:
        if reading.kind not in silent:
            alike[split_label(reading.label)[0], reading.field, reading.kind].append(reading)
    for (sheet, field, kind), readings in alike.items():
        if case.rule.outcomes[kind].severity == "note":
            yield from _notes(case, kind, readings)
            continue
        for reading in readings:
            finding = case.blame(kind, [_at(reading)], _sentence(reading.remark))
            # one export damages a whole column: one slip, many cells
            yield replace(finding, group=f"{kind} {sheet} {field}") if kind in _ONE_SLIP else finding


#: Outcomes that one step in a spreadsheet does to many cells of a column.
_ONE_SLIP = frozenset({"damaged_code", "date_turned"})


def _notes(case: Case, kind: str, readings: list[Reading]) -> Iterator[Finding]:
    if len(readings) < case.limit("bundle_from"):
        for reading in readings:
            yield case.blame(kind, [_at(reading)], _sentence(reading.remark))
        return
    more = f"; so it is with {len(readings) - 1} other cells of this column"
    yield case.blame(kind, [_at(reading) for reading in readings], _sentence(readings[0].remark + more))


def _at(reading: Reading) -> At:
    return At(reading.label, reading.field, reading.value)


def _sentence(remark: str) -> str:
    return f"{remark[:1].upper()}{remark[1:]}."


RULE = Rule(
    slug="reading",
    needs={},
    check=check,
    heeds=EVERYTHING,
)
