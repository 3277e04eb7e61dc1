"""Birds that the antennas of the boxes read: one occurrence per bird, box and night.

A bird in the entrance is read hundreds of times a night, and each read says the same: it was there. So all
reads of one bird at one box from noon to noon are one occurrence, with the first and the last moment as its
interval and the number of reads as a measurement. Noon, since a night of an owl must not be cut at
midnight.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import pandas as pd

from audit.handover.darwin_core.identities import box_event, joined
from audit.handover.darwin_core.plain_text import looked_up

if TYPE_CHECKING:
    from audit.declarations.darwin_core import DarwinCore
    from audit.handover.darwin_core.organisms import Organisms
    from audit.handover.darwin_core.season_rows import SeasonRows

__all__ = ["Nights", "nights_of"]


@dataclass(frozen=True, slots=True)
class Nights:
    """What the antennas saw.

    Attributes
    ----------
    events : pandas.DataFrame
        One row per box and night with a bird: ``eventID``, ``parentEventID``, ``box``, ``eventDate``,
        ``day``.
    occurrences : pandas.DataFrame
        One row per bird, box and night: ``eventID``, ``occurrenceID``, ``organismID``, ``eventDate``,
        ``reads``.
    strange_tags, strange_reads : int
        Tags that no bird of the season bore by then, or more than one, and the reads of them: left out.
    """

    events: pd.DataFrame
    occurrences: pd.DataFrame
    strange_tags: int = 0
    strange_reads: int = 0


def nights_of(season: str, rows: SeasonRows, birds: Organisms, terms: DarwinCore) -> Nights:
    """Gather the reads of the antennas."""
    reads = rows.detections
    if reads.empty:
        empty = pd.DataFrame(columns=["eventID", "parentEventID", "box", "eventDate", "day"], dtype=object)
        return Nights(empty, pd.DataFrame(columns=["eventID", "occurrenceID", "organismID"], dtype=object))
    start = pd.Timedelta(hours=terms.number("day_starts_hour"))
    key = looked_up(reads["tag"], birds.read_key)
    moment = pd.to_datetime(reads["detected_at"])
    here = pd.DataFrame(
        {
            "box": reads["box"],
            "key": key,
            "moment": moment,
            "day": (moment - start).dt.strftime("%Y-%m-%d"),
            "organismID": looked_up(key, {tag: bird for tag, (bird, _) in birds.of_tag.items()}),
            "since": looked_up(key, {tag: since for tag, (_, since) in birds.of_tag.items()}),
        },
        dtype=object,
    )
    # a bird without a day of its first handling may have borne the tag at any time
    borne = (here["organismID"] != "") & (moment.dt.strftime("%Y-%m-%d") >= here["since"])
    known = here[borne]
    seen = known.assign(moment=pd.to_datetime(known["moment"])).groupby(
        ["box", "day", "organismID"], sort=True, as_index=False
    )
    birds_seen = seen.agg(first=("moment", "min"), last=("moment", "max"), reads=("moment", "size"))
    birds_seen["eventID"] = joined(birds_seen.index, "night", birds_seen["day"], birds_seen["box"])
    birds_seen["occurrenceID"] = joined(
        birds_seen.index,
        "detection",
        birds_seen["day"],
        birds_seen["box"],
        birds_seen["organismID"].astype(object).str.removeprefix("bird:"),
    )
    birds_seen["eventDate"] = _interval(birds_seen["first"], birds_seen["last"])
    birds_seen["reads"] = birds_seen["reads"].astype(str).astype(object)
    events = birds_seen[["eventID", "box", "day"]].drop_duplicates("eventID").reset_index(drop=True)
    begin = pd.to_datetime(events["day"]) + start
    events["eventDate"] = _interval(begin, begin + pd.Timedelta(days=1))
    events["parentEventID"] = box_event(season, events["box"])
    strange = here[~borne]
    return Nights(events, birds_seen, int(strange["key"].nunique()), len(strange))


def _interval(first: pd.Series, last: pd.Series) -> pd.Series:
    """Write intervals as ISO 8601 to the second, in the time of the logger."""
    begin, end = (moments.dt.strftime("%Y-%m-%dT%H:%M:%S").tolist() for moments in (first, last))
    texts = ["/".join(dict.fromkeys(pair)) for pair in zip(begin, end, strict=True)]
    return pd.Series(texts, index=first.index, dtype=object)
