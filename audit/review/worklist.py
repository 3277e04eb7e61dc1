"""What is to be decided, the greatest expected harm first."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audit.declarations import Declarations
    from audit.findings import Finding

__all__ = ["Item", "State", "worklist"]

State = Literal["open", "asked", "kept", "decided"]


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
    """Order findings by expected harm, those of one explanation together."""
    raise NotImplementedError
