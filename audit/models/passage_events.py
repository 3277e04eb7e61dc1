"""What antennas hear of a bird that passes, looks in or out and stays, or rests in the entrance."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from audit.models.read_groups import BOTH, TIE

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.passage_limits import Limits
    from audit.models.read_groups import Groups

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = [
    "LENGTHS",
    "SIGHTS",
    "Manners",
    "as_seen",
    "first_manners",
    "heard_by",
    "learn_manners",
    "length_bin",
    "likelihoods",
    "see",
]

PASSAGE, LOOK, REST = 0, 1, 2
#: The first of two ways to linger over several groups: for a moment, and for long.
LINGER = 3
MANY = 5
KINDS = tuple(range(MANY))
#: What was heard, as the bird sees it: the antenna on its own side only, the other only, or both.
NEAR, FAR, PAIR = 0, 1, 2
_ORDERS = 10
#: Groups that last longer than so many seconds fall into the next bin; one read is a bin of its own.
_LASTS = np.array([0.25, 0.5, 1, 2, 4, 8, 16, 32, 64, 128, 256, 512, 1024, 2048]) * 1000
_BINS = len(_LASTS) + 2
#: Seconds that stand for each bin.
LENGTHS = np.concatenate([[0.0, 0.1], np.sqrt(_LASTS[1:] * _LASTS[:-1]) / 1000, [3000.0]])
#: Orders of both antennas: first times three plus last, each near, far or tie; and all reads at one stamp.
_FLOOR = 1e-12
_AT_ONCE = 9
#: Each order backwards.
_BACK = np.array([*(3 * (order % 3) + order // 3 for order in range(_AT_ONCE)), _AT_ONCE])
#: Lengths and whether antennas changed often; one antenna, the other, or both in some order.
_LASTING, _HEARD = 2 * _BINS, 2 + _ORDERS
#: Length of a group whose reads have one stamp.
_NO_TIME = 2
#: Numbers of what a group may look like.
SIGHTS = _HEARD * _LASTING
_TURNED = (1, 0, TIE)
#: What a bird on the other side of the entrance calls the same.
_OTHER_SIDE = np.array(
    [FAR, NEAR, *(PAIR + 3 * _TURNED[k // 3] + _TURNED[k % 3] for k in range(_AT_ONCE)), PAIR + _AT_ONCE]
)


@dataclass(frozen=True, slots=True)
class Manners:
    """What birds do at the entrance, and what it looks like.

    Attributes
    ----------
    shares : numpy.ndarray, shape (2, 5)
        Shares of passages, looks, rests and two ways to linger, outside and inside.
    orders : numpy.ndarray, shape (5, 10)
        Orders of the antennas where both heard, by what the bird did.
    lasting : numpy.ndarray, shape (5, 2, bins)
        How long a group lasts, by what the bird did and whether both antennas heard.
    reach : float
        Share of looks that come as far as the other antenna.
    rests : numpy.ndarray, shape (3,)
        Shares of rests near the one antenna, the other, and both.
    lingers : numpy.ndarray, shape (2, 3)
        The same of each group of a bird that lingers, for a moment and for long.
    first : numpy.ndarray, shape (2,)
        Shares of birds that are outside and inside before they are first heard.
    chances : int
        How many times an antenna could hear a bird at rest beside it.
    """

    shares: Floats
    orders: Floats
    lasting: Floats
    reach: float
    rests: Floats
    lingers: Floats
    first: Floats
    chances: int


def see(groups: Groups, many: int) -> Ints:
    """Return what each group looks like as one number below ``SIGHTS``, shape (n,).

    Antennas that change `many` times tell of a bird that goes to and fro.
    """
    lasts = 1 + np.searchsorted(_LASTS, groups.stop - groups.start)
    lasts[groups.end - groups.begin == 1] = 0
    lasting = lasts * 2 + (groups.changes >= many)
    heard = groups.heard.astype(np.int64)
    order = np.where(groups.stop > groups.start, groups.first * 3 + groups.last, _AT_ONCE)
    heard += np.where(groups.heard == BOTH, order, 0)
    found: Ints = heard * _LASTING + lasting
    return found


def length_bin(seconds: Floats) -> Ints:
    """Return the bin of the length of groups of two reads and more."""
    found: Ints = 1 + np.searchsorted(_LASTS, seconds * 1000)
    return found


def as_seen(view: Floats, state: int) -> Floats:
    """Lay out what a bird calls near and far, shape (m, heard, lengths), as sights, shape (m, SIGHTS)."""
    found: Floats = (view if state == 0 else view[:, _OTHER_SIDE]).reshape(-1, SIGHTS)
    return found


def first_manners(limits: Limits) -> Manners:
    """Return manners from which learning begins."""
    passages, looks = limits.start_passages, limits.start_looks
    lingers, stays = limits.start_lingers
    shares = np.tile([passages, looks, 1 - passages - looks - lingers - stays, lingers, stays], (2, 1))
    orders = np.stack([limits.start_passage_orders, limits.start_look_orders, *np.ones((3, _ORDERS))])
    long = _long(limits)
    lasting = np.ones((MANY, 2, _BINS))
    lasting[:2, :, long] = limits.start_long
    lasting[2, :, ~long] = limits.start_short
    often = np.array(limits.start_changing)
    wide = np.stack([lasting * (1 - often)[:, None, None], lasting * often[:, None, None]], axis=-1)
    lasting = wide.reshape(MANY, 2, 2 * _BINS)
    return Manners(
        shares,
        orders / orders.sum(axis=1, keepdims=True),
        lasting / lasting.sum(axis=2, keepdims=True),
        limits.start_reach,
        np.array(limits.start_rests),
        np.array(limits.start_near),
        np.array([0.5, 0.5]),
        limits.rest_chances,
    )


def _long(limits: Limits) -> NDArray[np.bool_]:
    """Tell bins of lengths at which a bird rests, so far."""
    found: NDArray[np.bool_] = np.append([0.0, 0.0], _LASTS) > limits.sitting_from_s * 1000 / 2
    return found


def likelihoods(manners: Manners, efficiency: Floats) -> Floats:
    """Weigh everything that may be heard for everything that a bird may have done.

    Parameters
    ----------
    manners : Manners
        What birds do.
    efficiency : numpy.ndarray, shape (2, m)
        Chance that the outer and the inner antenna hear a crossing.

    Returns
    -------
    numpy.ndarray, shape (2, 5, m, SIGHTS)
        Without shares; by state, by what the bird did, and by what the group looks like. Passages may go
        unheard, so theirs make less than one.
    """
    m = efficiency.shape[1]
    found = np.empty((2, MANY, m, _HEARD, _LASTING))
    for state in (0, 1):
        sets = _sets(manners, efficiency[state], efficiency[1 - state])
        for did in KINDS:
            alone, together = manners.lasting[did]
            view = np.empty((m, _HEARD, _LASTING))
            view[:, NEAR] = sets[did][NEAR][:, None] * alone
            view[:, FAR] = sets[did][FAR][:, None] * alone
            if did == LOOK:
                pair = _looks(manners, efficiency[state])[0]
            else:
                pair = _paired(manners.orders[did], together)[None]
            view[:, PAIR:] = sets[did][PAIR][:, None, None] * pair
            found[state, did] = view if state == 0 else view[:, _OTHER_SIDE]
    return found.reshape(2, MANY, m, SIGHTS) + _FLOOR


def _paired(orders: Floats, lasting: Floats) -> Floats:
    """Chances of orders and lengths; where all reads have one stamp, the length is known with the order."""
    found: Floats = orders[:, None] * lasting
    found[_AT_ONCE] = np.where(np.arange(_LASTING) == _NO_TIME, orders[_AT_ONCE], 0.0)
    return found


def _looks(manners: Manners, near: Floats) -> tuple[Floats, Floats]:
    """Chances of orders and lengths that looks give, and the part of those that were heard there and back.

    A look that the near antenna misses on the way there, or back, is heard like half of it: a passage.
    """
    full = (near / (2 - near))[:, None, None] * _paired(manners.orders[LOOK], manners.lasting[LOOK, 1])
    passage = manners.orders[PASSAGE]
    ways = _paired(passage + passage[_BACK], manners.lasting[PASSAGE, 1])
    return full + ((1 - near) / (2 - near))[:, None, None] * ways, full


def _sets(manners: Manners, near: Floats, far: Floats) -> tuple[tuple[Floats, Floats, Floats], ...]:
    """Chances that the near antenna alone, the far one alone, or both hear; by what the bird did."""
    passage = (near * (1 - far), (1 - near) * far, near * far)
    # a look crosses the near antenna twice
    a, b = 1 - (1 - near) ** 2, manners.reach * far
    heard = a + b - a * b
    look = (a * (1 - b) / heard, (1 - a) * b / heard, a * b / heard)
    rest = _beside(manners.rests, 1 - (1 - near) ** manners.chances, 1 - (1 - far) ** manners.chances)
    return passage, look, rest, *(_beside(shares, near, far) for shares in manners.lingers)


def _beside(shares: Floats, near: Floats, far: Floats) -> tuple[Floats, Floats, Floats]:
    """Chances of what is heard, if anything, of a bird beside the one antenna, the other, or both."""
    alone, other, both = shares
    ways = ((alone + both * (1 - far)) * near, (other + both * (1 - near)) * far, both * near * far)
    whole = ways[0] + ways[1] + ways[2]
    return ways[0] / whole, ways[1] / whole, ways[2] / whole


def learn_manners(
    manners: Manners, counts: Floats, efficiency: Floats, start: Manners, limits: Limits
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
            view = counts[state, did].reshape(-1, _HEARD, _LASTING)
            if state == 1:
                view = view[:, _OTHER_SIDE]
            pair = view[:, PAIR:]
            if did == LOOK:
                chance, full = _looks(manners, near)
                pair = pair * full / np.maximum(chance, np.finfo(float).tiny)
            orders[did] += pair.sum(axis=(0, 2))
            lasted[did, 1] += pair[:, :_AT_ONCE].sum(axis=(0, 1))
            lasted[did, 0] += view[:, :PAIR].sum(axis=(0, 1))
            sets[did] += [view[:, NEAR].sum(), view[:, FAR].sum(), view[:, PAIR:].sum()]
        a, b = 1 - (1 - near) ** 2, manners.reach * far
        looked += float((counts[state, LOOK].sum(axis=1) * far / (a + b - a * b)).sum())
    # where hardly anything passes, rests would turn into passages little by little
    long = np.repeat(_long(limits), 2)
    brief = float(lasted[PASSAGE][:, ~long].sum())
    floor = limits.rest_floor * limits.weight_manners / (limits.weight_manners + brief)
    lasted[:REST] -= np.where(long, np.minimum(floor, lasted[:REST]), 0.0)
    lasting = lasted + start.lasting * limits.weight_manners
    reach = float((sets[LOOK, FAR] + sets[LOOK, PAIR]) / (looked + 1))
    return replace(
        manners,
        orders=orders / orders.sum(axis=1, keepdims=True),
        lasting=lasting / lasting.sum(axis=2, keepdims=True),
        reach=min(max(reach, limits.reach_least), limits.reach_most),
        rests=sets[REST] / sets[REST].sum(),
        lingers=sets[LINGER:] / sets[LINGER:].sum(axis=1, keepdims=True),
    )


def heard_by(counts: Floats) -> Floats:
    """Sum groups that each antenna heard, shape (2, ...), of counts whose last axis are sights."""
    view = counts.reshape(*counts.shape[:-1], _HEARD, _LASTING).sum(axis=-1)
    both = view[..., PAIR:].sum(axis=-1)
    return np.stack([view[..., 0] + both, view[..., 1] + both])
