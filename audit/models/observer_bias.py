"""How much each observer measures more or less than the others, birds being what they are."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import stdtr, stdtrit

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["Bias", "biases", "cell_means"]

#: Share of the measures below which a difference is nothing but rounding of the arithmetic.
_ROUNDING = 1e-12


@dataclass(frozen=True, slots=True)
class Bias:
    """How much one observer measures more than others.

    Attributes
    ----------
    observer, against : int
        Number of the observer; of the one it is held against, -1 for the mean of all others.
    value, low, high : float
        Difference, with an interval that all biases of one table keep together.
    p_value : float
        Of this many comparisons, Bonferroni's; 1 at most.
    birds : int
        Birds that this observer measured and somebody else as well.
    dof : int
        Degrees of freedom that the error rests on.
    comparisons : int
        How many were made: the interval is wide enough for all of them.
    error : float
        Standard deviation of what birds and observers leave unexplained; of one measure, where each observer
        measured each bird once.
    """

    observer: int
    against: int
    value: float
    low: float
    high: float
    p_value: float
    birds: int
    dof: int
    comparisons: int
    error: float


def cell_means(values: ArrayLike, bird: ArrayLike, observer: ArrayLike) -> tuple[Floats, Ints, Ints]:
    """Mean of each observer's measures of each bird.

    Parameters
    ----------
    values, bird, observer : array_like, shape (n,)
        Missing values are left out; birds and observers are numbered.

    Returns
    -------
    mean, bird, observer : numpy.ndarray
        One entry for each pair of a bird and an observer that measured it.
    """
    number = np.asarray(values, dtype=np.float64)
    known = np.isfinite(number)
    pairs = np.stack([np.asarray(bird)[known], np.asarray(observer)[known]], axis=1)
    cells, code = np.unique(pairs, axis=0, return_inverse=True)
    code = code.reshape(-1)
    if not len(cells):
        nobody = np.zeros(0, dtype=np.int64)
        return np.zeros(0), nobody, nobody
    mean = np.bincount(code, weights=number[known]) / np.bincount(code)
    return mean, np.asarray(cells[:, 0], dtype=np.int64), np.asarray(cells[:, 1], dtype=np.int64)


def biases(
    values: ArrayLike, bird: ArrayLike, observer: ArrayLike, against: int = -1, level: float = 0.95
) -> tuple[Bias, ...]:
    """Compare the observers of the same birds.

    Parameters
    ----------
    values, bird, observer : array_like, shape (n,)
        Measures, and the numbers of birds and observers. Not everybody needs to have measured every bird.
    against : int
        Number of the observer whom all others are held against, such as the trainer; -1: each is held against
        the mean of all others.
    level : float
        Chance that all intervals together hold.

    Returns
    -------
    tuple of Bias
        By the number of the observer; of two observers without a trainer one entry, the first against the
        second. Empty where no two observers measured the same birds, or too few birds to know the error.

    Raises
    ------
    ValueError
        Observers fall into groups that share no bird, so that nothing compares one group with the other; or
        the one to be held against measured no such bird.

    Notes
    -----
    Least squares of bird plus observer on the mean that each observer found for each bird, so that one
    observer's many repeats count no more than another's single measure; the error is what is left, bird by
    observer. Intervals are Student's with Bonferroni's correction for the number of comparisons, wide
    enough whatever the pattern of birds.

    References
    ----------
    Two-way layout without interaction: Searle, S. R. (1971). Linear Models, chapter 7 (from memory).

    Examples
    --------
    >>> told = biases([11, 10, 21, 20, 32, 30], [0, 0, 1, 1, 2, 2], [0, 1, 0, 1, 0, 1])
    >>> round(told[0].value, 3), told[0].dof, told[0].comparisons
    (1.333, 2, 1)
    """
    mean, bird_code, observer_code = cell_means(values, bird, observer)
    shared = _shared(bird_code)
    mean, bird_code, observer_code = mean[shared], bird_code[shared], observer_code[shared]
    names, who = np.unique(observer_code, return_inverse=True)
    if len(names) <= 1:
        return ()
    _refuse_parted(bird_code, who)
    if against >= 0 and against not in names:
        raise ValueError("the one to be held against measured no bird that others measured")
    effect, spread, error, dof = _fitted(mean, bird_code, who, len(names))
    if dof < 1:
        return ()
    nothing = _ROUNDING * float(np.abs(mean).max())
    error = 0.0 if error <= nothing else error
    contrasts = _contrasts(names, against)
    made = len(contrasts)
    reach = float(stdtrit(dof, 1 - (1 - level) / 2 / made))
    found = []
    for place, contrast in contrasts:
        value = float(contrast @ effect)
        value = 0.0 if abs(value) <= nothing else value
        se = error * sqrt(max(float(contrast @ spread @ contrast), 0.0))
        lone = 2 * float(stdtr(dof, -abs(value) / se)) if se else float(not value)
        found.append(
            Bias(
                observer=int(names[place]),
                against=_opponent(names, place, against),
                value=value,
                low=value - reach * se,
                high=value + reach * se,
                p_value=min(1.0, made * lone),
                birds=int((who == place).sum()),
                dof=dof,
                comparisons=made,
                error=error,
            )
        )
    return tuple(found)


def _opponent(names: Ints, place: int, against: int) -> int:
    if against >= 0:
        return against
    return int(names[1 - place]) if len(names) == 2 else -1  # noqa: PLR2004 - two people


def _shared(bird: Ints) -> NDArray[np.bool_]:
    """Whether a bird was measured by more than one observer."""
    _, code, size = np.unique(bird, return_inverse=True, return_counts=True)
    return np.asarray(size[code] > 1, dtype=bool)


def _refuse_parted(bird: Ints, who: Ints) -> None:
    """Refuse observers whom no bird joins."""
    joined = {int(who[0])}
    birds: set[int] = set()
    while True:
        birds_now = set(bird[np.isin(who, list(joined))].tolist())
        joined_now = set(who[np.isin(bird, list(birds_now))].tolist())
        if birds_now == birds and joined_now == joined:
            break
        birds, joined = birds_now, joined_now
    if len(joined) < int(who.max()) + 1:
        raise ValueError("observers fall into groups that share no bird")


def _fitted(mean: Floats, bird: Ints, who: Ints, people: int) -> tuple[Floats, Floats, float, int]:
    """Fit bird plus observer: effects of observers, their covariance over the error, error, its dof."""
    _, code = np.unique(bird, return_inverse=True)
    size = np.bincount(code)
    design = np.zeros((len(mean), people))
    design[np.arange(len(mean)), who] = 1.0
    # what birds explain is taken out of both sides: the fit is then one of observers alone
    inside = np.zeros((len(size), people))
    np.add.at(inside, code, design)
    left = design - (inside / size[:, None])[code]
    about = mean - (np.bincount(code, weights=mean) / size)[code]
    spread = np.asarray(np.linalg.pinv(left.T @ left), dtype=np.float64)
    effect = np.asarray(spread @ (left.T @ about), dtype=np.float64)
    rest = about - left @ effect
    dof = len(mean) - len(size) - (people - 1)
    return effect, spread, sqrt(float(rest @ rest) / dof) if dof > 0 else float("nan"), dof


def _contrasts(names: Ints, against: int) -> list[tuple[int, Floats]]:
    people = len(names)
    found = []
    for place in range(people):
        contrast = np.zeros(people)
        contrast[place] = 1.0
        if against >= 0:
            if names[place] == against:
                continue
            contrast[int(np.flatnonzero(names == against)[0])] = -1.0
        else:
            contrast[np.arange(people) != place] = -1 / (people - 1)
        found.append((place, contrast))
        if people == 2 and against < 0:  # noqa: PLR2004 - the second against the first says the same
            break
    return found
