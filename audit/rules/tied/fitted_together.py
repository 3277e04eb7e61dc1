"""Tags that were fitted at one visit, and how near to each other their numbers lie."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from functools import cached_property
from statistics import median
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping

    from numpy.typing import NDArray

    from audit.rules.case import Case
    from audit.rules.tag_book import TagBook, TagRow

__all__ = ["FittedTogether"]

#: Signs of the two forms in which tags are compared.
_DECIMALS, _HEX = len("528140000795552"), len("0110ABCDEF")
_SIGNS = "0123456789ABCDEF"
#: Numbers of 15 digits are below this power of two.
_POWERS = np.iinfo(np.int64).bits


@dataclass(frozen=True)
class FittedTogether:
    """Tags by the visit at which they were fitted."""

    case: Case
    book: TagBook

    @cached_property
    def _fitted_at(self) -> Mapping[tuple[str, str], Mapping[str, int]]:
        """Tags fitted at each visit, as numbers."""
        found: dict[tuple[str, str], dict[str, int]] = defaultdict(dict)
        for row in self.book.rows:
            number = _number(row.key)
            if number is not None and row.day and row.box and self.book.fitted(row):
                found[row.visit][row.key] = number
        return found

    @cached_property
    def _apart(self) -> tuple[float, NDArray[np.float64]] | None:
        """Within which distance of the middle of their visit most tags lie; density beyond, by powers of two.

        Densities are beside that within. None where too few tags were fitted together to tell.
        """
        gaps = np.array(
            [
                abs(number - median([other for other in numbers if other != number]))
                for tags in self._fitted_at.values()
                if len(numbers := sorted(set(tags.values()))) > 1
                for number in numbers
            ],
            dtype=np.float64,
        )
        if len(gaps) < self.case.limit("fitted_least"):
            return None
        share = float(self.case.limit("fitted_within"))
        reach = max(float(np.quantile(gaps, share)), 1.0)
        within = share * len(gaps) / reach
        powers = np.frexp(gaps[gaps > reach])[1]
        counts = np.bincount(powers, minlength=_POWERS) + float(self.case.limit("fitted_weight"))
        return reach, np.asarray(counts / 2.0 ** (np.arange(len(counts)) - 1) / within, dtype=np.float64)

    def beside(self, key: str, row: TagRow, asked: Collection[str]) -> float:
        """How likely a tag is among those fitted at one visit, beside the likeliest."""
        number = _number(key)
        mates = [other for one, other in self._fitted_at.get(row.visit, {}).items() if one not in asked]
        if number is None or not mates or self._apart is None or not self.book.fitted(row):
            return 1.0
        reach, beyond = self._apart
        gap = abs(number - median(mates))
        if gap <= reach:
            return 1.0
        return min(float(beyond[min(int(np.frexp(gap)[1]), len(beyond) - 1)]), 1.0)


def _number(key: str) -> int | None:
    """Return the number of a tag of digits, or of ten hexadecimal ones."""
    if not key.isascii():
        return None
    if key.isdigit() and len(key) == _DECIMALS:
        return int(key)
    return int(key, len(_SIGNS)) if len(key) == _HEX and all(sign in _SIGNS for sign in key) else None
