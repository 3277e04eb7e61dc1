"""Rings of a series that were put on, where there is no list of what was issued."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from audit.models.ring_number import bare, join_ring, split_ring
from audit.rules.ring_ledger.tables import LARGEST

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.rules.fates import Integers
    from audit.rules.ring_ledger.tables import Handled, Lost
    from audit.rules.ring_rows import Key

__all__ = ["SeriesUse", "ranges", "series_uses"]


@dataclass(frozen=True, slots=True)
class SeriesUse:
    """The rings of one series that were put on, where there is no list of what was issued.

    Attributes
    ----------
    first, last : str
        Lowest and highest ring put on.
    used, lost : int
        How many rings were put on, and how many losses the series has.
    gaps : tuple of str
        Rings between them that are on no bird and among no losses, as ranges.
    missing : int
        How many these are.
    """

    first: str
    last: str
    used: int
    lost: int
    gaps: tuple[str, ...]
    missing: int


def series_uses(handled: Handled, lost: Lost) -> Iterator[tuple[Key, SeriesUse]]:
    """Rings put on, by series."""
    used: dict[Key, dict[int, str]] = {}
    for i in np.flatnonzero(handled.first & handled.lately).tolist():
        stem, digits = split_ring(handled.ring[i])
        if digits and int(digits) <= LARGEST:
            used.setdefault((bare(stem), len(digits)), {}).setdefault(int(digits), stem)
    gone: dict[Key, set[int]] = {}
    for ring in lost.ring:
        stem, digits = split_ring(ring)
        if digits:
            gone.setdefault((bare(stem), len(digits)), set()).add(int(digits))
    for key, stems in sorted(used.items()):
        yield key, _one_series(key, stems, gone.get(key, set()))


def _one_series(key: tuple[str, int], stems: dict[int, str], gone: set[int]) -> SeriesUse:
    numbers, width = sorted(stems), key[1]
    stem = stems[numbers[0]]
    gaps: list[str] = []
    missing = 0
    for below, above in pairwise(numbers):
        if above - below < 2:  # noqa: PLR2004 - next to each other
            continue
        inside = sorted(n for n in gone if below < n < above)
        for low, high in zip([below, *inside], [*inside, above], strict=True):
            if high - low > 1:
                gaps.append(_range(stem, width, low + 1, high - 1))
                missing += high - low - 1
    first, last = (join_ring(stem, n, width) for n in (numbers[0], numbers[-1]))
    return SeriesUse(first, last, len(numbers), len(gone), tuple(gaps), missing)


def ranges(stem: str, width: int, serials: Integers) -> list[str]:
    """Write the numbers of a series, in order, as runs."""
    breaks = np.flatnonzero(np.diff(serials) > 1)
    firsts = serials[np.concatenate(([0], breaks + 1))] if serials.size else serials
    lasts = serials[np.concatenate((breaks, [serials.size - 1]))] if serials.size else serials
    return [_range(stem, width, low, high) for low, high in zip(firsts.tolist(), lasts.tolist(), strict=True)]


def _range(stem: str, width: int, low: int, high: int) -> str:
    """Write a run of rings: its first and last number."""
    if low == high:
        return join_ring(stem, low, width)
    return f"{join_ring(stem, low, width)} to {join_ring(stem, high, width)}"
