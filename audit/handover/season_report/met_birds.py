"""Each handling and each visit as the accounts of broods need it: plain records, missing texts empty."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import pandas as pd

from audit.declarations.species import species_index
from audit.rules.case import Case
from audit.rules.ringings import ringings_of
from audit.season import texts_in

if TYPE_CHECKING:
    from audit.declarations import Declarations
    from audit.season import Season

__all__ = ["MetBird", "VisitMade", "met_birds", "species_names", "visits_made"]


class MetBird(NamedTuple):
    """One handling.

    Attributes
    ----------
    species, box, ring : str
        Name of the species; label; ring.
    day : int
        Proleptic Gregorian ordinal, 0 where missing.
    has_tag, has_age : bool
        Whether a tag and an age were written.
    grown, first : bool
        Full-grown by its age; ringed for the first time, with a ring, and not full-grown.
    size : int or None
        Brood size.
    """

    species: str
    box: str
    ring: str
    day: int
    has_tag: bool
    has_age: bool
    grown: bool
    first: bool
    size: int | None


class VisitMade(NamedTuple):
    """One visit to a box on a day; `day` as in `MetBird`, counts None where not written."""

    box: str
    day: int
    eggs: int | None
    alive: int | None
    dead: int | None
    cleaned: bool


def met_birds(season: Season, declared: Declarations) -> list[MetBird]:
    """Take the handlings in sheet order; without an event the earliest row of a ring is its first ringing."""
    frame = season.frame("handlings")
    case = Case(season, declared, declared.rules["brood"])
    codes = {str(code) for code in case.limit("pullus_codes")}
    columns = zip(
        species_names(season, declared),
        *(texts_in(frame, name) for name in ("box", "ring", "tag", "age")),
        _days(frame),
        _counts(frame, "brood_size"),
        ringings_of(case).first.tolist(),
        strict=True,
    )
    made = []
    for species, box, ring, tag, age, day, size, first in columns:
        grown = age != "" and age.strip() not in codes
        is_first = first and ring != "" and not grown
        made.append(MetBird(species, box, ring, day, tag != "", age != "", grown, is_first, size))
    return made


def visits_made(season: Season) -> list[VisitMade]:
    """Take the visits with a box and a day, in sheet order."""
    if not season.has("visits", "box", "date"):
        return []
    frame = season.frame("visits")
    frame = frame[frame["box"].notna() & frame["date"].notna()]
    ticked = (
        frame["cleaned"].fillna(value=False).astype("bool").tolist()
        if "cleaned" in frame.columns
        else [False] * len(frame)
    )
    counts = (_counts(frame, name) for name in ("eggs", "alive", "dead"))
    return [
        VisitMade(*one) for one in zip(texts_in(frame, "box"), _days(frame), *counts, ticked, strict=True)
    ]


def species_names(season: Season, declared: Declarations) -> list[str]:
    """Name the species of each handling: the declared English name, or as typed; empty where missing."""
    frame = season.frame("handlings")
    if "species" not in frame.columns:
        kind = declared.species.get(str(declared.settings["season.species.default_species"].value))
        return [kind.english if kind else ""] * len(frame)
    index = species_index(declared.species)
    names = {}
    for text in frame["species"].dropna().unique():
        slug = index.resolve(text)
        names[text] = declared.species[slug].english if slug else str(text)
    return [names.get(text, "") for text in frame["species"]]


def _days(frame: pd.DataFrame) -> list[int]:
    return [0 if pd.isna(day) else day.toordinal() for day in frame["date"]]


def _counts(frame: pd.DataFrame, name: str) -> list[int | None]:
    if name not in frame.columns:
        return [None] * len(frame)
    numbers: list[Any] = pd.to_numeric(frame[name], errors="coerce").tolist()
    return [None if pd.isna(number) else int(number) for number in numbers]
