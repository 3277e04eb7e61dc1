"""What is believed of the birds and antennas of a log, and of each of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.passage_chains import Chains
    from audit.models.passage_manners import Manners
    from audit.models.passage_waits import Waits

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]

__all__ = ["Habits", "Own", "as_all"]


@dataclass(frozen=True, slots=True)
class Habits:
    """What was learnt of a log.

    Attributes
    ----------
    manners : Manners
    waits : Waits
    heard, asked : numpy.ndarray, shape (2,)
        Crossings that outer and inner antennas heard, and could have heard.
    alike : numpy.ndarray, shape (2,)
        How alike boxes are: what all others are worth for one of them at most, in crossings.
    nest_shares : numpy.ndarray, shape (4,)
        Shares of looks, rests and ways to linger of birds that have never flown.
    nest_wait : numpy.ndarray, shape (bins,)
        Density of the time between these, per second.
    pauses : numpy.ndarray, shape (2, bins)
        Density of the time between two groups of a bird that lingers for a moment, or for long, per second.
    after : numpy.ndarray, shape (2, 3)
        Chances that such a bird goes on, leaves or passes at the next group.
    """

    manners: Manners
    waits: Waits
    heard: Floats
    asked: Floats
    alike: Floats
    nest_shares: Floats
    nest_wait: Floats
    pauses: Floats
    after: Floats

    @property
    def efficiency(self) -> Floats:
        """Chance that an outer, and an inner, antenna hears a crossing of which nothing else is known."""
        found: Floats = self.heard / self.asked
        return found


@dataclass(frozen=True, slots=True)
class Own:
    """What is believed of single birds and antennas.

    Attributes
    ----------
    shares : numpy.ndarray, shape (2, 5, birds)
        Shares of passages, looks, rests and two ways to linger by state.
    first : numpy.ndarray, shape (2, birds)
        Chance of being outside and inside at first.
    efficiency : numpy.ndarray, shape (pieces,)
        Chance that a piece of an antenna hears a crossing.
    back : numpy.ndarray, shape (m,)
        Chance that antennas of a pair that heard a bird are ready to hear it again when it comes back from a
        look.
    follows : numpy.ndarray, shape (m,)
        Chance that the logger of a pair is ready to store a bird that passes at the second antenna.
    bound : numpy.ndarray of bool, shape (n,)
        Groups of birds that have not flown yet.
    young : numpy.ndarray of bool, shape (birds,)
        Birds that had not flown at first.
    """

    shares: Floats
    first: Floats
    efficiency: Floats
    back: Floats
    follows: Floats
    bound: Flags
    young: Flags


def as_all(chains: Chains, habits: Habits) -> Own:
    """Believe of each bird and antenna what is believed of all."""
    hearing = chains.hearing
    birds = int(chains.bird[-1]) + 1 if len(chains.bird) else 0
    return Own(
        np.repeat(habits.manners.shares[:, :, None], birds, axis=2),
        np.repeat(habits.manners.first[:, None], birds, axis=1),
        np.where(hearing.off, hearing.told, habits.efficiency[hearing.side]),
        chains.ready,
        chains.follows,
        np.zeros(len(chains.bird), dtype=np.bool_),
        np.zeros(birds, dtype=np.bool_),
    )
