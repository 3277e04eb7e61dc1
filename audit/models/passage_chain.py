"""Forward and backward through long chains of two hidden states, without a loop over their links."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["Beliefs", "forward_backward"]

_TINY = 1e-300
#: Products are kept from running out of floating point after so many steps.
_STEPS = 8


@dataclass(frozen=True, slots=True)
class Beliefs:
    """What the whole chain says about the state on both sides of each link.

    Attributes
    ----------
    before : numpy.ndarray, shape (2, 2, n)
        Probability of the state behind the link before, and of that in front of this link.
    within : numpy.ndarray, shape (2, 2, n)
        Probability of the states in front of this link and behind it.
    predicted : numpy.ndarray, shape (n,)
        Natural logarithm of the likelihood of each link given those before it in its chain.
    behind : numpy.ndarray, shape (2, n)
        Natural logarithm of the likelihood of all later links of the chain, by the state behind this one.
    """

    before: Floats
    within: Floats
    predicted: Floats
    behind: Floats

    @property
    def log_likelihood(self) -> float:
        """Natural logarithm of the likelihood of all chains."""
        return float(self.predicted.sum())


def forward_backward(gaps: Floats, events: Floats, fresh: NDArray[np.bool_], first: Floats) -> Beliefs:
    """Weigh the states of chains that lie one behind the other.

    Parameters
    ----------
    gaps : numpy.ndarray, shape (2, 2, n)
        From the state behind the link before to that in front of this one; not used where a chain begins.
    events : numpy.ndarray, shape (2, 2, n)
        Likelihood of what is seen at the link, for the states in front of it and behind it.
    fresh : numpy.ndarray of bool, shape (n,)
        Whether a chain begins here.
    first : numpy.ndarray, shape (2, n) or (2,)
        Probability of the state in which a chain begins.

    Returns
    -------
    Beliefs

    Notes
    -----
    A chain that begins is a gap whose rows are equal, so one pass serves all chains. The links are cut into
    blocks of equal length; products inside all blocks are made side by side, then the blocks are joined.

    References
    ----------
    Rabiner, L. R. (1989). A tutorial on hidden Markov models. Proceedings of the IEEE 77, 257-286: forward
    and backward with scaling. Blelloch, G. E. (1990). Prefix sums and their applications: scans in blocks.
    """
    n = len(fresh)
    if n == 0:
        none = np.empty((2, 2, 0))
        return Beliefs(none, none, np.empty(0), np.empty((2, 0)))
    gaps = gaps.copy()
    start = np.broadcast_to(first if first.ndim == 2 else first[:, None], (2, n))  # noqa: PLR2004 - axes
    gaps[:, :, fresh] = start[None, :, fresh]
    wide = min(n, max(64, int(2 * np.sqrt(n))))
    long = -(-n // wide)
    links = np.empty((2, 2, long, wide))
    for a in (0, 1):
        for b in (0, 1):
            product = gaps[a, 0] * events[0, b] + gaps[a, 1] * events[1, b]
            links[a, b] = _blocks(product, long, wide, float(a == b))
    size = np.maximum(links.sum(axis=(0, 1)), _TINY)
    links /= size
    total = _totals(links)
    ahead, behind = _ends(total)
    forward, predicted = _forward(links, ahead, n)
    backward, passed = _backward(links, behind, n)
    logs = np.log(size).T.reshape(-1)[:n]
    prior = np.empty((2, n))
    prior[:, 0], prior[:, 1:] = 0.5, forward[:, :-1]
    seen = np.stack([events[b, 0] * backward[0] + events[b, 1] * backward[1] for b in (0, 1)])
    before = prior[:, None] * gaps * seen[None, :]
    arrived = np.stack([prior[0] * gaps[0, b] + prior[1] * gaps[1, b] for b in (0, 1)])
    within = arrived[:, None] * events * backward[None, :]
    before /= np.maximum(before.sum(axis=(0, 1)), _TINY)
    within /= np.maximum(within.sum(axis=(0, 1)), _TINY)
    # sums over the later links of a chain, from the end of all
    later = np.cumsum((passed + logs)[::-1])[::-1]
    chain = np.cumsum(fresh) - 1
    beyond = np.append(later[1:], 0.0)
    ends = np.append(np.flatnonzero(fresh)[1:], n) - 1
    rest = beyond - beyond[ends][chain]
    with np.errstate(divide="ignore"):
        following = np.log(2 * backward) + rest
    return Beliefs(before, within, predicted + logs, following)


def _blocks(values: Floats, long: int, wide: int, fill: float) -> Floats:
    """Lay links out so that one row holds the same step of all blocks."""
    padded = np.full(long * wide, fill)
    padded[: len(values)] = values
    return padded.reshape(wide, long).T


def _totals(links: Floats) -> Floats:
    """Products over whole blocks, shape (2, 2, wide), each scaled."""
    a, b, c, d = (links[i, j, 0].copy() for i in (0, 1) for j in (0, 1))
    for step in range(1, links.shape[2]):
        p, q, r, s = (links[i, j, step] for i in (0, 1) for j in (0, 1))
        a, b, c, d = a * p + b * r, a * q + b * s, c * p + d * r, c * q + d * s
        if step % _STEPS == 0:
            scale = np.maximum(a + b + c + d, _TINY)
            a, b, c, d = a / scale, b / scale, c / scale, d / scale
    return np.array([[a, b], [c, d]])


def _ends(total: Floats) -> tuple[Floats, Floats]:
    """State with which each block begins, and what follows behind it, both of shape (2, wide)."""
    wide = total.shape[2]
    ahead, behind = np.empty((2, wide)), np.empty((2, wide))
    one, other = 0.5, 0.5
    cells = [tuple(map(float, total[:, :, k].ravel())) for k in range(wide)]
    for k, (a, b, c, d) in enumerate(cells):
        ahead[:, k] = one, other
        one, other = one * a + other * c, one * b + other * d
        scale = one + other or 1.0
        one, other = one / scale, other / scale
    one, other = 0.5, 0.5
    for k in range(wide - 1, -1, -1):
        behind[:, k] = one, other
        a, b, c, d = cells[k]
        one, other = a * one + b * other, c * one + d * other
        scale = one + other or 1.0
        one, other = one / scale, other / scale
    return ahead, behind


def _forward(links: Floats, ahead: Floats, n: int) -> tuple[Floats, Floats]:
    """State behind each link given all before, shape (2, n), and the log likelihood of each."""
    _, _, long, wide = links.shape
    found, scales = np.empty((2, long, wide)), np.empty((long, wide))
    one, other = ahead
    for step in range(long):
        one, other = (
            one * links[0, 0, step] + other * links[1, 0, step],
            one * links[0, 1, step] + other * links[1, 1, step],
        )
        scale = np.maximum(one + other, _TINY)
        one, other = one / scale, other / scale
        found[0, step], found[1, step], scales[step] = one, other, scale
    flat = found.transpose(0, 2, 1).reshape(2, -1)[:, :n]
    return flat, np.log(scales.T.reshape(-1)[:n])


def _backward(links: Floats, behind: Floats, n: int) -> tuple[Floats, Floats]:
    """Likelihood of all behind each link given the state there, summing to one, and the logs of the sums."""
    _, _, long, wide = links.shape
    found, scales = np.empty((2, long, wide)), np.empty((long, wide))
    one, other = behind
    for step in range(long - 1, -1, -1):
        found[0, step], found[1, step] = one, other
        one, other = (
            links[0, 0, step] * one + links[0, 1, step] * other,
            links[1, 0, step] * one + links[1, 1, step] * other,
        )
        scale = np.maximum(one + other, _TINY)
        one, other, scales[step] = one / scale, other / scale, scale
    return found.transpose(0, 2, 1).reshape(2, -1)[:, :n], np.log(scales.T.reshape(-1)[:n])
