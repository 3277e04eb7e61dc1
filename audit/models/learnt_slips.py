"""Shares and rates of slips after a team's own have been counted."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = ["learn", "learn_rate"]


def learn(shares: Mapping[str, float], counts: Mapping[str, float], weight: float) -> dict[str, float]:
    """Shares of slips after a team's own have been counted: mean of the Dirichlet posterior.

    Parameters
    ----------
    shares : mapping of str to float
        Declared share of each kind.
    counts : mapping of str to float
        Decided slips of a team's own by kind; a kind left out was not met.
    weight : float
        How many slips the declared shares count for.

    Returns
    -------
    dict of str to float
        They sum to what the declared shares sum to, 1.

    Raises
    ------
    ValueError
        A kind that is not declared, a negative count, or no weight.

    References
    ----------
    Gelman, A. et al. (2013). Bayesian data analysis, 3rd edition, section 3.4: the multinomial model and its
    conjugate prior.

    Examples
    --------
    >>> learnt = learn({"digit": 0.72, "other": 0.28}, {"digit": 10, "other": 10}, 50)
    >>> round(learnt["digit"], 4), (36 + 10) / 70
    (0.6571, 0.6571428571428571)
    """
    strange = sorted(set(counts) - set(shares))
    if strange:
        raise ValueError(f"no share is declared for {', '.join(strange)}")
    if weight <= 0 or any(count < 0 for count in counts.values()):
        raise ValueError("counts must not be negative, and the weight must be above 0")
    total = sum(shares.values())
    met = sum(counts.values())
    return {
        kind: total * (weight * share / total + counts.get(kind, 0)) / (weight + met)
        for kind, share in shares.items()
    }


def learn_rate(rate: float, wrong: float, cells: float, weight: float, allowed: tuple[float, float]) -> float:
    """Probability of a slip in one cell after a team's own cells were counted, kept within what is allowed.

    Parameters
    ----------
    rate : float
        Declared probability.
    wrong, cells : float
        Cells that were decided to be wrong, of how many.
    weight : float
        How many cells the declared probability counts for.
    allowed : tuple of two floats
        Least and greatest probability that may be learnt.

    Returns
    -------
    float
        Mean of the Beta posterior.

    Raises
    ------
    ValueError
        More wrong cells than cells, a negative count, or no weight.

    Examples
    --------
    >>> learn_rate(0.005, 8, 600, 400, (0.001, 0.036))
    0.01
    """
    if weight <= 0 or not 0 <= wrong <= cells:
        raise ValueError(
            "of the cells, at least none and at most all can be wrong; the weight must be above 0"
        )
    learnt = (weight * rate + wrong) / (weight + cells)
    return float(min(max(learnt, allowed[0]), allowed[1]))
