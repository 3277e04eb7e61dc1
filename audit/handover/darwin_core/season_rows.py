"""The clean season laid out for the archive: tables without open cells, and texts of one line."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING

import pandas as pd

from audit.declarations.species import species_index
from audit.handover.darwin_core.open_cells import open_cells
from audit.handover.darwin_core.plain_text import column_texts, looked_up

if TYPE_CHECKING:
    from audit.declarations import Declarations
    from audit.handover.clean.decided_season import DecidedSeason

__all__ = ["SeasonRows", "season_rows"]

#: Columns of each table that the archive is made from.
_HANDLINGS = (
    *("date", "time", "box", "species", "ring", "ring_leg", "tag", "tag_leg", "age", "event", "gross_g"),
    *("bag_g", "net_g", "wing_mm", "age_days", "hatch_date", "brood_size", "sex", "condition", "ringer"),
    *("scribe", "remarks"),
)
_VISITS = ("date", "time", "box", "ringer", "eggs", "alive", "dead", "remarks")
_EARLIER = ("date", "box", "ring", "tag")


@dataclass(frozen=True, slots=True)
class SeasonRows:
    """Tables as texts, one column per canonical column, index = row labels, missing as empty.

    Attributes
    ----------
    handlings : pandas.DataFrame
        With ``slug``, the species by its slug, empty where the text means none.
    visits, earlier : pandas.DataFrame
    detections : pandas.DataFrame
        ``box``, ``tag`` as texts, ``detected_at`` as moments; rows without one of the three are left out.
    boxes : pandas.DataFrame
        ``box``, ``latitude``, ``longitude``, typed.
    open_tags : frozenset of str
        Labels of handlings whose tag is not settled.
    withheld : int
        Cells with a value that is not settled.
    """

    handlings: pd.DataFrame
    visits: pd.DataFrame
    earlier: pd.DataFrame
    detections: pd.DataFrame
    boxes: pd.DataFrame
    open_tags: frozenset[str]
    withheld: int


def season_rows(decided: DecidedSeason) -> SeasonRows:
    """Lay out the clean season."""
    cells = open_cells(decided)
    by_place: dict[tuple[str, str], list[str]] = defaultdict(list)
    for label, field in cells:
        by_place[decided.clean.table_of(label), field].append(label)
    taken = 0

    def frame(table: str, names: tuple[str, ...]) -> pd.DataFrame:
        nonlocal taken
        if table not in decided.clean.tables:
            return pd.DataFrame(columns=list(names))
        whole = decided.clean.frame(table)
        here = whole[[name for name in names if name in whole.columns]].copy()
        for name in here.columns:
            doubtful = here.index.isin(by_place.get((table, name), ()))
            taken += int((doubtful & here[name].notna().to_numpy()).sum())
            if doubtful.any():
                here[name] = here[name].mask(doubtful)
        return here

    def texts(table: str, names: tuple[str, ...]) -> pd.DataFrame:
        here = frame(table, names)
        return pd.DataFrame({name: column_texts(here, name) for name in names}, index=here.index)

    handlings = texts("handlings", _HANDLINGS)
    handlings["slug"] = _species(handlings["species"], decided)
    visits, earlier = texts("visits", _VISITS), texts("earlier", _EARLIER)
    reads = frame("detections", ("box", "detected_at", "tag")).dropna()
    if len(reads.columns) == len(("box", "detected_at", "tag")):
        reads = reads.assign(box=column_texts(reads, "box"), tag=column_texts(reads, "tag"))
    else:
        reads = pd.DataFrame(columns=["box", "detected_at", "tag"])
    boxes = frame("boxes", ("box", "latitude", "longitude"))
    return SeasonRows(
        handlings=handlings,
        visits=visits,
        earlier=earlier,
        detections=reads,
        boxes=boxes.assign(box=column_texts(boxes, "box")),
        open_tags=frozenset(by_place.get(("handlings", "tag"), ())),
        withheld=taken,
    )


def _species(texts: pd.Series, decided: DecidedSeason) -> pd.Series:
    """Slug of each text; of a sheet without such a column the species that is declared for it."""
    declared: Declarations = decided.declared
    if not decided.clean.has("handlings", "species"):
        return pd.Series(
            str(declared.settings["season.species.default_species"].value), index=texts.index, dtype=object
        )
    index = species_index(declared.species)
    meaning = {text: index.resolve(text) or "" for text in texts.unique()}
    return looked_up(texts, meaning)
