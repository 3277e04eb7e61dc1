"""Measurements and facts: of each bird in the hand, of each brood, of each visit, of each night.

Gross, bag and net belong together. In the standard a parent measurement is the broader one that groups
others, and a row has one parent at most. So net, which follows from the other two and could not name both
as parents, is the parent, and gross and bag are its children; the remark of net names both rows, for
readers that do not know ``parentMeasurementID``. What was done with a ring and the leg that bears it are
children of the ring's row alike.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from audit.handover.darwin_core.identities import joined, numbered, visit_events
from audit.handover.darwin_core.plain_text import looked_up
from audit.handover.darwin_core.weighed import weighed

if TYPE_CHECKING:
    from audit.declarations import Declarations
    from audit.declarations.darwin_core import DarwinCore
    from audit.handover.darwin_core.nights import Nights
    from audit.handover.darwin_core.organisms import Organisms
    from audit.handover.darwin_core.season_rows import SeasonRows

__all__ = ["MEASUREMENT_COLUMNS", "brood_sizes", "measurements_of"]

#: Columns of ``extendedmeasurementorfact.csv``, in order; the first ties a row to its event.
MEASUREMENT_COLUMNS = (
    *("eventID", "measurementID", "parentMeasurementID", "occurrenceID", "measurementType"),
    *("measurementValue", "measurementUnit", "measurementDeterminedBy", "measurementDeterminedDate"),
    *("measurementMethod", "measurementRemarks"),
)

#: What is told of a bird in the hand, in order; each of a mark's facts belongs to the mark's row.
_OF_BIRDS = ("wing_mm", "gross_g", "bag_g", "net_g", "age_days", "hatch_date", "age", "condition")
_OF_MARKS = {"ring": ("ring_leg", "ring_action"), "tag": ("tag_leg", "tag_action")}
_COUNTS = ("eggs", "alive", "dead")
_LEGS = {"L": "left", "R": "right"}


def measurements_of(
    season: str,
    named: pd.DataFrame,
    rows: SeasonRows,
    birds: Organisms,
    nights: Nights,
    declared: Declarations,
) -> pd.DataFrame:
    """Return all measurements and facts by name.

    Parameters
    ----------
    named : pandas.DataFrame
        What `occurrences.handled` returns.
    """
    terms = declared.darwin_core
    parts = [
        *_of_handlings(named, rows, birds, terms),
        _of_broods(season, rows, declared),
        *_of_visits(season, rows, terms),
        _of_nights(nights, terms),
    ]
    made = pd.concat([part for part in parts if len(part)] or parts[:1], ignore_index=True)
    made = made.reindex(columns=list(MEASUREMENT_COLUMNS)).fillna("")
    return made.sort_values("measurementID", kind="stable").reset_index(drop=True).astype(object)


def _rows(
    field: str, terms: DarwinCore, values: pd.Series, base: pd.Series, event: pd.Series
) -> pd.DataFrame:
    """Lay out the rows of one column, empty ones left out; `base` is what the name of a row begins with."""
    here = values[values != ""]
    at, measure = here.index, terms.measures[field]
    return pd.DataFrame(
        {
            "eventID": event.loc[at],
            "measurementID": base.loc[at] + f":{field}",
            "measurementType": measure.title,
            "measurementValue": here,
            "measurementUnit": measure.unit,
            "measurementMethod": measure.method,
        },
        dtype=object,
    )


def _of_handlings(
    named: pd.DataFrame, rows: SeasonRows, birds: Organisms, terms: DarwinCore
) -> list[pd.DataFrame]:
    told, occurrence = rows.handlings, named["occurrenceID"]
    values = {field: told[field] for field in _OF_BIRDS}
    for mark, facts in _OF_MARKS.items():
        values[mark] = told[mark]
        there = told[mark] != ""
        values[facts[0]] = looked_up(told[facts[0]], _LEGS).where(there, "")
        values[facts[1]] = birds.birds[facts[1]].where(there, "")
    by = told["ringer"] if terms.goes_out("observers") else told["ringer"].where(told["ringer"] == "\x00", "")
    made = {}
    for field, column in values.items():
        part = _rows(field, terms, column, occurrence, named["eventID"])
        at = part.index
        made[field] = part.assign(
            occurrenceID=occurrence.loc[at],
            measurementDeterminedBy=by.loc[at],
            measurementDeterminedDate=named["when"].loc[at],
            parentMeasurementID="",
            measurementRemarks="",
        )
    for mark, facts in _OF_MARKS.items():
        for fact in facts:
            made[fact]["parentMeasurementID"] = occurrence.loc[made[fact].index] + f":{mark}"
        before = birds.birds[f"{mark}_before"].loc[made[facts[1]].index]
        made[facts[1]]["measurementRemarks"] = ("instead of " + before).where(before != "", "")
    weighed(made, occurrence, terms.number("sum_room_g"))
    return list(made.values())


def brood_sizes(season: str, rows: SeasonRows) -> tuple[pd.DataFrame, int]:
    """Return one size per visit and species, and the number of broods whose handlings disagree: left out.

    Columns: ``eventID``, ``slug``, ``brood_size``, ``date``.
    """
    told = rows.handlings
    noted = told[(told["brood_size"] != "") & (told["date"] != "") & (told["box"] != "")]
    groups = noted.assign(eventID=visit_events(season, noted)).groupby(["eventID", "slug"], sort=True)
    sizes = groups.agg(
        brood_size=("brood_size", "first"), date=("date", "first"), kinds=("brood_size", "nunique")
    ).reset_index()
    agreed = sizes["kinds"] == 1
    return sizes[agreed].drop(columns="kinds").reset_index(drop=True), int((~agreed).sum())


def _of_broods(season: str, rows: SeasonRows, declared: Declarations) -> pd.DataFrame:
    sizes, _ = brood_sizes(season, rows)
    base = sizes["eventID"] + ":" + sizes["slug"].where(sizes["slug"] != "", "unknown species")
    part = _rows("brood_size", declared.darwin_core, sizes["brood_size"], base, sizes["eventID"])
    names = {slug: f"of {one.scientific}" for slug, one in declared.species.items()}
    whose = looked_up(sizes["slug"], names)
    return part.assign(measurementDeterminedDate=sizes["date"], measurementRemarks=whose)


def _of_visits(season: str, rows: SeasonRows, terms: DarwinCore) -> list[pd.DataFrame]:
    told = rows.visits
    event = visit_events(season, told)
    base = numbered(joined(told.index, "visit noted", told["date"], told["box"]), told)
    timed = (told["date"] != "") & (told["time"] != "")
    when = told["date"].where(~timed, told["date"] + "T" + told["time"])
    made = []
    for field in _COUNTS:
        part = _rows(field, terms, told[field], base, event)
        part["measurementDeterminedDate"] = when.loc[part.index]
        if terms.goes_out("observers"):
            part["measurementDeterminedBy"] = told["ringer"].loc[part.index]
        made.append(part)
    return made


def _of_nights(nights: Nights, terms: DarwinCore) -> pd.DataFrame:
    seen = nights.occurrences
    if seen.empty:
        return pd.DataFrame(columns=list(MEASUREMENT_COLUMNS), dtype=object)
    part = _rows("reads", terms, seen["reads"], seen["occurrenceID"], seen["eventID"])
    return part.assign(occurrenceID=seen["occurrenceID"], measurementDeterminedDate=seen["eventDate"])
