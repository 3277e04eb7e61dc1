"""Events: the season, each box in it, each visit to a box, each night that an antenna saw a bird."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from audit.handover.darwin_core.identities import box_event, season_event, visit_events
from audit.handover.darwin_core.places import PLACE_COLUMNS, public_places
from audit.handover.darwin_core.plain_text import looked_up

if TYPE_CHECKING:
    from collections.abc import Iterable

    from audit.declarations import Declarations
    from audit.handover.darwin_core.nights import Nights
    from audit.handover.darwin_core.season_rows import SeasonRows

__all__ = ["EVENT_COLUMNS", "events_of", "season_name"]

#: Columns of ``event.csv``, in order.
EVENT_COLUMNS = (
    *("eventID", "parentEventID", "eventType", "eventDate", "samplingProtocol", "sampleSizeValue"),
    *("sampleSizeUnit", "locationID", "locality", *PLACE_COLUMNS, "eventRemarks"),
)


def season_name(rows: SeasonRows) -> str:
    """Name the event of the whole season."""
    return season_event([*rows.handlings["date"], *rows.visits["date"]])


def events_of(season: str, rows: SeasonRows, nights: Nights, declared: Declarations) -> pd.DataFrame:
    """Return all events, the season first, the rest by name.

    What a row of a table without a day or a box belongs to is the box or the season, so that nothing is lost.
    """
    terms, sender = declared.darwin_core, declared.sender
    met = pd.concat([rows.handlings[["date", "time", "box"]], rows.visits[["date", "time", "box"]]])
    met["eventID"] = visit_events(season, met)
    visits = _visits(met[(met["date"] != "") & (met["box"] != "")], season)
    visits["eventRemarks"] = looked_up(visits["eventID"], _remarks(season, rows, declared))
    logged = nights.events.assign(kind="night")
    below = pd.concat([visits.assign(kind="visit"), logged], ignore_index=True)
    days = pd.concat([met[["box", "date"]].rename(columns={"date": "day"}), logged[["box", "day"]]])
    boxes = _spans(days[days["box"] != ""], "box")
    boxes["eventID"], boxes["parentEventID"], boxes["kind"] = box_event(season, boxes["box"]), season, "box"
    whole = pd.DataFrame(
        {"eventID": [season], "parentEventID": [""], "eventDate": [_span(days["day"])], "kind": ["season"]}
    )
    rest = pd.concat([boxes, below], ignore_index=True).sort_values("eventID", kind="stable")
    events = pd.concat([whole, rest], ignore_index=True).fillna("").astype(object)
    for column, group in (("eventType", "words"), ("samplingProtocol", "protocols")):
        events[column] = looked_up(events["kind"], terms.words(group))
    events["locationID"] = events["box"]
    boxed = events["box"] != ""
    events["sampleSizeValue"] = looked_up(boxed, {True: "1", False: str(len(boxes))})
    events["sampleSizeUnit"] = looked_up(boxed, {True: "nest box", False: "nest boxes"})
    # the name of a narrower place would tell what the rounding hides
    events["locality"] = sender.place.name
    places = public_places(rows.boxes, sender, terms)
    for column in PLACE_COLUMNS:
        events[column] = looked_up(events["box"], places[column].to_dict())
    return events.reindex(columns=list(EVENT_COLUMNS), fill_value="").astype(object)


def _visits(met: pd.DataFrame, season: str) -> pd.DataFrame:
    """One row per visit: a day, or the times on it from the first to the last."""
    visits = met[["eventID", "box", "date"]].drop_duplicates("eventID").sort_values("eventID")
    visits = visits.rename(columns={"date": "day"}).reset_index(drop=True)
    known = met[met["time"] != ""].sort_values("time")
    first, last = (
        looked_up(visits["eventID"], dict(zip(ends["eventID"], ends["time"], strict=True)))
        for ends in (known.drop_duplicates("eventID", keep=which) for which in ("first", "last"))
    )
    begin = visits["day"].where(first == "", visits["day"] + "T" + first)
    end = visits["day"] + "T" + last
    visits["eventDate"] = begin.where((first == last), begin + "/" + end)
    visits["parentEventID"] = box_event(season, visits["box"])
    return visits


def _spans(days: pd.DataFrame, by: str) -> pd.DataFrame:
    days_of: dict[str, set[str]] = {}
    for one, day in zip(days[by], days["day"], strict=True):
        days_of.setdefault(one, set()).add(day)
    spans = [(one, _span(days_of[one])) for one in sorted(days_of)]
    return pd.DataFrame(spans, columns=[by, "eventDate"], dtype=object)


def _span(days: Iterable[str]) -> str:
    """Write the first and the last of some days as ISO 8601."""
    known = sorted({day for day in days if day})
    return "/".join(dict.fromkeys((known[0], known[-1]))) if known else ""


def _remarks(season: str, rows: SeasonRows, declared: Declarations) -> dict[str, str]:
    if not declared.darwin_core.goes_out("remarks"):
        return {}
    noted = rows.visits[rows.visits["remarks"] != ""]
    texts = (
        noted["remarks"].groupby(visit_events(season, noted)).agg(lambda some: " | ".join(sorted(set(some))))
    )
    return dict(zip(texts.index, texts, strict=True))
