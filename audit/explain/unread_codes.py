"""What a code of few values, or a number, may be expected to be by its column and its siblings."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

import numpy as np

from audit.explain.unread_chances import smoothed
from audit.explain.unread_sheet import Belief
from audit.rules.plain import plain_text

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from audit.explain.unread_witnesses import Witnesses

    Floats = NDArray[np.float64]

__all__ = ["CodeBeliefs"]


class CodeBeliefs:
    """Beliefs about codes and numbers."""

    def __init__(self, seen: Witnesses) -> None:
        self.seen = seen

    def code(self, field: str, row: int, allowed: Sequence[str]) -> Belief | None:
        """Weigh a code such as a leg by siblings, the bird's own rows and the whole column."""
        sheet = self.seen.sheet
        column = sheet.words(field)
        usual = Counter(value for value in column if value is not None)
        values = list(dict.fromkeys([*allowed, *usual]))
        if not values or len(values) > self.seen.tables.setting("most_codes"):
            return None
        total = usual.total() + len(values) / 2
        share = np.array([(usual[value] + 1 / 2) / total for value in values])
        log = np.log(share)
        groups: list[Counter[object]] = []
        for by, rows in (("visit", sheet.mates(row)), ("bird", sheet.same_bird(row))):
            said = Counter(column[i] for i in rows if column[i] is not None)
            groups.append(said)
            if said:
                alike = sheet.alike(field, by)
                near = np.array([said[value] / said.total() for value in values])
                # how much likelier than usual
                log += np.log(alike * near + (1 - alike) * share) - np.log(share)

        def because(k: int) -> str:
            value = values[k]
            if n := groups[1][value]:
                return f"the same bird has {value} in {n} other row{'s' if n > 1 else ''}"
            if n := groups[0][value]:
                return (
                    f"{n} other bird{'s' if n > 1 else ''} of the visit {'have' if n > 1 else 'has'} {value}"
                )
            if usual[value] * 2 > usual.total():
                return f"{usual[value]} of {usual.total()} rows have {value}"
            return ""

        return Belief([plain_text(value) for value in values], log, because, "a code of this column")

    def number(self, field: str, row: int, unit: float) -> Belief | None:
        """Weigh a number by the whole column and the same visit."""
        column = self.seen.sheet.numbers(field)
        known = column[np.isfinite(column)]
        grid = self.grid(known, unit)
        if grid is None:
            return None
        mates = np.array([column[i] for i in self.seen.sheet.mates(row) if np.isfinite(column[i])])
        width = max(float(np.subtract(*np.quantile(known, [0.75, 0.25]))) / 2, unit)
        log = smoothed(grid, known, width)
        if len(mates):
            log = log + smoothed(grid, mates, max(width / 2, unit))
        low, high = (float(mates.min()), float(mates.max())) if len(mates) else (0.0, 0.0)

        def because(k: int) -> str:
            if not len(mates) or not low <= grid[k] <= high:
                return ""
            if low == high:
                return f"its siblings have {plain_text(low)}"
            return f"its siblings have {plain_text(low)} to {plain_text(high)}"

        return Belief([plain_text(value) for value in grid], log, because, "a number")

    def grid(self, known: Floats, unit: float) -> Floats | None:
        """All numbers that a column may hold, to its unit; None where they are too many."""
        if not len(known):
            return None
        top = float(np.max(np.abs(known))) * self.seen.tables.setting("beyond_column")
        low = min(float(known.min()) * 2, 0.0)
        n = int((top - low) / unit) + 1
        if n > self.seen.tables.setting("most_numbers"):
            return None
        found: Floats = np.round(low + np.arange(n + 1) * unit, 2)
        return found
