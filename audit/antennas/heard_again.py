"""Who was heard when, in boxes whose moments were set right."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping

    from numpy.typing import NDArray

    from audit.models.reads import Reads

    Ints = NDArray[np.int64]

__all__ = ["HeardAgain"]

_DAY_MS = 86_400_000


class HeardAgain:
    """Who was heard when, in boxes whose moments were set right; nothing of other boxes.

    Attributes
    ----------
    heard, nights : dict
        Code of the box -> columns of who was heard when, in all and by nights.
    """

    def __init__(self) -> None:
        self.heard: dict[int, list[Ints]] = {}
        self.nights: dict[int, list[Ints]] = {}

    def remember(self, reads: Reads, boxes: Collection[int]) -> None:
        """Keep who was heard when in some boxes, as their reads tell, sorted by box."""
        for box in boxes:
            mine = slice(*np.searchsorted(reads.box, [box, box + 1]))
            self.keep(box, reads.tag[mine], reads.at[mine])

    def keep(self, box: int, tag: NDArray[np.int32], at: Ints) -> None:
        """Keep who was heard when at a box, by moments set right."""
        night = (at - _DAY_MS // 2) // _DAY_MS
        for table, parts in ((self.heard, (tag,)), (self.nights, (tag, night))):
            order = np.lexsort((at, *reversed(parts)))
            keys = [one[order].astype(np.int64) for one in parts]
            first = np.any([np.diff(one, prepend=one[0] - 1) != 0 for one in keys], axis=0)
            starts = np.flatnonzero(first)
            ends = np.append(starts[1:], len(at))
            table[box] = [
                np.full(len(starts), box),
                *(one[starts] for one in keys),
                ends - starts,
                at[order][starts],
                at[order][ends - 1],
            ]

    def put_right(self, table: Mapping[str, Ints], *, nightly: bool) -> dict[str, Ints]:
        """Put who was heard when, by moments set right, in the place of what was logged.

        Parameters
        ----------
        table : mapping of str to numpy.ndarray
            Columns ``box``, ``tag``, ``night`` where it is by nights, ``reads``, ``first``, ``last``.
        nightly : bool
        """
        new = self.nights if nightly else self.heard
        if not new:
            return dict(table)
        kept = ~np.isin(table["box"], list(new))
        columns = [
            np.concatenate([column[kept], *(rows[nr] for rows in new.values())])
            for nr, column in enumerate(table.values())
        ]
        order = np.lexsort(tuple(reversed(columns[: 3 if nightly else 2])))
        return {
            name: column[order].astype(old.dtype)
            for (name, old), column in zip(table.items(), columns, strict=True)
        }
