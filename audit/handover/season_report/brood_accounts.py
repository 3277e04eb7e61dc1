"""Lay out what became of each brood: counted, ringed, tagged, met again; and the boxes without one."""

from __future__ import annotations

import datetime as dt
from collections import Counter, defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.handover.season_report.box_order import in_order
from audit.handover.season_report.breeding_year import breeding_year_of
from audit.handover.season_report.brood_account import BroodAccount, BroodAccounts, EmptyBox
from audit.handover.season_report.met_birds import met_birds, visits_made

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from audit.declarations import Declarations
    from audit.handover.season_report.breeding_year import BreedingYear
    from audit.handover.season_report.met_birds import MetBird, VisitMade
    from audit.season import Season

__all__ = ["brood_accounts"]

#: Species, box and year.
_Key = tuple[str, str, int]


@dataclass(frozen=True, slots=True)
class _Whole:
    """What is known of the whole season.

    Attributes
    ----------
    last : mapping of str to int
        Last day on which each ring was met, wherever.
    tagged : set of str or None
        Rings of birds with a tag; None without a column for it.
    has_ages : bool
        Whether any age was written.
    cleaned : mapping of (str, int) to int, or None
        Box and year -> day of the last cleaning after the last bird in the hand; None without a column.
    """

    last: Mapping[str, int]
    tagged: set[str] | None
    has_ages: bool
    cleaned: Mapping[tuple[str, int], int] | None

    def cleaning(self, box: str, year: int) -> str | None:
        """Day of the cleaning of a box."""
        return None if self.cleaned is None else _iso(self.cleaned.get((box, year), 0))


def brood_accounts(season: Season, declared: Declarations) -> BroodAccounts:
    """Lay out what became of each brood; two broods of one species in one box and year share a line."""
    birds, visits = met_birds(season, declared), visits_made(season)
    # full-grown birds are met in winter, too
    year = breeding_year_of(bird.day for bird in birds if not bird.grown)
    last: dict[str, int] = {}
    for bird in birds:
        if bird.ring:
            last[bird.ring] = max(bird.day, last.get(bird.ring, 0))
    whole = _Whole(
        last,
        {bird.ring for bird in birds if bird.ring and bird.has_tag}
        if season.has("handlings", "tag")
        else None,
        any(bird.has_age for bird in birds),
        _cleanings(birds, visits, year) if season.has("visits", "box", "date", "cleaned") else None,
    )
    handled: dict[_Key, list[MetBird]] = defaultdict(list)
    for bird in birds:
        handled[bird.species, bird.box, year.of(bird.day)].append(bird)
    visited: dict[_Key, list[VisitMade]] = defaultdict(list)
    for visit, species in zip(visits, _species_of(visits, birds, year), strict=True):
        visited[species, visit.box, year.of(visit.day)].append(visit)
    made = [
        _account(whole, key, handled.get(key, ()), visited.get(key, ()))
        for key in dict.fromkeys([*handled, *visited])
    ]
    many = Counter(bird.species for bird in birds)
    broods = [one for one in made if one.is_brood]
    broods.sort(key=lambda one: (-many[one.species], one.species, in_order(one.box), one.year))
    return BroodAccounts(tuple(broods), tuple(_empty(whole, season, made)), whole.has_ages)


def _species_of(visits: Sequence[VisitMade], birds: Iterable[MetBird], year: BreedingYear) -> Iterator[str]:
    """Give each visit the species handled nearest in time in its box and year."""
    handled: dict[tuple[str, int], set[tuple[int, str]]] = defaultdict(set)
    for bird in birds:
        if bird.day:
            handled[bird.box, year.of(bird.day)].add((bird.day, bird.species))
    for visit in visits:
        near = handled.get((visit.box, year.of(visit.day)), ())
        yield min((abs(day - visit.day), day, name) for day, name in near)[2] if near else ""


def _cleanings(
    birds: Iterable[MetBird], visits: Iterable[VisitMade], year: BreedingYear
) -> dict[tuple[str, int], int]:
    last: dict[tuple[str, int], int] = {}
    for bird in birds:
        key = bird.box, year.of(bird.day)
        last[key] = max(bird.day, last.get(key, 0))
    found: dict[tuple[str, int], int] = {}
    for visit in visits:
        key = visit.box, year.of(visit.day)
        if visit.cleaned and visit.day > last.get(key, 0):
            found[key] = max(visit.day, found.get(key, 0))
    return found


def _account(
    whole: _Whole, key: _Key, handled: Sequence[MetBird], visited: Sequence[VisitMade]
) -> BroodAccount:
    species, box, year = key
    rings: dict[str, int] = {}
    # by day, a row without one last
    for bird in sorted(handled, key=lambda one: (not one.day, one.day)):
        if bird.first:
            rings.setdefault(bird.ring, bird.day)
    days = {day for day in rings.values() if day}
    sizes = Counter(bird.size for bird in handled if bird.size is not None and bird.day in days)
    size = max(sizes, key=lambda one: (sizes[one], one)) if sizes else None
    if size is None and days:
        size = _most(visit.alive for visit in visited if visit.day == min(days))
    living = [visit.day for visit in visited if visit.eggs or visit.alive]
    return BroodAccount(
        species=species,
        box=box,
        year=year,
        visits=len(({bird.day for bird in handled} | {visit.day for visit in visited}) - {0}),
        eggs=_most(visit.eggs for visit in visited),
        alive=_most(visit.alive for visit in visited),
        dead=_most(visit.dead for visit in visited),
        ringed=len(rings),
        ringed_on=_iso(min(days, default=0)),
        size=size,
        tagged=None if whole.tagged is None else len(whole.tagged & rings.keys()),
        again=sum(whole.last[ring] > day > 0 for ring, day in rings.items()),
        grown=_heads(handled) if whole.has_ages else None,
        last_seen=_iso(max((*(bird.day for bird in handled), *living), default=0)),
        cleaned=whole.cleaning(box, year),
    )


def _empty(whole: _Whole, season: Season, made: Sequence[BroodAccount]) -> Iterator[EmptyBox]:
    """Boxes that held no brood in any year, those of the table of boxes included."""
    with_brood = {one.box for one in made if one.is_brood}
    here: dict[str, list[BroodAccount]] = defaultdict(list)
    for one in made:
        here[one.box].append(one)
    names = {one.box for one in made if one.box}
    if season.has("boxes", "box"):
        names |= {str(box) for box in season.frame("boxes")["box"].dropna()}
    for box in sorted(names - with_brood, key=in_order):
        days = [whole.cleaning(box, one.year) or "" for one in here[box]]
        yield EmptyBox(
            box,
            sum(one.visits for one in here[box]),
            sum(one.grown or 0 for one in here[box]),
            None if whole.cleaned is None else max(days, default=""),
        )


def _heads(handled: Iterable[MetBird]) -> int:
    """Count full-grown birds: each ring once, a bird without one as a bird of its own."""
    grown = [bird.ring for bird in handled if bird.grown]
    return len(set(grown) - {""}) + grown.count("")


def _most(counts: Iterable[int | None]) -> int | None:
    return max((count for count in counts if count is not None), default=None)


def _iso(day: int) -> str:
    return dt.date.fromordinal(day).isoformat() if day else ""
