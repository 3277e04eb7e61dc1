"""How sure an explanation is, said at the end of its sentence."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from audit.findings import Finding

__all__ = ["with_certainty"]

#: Nobody is told of a whole hundred, or of none.
_MOST, _LEAST = 99, 1


def with_certainty(finding: Finding) -> Finding:
    """Add the probability to the sentence of an error or suspect that ends in a full stop.

    It is that of the value suggested, where there is one, else that of the cell being wrong. Where several
    cells share the blame for one slip the surest stands for all.

    Examples
    --------
    >>> from audit.findings import Cell, Finding, Suspect
    >>> cell = Cell("handlings", 2, "net", "L2", "net_g", "395", "handlings!2")
    >>> said = "Gross 395 g less bag 22 g is 373 g, but net says 395 g: the bag was not subtracted."
    >>> found = Finding("tare.not_subtracted", "error", (Suspect(cell, "373", 0.98, 0.97),), said)
    >>> with_certainty(found).message
    'Gross 395 g less bag 22 g is 373 g, but net says 395 g: the bag was not subtracted (97 %).'
    """
    if finding.severity == "note" or not finding.message.endswith("."):
        return finding
    chances = [
        suspect.p_fix if suspect.suggested and suspect.p_fix is not None else suspect.p_error
        for suspect in finding.suspects
    ]
    percent = round(100 * max(chances))
    told = (
        f"over {_MOST} %" if percent > _MOST else f"under {_LEAST} %" if percent < _LEAST else f"{percent} %"
    )
    said = finding.message[:-1]
    ending = f"{said[:-1]}, {told})" if said.endswith(")") else f"{said} ({told})"
    return replace(finding, message=f"{ending}.")
