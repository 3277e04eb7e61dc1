"""What can be known of a plain log by who knows everything but where the birds were.

The model is that of ``plain_logs``, with the true waits, shares and hearing and the true dead spell, so
nobody can do better but by luck. Between two groups of reads a bird is a Markov chain in continuous
time in which only what no antenna heard may happen; the 2 x 2 kernel has a closed form, and states are
weighed forward and backward (L. R. Rabiner 1989, A tutorial on hidden Markov models, Proceedings of the
IEEE 77, from memory; its printed calibration checks it). Only the few seconds that a crossing takes are
left out of the waits.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from plain_logs import BETWEEN_S, DAY_S, EVENING_S, NIGHT_S

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from plain_logs import Log

__all__ = ["Told", "best"]

WITHIN_S = 30.0  # as passages are matched
WORTH = 0.45  # telling pays from half of F1, which is 0.8 to 1


@dataclass(frozen=True, slots=True)
class Told:
    """One passage that is told: seconds since the start, whether it goes in, and its probability."""

    at: float
    into: bool
    p: float


def best(log: Log, box: str, tag: str) -> list[Told]:
    """Give the passages of one bird that are worth telling."""
    groups = _groups(log, box, tag)
    ends = [0.0, *(at for at, _ in groups), DAY_S * log.manner.nights]
    kernels = [_kernel(log, box, since, until) for since, until in pairwise(ends)]
    marks = [_mark(log, box, at, order) for at, order in groups]
    before = [np.array([0.5, 0.5]) @ kernels[0]]
    for mark, kernel in zip(marks, kernels[1:], strict=True):
        before.append(_scaled(before[-1] @ mark) @ kernel)
    after = [np.ones(2)]
    for mark, kernel in zip(reversed(marks), reversed(kernels[1:]), strict=True):
        after.append(_scaled(mark @ (kernel @ after[-1])))
    after.reverse()
    told = []
    for i, (mark, (at, _)) in enumerate(zip(marks, groups, strict=True)):
        joint = _scaled(before[i][:, None] * mark * (kernels[i + 1] @ after[i + 1])[None, :])
        told += _worth(at, joint, 1.0)
        if i + 1 < len(groups):  # a passage that nobody heard can only lie between two groups close together
            pause = max(groups[i + 1][0] - at, 1e-3)
            joint = _scaled((before[i] @ mark)[:, None] * kernels[i + 1] * after[i + 1][None, :])
            told += _worth(at + pause / 2, joint, min(1.0, 2 * WITHIN_S / pause))
    return told


def _worth(at: float, joint: NDArray[np.float64], near: float) -> list[Told]:
    chances = {True: float(joint[0, 1]) * near, False: float(joint[1, 0]) * near}
    return [Told(at, into, p) for into, p in chances.items() if p > WORTH]


def _scaled(values: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(values / values.sum())


def _groups(log: Log, box: str, tag: str) -> list[tuple[float, str]]:
    """Put reads together that are of one event; the order of the antennas is "o", "i", "oi" or "io"."""
    lasts = 2 * log.manner.chances * BETWEEN_S + 2
    groups: list[tuple[float, float, str]] = []
    for at, antenna in log.reads[box, tag]:
        sign = "oi"[antenna]
        if groups and at - groups[-1][0] < lasts and (sign == groups[-1][2][-1] or len(groups[-1][2]) == 1):
            since, _, order = groups[-1]
            groups[-1] = (since, at, order if order[-1] == sign else order + sign)
        else:
            groups.append((at, at, sign))
    return [((since + until) / 2, order) for since, until, order in groups]


def _missed(log: Log, box: str, at: float) -> tuple[float, float]:
    """Chances that each antenna hears nothing of a bird that passes under it."""
    outer, inner = ((1 - log.hears(box, antenna, at)) ** log.manner.chances for antenna in (0, 1))
    return outer, inner


def _mark(log: Log, box: str, at: float, order: str) -> NDArray[np.float64]:
    """Weigh what an event of this look leaves, from state (outside, inside) to state."""
    outer, inner = _missed(log, box, at)
    looks, (wait_out, wait_in) = log.manner.looks, log.manner.waits_s
    heard = {
        "o": (1 - outer) * inner,
        "i": outer * (1 - inner),
        "oi": (1 - outer) * (1 - inner),
        "io": (1 - outer) * (1 - inner),
    }
    crosses = (1 - looks) * heard[order]
    mark = np.full((2, 2), 1e-12)
    mark[0, 1] += crosses / wait_out * (order != "io")
    mark[1, 0] += crosses / wait_in * (order != "oi")
    mark[0, 0] += looks * (1 - outer) / wait_out * (order == "o")
    mark[1, 1] += looks * (1 - inner) / wait_in * (order == "i")
    return mark


def _kernel(log: Log, box: str, since: float, until: float) -> NDArray[np.float64]:
    """Chances to go from state to state in a pause of which nothing was heard, night by night."""
    kernel = np.eye(2)
    looks, waits = log.manner.looks, log.manner.waits_s
    for night in range(int(since // DAY_S), int(until // DAY_S) + 1):
        starts = max(since, night * DAY_S + EVENING_S)
        ends = min(until, night * DAY_S + EVENING_S + NIGHT_S)
        if ends > starts:
            missed = _missed(log, box, starts)  # a spell begins and ends at noon
            crosses = (1 - looks) * missed[0] * missed[1]
            rates = np.array(
                [
                    [(looks * missed[0] - 1) / waits[0], crosses / waits[0]],
                    [crosses / waits[1], (looks * missed[1] - 1) / waits[1]],
                ]
            )
            kernel = _scaled(kernel @ _exponential(rates, ends - starts))
    return kernel


def _exponential(rates: NDArray[np.float64], seconds: float) -> NDArray[np.float64]:
    """exp(rates t) of two states, but for a factor: 1 + tanh(ht) / h (rates - mean), h² = mean² - det."""
    mean = float(np.trace(rates)) / 2
    root = math.sqrt((rates[0, 0] - rates[1, 1]) ** 2 / 4 + rates[0, 1] * rates[1, 0])
    beyond = np.asarray(rates - mean * np.eye(2))
    if root * seconds < 1e-9:
        return np.eye(2) + beyond * seconds
    return np.eye(2) + beyond * (math.tanh(root * seconds) / root)
