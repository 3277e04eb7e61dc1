"""What antennas hear of a bird that passes, looks in or out and stays, or rests in the entrance."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.models.passage_manners import KINDS, LOOK, MANY, PASSAGE
from audit.models.passage_sights import (
    AT_ONCE,
    BACK,
    FAR,
    HEARD,
    LASTING,
    NEAR,
    NO_TIME,
    OTHER_SIDE,
    PAIR,
    SIGHTS,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.passage_manners import Manners

    Floats = NDArray[np.float64]

__all__ = ["likelihoods", "looks_heard", "paired"]

_FLOOR = 1e-12


def likelihoods(manners: Manners, efficiency: Floats, back: Floats, follows: Floats | float = 1.0) -> Floats:
    """Weigh everything that may be heard for everything that a bird may have done.

    Parameters
    ----------
    manners : Manners
        What birds do.
    efficiency : numpy.ndarray, shape (2, m)
        Chance that the outer and the inner antenna hear a crossing.
    back : numpy.ndarray, shape (m,)
        Chance that an antenna that heard a bird is ready to hear it again when it comes back from a look.
    follows : numpy.ndarray, shape (m,), or float
        Chance that the logger is ready for a bird that passes at the second antenna, when the first heard it.

    Returns
    -------
    numpy.ndarray, shape (2, 5, m, SIGHTS)
        Without shares; by state, by what the bird did, and by what the group looks like. Passages may go
        unheard, so theirs make less than one.
    """
    m = efficiency.shape[1]
    found = np.empty((2, MANY, m, HEARD, LASTING))
    for state in (0, 1):
        sets = _sets(manners, efficiency[state], efficiency[1 - state], follows)
        for did in KINDS:
            alone, together = manners.lasting[did]
            view = np.empty((m, HEARD, LASTING))
            view[:, NEAR] = sets[did][NEAR][:, None] * alone
            view[:, FAR] = sets[did][FAR][:, None] * alone
            if did == LOOK:
                pair = looks_heard(manners, efficiency[state], back)[0]
            else:
                pair = paired(manners.orders[did], together)[None]
            view[:, PAIR:] = sets[did][PAIR][:, None, None] * pair
            found[state, did] = view if state == 0 else view[:, OTHER_SIDE]
    return found.reshape(2, MANY, m, SIGHTS) + _FLOOR


def paired(orders: Floats, lasting: Floats) -> Floats:
    """Chances of orders and lengths; where all reads have one stamp, the length is known with the order."""
    found: Floats = orders[:, None] * lasting
    found[AT_ONCE] = np.where(np.arange(LASTING) == NO_TIME, orders[AT_ONCE], 0.0)
    return found


def looks_heard(manners: Manners, near: Floats, back: Floats) -> tuple[Floats, Floats]:
    """Chances of orders and lengths that looks give, and the part of those that were heard there and back.

    A look that the near antenna misses on the way there, or back, is heard like half of it: a passage.
    """
    whole = (2 - near)[:, None, None]
    full = (near * back)[:, None, None] / whole * paired(manners.orders[LOOK], manners.lasting[LOOK, 1])
    passage, lasting = manners.orders[PASSAGE], manners.lasting[PASSAGE, 1]
    there = (1 - near * back)[:, None, None] / whole * paired(passage, lasting)
    again = (1 - near)[:, None, None] / whole * paired(passage[BACK], lasting)
    return full + there + again, full


def _sets(
    manners: Manners, near: Floats, far: Floats, follows: Floats | float
) -> tuple[tuple[Floats, Floats, Floats], ...]:
    """Chances that the near antenna alone, the far one alone, or both hear; by what the bird did."""
    passage = (near * (1 - follows * far), (1 - near) * far, near * follows * far)
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
