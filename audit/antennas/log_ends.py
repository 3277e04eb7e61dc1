"""When the loggers of a log ended, by their own clocks: one that ends an hour after all others was put on."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    import duckdb

    from audit.models.clock_limits import ClockLimits

__all__ = ["LogEnds", "log_ends"]

_SECOND_MS = 1000.0


@dataclass(frozen=True, slots=True)
class LogEnds:
    """When loggers ended.

    Attributes
    ----------
    last : mapping of int
        Code of the box -> last moment of a marker tag by its own clock, in milliseconds since 1970.
    within_s : float
        Loggers that end within so many seconds of each other ended together.
    others, share : int, float
        So many others must have, and so large a share of them.
    """

    last: Mapping[int, int] = field(default_factory=dict)
    within_s: float = 0.0
    others: int = 2
    share: float = 1.0

    def after(self, box: int) -> float:
        """Say by how many milliseconds a box ended after the others; nan where these did not end together.

        Examples
        --------
        >>> LogEnds({0: 1_000, 1: 2_000, 2: 3_601_500}, 900).after(2)
        3600000.0
        >>> LogEnds({0: 1_000, 1: 8_000_000, 2: 3_601_500}, 900).after(2)
        nan
        """
        others = np.array([moment for other, moment in self.last.items() if other != box])
        if len(others) < self.others or box not in self.last:
            return float("nan")
        middle = float(np.median(others))
        together = np.abs(others - middle) <= self.within_s * _SECOND_MS
        if together.sum() < max(self.others, self.share * len(others)):
            return float("nan")
        return self.last[box] - middle


def log_ends(engine: duckdb.DuckDBPyConnection, tags: Iterable[int], limits: ClockLimits) -> LogEnds:
    """Look up when the marker tags of each box were read last."""
    asked = "select box, max(stamp) from held.reads where tag in (select unnest(?::int[])) group by box"
    with engine.cursor() as cursor:
        rows = cursor.execute(asked, [sorted(tags)]).fetchall()
    last = {int(box): int(moment) for box, moment in rows}
    return LogEnds(last, limits.ended_within_s, limits.ended_others, limits.ended_share)
