"""What antennas hear of a bird that passes, looks in or out and stays, or rests in the entrance."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from audit.models.read_groups import BOTH, TIE

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.read_groups import Groups

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["Manners", "Sights", "first_manners", "learn_manners", "likelihoods", "see"]

PASSAGE, LOOK, REST = 0, 1, 2
#: What was heard, as the bird sees it: the antenna on its own side only, the other only, or both.
NEAR, FAR, PAIR = 0, 1, 2
_ORDERS = 9
#: Groups that last longer than so many seconds fall into the next bin; one read is a bin of its own.
_LASTS = np.array([0.25, 0.5, 1, 2, 4, 8, 16, 32, 64, 128, 256, 512, 1024, 2048]) * 1000
_BINS = len(_LASTS) + 2
#: So often the other antenna follows only where a bird goes to and fro.
_MANY = 3
#: A bird at rest gives many reads.
_CHANCES = 4
#: Orders of both antennas, first times three plus last, each near, far or tie: where learning begins.
_PASSAGE_ORDERS = np.array([2.0, 85, 3, 1, 2, 0.5, 0.5, 3, 3])
_LOOK_ORDERS = np.array([80.0, 6, 2, 6, 1, 0.5, 2, 0.5, 2])
#: What such a beginning is worth, in groups.
_WORTH = 20.0
_FLOOR = 1e-6
#: Each order backwards.
_BACK = np.array([3 * (order % 3) + order // 3 for order in range(_ORDERS)])


@dataclass(frozen=True, slots=True)
class Sights:
    """Groups as a bird outside sees them (0) and as a bird inside does (1).

    Attributes
    ----------
    heard : numpy.ndarray of int8, shape (2, n)
        ``NEAR``, ``FAR`` or ``PAIR``.
    order : numpy.ndarray of int8, shape (2, n)
        First times three plus last antenna, where both heard.
    lasting : numpy.ndarray of int64, shape (n,)
        Bin of how long it lasted, times two, plus one where antennas changed often.
    """

    heard: NDArray[np.int8]
    order: NDArray[np.int8]
    lasting: Ints


@dataclass(frozen=True, slots=True)
class Manners:
    """What birds do at the entrance, and what it looks like.

    Attributes
    ----------
    shares : numpy.ndarray, shape (2, 3)
        Shares of passages, looks and rests, outside and inside.
    orders : numpy.ndarray, shape (3, 9)
        Orders of the antennas where both heard, by what the bird did.
    lasting : numpy.ndarray, shape (3, 2, bins)
        How long a group lasts, by what the bird did and whether both antennas heard.
    reach : float
        Share of looks that come as far as the other antenna.
    rests : numpy.ndarray, shape (3,)
        Shares of rests near the one antenna, the other, and both.
    first : numpy.ndarray, shape (2,)
        Shares of birds that are outside and inside before they are first heard.
    """

    shares: Floats
    orders: Floats
    lasting: Floats
    reach: float
    rests: Floats
    first: Floats


def see(groups: Groups) -> Sights:
    """Look at groups from both sides."""
    n = len(groups.begin)
    heard, order = np.empty((2, n), dtype=np.int8), np.zeros((2, n), dtype=np.int8)
    heard[0] = groups.heard
    heard[1] = np.choose(groups.heard, (FAR, NEAR, PAIR)) if n else groups.heard
    both = groups.heard == BOTH
    turned = np.array([1, 0, TIE], dtype=np.int8)
    order[0, both] = groups.first[both] * 3 + groups.last[both]
    order[1, both] = turned[groups.first[both]] * 3 + turned[groups.last[both]]
    lasts = 1 + np.searchsorted(_LASTS, groups.stop - groups.start)
    lasts[groups.end - groups.begin == 1] = 0
    return Sights(heard, order, lasts * 2 + (groups.changes >= _MANY))


def first_manners(passages: float, looks: float, rest_from: float) -> Manners:
    """Return manners from which learning begins.

    Parameters
    ----------
    passages, looks : float
        Shares of passages and of looks.
    rest_from : float
        Groups that last longer than so many seconds are rests, so far.
    """
    shares = np.tile([passages, looks, 1 - passages - looks], (2, 1))
    orders = np.stack([_PASSAGE_ORDERS, _LOOK_ORDERS, np.ones(_ORDERS)])
    long = np.append([0.0, 0.0], _LASTS) > rest_from * 1000 / 2
    lasting = np.ones((3, 2, _BINS))
    lasting[:2, :, long] = 0.02
    lasting[2, :, ~long] = 0.05
    often = np.array([0.05, 0.1, 0.5])
    wide = np.stack([lasting * (1 - often)[:, None, None], lasting * often[:, None, None]], axis=-1)
    lasting = wide.reshape(3, 2, 2 * _BINS)
    return Manners(
        shares,
        orders / orders.sum(axis=1, keepdims=True),
        lasting / lasting.sum(axis=2, keepdims=True),
        0.5,
        np.array([0.4, 0.2, 0.4]),
        np.array([0.5, 0.5]),
    )


def likelihoods(manners: Manners, sights: Sights, efficiency: Floats) -> Floats:
    """Weigh what was heard for everything that a bird may have done.

    Parameters
    ----------
    manners : Manners
        What birds do.
    sights : Sights
        Groups.
    efficiency : numpy.ndarray, shape (2, n)
        Chance that the outer and the inner antenna hear a crossing.

    Returns
    -------
    numpy.ndarray, shape (2, 3, n)
        Without shares; by state and by what the bird did. Passages may go unheard, so theirs make less
        than one.
    """
    found = np.empty((2, 3, efficiency.shape[1]))
    for state in (0, 1):
        heard, order = sights.heard[state], sights.order[state]
        pair = heard == PAIR
        sets = _sets(manners, efficiency[state], efficiency[1 - state])
        for did in (PASSAGE, LOOK, REST):
            value = np.where(heard == NEAR, sets[did][0], np.where(pair, sets[did][2], sets[did][1]))
            alone = manners.lasting[did, 0][sights.lasting]
            if did == LOOK:
                together = _looks(manners, order, sights.lasting, efficiency[state])[0]
            else:
                together = manners.orders[did][order] * manners.lasting[did, 1][sights.lasting]
            found[state, did] = value * np.where(pair, together, alone) + _FLOOR**2
    return found


def _looks(manners: Manners, order: NDArray[np.int8], lasting: Ints, near: Floats) -> tuple[Floats, Floats]:
    """Chance of an order and length that looks give, and the part of those that were heard there and back.

    A look that the near antenna misses on the way there, or back, is heard like half of it: a passage.
    """
    full = near / (2 - near) * manners.orders[LOOK][order] * manners.lasting[LOOK, 1][lasting]
    passage = manners.orders[PASSAGE]
    half = (1 - near) / (2 - near) * manners.lasting[PASSAGE, 1][lasting]
    return full + half * (passage[order] + passage[_BACK[order]]), full


def _sets(manners: Manners, near: Floats, far: Floats) -> tuple[tuple[Floats, Floats, Floats], ...]:
    """Chances that the near antenna alone, the far one alone, or both hear; by what the bird did."""
    passage = (near * (1 - far), (1 - near) * far, near * far)
    # a look crosses the near antenna twice
    a, b = 1 - (1 - near) ** 2, manners.reach * far
    heard = a + b - a * b
    look = (a * (1 - b) / heard, (1 - a) * b / heard, a * b / heard)
    a, b = 1 - (1 - near) ** _CHANCES, 1 - (1 - far) ** _CHANCES
    alone, other, both = manners.rests
    ways = ((alone + both * (1 - b)) * a, (other + both * (1 - a)) * b, both * a * b)
    whole = ways[0] + ways[1] + ways[2]
    return passage, look, (ways[0] / whole, ways[1] / whole, ways[2] / whole)


def learn_manners(
    manners: Manners, sights: Sights, did: Floats, efficiency: Floats, start: Manners
) -> Manners:
    """Learn orders, lengths and reaches from what birds probably did.

    Parameters
    ----------
    manners : Manners
        As believed so far; shares and first states are kept.
    sights : Sights
        Groups.
    did : numpy.ndarray, shape (2, 3, n)
        Probability of the state before and of what the bird did.
    efficiency : numpy.ndarray, shape (2, n)
        Chance that the outer and the inner antenna hear a crossing.
    start : Manners
        Where learning began; it is worth some groups.
    """
    orders, lasting = start.orders * _WORTH, start.lasting * _WORTH
    sets = np.full((3, 3), 1.0)
    looked = 0.0
    for state in (0, 1):
        heard, pair = sights.heard[state], sights.heard[state] == PAIR
        for what in (PASSAGE, LOOK, REST):
            weight = did[state, what]
            together, alone = weight[pair], weight[~pair]
            order, lasts = sights.order[state][pair], sights.lasting[pair]
            if what == LOOK:
                chance, full = _looks(manners, order, lasts, efficiency[state][pair])
                together = together * full / np.maximum(chance, np.finfo(float).tiny)
            orders[what] += np.bincount(order, together, _ORDERS)
            lasting[what, 1] += np.bincount(lasts, together, 2 * _BINS)
            lasting[what, 0] += np.bincount(sights.lasting[~pair], alone, 2 * _BINS)
            sets[what] += np.bincount(heard, weight, 3)
        near, far = efficiency[state], efficiency[1 - state]
        a, b = 1 - (1 - near) ** 2, manners.reach * far
        looked += float((did[state, LOOK] * far / (a + b - a * b)).sum())
    reach = float(np.clip((sets[LOOK, FAR] + sets[LOOK, PAIR]) / (looked + 1), 0.02, 0.98))
    return replace(
        manners,
        orders=orders / orders.sum(axis=1, keepdims=True),
        lasting=lasting / lasting.sum(axis=2, keepdims=True),
        reach=reach,
        rests=sets[REST] / sets[REST].sum(),
    )
