"""How likely a number became another one; many birds weigh the same, so what was worked out is kept."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.declarations.once import once_for
from audit.models.slip_kinds import KINDS

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray

    from audit.models.keying import Channel

    Floats = NDArray[np.float64]
    #: What was typed, what may have been meant, and the unit of the last digit.
    Asked = tuple[float, tuple[float, ...], float]

__all__ = ["slips_between", "work_out"]

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
    if key not in known:
        work_out(channel, [key])
    return known[key]


def work_out(channel: Channel, asked: Iterable[Asked]) -> None:
    """Work out together what `slips_between` will be asked: each asking costs more than many numbers.

    Parameters
    ----------
    asked : iterable of (float, tuple of float, float)
        Typed number, meant ones and unit.
    """
    known = _known(channel)
    new = [key for key in dict.fromkeys(asked) if key not in known]
    if not new:
        return
    if len(known) + len(new) > _MOST:
        known.clear()
    many = [len(meant) for _, meant, _ in new]
    typed, unit = np.repeat(np.array([(typed, unit) for typed, _, unit in new]), many, axis=0).T
    chance = channel.numbers(typed, np.array([value for _, meant, _ in new for value in meant]), unit)
    best = chance.argmax(axis=1)
    slips = chance[np.arange(len(best)), best] > 0
    how = [KINDS[b] if slip else "unknown" for b, slip in zip(best.tolist(), slips.tolist(), strict=True)]
    total = chance.sum(axis=1)
    start = 0
    for key, count in zip(new, many, strict=True):
        known[key] = total[start : start + count], tuple(how[start : start + count])
        start += count


@once_for
def _known(_: Channel) -> dict[Asked, tuple[Floats, tuple[str, ...]]]:
    return {}
