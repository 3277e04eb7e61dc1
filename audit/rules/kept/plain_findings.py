"""Findings as plain values and back: cells are kept as row and column, and shown as they stand now."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, cast

from audit.findings import SEVERITIES, Finding, Suspect

if TYPE_CHECKING:
    from collections.abc import Iterable

    from audit.findings import Cell, Severity
    from audit.season import Season

__all__ = ["finding_from", "plain_finding"]


def plain_finding(finding: Finding) -> list[Any]:
    """Write a finding, as a rule made it, as values that JSON can hold."""
    return [
        finding.rule,
        finding.severity,
        [
            [*_place(one.cell), one.suggested, one.p_error, one.p_fix, [list(other) for other in one.others]]
            for one in finding.suspects
        ],
        finding.message,
        [_place(cell) for cell in finding.witnesses],
        finding.identity,
        finding.group,
    ]


def finding_from(values: Iterable[Any], season: Season) -> Finding:
    """Read a finding back.

    Raises
    ------
    KeyError, TypeError, ValueError
        These are no values of a finding about this season.
    """
    rule, severity, suspects, message, witnesses, identity, group = values
    if severity not in SEVERITIES:
        raise ValueError(severity)
    return Finding(
        rule=str(rule),
        severity=cast("Severity", severity),
        suspects=tuple(
            Suspect(
                season.cell(label, field),
                str(suggested),
                float(p_error),
                None if p_fix is None else float(p_fix),
                tuple((str(value), float(chance)) for value, chance in others),
            )
            for label, field, suggested, p_error, p_fix, others in suspects
        ),
        message=str(message),
        witnesses=tuple(season.cell(label, field) for label, field in witnesses),
        identity=str(identity),
        group=str(group),
    )


def _place(cell: Cell) -> list[str]:
    return [cell.label, cell.field]
