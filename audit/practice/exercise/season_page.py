"""An invented page of a season: some broods of one species, typed without a slip.

Boxes, ringers, rings and tags are those of the invented *Sallow Levels box round*; sizes follow the curves
that are declared for the species.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from audit.models.growth import mean, spread
from audit.refusal import Refusal

if TYPE_CHECKING:
    from collections.abc import Mapping

    from audit.declarations import Declarations
    from audit.declarations.species import Species
    from audit.models.growth import Curve

    #: Table -> rows, each a text for every column.
    Tables = dict[str, list[dict[str, str]]]

__all__ = ["PageWish", "practice_species", "season_page"]

_RINGERS = ("AB", "IP", "MK")
_BOXES = 60
#: Masses from here on are read to the gram, smaller birds to the tenth.
_WHOLE_GRAMS = 60.0
_TAG_DIGITS = 12
#: Every tag begins with the country code that ISO 11784 keeps for tests.
_TEST_RANGE = "999"


@dataclass(frozen=True, slots=True)
class PageWish:
    """What a page shall hold.

    Attributes
    ----------
    broods : int
        Boxes with young in them.
    visits : int
        Visits to each box, 1 or 2.
    fewest, most : int
        Rows of the page.
    columns : tuple of str
        Columns that it shows; those of sizes that no curve foretells are left out. None of them: all.
    reader : bool
        Whether the download of the hand reader lies beside it.
    strings : bool
        Whether the strings of rings as issued lie beside it.
    """

    broods: int = 2
    visits: int = 1
    fewest: int = 8
    most: int = 25
    columns: tuple[str, ...] = ()
    reader: bool = False
    strings: bool = False


@dataclass
class _Bird:
    age: int
    wing: float
    mass: float
    ring: str = ""
    tag: str = ""


@dataclass
class _Round:
    species: Species
    rng: np.random.Generator
    number: Mapping[str, float]
    rows: list[dict[str, str]] = field(default_factory=list)
    reads: list[dict[str, str]] = field(default_factory=list)
    strings: list[dict[str, str]] = field(default_factory=list)
    next_ring: int = 0
    next_tag: int = 0


def practice_species(declared: Declarations) -> tuple[str, ...]:
    """Name the species of which a page can be made: those with a curve of mass over the days of ringing."""
    return tuple(slug for slug, one in declared.species.items() if _ages(one) is not None)


def season_page(
    slug: str, declared: Declarations, rng: np.random.Generator, wish: PageWish | None = None
) -> Tables:
    """Invent one page of a season without a slip.

    Parameters
    ----------
    slug : str
        The species, as in ``schemas/species``.
    rng : numpy.random.Generator
        Source of chance; the same one gives the same page.
    wish : PageWish, optional
        How large it is, and what lies beside it.

    Returns
    -------
    dict of str to list of dict
        ``handlings`` and, where wished for, ``tag_reads`` and ``ring_stock``; each value is a text.

    Raises
    ------
    audit.refusal.Refusal
        No such species is declared, or it has no growth curve for the days on which it is ringed.
    """
    wish = wish or PageWish()
    species = declared.species.get(slug)
    ages = None if species is None else _ages(species)
    if species is None or ages is None:
        raise Refusal(
            f"No page can be invented for the species '{slug}'.",
            where="species",
            cure=f"Name one that has a growth curve: {', '.join(practice_species(declared))}.",
        )
    number = {
        name: float(declared.settings[f"practice.page.{name}"].value)
        for name in ("brood_least", "brood_most", "alike", "narrow", "wing_noise", "mass_noise", "bag_share")
    }
    team = _Round(species, rng, number)
    team.next_ring = 1 + 100 * int(rng.integers(10, 90)) + int(rng.integers(0, 40))
    team.next_tag = 104_000_000_000 + int(rng.integers(0, 900_000)) * 1000
    first = team.next_ring // 100 * 100 + 1
    _visit_all(team, ages, wish)
    prefix = _prefix(species)
    digits = len(team.rows[0]["ring"]) - len(prefix)
    team.strings = [
        {
            "prefix": prefix,
            "first": f"{start:0{digits}d}",
            "last": f"{start + 99:0{digits}d}",
            "issued_to": "AB",
            "issued": "2026-03-02",
        }
        for start in range(first, team.next_ring, 100)
    ]
    return _tables(team, wish)


def _tables(team: _Round, wish: PageWish) -> Tables:
    shown = [name for name in team.rows[0] if not wish.columns or name in wish.columns]
    tables: Tables = {"handlings": [{name: row[name] for name in shown} for row in team.rows]}
    if wish.reader:
        tables["tag_reads"] = team.reads
    if wish.strings:
        tables["ring_stock"] = team.strings
    return tables


def _ages(species: Species) -> tuple[int, int] | None:
    """First and last age, in days, at which young are ringed and their mass can be foretold."""
    youngest, oldest = (species.number(f"ringing.{name}_day") for name in ("youngest", "oldest"))
    mass = species.curves.get("mass_g")
    if mass is None or youngest is None or oldest is None:
        return None
    low, high = max(youngest, mass.first_day), min(oldest, mass.last_day)
    return (int(np.ceil(low)), int(high)) if low < high else None


def _wing_curve(species: Species) -> Curve | None:
    """Give the curve of wings, where it holds on all days of ringing."""
    wing, ages = species.curves.get("wing_mm"), _ages(species)
    if wing is None or ages is None or wing.first_day > ages[0] or wing.last_day < ages[1]:
        return None
    return wing


def _prefix(species: Species) -> str:
    return "SV" if mean_mass(species) >= _WHOLE_GRAMS else "SP"


def mean_mass(species: Species) -> float:
    """Give the mean mass on the last day of ringing, in grams."""
    ages = _ages(species)
    return float(mean(species.curves["mass_g"], ages[1])) if ages else 0.0


def _visit_all(team: _Round, ages: tuple[int, int], wish: PageWish) -> None:
    rng, species = team.rng, team.species
    sizes = _brood_sizes(team, wish)
    later = _days_between(ages) if wish.visits > 1 else 0
    first_day = dt.date(2026, 6, 3) + dt.timedelta(days=int(rng.integers(0, 20)))
    places = sorted(int(place) for place in rng.choice(_BOXES, len(sizes), replace=False))
    broods = [_brood(team, size, (ages[0], ages[1] - later)) for size in sizes]
    ringer = _RINGERS[int(rng.integers(len(_RINGERS) - 1))]
    for visit in range(wish.visits):
        day = first_day + dt.timedelta(days=visit * later)
        clock = dt.datetime(day.year, day.month, day.day, 9, 30)  # noqa: DTZ001 - as on a watch in the field
        bag = float(rng.uniform(0.8, 1.2)) * team.number["bag_share"] * mean_mass(species)
        for place, birds in zip(places, broods, strict=True):
            # at a later visit the young come out of the box in any order
            order = rng.permutation(len(birds)) if visit else range(len(birds))
            for i in order:
                clock += dt.timedelta(minutes=int(rng.integers(3, 7)))
                _handle(
                    team, birds[int(i)], clock, f"SL-{place + 1:02d}", ringer, bag, len(birds), visit * later
                )
            clock += dt.timedelta(minutes=int(rng.integers(20, 45)))


def _brood_sizes(team: _Round, wish: PageWish) -> list[int]:
    top = team.species.number("breeding.brood.high") or 2.0
    low = max(2, round(top * team.number["brood_least"]))
    high = max(low, round(top * team.number["brood_most"]))
    sizes = [int(team.rng.integers(low, high + 1)) for _ in range(wish.broods)]
    # a page holds so many rows and no more
    while sum(sizes) * wish.visits > wish.most and max(sizes) > 1:
        sizes[int(np.argmax(sizes))] -= 1
    while sum(sizes) * wish.visits < wish.fewest and min(sizes) < top:
        sizes[int(np.argmin(sizes))] += 1
    return sizes


def _days_between(ages: tuple[int, int]) -> int:
    """Days from one visit to the next, so that even the oldest is still young enough."""
    return max(2, min(14, (ages[1] - ages[0]) // 2))


def _brood(team: _Round, size: int, ages: tuple[int, int]) -> list[_Bird]:
    rng = team.rng
    gap = team.species.number("breeding.hatching_interval_days") or 1.0
    ages_back = np.cumsum(np.r_[0.0, np.maximum(0.0, rng.normal(gap, 0.3 * gap, size - 1))])
    oldest = int(rng.integers(ages[0] + (ages[1] - ages[0]) // 2, ages[1] + 1))
    shared = team.number["alike"]
    common, own = rng.normal(size=2), rng.normal(size=(size, 2))
    sizes = team.number["narrow"] * (np.sqrt(shared) * common + np.sqrt(1 - shared) * own)
    return [
        _Bird(max(ages[0], oldest - round(float(back))), float(wing), float(mass))
        for back, (wing, mass) in zip(ages_back, sizes, strict=True)
    ]


def _handle(
    team: _Round, bird: _Bird, clock: dt.datetime, box: str, ringer: str, bag: float, brood: int, later: int
) -> None:
    if not bird.ring:
        prefix = _prefix(team.species)
        digits = 5 if prefix == "SV" else 6
        bird.ring, team.next_ring = f"{prefix}{team.next_ring:0{digits}d}", team.next_ring + 1
        team.next_tag += int(team.rng.integers(1, 60))
        bird.tag = f"{_TEST_RANGE}{team.next_tag:0{_TAG_DIGITS}d}"
    age = bird.age + later
    mass = _size(team.species.curves["mass_g"], age, bird.mass)
    mass *= 1 + float(team.rng.normal(0, team.number["mass_noise"]))
    decimals = 0 if mean_mass(team.species) >= _WHOLE_GRAMS else 1
    net, bag = round(mass, decimals), round(bag, decimals)
    row = {
        "date": clock.date().isoformat(),
        "time": clock.strftime("%H:%M"),
        "box": box,
        "species": team.species.english,
        "ring": bird.ring,
        "tag": bird.tag,
        "age": "1",
        "gross_g": f"{net + bag:.{decimals}f}",
        "bag_g": f"{bag:.{decimals}f}",
        "net_g": f"{net:.{decimals}f}",
    }
    wing = _wing_curve(team.species)
    if wing is not None:
        length = _size(wing, age, bird.wing) + float(team.rng.normal(0, team.number["wing_noise"]))
        row["wing_mm"] = f"{length:.0f}"
    team.rows.append({**row, "brood_size": str(brood), "ringer": ringer, "remarks": ""})
    read_at = clock + dt.timedelta(seconds=95 + int(team.rng.integers(0, 40)))
    team.reads.append({"read_at": read_at.strftime("%Y-%m-%d %H:%M:%S"), "tag": bird.tag, "reader": "R1"})


def _size(curve: Curve, age: float, deviation: float) -> float:
    return float(mean(curve, age) + deviation * spread(curve, age))
