"""Forward and backward through long chains of two hidden states, without a loop over their links."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["Beliefs", "forward_backward", "product"]

_TINY = 1e-300
#: Products are kept from running out of floating point after so many steps.
_STEPS = 8
#: So many blocks for each step within a block: a step costs as much as some dozens of numbers.
_WIDER = 64


@dataclass(frozen=True, slots=True)
class Beliefs:
    """What the whole chain says about the state on both sides of each link.

    Attributes
    ----------
    before : numpy.ndarray, shape (2, 2, n)
        Probability of the state behind the link before, and of that in front of this link.
    within : numpy.ndarray, shape (2, 2, n)
        Probability of the states in front of this link and behind it.
    arrived, left : numpy.ndarray, shape (2, n)
        Weights of the state in front of each link by all before it, and of that behind it by all after it:
        with `events` between them they make `within`.
    predicted : numpy.ndarray, shape (n,)
        Natural logarithm of the likelihood of each link given those before it in its chain.
    behind : numpy.ndarray, shape (2, n)
        Natural logarithm of the likelihood of all later links of the chain, by the state behind this one.
    """

    before: Floats
    within: Floats
    arrived: Floats
    left: Floats
    predicted: Floats
    behind: Floats

    @property
    def log_likelihood(self) -> float:
        """Natural logarithm of the likelihood of all chains."""
        return float(self.predicted.sum())


def forward_backward(
    gaps: Floats, events: Floats, fresh: NDArray[np.bool_], first: Floats, *, following: bool = True
) -> Beliefs:
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
        Probability of the state in which a chain begins; used where one begins.
    following : bool
        Whether `behind` is asked for; else it is empty.

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
        none, pair = np.empty((2, 2, 0)), np.empty((2, 0))
        return Beliefs(none, none, pair, pair, np.empty(0), pair)
    begun = np.flatnonzero(fresh)
    start = first[:, begun] if first.ndim == 2 else first[:, None]  # noqa: PLR2004 - axes
    gaps = gaps.copy()
    gaps[:, :, begun] = start
    wide = min(n, max(_WIDER, int(np.sqrt(_WIDER * n))))
    long = -(-n // wide)
    links = np.empty((2, 2, wide * long))
    for a in (0, 1):
        np.multiply(gaps[a, 0], events[0], out=links[a, :, :n])
        links[a, :, :n] += gaps[a, 1] * events[1]
        links[a, :, n:] = np.eye(2)[a][:, None]
    links = np.ascontiguousarray(links.reshape(2, 2, wide, long).swapaxes(2, 3))
    size = np.maximum(links.sum(axis=(0, 1)), _TINY)
    links /= size
    ahead, beyond = _ends(_totals(links))
    prior, predicted = _forward(links, ahead, n)
    backward, passed = _backward(links, beyond, n)
    seen = events[:, 0] * backward[0]
    seen += events[:, 1] * backward[1]
    arrived = prior[0] * gaps[0]
    arrived += prior[1] * gaps[1]
    before = gaps
    before *= prior[:, None]
    before *= seen
    before /= np.maximum(before.sum(axis=(0, 1)), _TINY)
    within = arrived[:, None] * events
    within *= backward
    whole = np.maximum(within.sum(axis=(0, 1)), _TINY)
    within /= whole
    logs = np.log(size).T.reshape(-1)[:n]
    behind = np.empty((2, 0))
    if following:
        # sums over the later links of a chain, from the end of all
        later = np.append(np.cumsum((passed + logs)[::-1])[::-1][1:], 0.0)
        ends = np.append(begun[1:], n) - 1
        with np.errstate(divide="ignore"):
            behind = np.log(2 * backward) + (later - np.repeat(later[ends], np.diff(begun, append=n)))
    return Beliefs(before, within, arrived, backward / whole, predicted + logs, behind)


def _totals(links: Floats) -> Floats:
    """Products over whole blocks, shape (2, 2, wide), each scaled."""
    total = links[:, :, 0]
    for step in range(1, links.shape[2]):
        total = product(total, links[:, :, step])
        if step % _STEPS == 0:
            total /= np.maximum(total.sum(axis=(0, 1)), _TINY)
    found: Floats = total / np.maximum(total.sum(axis=(0, 1)), _TINY)
    return found


def product(one: Floats, other: Floats) -> Floats:
    """Products of matrices, all of shape (2, 2, n)."""
    found: Floats = one[:, 0, None] * other[0]
    found += one[:, 1, None] * other[1]
    return found


def _ends(total: Floats) -> tuple[Floats, Floats]:
    """State with which each block begins, and what follows behind it, both of shape (2, wide)."""
    wide = total.shape[2]
    ahead, behind = np.full((2, wide), 0.5), np.full((2, wide), 0.5)
    before, after = total, total
    step = 1
    # products over twice as many blocks at each turn, up to each block and from it on
    while step < wide:
        longer = product(before[:, :, :-step], before[:, :, step:])
        longer /= np.maximum(longer.sum(axis=(0, 1)), _TINY)
        before = np.concatenate([before[:, :, :step], longer], axis=2)
        longer = product(after[:, :, :-step], after[:, :, step:])
        longer /= np.maximum(longer.sum(axis=(0, 1)), _TINY)
        after = np.concatenate([longer, after[:, :, -step:]], axis=2)
        step *= 2
    ahead[:, 1:] = before[:, :, :-1].sum(axis=0)
    behind[:, :-1] = after[:, :, 1:].sum(axis=1)
    return ahead / ahead.sum(axis=0), behind / behind.sum(axis=0)


def _forward(links: Floats, ahead: Floats, n: int) -> tuple[Floats, Floats]:
    """State in front of each link given all before, shape (2, n), and the log likelihood of each."""
    _, _, long, wide = links.shape
    found, scales = np.empty((2, long, wide)), np.empty((long, wide))
    now = ahead
    for step in range(long):
        found[:, step] = now
        now = now[0] * links[0, :, step] + now[1] * links[1, :, step]
        scale = scales[step]
        np.add(now[0], now[1], out=scale)
        np.maximum(scale, _TINY, out=scale)
        now /= scale
    return found.swapaxes(1, 2).reshape(2, -1)[:, :n], np.log(scales.T.reshape(-1)[:n])


def _backward(links: Floats, behind: Floats, n: int) -> tuple[Floats, Floats]:
    """Likelihood of all behind each link given the state there, summing to one, and the logs of the sums."""
    _, _, long, wide = links.shape
    found, scales = np.empty((2, long, wide)), np.empty((long, wide))
    now = behind
    for step in range(long - 1, -1, -1):
        found[:, step] = now
        now = links[:, 0, step] * now[0] + links[:, 1, step] * now[1]
        scale = scales[step]
        np.add(now[0], now[1], out=scale)
        np.maximum(scale, _TINY, out=scale)
        now /= scale
    return found.swapaxes(1, 2).reshape(2, -1)[:, :n], np.log(scales.T.reshape(-1)[:n])
