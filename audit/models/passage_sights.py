"""What groups of reads look like: which antennas heard, in which order, and for how long, as one number."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.models.read_groups import BOTH, TIE

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.read_groups import Groups

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = [
    "AT_ONCE",
    "BACK",
    "BINS",
    "FAR",
    "HEARD",
    "LASTING",
    "LENGTHS",
    "NEAR",
    "NO_TIME",
    "ORDERS",
    "OTHER_SIDE",
    "PAIR",
    "SIGHTS",
    "as_seen",
    "lasting_longer",
    "length_bin",
    "see",
]

#: What was heard, as the bird sees it: the antenna on its own side only, the other only, or both.
NEAR, FAR, PAIR = 0, 1, 2
#: Groups that last longer than so many seconds fall into the next bin; one read is a bin of its own.
_LASTS = np.array([0.25, 0.5, 1, 2, 4, 8, 16, 32, 64, 128, 256, 512, 1024, 2048]) * 1000
BINS = len(_LASTS) + 2
#: Seconds that stand for each bin.
LENGTHS = np.concatenate([[0.0, 0.1], np.sqrt(_LASTS[1:] * _LASTS[:-1]) / 1000, [3000.0]])
#: Orders of both antennas: first times three plus last, each near, far or tie; and all reads at one stamp.
ORDERS, AT_ONCE = 10, 9
#: Each order backwards.
BACK = np.array([*(3 * (order % 3) + order // 3 for order in range(AT_ONCE)), AT_ONCE])
#: Lengths and whether antennas changed often; one antenna, the other, or both in some order.
LASTING, HEARD = 2 * BINS, 2 + ORDERS
#: Length of a group whose reads have one stamp.
NO_TIME = 2
#: Numbers of what a group may look like.
SIGHTS = HEARD * LASTING
_TURNED = (1, 0, TIE)
#: What a bird on the other side of the entrance calls the same.
OTHER_SIDE = np.array(
    [FAR, NEAR, *(PAIR + 3 * _TURNED[k // 3] + _TURNED[k % 3] for k in range(AT_ONCE)), PAIR + AT_ONCE]
)


def see(groups: Groups, many: int) -> Ints:
    """Return what each group looks like as one number below ``SIGHTS``, shape (n,).

    Antennas that change `many` times tell of a bird that goes to and fro.
    """
    lasts = 1 + np.searchsorted(_LASTS, groups.stop - groups.start)
    lasts[groups.end - groups.begin == 1] = 0
    lasting = lasts * 2 + (groups.changes >= many)
    heard = groups.heard.astype(np.int64)
    order = np.where(groups.stop > groups.start, groups.first * 3 + groups.last, AT_ONCE)
    heard += np.where(groups.heard == BOTH, order, 0)
    found: Ints = heard * LASTING + lasting
    return found


def length_bin(seconds: Floats) -> Ints:
    """Return the bin of the length of groups of two reads and more."""
    found: Ints = 1 + np.searchsorted(_LASTS, seconds * 1000)
    return found


def as_seen(view: Floats, state: int) -> Floats:
    """Lay out what a bird calls near and far, shape (m, heard, lengths), as sights, shape (m, SIGHTS)."""
    found: Floats = (view if state == 0 else view[:, OTHER_SIDE]).reshape(-1, SIGHTS)
    return found


def lasting_longer(seconds: float) -> NDArray[np.bool_]:
    """Tell bins of lengths from so many seconds on, shape (bins,)."""
    found: NDArray[np.bool_] = np.append([0.0, 0.0], _LASTS) > seconds * 1000
    return found
