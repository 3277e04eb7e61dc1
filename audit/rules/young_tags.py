"""Tags that a season says were put on nestlings: at which box, and when."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.rules.case import Case
from audit.rules.tagged_birds import tagged_birds
from audit.season import texts_in

if TYPE_CHECKING:
    from audit.declarations import Declarations
    from audit.season import Season

__all__ = ["young_tags"]

_DAY_MS = int(np.timedelta64(1, "D") / np.timedelta64(1, "ms"))


def young_tags(season: Season, declared: Declarations) -> dict[str, dict[str, int]]:
    """Find the tags put on the nestlings of each box.

    Parameters
    ----------
    season : Season
    declared : Declarations

    Returns
    -------
    dict
        Box -> tags as they were typed, with the day of the handling in milliseconds since 1970. Nestlings of
        which no age is told are left out, and so are tags and boxes in doubt.
    """
    if not season.has("handlings", "tag", "box", "date", "age"):
        return {}
    case = Case(season, declared, declared.rules["heard_life"])
    frame = case.frame("handlings")
    ages = dict(zip(frame.index, texts_in(frame, "age"), strict=True))
    found: dict[str, dict[str, int]] = {}
    for bird in tagged_birds(case).birds:
        if bird.young and bird.typed and bird.fitted and not bird.doubted and ages.get(bird.row.label):
            found.setdefault(bird.box, {})[bird.typed] = bird.since * _DAY_MS
    return found
