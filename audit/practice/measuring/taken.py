"""Measures as they were taken: who measured which bird when, and where it is written."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from pathlib import Path

    from numpy.typing import NDArray

    from audit.practice.measuring.weighings import Weighed

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["NOBODY", "Measure", "MeasuredSheet", "Repeats", "Taken", "repeats_of"]

#: Stands for an observer whom the sheet does not name.
NOBODY = ""


@dataclass(frozen=True, slots=True)
class Measure:
    """What was measured.

    Attributes
    ----------
    field, title, unit : str
        Canonical column, or the header of a column of the team's own; what it is; its unit.
    """

    field: str
    title: str
    unit: str


@dataclass(frozen=True, slots=True)
class Taken:
    """One value as it was taken.

    Attributes
    ----------
    field, bird, observer, day : str
        Column; bird; who measured, empty where nobody is named; ISO date, empty where none is written.
    value : float
        In the unit of the measure.
    place : str
        Where it stands in the file.
    weighed : Weighed or None
        Gross and bag in the same row, of a mass.
    """

    field: str
    bird: str
    observer: str
    day: str
    value: float
    place: str
    weighed: Weighed | None = None


@dataclass(frozen=True, slots=True)
class MeasuredSheet:
    """A sheet of repeated measures, read.

    Attributes
    ----------
    name : str
    measures : tuple of Measure
        Those with at least one value, in the order of the columns.
    taken : tuple of Taken
        In the order of the sheet; of one bird and observer the first measure stands first.
    notices : tuple of str
        What a person should know of the reading.
    source : Path or None
        The file, which is never written to.
    """

    name: str
    measures: tuple[Measure, ...]
    taken: tuple[Taken, ...]
    notices: tuple[str, ...] = ()
    source: Path | None = None


@dataclass(frozen=True, slots=True)
class Repeats:
    """The values of one measure as arrays, shape (n,).

    Attributes
    ----------
    values, bird, observer : numpy.ndarray
        Values; numbers of birds and observers.
    birds, observers, places : tuple of str
        Names by number; where each value stands.
    weighed : tuple of (Weighed or None)
        Gross and bag beside each value.
    """

    measure: Measure
    values: Floats
    bird: Ints
    observer: Ints
    birds: tuple[str, ...]
    observers: tuple[str, ...]
    places: tuple[str, ...]
    weighed: tuple[Weighed | None, ...]

    @property
    def again(self) -> int:
        """How many birds were measured at least twice."""
        return int((np.bincount(self.bird, minlength=1) > 1).sum())

    def without(self, birds: Iterable[int]) -> Repeats:
        """Leave birds out, by number; the others keep theirs."""
        kept = np.flatnonzero(~np.isin(self.bird, list(birds)))
        return replace(
            self,
            values=self.values[kept],
            bird=self.bird[kept],
            observer=self.observer[kept],
            places=tuple(self.places[place] for place in kept),
            weighed=tuple(self.weighed[place] for place in kept),
        )


def repeats_of(sheet: MeasuredSheet, measure: Measure, *, across_days: bool) -> Repeats:
    """Lay the values of one measure out.

    Parameters
    ----------
    across_days : bool
        Whether a bird measured on two days counts as measured twice: true of specimens, never of nestlings,
        which have grown meanwhile.
    """
    used = [taken for taken in sheet.taken if taken.field == measure.field]
    whom = [_whom(taken, across_days=across_days) for taken in used]
    birds, observers = _numbered(whom), _numbered(sorted(taken.observer for taken in used))
    return Repeats(
        measure,
        np.array([taken.value for taken in used], dtype=np.float64),
        np.array([birds[name] for name in whom], dtype=np.int64),
        np.array([observers[taken.observer] for taken in used], dtype=np.int64),
        tuple(birds),
        tuple(observers),
        tuple(taken.place for taken in used),
        tuple(taken.weighed for taken in used),
    )


def _whom(taken: Taken, *, across_days: bool) -> str:
    return taken.bird if across_days or not taken.day else f"{taken.bird} on {taken.day}"


def _numbered(names: list[str]) -> Mapping[str, int]:
    return {name: number for number, name in enumerate(dict.fromkeys(names))}
