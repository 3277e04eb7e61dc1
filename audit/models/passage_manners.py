"""What birds do at the entrance, and what is believed of it before a log is seen."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.models.passage_sights import BINS, ORDERS, lasting_longer

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.passage_limits import Limits

    Floats = NDArray[np.float64]

__all__ = ["KINDS", "LINGER", "LOOK", "MANY", "PASSAGE", "REST", "Manners", "first_manners"]

PASSAGE, LOOK, REST = 0, 1, 2
#: The first of two ways to linger over several groups: for a moment, and for long.
LINGER = 3
MANY = 5
KINDS = tuple(range(MANY))


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


def first_manners(limits: Limits, looks: float) -> Manners:
    """Return manners from which learning begins, with such a share of looks."""
    lingers, stays = limits.start_lingers
    passages = 1 - looks - limits.start_rest - lingers - stays
    shares = np.tile([passages, looks, limits.start_rest, lingers, stays], (2, 1))
    orders = np.stack([limits.start_passage_orders, limits.start_look_orders, *np.ones((3, ORDERS))])
    long = lasting_longer(limits.sitting_from_s / 2)
    lasting = np.ones((MANY, 2, BINS))
    lasting[:2, :, long] = limits.start_long
    lasting[2, :, ~long] = limits.start_short
    often = np.array(limits.start_changing)
    wide = np.stack([lasting * (1 - often)[:, None, None], lasting * often[:, None, None]], axis=-1)
    lasting = wide.reshape(MANY, 2, 2 * BINS)
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
