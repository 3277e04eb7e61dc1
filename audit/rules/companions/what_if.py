"""Nestlings whose brood is looked at several times over, each time with other measures left out."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.models.kinship import Kin, kin_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["Known", "apart", "broods_of", "left_out"]

#: Place of a nestling, and those of its brood whose wings, and masses, are not known.
Known = tuple[int, "Ints", "Ints"]


def broods_of(kin: Kin, places: Sequence[int]) -> list[Ints]:
    """Give the places of the whole brood of each nestling."""
    broods = kin.brood[list(places)].tolist()
    members = {brood: np.flatnonzero(kin.brood == brood) for brood in set(broods)}
    return [members[brood] for brood in broods]


def apart(kin: Kin, broods: Sequence[Ints], *, most: int) -> Kin:
    """Make a brood of its own of each of some broods, which may be the same ones over again.

    Parameters
    ----------
    most : int
        As for `kin_of`.
    """
    among = np.concatenate(broods)
    which = np.repeat(np.arange(len(broods)), [len(one) for one in broods])
    codes = []
    for code in (kin.bird, kin.visit):
        _, one = np.unique(code[among], return_inverse=True)
        codes.append(np.unique(which * len(among) + one, return_inverse=True)[1])
    return kin_of(which, codes[0], codes[1], most=most)


def left_out(values: Floats, broods: Sequence[Ints], unknown: Sequence[Ints]) -> Floats:
    """Give the values of all these broods, some of each of them missing."""
    found = [values[one] for one in broods]
    for some, one, gone in zip(found, broods, unknown, strict=True):
        some[np.isin(one, gone)] = np.nan
    return np.concatenate(found)
