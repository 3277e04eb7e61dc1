"""How far each wing and mass lies from what all other cells let expect of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from audit.rules.company import Expected
    from audit.rules.stature import Outlook, Sizes

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Words = NDArray[np.object_]

__all__ = ["Distances", "distances_of"]


@dataclass(frozen=True, slots=True)
class Distances:
    """Distances in predictive standard deviations, shape (n,); missing where nothing is expected.

    A wing is foretold from the mass, a mass from the wing, both from recorded age, siblings and the bird's
    own other visits; never a measure from itself.
    """

    wing: Floats
    mass: Floats


def distances_of(outlooks: Mapping[str, Outlook], slug: Words, place: Ints) -> Distances:
    """Hold every wing and mass of a season against what is foretold of it.

    Parameters
    ----------
    outlooks : mapping of str to Outlook
        What is expected of the birds of each species.
    slug : numpy.ndarray of str, shape (n,)
        Species of each row.
    place : numpy.ndarray of int, shape (n,)
        Where each row stands in the outlook of its species; -1 where it stands in none.

    References
    ----------
    Law of total variance over the ages that the other evidence allows.
    """
    wing, mass = np.full(len(place), np.nan), np.full(len(place), np.nan)
    for species, outlook in outlooks.items():
        rows = np.flatnonzero((place >= 0) & (slug == species))
        grown = outlook.birds.grown
        for found, column in ((wing, "wing_mm"), (mass, "mass_g")):
            told = np.full(len(rows), np.nan)
            for places, distance in (
                (np.flatnonzero(grown == 1), _of_adults),
                (np.flatnonzero(grown == 0), _of_nestlings),
            ):
                if len(places):
                    told[places] = distance(outlook, places, column)
            found[rows] = told
    return Distances(wing, mass)


def _measured(outlook: Outlook, column: str) -> Floats:
    return outlook.birds.wing if column == "wing_mm" else outlook.birds.mass


def _of_adults(outlook: Outlook, places: Ints, column: str) -> Floats:
    value, sex = _measured(outlook, column)[places], outlook.birds.sex[places]
    found = np.full(len(places), np.nan)
    for one in ("", "M", "F"):
        size = outlook.sizes.adult_range(one, column)
        if size is not None:
            found = np.where(sex == one, np.log(value / size[0]) / size[1], found)
    return found


def _of_nestlings(outlook: Outlook, places: Ints, column: str) -> Floats:
    sizes, expected = outlook.sizes, outlook.expected.of(places)
    value = _measured(outlook, column)[places]
    if not sizes.follows:
        middle = expected.log_wing if column == "wing_mm" else expected.log_mass
        spread = expected.log_wing_sd if column == "wing_mm" else expected.log_mass_sd
        told = spread <= sizes.grain.enough
        return np.where(told, (np.log(value) - middle) / spread, np.nan)
    if column not in sizes.species.curves:
        return np.full(len(places), np.nan)
    chance = _ages(outlook, places, expected, column)
    mean, within = _usual(sizes, column, expected)
    centre = (chance * mean).sum(axis=1)
    variance = (chance * (within**2 + (mean - centre[:, None]) ** 2)).sum(axis=1)
    distance: Floats = (value - centre) / np.sqrt(variance)
    return distance


def _ages(outlook: Outlook, places: Ints, expected: Expected, column: str) -> Floats:
    """Probability of each age tried by all but the measure itself, shape (k, g)."""
    birds, sizes = outlook.birds, outlook.sizes
    logs = outlook.log_ages(places, expected)
    if column == "mass_g":
        logs = logs + sizes.log_wing(birds.wing[places], expected)
    else:
        logs = logs + sizes.log_mass(birds.mass[places], expected, birds.age[places])
    chance = np.exp(logs - logs.max(axis=1, keepdims=True))
    found: Floats = chance / chance.sum(axis=1, keepdims=True)
    return found


def _usual(sizes: Sizes, column: str, expected: Expected) -> tuple[Floats, Floats]:
    """Mean and spread at each age tried, shape (k, g)."""
    mean, spread = sizes.usual(column, 0.0, 1.0)
    if column == "wing_mm":
        return mean[None, :], spread[None, :]
    shift, left = expected.shift[:, None], expected.left[:, None]
    return mean + shift * spread, left * spread
