"""Rows of an archive that may be of one bird, over all seasons: found by ring, tag or place."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Collection, Hashable, Iterable

    import pandas as pd

__all__ = ["Kin"]

#: By what rows are found; they are no columns of an excerpt.
_KEYS = ["season", "scheme", "ring_key", "tag_key"]


@dataclass(slots=True)
class Kin:
    """Rows with what their birds are known by.

    Attributes
    ----------
    frame : pandas.DataFrame
        ``at``, ``file``, ``row``, the canonical columns as text, and ``season``, ``scheme``, ``ring_key``,
        ``tag_key`` (missing where none is told); sorted by ``at``.
    """

    frame: pd.DataFrame
    _told: pd.DataFrame = field(init=False, repr=False)
    _place: dict[int, int] = field(default_factory=dict, repr=False)
    _rings: dict[Hashable, list[int]] = field(default_factory=dict, repr=False)
    _tags: dict[Hashable, list[int]] = field(default_factory=dict, repr=False)
    _keys: list[tuple[str, str, str, str]] = field(default_factory=list, repr=False)

    def __post_init__(self) -> None:
        """File the rows once: excerpts are many."""
        self._told = self.frame.drop(columns=_KEYS)
        self._place = {int(at): place for place, at in enumerate(self.frame["at"].tolist())}
        cells = (self.frame[name].astype(object).where(self.frame[name].notna(), "") for name in _KEYS)
        self._keys = list(zip(*(column.astype("str").tolist() for column in cells), strict=True))
        for place, (_, scheme, ring, tag) in enumerate(self._keys):
            if ring:
                self._rings.setdefault((scheme, ring), []).append(place)
            if tag:
                self._tags.setdefault(tag, []).append(place)

    def rings_of(self, rows: Iterable[int]) -> set[str]:
        """Rings of some rows, by ``at``; rows that are not here have none."""
        places = (self._place[at] for at in rows if at in self._place)
        return {ring for place in places if (ring := self._keys[place][2])}

    def alike(
        self,
        rows: Collection[int],
        rings: Collection[str] = (),
        *,
        before: str | None = None,
        without: Collection[int] = (),
    ) -> pd.DataFrame:
        """Take the rows elsewhere that bear a ring or a tag of some rows.

        Parameters
        ----------
        rows : collection of int
            ``at`` of rows.
        rings : collection of str
            Further rings of the same scheme.
        before : str, optional
            Of earlier seasons alone.
        without : collection of int
            ``at`` of rows that are left out.

        Returns
        -------
        pandas.DataFrame
            As `frame`, without what rows are found by.
        """
        mine = [self._place[at] for at in rows if at in self._place]
        found: set[int] = set()
        schemes = set()
        for place in mine:
            _, scheme, ring, tag = self._keys[place]
            schemes.add(scheme)
            found.update(self._rings.get((scheme, ring), ()), self._tags.get(tag, ()))
        for scheme in schemes:
            for ring in rings:
                found.update(self._rings.get((scheme, ring), ()))
        if before is not None:
            found = {place for place in found if self._keys[place][0] < before}
        found.difference_update(self._place[at] for at in without if at in self._place)
        return self._told.iloc[sorted(found)].reset_index(drop=True)
