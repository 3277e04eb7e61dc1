"""Tags that a person read at a box with a hand reader, and when, as sheet and download say together."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

import numpy as np

from audit.rules.case import Case
from audit.rules.download import download_of
from audit.rules.reader_clock import clocks_of
from audit.season import texts_in

if TYPE_CHECKING:
    from audit.declarations import Declarations
    from audit.season import Season

__all__ = ["hand_reads"]


def hand_reads(season: Season, declared: Declarations) -> dict[str, list[tuple[str, int]]]:
    """Find at which box each tag was read by hand, and when.

    Parameters
    ----------
    season : Season
    declared : Declarations

    Returns
    -------
    dict
        Box -> tags as the reader stored them and when they really were read, in milliseconds since 1970
        of the sheet's own time. Only reads by readers whose clock the times on the sheet tell: a reader may
        be an hour off, too. Empty where the season has no download, no times or no boxes.
    """
    if not (season.has("tag_reads", "tag", "read_at") and season.has("handlings", "tag", "box")):
        return {}
    case = Case(season, declared, declared.rules["reader"])
    frame = season.frame("handlings")
    box_of = dict(zip(frame.index.tolist(), texts_in(frame, "box"), strict=True))
    clock_of = {one.reader: one.clock for one in clocks_of(case).clocks}
    found: dict[str, list[tuple[str, int]]] = defaultdict(list)
    for read in download_of(case).reads:
        box = box_of.get(read.row, "")
        if not box or read.role != "bird" or read.segment < 0 or not read.moment:
            continue
        if clock_of[read.reader].segments[read.segment].exact:
            moment = int(np.datetime64(read.moment, "ms").astype(np.int64))
            found[box].append((read.tag, moment))
    return dict(found)
