"""Birds that were heard at another box while their own was silent: they were not there to be heard."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from audit.models.box_log import of_tag

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from audit.models.box_habits import BoxHabits
    from audit.models.box_log import BoxLog
    from audit.models.health_beliefs import HealthBeliefs

    Ints = NDArray[np.int64]

__all__ = ["with_elsewhere"]


def with_elsewhere(
    logs: Sequence[BoxLog], known: Sequence[BoxHabits], beliefs: HealthBeliefs
) -> list[BoxHabits]:
    """Tell of each silence which of its birds were heard at other boxes meanwhile.

    Parameters
    ----------
    logs : sequence of BoxLog
    known : sequence of BoxHabits
        Of the same boxes.
    beliefs : HealthBeliefs

    Returns
    -------
    list of BoxHabits
        With `elsewhere` of their silences.

    Notes
    -----
    Of nights in which a bird is at its own box, the share in which it is heard at another one as well is
    learnt with half a night of each kind beforehand (the mean of a beta distribution after Jeffreys). A bird
    that uses two boxes in most nights tells nothing by it.
    """
    places: dict[int, list[int]] = {}
    for box, one in enumerate(known):
        for tag in one.habits.tags.tolist():
            places.setdefault(tag, []).append(box)
    found = []
    for box, one in enumerate(known):
        moments = {
            k: _moments([logs[b] for b in places[tag] if b != box], tag)
            for k, tag in enumerate(one.habits.tags.tolist())
            if one.silent and len(places[tag]) > 1
        }
        found.append(_of_box(one, moments, beliefs) if moments else one)
    return found


def _moments(logs: Sequence[BoxLog], tag: int) -> Ints:
    """When a bird was heard at some boxes."""
    return np.concatenate([log.bouts.begin[of_tag(log.bouts, tag)] for log in logs])


def _of_box(one: BoxHabits, moments: dict[int, Ints], beliefs: HealthBeliefs) -> BoxHabits:
    usual = {k: _usual(one, k, at) for k, at in moments.items()}
    silent = []
    for q in one.silent:
        ratio = np.ones(len(q.rate))
        for k, at in moments.items():
            if ((at > q.silence.start) & (at < q.silence.end)).any():
                ratio[k] = max(beliefs.elsewhere / usual[k], 1.0)
        silent.append(replace(q, elsewhere=ratio))
    return replace(one, silent=tuple(silent))


def _usual(one: BoxHabits, k: int, at: Ints) -> float:
    """Share of the nights of a bird at its box in which it is heard at another one, too."""
    habits = one.habits
    nights = np.unique(habits.night(at))
    nights = nights[(nights >= 0) & (nights < len(habits.whole))]
    here = habits.whole & (habits.bouts[k] > 0)
    return float((here[nights].sum() + 0.5) / (here.sum() + 1))
