"""Two measures of the same birds side by side: one person against another, or first against second."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.models.limits_of_agreement import limits_of_agreement, slope_on_mean
from audit.models.observer_bias import cell_means

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from audit.models.limits_of_agreement import Limits, Slope
    from audit.practice.measuring.taken import Repeats

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["NOT_NAMED", "OTHERS", "Comparison", "comparisons"]

#: Stands for the mean of all other observers.
OTHERS = "the others"
#: Stands for whoever took the measures of a sheet that names nobody.
NOT_NAMED = "people not named"
_FEWEST = 3


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two measures of the same birds.

    Attributes
    ----------
    first, second : str
        Whose, or which, measures are held against which.
    who : str
        The observer whose first and second measures these are; empty where two people are compared.
    birds : numpy.ndarray of int, shape (n,)
        Numbers of the birds.
    a, b : numpy.ndarray, shape (n,)
        First and second measure; the mean of several by one person.
    limits : Limits
    slope : Slope or None
    """

    first: str
    second: str
    who: str
    birds: Ints
    a: Floats
    b: Floats
    limits: Limits
    slope: Slope | None

    @property
    def difference(self) -> Floats:
        """First less second."""
        return self.a - self.b

    @property
    def between_people(self) -> bool:
        """Whether two people are compared rather than one with themselves."""
        return not self.who


def comparisons(repeats: Repeats, trainer: int, level: float, share: float) -> tuple[Comparison, ...]:
    """Hold all against each other who measured the same birds; fewer than three birds say nothing.

    Parameters
    ----------
    trainer : int
        Number of the observer whom the others are held against; -1: of two people the first is held against
        the second, of more each against the mean of the others.
    level, share : float
        As in `audit.models.limits_of_agreement.limits_of_agreement`.
    """
    found = []
    for first, second, who, birds, a, b in (*_people(repeats, trainer), *_own(repeats)):
        if len(birds) >= _FEWEST:
            limits = limits_of_agreement(a - b, level, share)
            found.append(Comparison(first, second, who, birds, a, b, limits, slope_on_mean(a, b, level)))
    return tuple(found)


_Pairs = tuple[str, str, str, "Ints", "Floats", "Floats"]


def _people(repeats: Repeats, trainer: int) -> Iterator[_Pairs]:
    mean, bird, who = cell_means(repeats.values, repeats.bird, repeats.observer)
    people = len(repeats.observers)
    table = np.full((len(repeats.birds), people), np.nan)
    table[bird, who] = mean
    for one in range(people):
        if one == trainer or (trainer < 0 and people == 2 and one):  # noqa: PLR2004 - two people
            continue
        if trainer >= 0:
            other, name = table[:, trainer], repeats.observers[trainer]
        elif people == 2:  # noqa: PLR2004 - two people
            other, name = table[:, 1], repeats.observers[1]
        else:
            other, name = _mean_of(np.delete(table, one, axis=1)), OTHERS
        birds = np.flatnonzero(np.isfinite(table[:, one]) & np.isfinite(other))
        yield repeats.observers[one], name, "", birds, table[birds, one], other[birds]


def _mean_of(table: Floats) -> Floats:
    known = np.isfinite(table)
    n = known.sum(axis=1)
    total = np.where(known, table, 0.0).sum(axis=1)
    return np.where(n > 0, total / np.maximum(n, 1), np.nan)


def _own(repeats: Repeats) -> Iterator[_Pairs]:
    for number, name in enumerate(repeats.observers):
        mine = np.flatnonzero(repeats.observer == number)
        birds, a, b = [], [], []
        for bird in np.unique(repeats.bird[mine]):
            values = repeats.values[mine[repeats.bird[mine] == bird]]
            if len(values) > 1:
                birds.append(int(bird))
                a.append(float(values[0]))
                b.append(float(values[1]))
        yield (
            "first measure",
            "second measure",
            name or NOT_NAMED,
            np.array(birds, dtype=np.int64),
            np.array(a, dtype=np.float64),
            np.array(b, dtype=np.float64),
        )
