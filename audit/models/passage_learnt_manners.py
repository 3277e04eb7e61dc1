"""What is learnt of what birds do at the entrance, from what they probably did."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from audit.models.passage_events import looks_heard, paired
from audit.models.passage_manners import KINDS, LINGER, LOOK, MANY, PASSAGE, REST
from audit.models.passage_sights import AT_ONCE, FAR, HEARD, LASTING, NEAR, OTHER_SIDE, PAIR, lasting_longer

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.passage_limits import Limits
    from audit.models.passage_manners import Manners

    Floats = NDArray[np.float64]

__all__ = ["heard_back", "learn_manners"]

_TINY = np.finfo(float).tiny
#: Orders that begin or end at the far antenna.
_ELSEWHERE = [1, 3, 4, 5, 7]


def learn_manners(
    manners: Manners, counts: Floats, efficiency: Floats, back: Floats, start: Manners, limits: Limits
) -> Manners:
    """Learn orders, lengths and reaches from what birds probably did.

    Parameters
    ----------
    manners : Manners
        As believed so far; shares and first states are kept.
    counts : numpy.ndarray, shape (2, 5, m, SIGHTS)
        Expected numbers of groups, laid out as `likelihoods`.
    efficiency : numpy.ndarray, shape (2, m)
        Chance that the outer and the inner antenna hear a crossing.
    back : numpy.ndarray, shape (m,)
        As in `likelihoods`.
    start : Manners
        Where learning began.
    limits : Limits
        Among them what such a beginning is worth, in groups.
    """
    orders, lasted = start.orders * limits.weight_manners, np.zeros_like(start.lasting)
    sets = np.full((MANY, 3), 1.0)
    looked = 0.0
    for state in (0, 1):
        near, far = efficiency[state], efficiency[1 - state]
        for did in KINDS:
            view = counts[state, did].reshape(-1, HEARD, LASTING)
            if state == 1:
                view = view[:, OTHER_SIDE]
            pair = view[:, PAIR:]
            if did == LOOK:
                chance, full = looks_heard(manners, near, back)
                pair = pair * full / np.maximum(chance, _TINY)
            orders[did] += pair.sum(axis=(0, 2))
            lasted[did, 1] += pair[:, :AT_ONCE].sum(axis=(0, 1))
            lasted[did, 0] += view[:, :PAIR].sum(axis=(0, 1))
            sets[did] += [view[:, NEAR].sum(), view[:, FAR].sum(), view[:, PAIR:].sum()]
        a, b = 1 - (1 - near) ** 2, manners.reach * far
        looked += float((counts[state, LOOK].sum(axis=1) * far / (a + b - a * b)).sum())
    # where hardly anything passes, rests would turn into passages little by little
    long = np.repeat(lasting_longer(limits.sitting_from_s / 2), 2)
    brief = float(lasted[PASSAGE][:, ~long].sum())
    floor = limits.rest_floor * limits.weight_manners / (limits.weight_manners + brief)
    lasted[:REST] -= np.where(long, np.minimum(floor, lasted[:REST]), 0.0)
    lasting = lasted + start.lasting * limits.weight_manners
    reach = float((sets[LOOK, FAR] + sets[LOOK, PAIR]) / (looked + 1))
    orders /= orders.sum(axis=1, keepdims=True)
    # a look begins and ends beside the near antenna; what was not heard there is weighed apart
    elsewhere = orders[LOOK, _ELSEWHERE].sum()
    if elsewhere > limits.look_elsewhere:
        orders[LOOK] *= (1 - limits.look_elsewhere) / (1 - elsewhere)
        orders[LOOK, _ELSEWHERE] *= (
            limits.look_elsewhere * (1 - elsewhere) / (1 - limits.look_elsewhere) / elsewhere
        )
    return replace(
        manners,
        orders=orders,
        lasting=lasting / lasting.sum(axis=2, keepdims=True),
        reach=min(max(reach, limits.reach_least), limits.reach_most),
        rests=sets[REST] / sets[REST].sum(),
        lingers=sets[LINGER:] / sets[LINGER:].sum(axis=1, keepdims=True),
    )


def heard_back(manners: Manners, counts: Floats, efficiency: Floats, back: Floats) -> tuple[Floats, Floats]:
    """Return looks after which the near antenna was ready to hear the bird again, and all, shape (m,).

    Parameters as in `learn_manners`.
    """
    again, asked = np.zeros_like(back), np.zeros_like(back)
    for state in (0, 1):
        near = efficiency[state]
        view = counts[state, LOOK].reshape(-1, HEARD, LASTING)
        pair = (view if state == 0 else view[:, OTHER_SIDE])[:, PAIR:]
        chance, full = looks_heard(manners, near, back)
        passage = paired(manners.orders[PASSAGE], manners.lasting[PASSAGE, 1])
        there = ((1 - near * back) / (2 - near))[:, None, None] * passage
        share = pair / np.maximum(chance, _TINY)
        both, once = (share * full).sum(axis=(1, 2)), (share * there).sum(axis=(1, 2))
        # of those that were not heard back some antennas were ready, and missed them
        again += both + once * (back * (1 - near) / np.maximum(1 - near * back, _TINY))
        asked += both + once
    return again, asked
