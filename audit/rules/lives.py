"""What the meetings of one bird have in common: rings met at least twice, in order of date."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from audit.rules.birds import Birds, birds_of
from audit.rules.plain import plain_text
from audit.rules.species_outlook import species_outlook

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from audit.rules.case import Case
    from audit.rules.outlook import Outlook

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["Lives", "lives_of", "outlooks_of"]


@dataclass(frozen=True, slots=True)
class Lives:
    """All birds that were met more than once, in order of ring and date.

    Attributes
    ----------
    birds : Birds
        The handlings in sheet order.
    frame : pandas.DataFrame
        The same, cells in doubt missing.
    order : numpy.ndarray of int
        Rows of rings met at least twice, by ring, then date.
    earlier, later : numpy.ndarray of int
        Rows of two meetings of one bird that follow each other.
    gap : numpy.ndarray
        Days between them.
    """

    birds: Birds
    frame: pd.DataFrame
    ring: pd.Series
    order: Ints
    earlier: Ints
    later: Ints
    gap: Floats

    def met(self, row: int) -> Ints:
        """All rows of the ring that stands in a row, by date."""
        same: Ints = self.order[self.ring.to_numpy()[self.order] == self.ring.iloc[row]]
        return same

    def day(self, row: int) -> str:
        """Day of a row, as ISO 8601."""
        return plain_text(self.frame["date"].iloc[row])

    def label(self, row: int) -> str:
        """Label of a row."""
        return str(self.birds.labels[row])


def lives_of(case: Case) -> Lives:
    """Find the birds that were met more than once; cells in doubt are missing."""
    birds = birds_of(case, fallback=str(case.setting("season.species.default_species")))
    frame = case.sure("handlings")
    ring = frame["ring"].fillna("").astype("str")
    usable = (ring.ne("") & frame["date"].notna()).to_numpy()
    met = usable & ring.where(usable, "").duplicated(keep=False).to_numpy()
    rows = np.flatnonzero(met)
    days: Ints = frame["date"].to_numpy().astype("datetime64[D]").astype(np.int64)
    codes, _ = pd.factorize(ring)
    order = rows[np.lexsort((rows, days[rows], codes[rows]))]
    same = codes[order[1:]] == codes[order[:-1]] if len(order) else np.array([], dtype=bool)
    earlier, later = order[:-1][same], order[1:][same]
    gap = (days[later] - days[earlier]).astype(np.float64)
    return Lives(birds, frame, ring, order, earlier, later, gap)


def outlooks_of(case: Case, lives: Lives) -> Mapping[str, tuple[Outlook, dict[int, int]]]:
    """Say what is expected of the birds of each species that was met twice, and where each row stands."""
    found = {}
    for slug in dict.fromkeys(lives.birds.slug[lives.order]):
        if slug in case.declared.species:
            places = np.flatnonzero(lives.birds.slug == slug)
            own = lives.birds.of(places)
            outlook = species_outlook(case, slug, own)
            found[slug] = (outlook, {int(row): i for i, row in enumerate(places)})
    return found
