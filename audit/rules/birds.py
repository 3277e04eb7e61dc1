"""The birds of a season as plain arrays: what was measured of them, when, and who belongs to whom."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from audit.declarations.species import species_index
from audit.models.components import components
from audit.rules.columns import codes_of, days_of_rows, numbers_of, words_of
from audit.rules.heeded import BIRDS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.rules.case import Case
    from audit.rules.heeded import Columns

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Flags = NDArray[np.bool_]
    Words = NDArray[np.object_]

__all__ = ["Birds", "birds_of", "growth_limit"]

# what each part of a bird rests on, so that a cell in doubt lets the other parts stand
_AGE: Columns = {"handlings": ("age",)}
_SEX: Columns = {"handlings": ("sex",)}
_SPECIES: Columns = {"handlings": ("date", "box", "species")}
_LIVES: Columns = {"handlings": ("date", "box", "species", "ring")}
_BROODS: Columns = {"handlings": ("date", "box", "species", "ring", "age")}
_RECORDED_AGE: Columns = {"handlings": ("date", "age_days", "hatch_date")}


@dataclass(frozen=True, slots=True)
class Birds:
    """The handlings as columns of plain arrays, one entry per row of the sheet.

    Attributes
    ----------
    labels : numpy.ndarray of str
        Row labels.
    slug : numpy.ndarray of str
        Species; empty where the text means none.
    grown : numpy.ndarray
        1 full-grown, 0 nestling, missing where the age code is.
    wing, mass : numpy.ndarray
        Millimetres; grams: net, or gross less bag where net is missing or in doubt.
    mass_field : numpy.ndarray of str
        Where the mass stands: ``net_g``, ``gross_g`` or nothing.
    balanced : numpy.ndarray of bool
        Gross less bag is net: a slip in one of the three would have broken that.
    age, age_sd, age_field : numpy.ndarray
        Days since hatching as recorded, how sure they are, and the column they come from.
    visit : numpy.ndarray of int
        One number per box, date and species.
    sex : numpy.ndarray of str
        ``M``, ``F`` or nothing.
    ring : numpy.ndarray of int
        One number per ring and box; a bird without a ring has its own.
    tag : numpy.ndarray of int
        One number per tag; -1 without one.
    day : numpy.ndarray
        Day of the visit, counted from any day; missing where the date is.
    brood : numpy.ndarray of int
        One number per box and species, for visits that share a ring.
    """

    labels: Words
    slug: Words
    grown: Floats
    wing: Floats
    mass: Floats
    mass_field: Words
    balanced: Flags
    age: Floats
    age_sd: Floats
    age_field: Words
    visit: Ints
    sex: Words
    ring: Ints
    tag: Ints
    day: Floats
    brood: Ints

    def of(self, rows: NDArray[Any]) -> Birds:
        """Return some of the birds."""
        return Birds(**{name: getattr(self, name)[rows] for name in self.__dataclass_fields__})


def birds_of(case: Case, *, fallback: str) -> Birds:
    """Take the handlings apart; cells in doubt are missing.

    Parameters
    ----------
    fallback : str
        Species of the whole sheet when it has no such column.
    """
    return case.lay_out(_lay_out, BIRDS, fallback)


def _lay_out(case: Case, fallback: str) -> Birds:
    net, gross, bag = (numbers_of(case, name) for name in ("net_g", "gross_g", "bag_g"))
    rest = gross - bag
    from_net = np.isfinite(net)
    mass = np.where(from_net, net, rest)
    field = np.where(from_net, "net_g", np.where(np.isfinite(rest), "gross_g", "")).astype(object)
    balanced = from_net & (np.abs(rest - net) <= growth_limit(case, "balance_room"))
    wing = numbers_of(case, "wing_mm")
    grown = case.lay_out(_grown, _AGE)
    age, age_sd, age_field = case.lay_out(_recorded_age, _RECORDED_AGE)
    visit, ring = case.lay_out(_visits_and_rings, _LIVES, fallback)
    return Birds(
        labels=case.frame("handlings").index.to_numpy(dtype=object),
        slug=case.lay_out(_slugs, _SPECIES, fallback),
        grown=grown,
        wing=np.where(wing > 0, wing, np.nan),
        mass=np.where(mass > 0, mass, np.nan),
        mass_field=field,
        balanced=balanced,
        age=age,
        age_sd=age_sd,
        age_field=age_field,
        visit=visit,
        sex=case.lay_out(_sexes, _SEX),
        ring=ring,
        tag=codes_of(case, "tag"),
        day=days_of_rows(case),
        brood=case.lay_out(_broods, _BROODS, fallback),
    )


def _slugs(case: Case, fallback: str) -> Words:
    """Species of each row."""
    if not case.season.has("handlings", "species"):
        return np.full(len(case.frame("handlings")), fallback, dtype=object)
    index = species_index(case.declared.species)
    texts = words_of(case, "species").tolist()
    meaning = {text: index.resolve(text) or "" for text in set(texts)}
    slug = _words([meaning[text] for text in texts])
    unwritten = case.frame("handlings")["species"].isna().to_numpy()
    return _as_the_others(slug, unwritten, case) if unwritten.any() else slug


def _grown(case: Case) -> Floats:
    """Tell full-grown birds, 1, from nestlings, 0."""
    codes = words_of(case, "age").tolist()
    pullus = {str(word) for word in growth_limit(case, "pullus_codes")}
    meaning = {code: 0.0 if code.upper() in pullus else 1.0 for code in set(codes)} | {"": np.nan}
    return np.array([meaning[code] for code in codes], dtype=np.float64)


def _sexes(case: Case) -> Words:
    known = {"M", "F"}
    return _words([sex if sex in known else "" for sex in map(str.upper, words_of(case, "sex").tolist())])


def _words(texts: list[str]) -> Words:
    found = np.empty(len(texts), dtype=object)
    found[:] = texts
    return found


def _visits_and_rings(case: Case, fallback: str) -> tuple[Ints, Ints]:
    """One number per box, date and species, and one per ring and box; a bird without a ring has its own."""
    n = len(case.frame("handlings"))
    kind = pd.factorize(case.lay_out(_slugs, _SPECIES, fallback))[0].astype(np.int64)
    box, day = codes_of(case, "box"), days_of_rows(case)
    # nobody knows who shares a box without a name
    box = np.where(box < 0, n + np.arange(n), box)
    # a missing date is a day too
    visit = _together(box, pd.factorize(np.where(np.isnan(day), 0.0, day))[0].astype(np.int64), kind)
    ringed = codes_of(case, "ring")
    # a ring that changes box is another bird here: its wings are held together by the rule on histories
    ring = np.where(ringed < 0, n * n + np.arange(n), _together(ringed, box, kind))
    return visit, ring


def _together(*parts: Ints) -> Ints:
    """One number per combination."""
    joined = np.zeros(len(parts[0]), dtype=np.int64)
    for part in parts:
        _, joined = np.unique(joined * (int(part.max(initial=0)) + 2) + part + 1, return_inverse=True)
    return joined


def _as_the_others(slug: Words, unwritten: Flags, case: Case) -> Words:
    """Give a bird whose species nobody wrote that of all others of its box and day.

    Some write it in the first row of a visit only.
    """
    frame = case.sure("handlings")
    told = pd.Series(slug, index=frame.index, dtype="object").where(slug != "")
    of_visit = told.groupby([frame["box"], frame["date"]])
    agreed = of_visit.transform("first").where(of_visit.transform("nunique") == 1)
    filled: Words = np.where(unwritten & agreed.notna().to_numpy(), agreed.to_numpy(dtype=object), slug)
    return filled


def growth_limit(case: Case, name: str) -> Any:  # noqa: ANN401 - a limit may be a number or a list
    """Return a number of the growth declaration, whichever rule asks."""
    return case.declared.rules["growth"].limits[name].value


def _recorded_age(case: Case) -> tuple[Floats, Floats, Words]:
    """Age in days: from the hatching date where it was seen, else as estimated in the field."""
    stated = numbers_of(case, "age_days")
    seen = np.full(len(stated), np.nan)
    if case.season.has("handlings", "hatch_date"):
        frame = case.sure("handlings")
        seen = (frame["date"] - frame["hatch_date"]).dt.days.to_numpy(dtype=np.float64, na_value=np.nan)
    from_hatch = np.isfinite(seen)
    age = np.where(from_hatch, seen, stated)
    sd = np.where(from_hatch, growth_limit(case, "hatch_date_sd"), growth_limit(case, "field_age_sd"))
    field = np.where(from_hatch, "hatch_date", np.where(np.isfinite(stated), "age_days", "")).astype(object)
    return age, sd.astype(np.float64), field


def _broods(case: Case, fallback: str) -> Ints:
    """Join the visits that share a nestling's ring."""
    visit, ring = case.lay_out(_visits_and_rings, _LIVES, fallback)
    if not len(visit):
        return visit
    young = case.lay_out(_grown, _AGE) == 0
    _, bird = np.unique(ring, return_inverse=True)
    visits = int(visit.max()) + 1
    joined = components(visits + int(bird.max()) + 1, visit[young], visits + bird[young])
    return joined[visit]
