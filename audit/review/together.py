"""Whether all cells that a finding blames are wrong together, or one of them instead of another."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from audit.declarations import Declarations
    from audit.findings import Finding

__all__ = ["wrong_together"]


def wrong_together(finding: Finding, declared: Declarations) -> bool:
    """Say whether the suggestions of a finding may be accepted as one.

    Parameters
    ----------
    finding : Finding
        With one suspect or several.
    declared : Declarations
        ``review.yaml`` says how sure each of several cells must be.

    Returns
    -------
    bool
        True for a single cell, and where every one of several cells is surely wrong. A cell among them may
        have no suggestion, such as the last one of a column that slid: it is left as it stands.

    Notes
    -----
    If one of n cells is wrong instead of another, their probabilities add up to 1 at most, so that the least
    of them is 1/n or less. If one slip moved them all, each has the probability of that slip. The chance that
    all are wrong lies between sum(p) - (n - 1) and min(p) (Fréchet, M. (1935). Généralisation du théorème
    des probabilités totales. Fundamenta Mathematicae 25, 379-387; from memory); it is min(p) where one slip
    explains them, the only reason for which a rule blames several cells with more than an even chance each.
    """
    if len(finding.suspects) == 1:
        return True
    least = float(declared.settings["review.together.least"].value)
    return all(one.p_error >= least for one in finding.suspects)
