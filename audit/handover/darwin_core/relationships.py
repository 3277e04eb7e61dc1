"""Rings that took the place of others on one bird."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

if TYPE_CHECKING:
    from audit.declarations.darwin_core import DarwinCore
    from audit.handover.darwin_core.organisms import Organisms
    from audit.handover.darwin_core.season_rows import SeasonRows

__all__ = ["RELATIONSHIP_COLUMNS", "relationships_of"]

#: Columns of ``resourcerelationship.csv``, in order; the first ties a row to its event.
RELATIONSHIP_COLUMNS = (
    *("eventID", "resourceRelationshipID", "resourceID", "relationshipOfResource", "relatedResourceID"),
    *("relationshipEstablishedDate", "relationshipRemarks"),
)


def relationships_of(
    named: pd.DataFrame, rows: SeasonRows, birds: Organisms, terms: DarwinCore
) -> pd.DataFrame:
    """Return one row per ring that replaced another: new number, predicate, old number.

    Parameters
    ----------
    named : pandas.DataFrame
        What `occurrences.handled` returns.
    """
    changed = birds.birds[birds.birds["ring_before"] != ""]
    told, here = rows.handlings.loc[changed.index], named.loc[changed.index]
    made = pd.DataFrame(
        {
            "eventID": here["eventID"],
            "resourceRelationshipID": here["occurrenceID"] + ":ring replaced",
            "resourceID": told["ring"],
            "relationshipOfResource": terms.word("words.replaces"),
            "relatedResourceID": changed["ring_before"],
            "relationshipEstablishedDate": told["date"],
            "relationshipRemarks": "metal rings of one bird, " + changed["organism"],
        },
        dtype=object,
    )
    return made.reindex(columns=list(RELATIONSHIP_COLUMNS)).sort_values(
        "resourceRelationshipID", kind="stable"
    )
