"""Whether each bird of a box stayed away, or was about and not heard by chance, while the box was silent."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.models.night_habits import none_in

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.box_habits import BoxHabits, BoxSilence
    from audit.models.health_beliefs import HealthBeliefs

    Floats = NDArray[np.float64]

__all__ = ["Silent", "Usual", "absences_of", "silent_birds"]

#: Less than this of a night is none.
_NO_NIGHT = 0.02


@dataclass(frozen=True, slots=True)
class Usual:
    """What is usual in all boxes that are looked at together.

    Attributes
    ----------
    missed, asked : float
        Absences of birds, and the nights in which they were asked of.
    ends : float
        Boxes of which all birds came late, or left, for good.
    dead : float
        Silences within the logs in which a logger is thought to have been dead.
    nights : float
        Of all boxes.
    away : float
        Absences by night.
    """

    missed: float
    asked: float
    ends: float
    dead: float
    nights: float
    away: float


@dataclass(frozen=True, slots=True)
class Silent:
    """What each bird of a box may have done in a silence, were the logger awake.

    Attributes
    ----------
    absent, missed : numpy.ndarray of float, shape (b,)
        Chance that it went away and stayed so to the end, and that it was about and not heard by chance.
    gone : numpy.ndarray of float, shape (b,)
        Chance that it had gone before, or came back after, the others.
    """

    absent: Floats
    missed: Floats
    gone: Floats


def absences_of(one: BoxHabits, away: float) -> Floats:
    """Absences of each bird while others of its box were heard; what is likely by chance is hardly one."""
    found: Floats = one.begun * away / (away + (1 - away) * one.by_chance)
    return found


def silent_birds(one: BoxHabits, silent: BoxSilence, usual: Usual, beliefs: HealthBeliefs) -> Silent:
    """Tell how likely the silence of each bird is.

    Parameters
    ----------
    one : BoxHabits
        Of the box.
    silent : BoxSilence
        One of its silences.
    usual : Usual
    beliefs : HealthBeliefs

    Notes
    -----
    A silence of 1.8 nights is asked as one of 1.8 nights: night after night, and what is left of the last.
    A bird may have been missed by chance in some of them before it went away.
    """
    away = _away(one, silent, usual, beliefs)
    parts = _parts(silent.mass)
    # a bird that was away in the night before may stay so, unless it merely was not heard then
    unheard = np.maximum(none_in(silent.rate * np.maximum(silent.beside, 0), one.spread), 1e-12)
    gone = np.where(silent.beside >= 1, away / (away + (1 - away) * unheard), 0.0)
    start = gone * beliefs.stays + (1 - gone) * away
    left = silent.mass - np.cumsum(parts)
    absent = start * beliefs.stays ** left[0]
    missed = (1 - start) * _by_chance(silent, parts[0], one.spread)
    for part, after in zip(parts[1:], left[1:], strict=True):
        absent = absent + missed * away * part * beliefs.stays**after
        missed = missed * (1 - away * part) * _by_chance(silent, part, one.spread)
    return Silent(absent, missed, gone)


def _parts(mass: float) -> list[float]:
    """Whole nights, and what is left.

    Examples
    --------
    >>> _parts(2.5), _parts(0.5), _parts(3.0)
    ([1.0, 1.0, 0.5], [0.5], [1.0, 1.0, 1.0])
    """
    whole = int(mass + 1e-9)
    rest = mass - whole
    return [1.0] * whole + ([rest] if rest > _NO_NIGHT or not whole else [])


def _by_chance(silent: BoxSilence, part: float, spread: Floats) -> Floats:
    """Chance of each bird not to come in so much of a night: nights that differ, or pauses that are as long.

    Whichever of the two is likelier.
    """
    found: Floats = np.maximum(
        none_in(silent.rate * part, spread), silent.by_pause ** (part / max(silent.mass, _NO_NIGHT))
    )
    return found


def _away(one: BoxHabits, silent: BoxSilence, usual: Usual, beliefs: HealthBeliefs) -> Floats:
    """Share of nights after which each bird stays away, this silence left out: drawn towards that of all."""
    own = np.sum([q.away for q in one.silent if q is not silent], axis=0) if len(one.silent) > 1 else 0.0
    all_ = usual.missed - float(silent.away.sum()) + 0.5
    shared = max(all_, 0.5) / (usual.asked + 0.5 / beliefs.away)
    # however faithful all birds were so far, this one may go away
    drawn = beliefs.worth_away * shared + beliefs.away_yet
    found: Floats = (absences_of(one, shared) + own + drawn) / (one.asked + beliefs.worth_away)
    return np.minimum(found, 1.0)
