"""What the meetings of one bird have in common: rings met at least twice, in order of date."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from audit.rules.birds import Birds, birds_of
from audit.rules.plain import plain_text
from audit.rules.species_outlook import species_outlook, species_sizes

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from audit.declarations.species import Species
    from audit.rules.case import Case
    from audit.rules.outlook import Outlook
    from audit.rules.sizes import Sizes

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["Kind", "Lives", "kinds_of", "lives_of"]


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


@dataclass(frozen=True, slots=True)
class Kind:
    """The birds of one species; what is expected of them is worked out when it is asked.

    Attributes
    ----------
    species : Species
    rows : numpy.ndarray of int
        Where they stand among all birds.
    birds : Birds
    """

    case: Case
    species: Species
    rows: Ints
    birds: Birds

    @property
    def places(self) -> dict[int, int]:
        """Where each row stands among the birds of the species."""
        return {row: place for place, row in enumerate(self.rows.tolist())}

    def sizes(self) -> Sizes:
        """Say what sizes they have."""
        return species_sizes(self.case, self.species.slug, self.birds)

    def outlook(self) -> Outlook:
        """Say what is expected of each of them."""
        return species_outlook(self.case, self.species.slug, self.birds)


def kinds_of(case: Case, lives: Lives) -> Iterator[Kind]:
    """Part the birds by species, of all species that were met twice."""
    for slug in dict.fromkeys(lives.birds.slug[lives.order]):
        if slug in case.declared.species:
            rows = np.flatnonzero(lives.birds.slug == slug)
            yield Kind(case, case.declared.species[slug], rows, lives.birds.of(rows))
