"""Box-visits: the birds handled at one box on one day, and the young counted there."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from audit.declarations.species import species_index
from audit.models import growth
from audit.rules.numbered import numbered

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from audit.rules.case import Case

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Flags = NDArray[np.bool_]
    Words = NDArray[np.object_]
    Key = tuple[pd.Timestamp, str]

__all__ = ["BoxVisit", "BoxVisits", "VisitCounts", "box_visits_of", "visit_counts_of", "young_handled"]


@dataclass(frozen=True, slots=True)
class BoxVisits:
    """The handlings with a known date and box, one entry per row, in sheet order.

    Attributes
    ----------
    labels, dates, boxes, rings : ndarray
        Row label, date, box and ring; the ring is missing where unknown.
    place : ndarray of int
        Position in the sheet.
    size : ndarray
        Brood size as typed; NaN where missing.
    young : ndarray of bool
        Live nestlings by their age code.
    visit : ndarray of int
        Number of the box-visit.
    slug : ndarray
        Species; None where the text means none.
    age : ndarray
        Age in days read off the wing of a nestling; NaN where there is no curve.
    full_wing : ndarray of bool
        The wing is as long as that of a full-grown bird.
    """

    labels: Words
    dates: Words
    boxes: Words
    rings: Words
    place: Ints
    size: Floats
    young: Flags
    visit: Ints
    slug: Words
    age: Floats
    full_wing: Flags


@dataclass(frozen=True, slots=True)
class BoxVisit:
    """One box on one day: its rows, how many young were handled, and what was counted."""

    key: Key
    rows: Ints
    handled: int
    alive: float
    alive_label: str

    @property
    def date(self) -> str:
        """Day of the visit, ISO 8601."""
        return self.key[0].date().isoformat()

    @property
    def box(self) -> str:
        """Label of the box."""
        return self.key[1]


@dataclass(frozen=True, slots=True)
class VisitCounts:
    """Young counted at visits: by date and box, the count and the label of its row."""

    alive: Mapping[Key, tuple[float, str]]
    eggs: Mapping[Key, float]

    def without_birds(self, day: pd.Timestamp, with_birds: set[Key]) -> dict[str, float]:
        """Boxes visited that day with young in them but no bird in the handlings."""
        return {
            key[1]: count
            for key, (count, _) in self.alive.items()
            if key[0] == day and count > 0 and key not in with_birds
        }


def box_visits_of(case: Case) -> BoxVisits:
    """Take the handlings apart by box and day; cells in doubt are missing."""
    frame = case.sure("handlings")
    known = (frame["date"].notna() & frame["box"].notna()).to_numpy()
    place = np.flatnonzero(known)
    frame = frame[known]
    n = len(frame)

    def numbers(field: str) -> Floats:
        if field not in frame.columns:
            return np.full(n, np.nan)
        return frame[field].to_numpy(dtype=np.float64, na_value=np.nan)

    young = np.zeros(n, dtype=bool)
    if "age" in frame.columns:
        young = frame["age"].str.strip().isin(case.limit("pullus_codes")).to_numpy(dtype=bool)
    young = young & ~_dead(case, frame)
    slug = _slugs(case, frame)
    return BoxVisits(
        labels=frame.index.to_numpy(dtype=object),
        dates=frame["date"].to_numpy(dtype=object),
        boxes=frame["box"].to_numpy(dtype=object),
        rings=frame["ring"].to_numpy(dtype=object),
        place=place,
        size=numbers("brood_size"),
        young=young,
        visit=numbered(frame, ["date", "box"]),
        slug=slug,
        age=_wing_ages(case, slug, young, numbers("wing_mm")),
        full_wing=_full_wings(case, slug, numbers("wing_mm")),
    )


def _dead(case: Case, frame: pd.DataFrame) -> Flags:
    """Rows of which condition or remark says that the bird was dead: a brood size counts live young."""
    words = "|".join(re.escape(str(word)) for word in case.limit("dead_words"))
    whole = re.compile(rf"(?<!\w)(?:{words})(?!\w)", re.IGNORECASE)
    dead = np.zeros(len(frame), dtype=bool)
    for column in ("condition", "remarks"):
        if column in frame.columns:
            texts = frame[column]
            said = {text for text in texts.dropna().unique() if whole.search(text)}
            dead |= texts.isin(said).to_numpy(dtype=bool)
    return dead


def _slugs(case: Case, frame: pd.DataFrame) -> Words:
    if "species" not in frame.columns:
        return np.full(len(frame), str(case.setting("season.species.default_species")), dtype=object)
    index = species_index(case.declared.species)
    texts = frame["species"]
    return texts.map({text: index.resolve(text) for text in texts.unique()}).to_numpy(dtype=object)


def _wing_ages(case: Case, slug: Words, young: Flags, wing: Floats) -> Floats:
    age = np.full(len(wing), np.nan)
    for name, species in case.declared.species.items():
        rows = (slug == name) & young & (wing > 0)
        if rows.any() and "wing_mm" in species.curves:
            age[rows] = growth.age_of(species.curves["wing_mm"], wing[rows])
    return age


def _full_wings(case: Case, slug: Words, wing: Floats) -> Flags:
    full = np.zeros(len(wing), dtype=bool)
    for name, species in case.declared.species.items():
        adult = species.adult.get(("", "wing_mm"))
        if adult is not None:
            full |= (slug == name) & (wing >= adult.low)
    return full


def young_handled(sheet: BoxVisits) -> Ints:
    """Young handled per visit: each ring counts once, a bird without a ring counts too."""
    found = np.zeros(int(sheet.visit.max(initial=-1)) + 1, dtype=np.int64)
    visits, rings = (column[sheet.young].tolist() for column in (sheet.visit, sheet.rings))
    seen: set[tuple[int, object]] = set()
    for visit, ring in zip(visits, rings, strict=True):
        if pd.isna(ring) or (visit, ring) not in seen:
            seen.add((visit, ring))
            found[visit] += 1
    return found


def visit_counts_of(case: Case) -> VisitCounts:
    """Take the counts of young and eggs out of the visits; cells in doubt are missing."""
    if not case.season.has("visits", "alive"):
        return VisitCounts({}, {})
    frame = case.sure("visits")
    frame = frame[frame["date"].notna() & frame["box"].notna()]
    keys = list(zip(frame["date"], frame["box"], strict=True))
    alive: dict[Key, tuple[float, str]] = {}
    many = {key for key, times in Counter(keys).items() if times > 1}
    for key, count, label in zip(keys, frame["alive"], frame.index, strict=True):
        # a box visited twice in a day has two counts: neither speaks for the other
        if key not in many and count is not pd.NA:
            alive[key] = (float(count), str(label))
    eggs = frame["eggs"] if "eggs" in frame.columns else pd.Series(pd.NA, index=frame.index)
    return VisitCounts(alive, {k: float(e) for k, e in zip(keys, eggs, strict=True) if e is not pd.NA})
