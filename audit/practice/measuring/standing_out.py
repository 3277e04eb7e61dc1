"""Birds whose measures stand out, and the slip of the pen that may have done it."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from audit.models.keying import Channel
    from audit.practice.measuring.taken import Repeats
    from audit.practice.measuring.weighings import Weighed

__all__ = ["Odd", "Slip", "stands_out"]


@dataclass(frozen=True, slots=True)
class Slip:
    """A value that may be another one with a slip: what stands there, what was meant, what happened."""

    typed: float
    meant: float
    kind: str


@dataclass(frozen=True, slots=True)
class Odd:
    """A bird whose measures lie so far apart that a slip is likelier than error of measurement.

    Attributes
    ----------
    bird : str
    values, places, observers : tuple
        All its values in the order of the sheet, where they stand, who took them.
    far : int
        Place of the value that lies farthest from the middle.
    slips : tuple of Slip
        What a single slip of the hand may have done: none, one, or one for each of two values where both are
        about as likely.
    """

    bird: str
    values: tuple[float, ...]
    places: tuple[str, ...]
    observers: tuple[str, ...]
    far: int
    slips: tuple[Slip, ...]


def stands_out(repeats: Repeats, bird: int, channel: Channel, step: float, usual: float) -> Odd:
    """Tell a bird that stands out, and what slip of the pen may have done it.

    Parameters
    ----------
    bird : int
        Its number.
    channel : Channel
        What the hand makes of a number in which it slips.
    step, usual : float
        Step of reading; largest usual difference of two measures of one bird.
    """
    at = np.flatnonzero(repeats.bird == bird).tolist()
    values = tuple(float(repeats.values[place]) for place in at)
    far = int(np.argmax(np.abs(np.array(values) - np.median(values))))
    # of two values either may be the wrong one
    suspects = range(2) if len(values) == 2 else (far,)  # noqa: PLR2004 - two values
    summed = repeats.measure.field == "net_g"
    weighed = [repeats.weighed[place] if summed else None for place in at]
    found = [
        max(slips, key=lambda slip: slip[0])
        for place in suspects
        if (slips := list(_slips(values, place, channel, step, usual, weighed[place])))
    ]
    best = max((weight for weight, _ in found), default=0.0)
    return Odd(
        repeats.birds[bird],
        values,
        tuple(repeats.places[place] for place in at),
        tuple(repeats.observers[int(repeats.observer[place])] for place in at),
        far,
        tuple(slip for weight, slip in found if weight >= best / 2),
    )


def _slips(
    values: Sequence[float], place: int, channel: Channel, unit: float, usual: float, weighed: Weighed | None
) -> Iterator[tuple[float, Slip]]:
    """List what one slip turns into a value, where that lies as near the other values as is usual."""
    middle = float(np.median([value for other, value in enumerate(values) if other != place]))
    typed = values[place]
    if weighed is not None and not weighed.gives(typed) and abs(weighed.net - middle) <= usual:
        yield 1.0, Slip(typed, weighed.net, "bag" if typed == weighed.gross else "sum")
        return
    for source in channel.sources(typed, unit=unit):
        off = abs(float(source.meant) - middle)
        if off <= usual:
            # the usual distance is 1.96 standard deviations of a difference
            weight = source.chance * exp(-((1.96 * off / usual) ** 2) / 2) if usual else source.chance
            yield weight, Slip(typed, float(source.meant), source.kind)
