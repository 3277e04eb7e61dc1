"""What is to be decided, the greatest expected harm first."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from audit.findings import SEVERITIES

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from audit.declarations import Declarations
    from audit.findings import Finding

__all__ = ["Item", "State", "consequences", "harm", "notes", "worklist"]

State = Literal["open", "asked", "kept", "decided"]

_KEY = "review.consequence."

#: Where a finding stands: sheet, row, length of the column letters, letters, rule, identity.
Place = tuple[str, int, int, str, str, str]


@dataclass(frozen=True, slots=True)
class Item:
    """Findings that one slip explains: looked at and decided together.

    Attributes
    ----------
    group : str
        Group of the findings.
    findings : tuple of Finding
        The most harmful first.
    harm : float
        Expected harm: probability times consequence, summed over the suspect cells, each counted once.
    """

    group: str
    findings: tuple[Finding, ...]
    harm: float


def worklist(findings: Sequence[Finding], declared: Declarations) -> tuple[Item, ...]:
    """Order errors and suspects by expected harm, those of one explanation together.

    Parameters
    ----------
    findings : sequence of Finding
        Of one report, in any order. Notes are left out: see `notes`.
    declared : Declarations
        Says in ``review.yaml`` what a wrong cell of each column costs.

    Returns
    -------
    tuple of Item
        The most harmful first; those of the same harm as they stand in the sheet.
    """
    return _ordered((one for one in findings if one.severity != "note"), declared)


def notes(findings: Sequence[Finding], declared: Declarations) -> tuple[Item, ...]:
    """Order the notes alone: worth knowing, and not to be decided unless a person wants to.

    Parameters and order are those of `worklist`.
    """
    return _ordered((one for one in findings if one.severity == "note"), declared)


def harm(findings: Iterable[Finding], declared: Declarations) -> float:
    """Sum probability times consequence over the suspect cells of findings.

    A cell that several findings blame counts once, with the highest of its probabilities: they are about the
    same slip.
    """
    return _sum(findings, consequences(declared))


def _ordered(findings: Iterable[Finding], declared: Declarations) -> tuple[Item, ...]:
    costs = consequences(declared)
    groups: dict[tuple[str, int], list[Finding]] = {}
    for number, finding in enumerate(findings):
        # a finding that no audit named stands alone
        groups.setdefault((finding.group, 0 if finding.group else number), []).append(finding)
    items = []
    for (group, _), members in groups.items():
        members.sort(
            key=lambda one: (-_sum((one,), costs), SEVERITIES.index(one.severity), _place_of(one)),
        )
        items.append(Item(group, tuple(members), _sum(members, costs)))
    return tuple(sorted(items, key=lambda item: (-item.harm, min(map(_place_of, item.findings)))))


def consequences(declared: Declarations) -> dict[str, float]:
    """Consequence of a wrong cell by canonical column; ``other`` for all that are not named."""
    return {
        key.removeprefix(_KEY): float(limit.value)
        for key, limit in declared.settings.items()
        if key.startswith(_KEY)
    }


def _sum(findings: Iterable[Finding], costs: dict[str, float]) -> float:
    surest: dict[tuple[str, str], float] = {}
    for finding in findings:
        for suspect in finding.suspects:
            key = (suspect.cell.label, suspect.cell.field)
            surest[key] = max(surest.get(key, 0.0), suspect.p_error)
    # rounded, so that the same cells in another order are the same harm
    return round(sum(p * costs.get(field, costs["other"]) for (_, field), p in surest.items()), 9)


def _place_of(finding: Finding) -> Place:
    cell = finding.suspects[0].cell
    letters = cell.address.rstrip("0123456789")
    return cell.sheet, cell.row, len(letters), letters, finding.rule, finding.identity
