"""How likely a number became another one; many birds weigh the same, so what was worked out is kept."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.declarations.once import once_for
from audit.models.slip_kinds import KINDS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.keying import Channel

    Floats = NDArray[np.float64]

__all__ = ["slips_between"]

#: So many numbers with what may have been meant are kept of each channel.
_MOST = 4096


def slips_between(
    channel: Channel, typed: float, meant: tuple[float, ...], unit: float
) -> tuple[Floats, tuple[str, ...]]:
    """Probability of a typed number given each of some meant ones and a slip, and the likeliest slip.

    Parameters
    ----------
    typed : float
        Not negative.
    meant : tuple of float, length k
    unit : float
        Of the last digit.

    Returns
    -------
    numpy.ndarray, shape (k,)
        Never changed by anybody.
    tuple of str, length k
        Of `KINDS`; ``unknown`` where no slip leads from one to the other.
    """
    known = _known(channel)
    key = typed, meant, unit
    found = known.get(key)
    if found is None:
        if len(known) >= _MOST:
            known.clear()
        chance = channel.numbers(np.full(len(meant), typed), np.array(meant), np.full(len(meant), unit))
        best = chance.argmax(axis=1)
        how = tuple(KINDS[int(b)] if chance[i, b] > 0 else "unknown" for i, b in enumerate(best))
        found = known[key] = chance.sum(axis=1), how
    return found


@once_for
def _known(_: Channel) -> dict[tuple[float, tuple[float, ...], float], tuple[Floats, tuple[str, ...]]]:
    return {}
