"""Invented seasons of both generators, in variants, with what the generator knew about each bird."""

from __future__ import annotations

from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any
from unittest.mock import patch

import invented
import numpy as np
from robustness import other_rounds

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Callable, Iterator

Row = dict[str, Any]
Tables = dict[str, list[Row]]

SMALL = frozenset({"great_tit", "blue_tit"})


@dataclass(frozen=True)
class Spread:
    """How far sizes lie apart in one generator: shares of the mean, and mm for a reading of a wing."""

    wing_brood: float
    wing_bird: float
    wing_reading_mm: float
    mass_brood: float
    mass_bird: float
    mass_day: float
    #: lightest runt or starved bird, as a share of its brood's mass
    lightest: float
    days_between: float
    adult_wing_mm: float
    adult_mass_g: float


@dataclass(frozen=True)
class Truth:
    """What the generator knew when it wrote one handling."""

    bird: int
    brood: tuple[str, str]
    species: str
    pullus: bool
    age: int
    wing: float
    mass: float
    #: growth per day as a share of the mean
    wing_per_day: float
    mass_per_day: float
    spread: Spread
    ringed_here: bool
    place: int

    @property
    def wing_sd(self) -> float:
        """Spread of the wing among birds of this age, mm."""
        if not self.pullus:
            return float(np.hypot(self.spread.adult_wing_mm, self.spread.wing_reading_mm))
        share = np.hypot(self.spread.wing_brood, self.spread.wing_bird)
        return float(np.hypot(self.wing * share, self.spread.wing_reading_mm))

    @property
    def mass_sd(self) -> float:
        """Spread of the mass among birds of this age, g."""
        if not self.pullus:
            return float(np.hypot(self.spread.adult_mass_g, self.mass * self.spread.mass_day))
        parts = (self.spread.mass_brood, self.spread.mass_bird, self.spread.mass_day)
        return float(self.mass * np.sqrt(sum(part**2 for part in parts)))


@dataclass(frozen=True)
class Habits:
    """What a criterion of visibility may know of the team."""

    date_order: bool = True
    step_g: float = 1.0
    net_rounds: float = 0.0
    bag: str = "day"
    shared_visits: bool = False
    autumn: bool = True


@dataclass(frozen=True)
class Made:
    """One clean season with its truth, row by row of the handlings."""

    generator: str
    team: str
    variant: str
    seed: int
    tables: Tables
    truth: tuple[Truth, ...]
    habits: Habits
    headers: dict[str, str]


@dataclass(frozen=True)
class Variant:
    """Which evidence a season lacks, or how large it is."""

    name: str
    tables: tuple[str, ...] = ()
    columns: tuple[str, ...] = ()
    style: dict[str, Any] = field(default_factory=dict)
    ways: dict[str, Any] = field(default_factory=dict)
    headers: dict[str, str] = field(default_factory=dict)


#: Headers of a German sheet: common words of the trade.
GERMAN = {
    "date": "Datum",
    "time": "Uhrzeit",
    "box": "Nistkasten",
    "species": "Art",
    "ring": "Ringnummer",
    "ring_leg": "Ringbein",
    "tag": "Transponder",
    "tag_leg": "Transponderbein",
    "age": "Alterscode",
    "event": "Fangart",
    "gross_g": "Bruttogewicht",
    "bag_g": "Beutelgewicht",
    "net_g": "Nettogewicht",
    "wing_mm": "Flügellänge",
    "age_days": "Alter in Tagen",
    "hatch_date": "Schlupfdatum",
    "brood_size": "Anzahl Junge",
    "sex": "Geschlecht",
    "ringer": "Beringer",
    "remarks": "Bemerkungen",
}

VARIANTS: tuple[Variant, ...] = (
    Variant("all tables"),
    Variant("without net", columns=("net_g",)),
    Variant("net alone", columns=("gross_g", "bag_g")),
    Variant("without stock", tables=("ring_stock", "ring_losses", "tag_stock")),
    Variant("without download", tables=("tag_reads",)),
    Variant("without visits", tables=("visits",)),
    Variant(
        "handlings alone",
        tables=("ring_stock", "ring_losses", "tag_stock", "tag_reads", "visits", "boxes"),
    ),
    Variant("one visit", style={"second_visit": 0.0}, ways={"second_visit": 0.0, "third_visit": 0.0}),
    Variant("small", style={"boxes": 3}, ways={"boxes": 3, "occupied": 1.0}),
    Variant("large", style={"boxes": 140}, ways={"boxes": 140}),
    Variant("German sheet", headers=GERMAN),
)


def typed_style(seed: int) -> invented.Style:
    """A team of the first generator, drawn at random."""
    rng = np.random.default_rng([seed, 11])
    return invented.Style(
        boxes=int(rng.integers(30, 70)),
        heavy=float(rng.uniform(0.86, 1.2)),
        second_visit=float(rng.uniform(0.2, 0.9)),
        adults=float(rng.uniform(0.1, 0.5)),
        step_g=float(rng.choice([1.0, 1.0, 0.5, 0.1])),
        bag_g=(float(rng.uniform(12, 20)), float(rng.uniform(28, 45))),
        kestrels=float(rng.choice([0.0, 0.12, 0.4])),
        tits=float(rng.choice([0.0, 0.1, 0.3])),
    )


def first_season(seed: int, variant: Variant) -> Made:
    """Make a season of ``tests/invented.py``."""
    style = replace(typed_style(seed), **variant.style)
    with _watched(invented._Round, lambda team: team.handlings[-1], _first_spread(style)):
        season = invented.invented_season(seed, style)
    habits = Habits(step_g=style.step_g, net_rounds=0.0, bag="two a day")
    return _cut("first", "invented", variant, seed, season, habits)


def other_season(seed: int, variant: Variant, team: str) -> Made:
    """Make a season of ``tests/robustness/other_rounds.py``; team ``mixed`` mixes habits at random."""
    ways = other_rounds.any_ways(seed) if team == "mixed" else other_rounds.TEAMS[team]
    changes = dict(variant.ways)
    if ways.boxes < 10:
        changes.pop("boxes", None)
    ways = replace(ways, **changes)
    with _watched(other_rounds._Team, lambda team: team.handlings[-1][1], _other_spread(ways)):
        season = other_rounds.other_season(seed, ways)
    steps = [ways.step_g, ways.other_step]
    habits = Habits(
        date_order=ways.order == "date",
        step_g=max(steps),
        net_rounds=0.0 if ways.net == "exact" else max(steps) * 1.01,
        bag=ways.bag,
        shared_visits=ways.shared_visits > 0,
        autumn=ways.autumn_round,
    )
    return _cut("other", team, variant, seed, season, habits)


def _first_spread(style: invented.Style) -> Callable[[str], tuple[Any, Spread, float, float]]:
    def spread(species: str) -> tuple[Any, Spread, float, float]:
        reading = 0.5 if species == "great_tit" else 1.5
        mass = invented.MASS_SPREAD[species]
        wing_mean, wing_sd, mass_mean, mass_sd = invented.ADULT[species]
        return (
            invented.GROWTH[species],
            Spread(
                *(0.02, 0.015, reading, mass * 0.8, mass, 0.025, 0.65),
                *(invented.INTERVAL[species], wing_sd, mass_sd),
            ),
            wing_mean,
            mass_mean,
        )

    def with_heavy(species: str) -> tuple[Any, Spread, float, float]:
        curve, sizes, wing, mass = spread(species)
        return (
            (lambda age: (curve(age)[0], curve(age)[1] * style.heavy)),
            sizes,
            wing,
            (mass + 0.6 * sizes.adult_mass_g) * style.heavy,
        )

    return with_heavy


def _other_spread(ways: other_rounds.Ways) -> Callable[[str], tuple[Any, Spread, float, float]]:
    def spread(species: str) -> tuple[Any, Spread, float, float]:
        days, wings, masses = other_rounds.GROWTH[species]
        small = species in SMALL
        reading = min(0.7, ways.observer_sd / 2) if small else ways.observer_sd
        wing_mean, wing_sd, mass_mean, mass_sd = other_rounds.ADULT[species]
        lightest = 0.7 * (0.78 if ways.starved > 0 else 1.0)
        sizes = Spread(
            *(0.015, 0.015, float(np.hypot(reading, ways.wing_step / 3.5)), 0.06, 0.05, 0.02),
            *(lightest, other_rounds.HABITS[species][2], wing_sd, mass_sd),
        )

        def curve(age: float) -> tuple[float, float]:
            return (
                float(np.interp(age, days, wings)) * ways.wings,
                float(np.interp(age, days, masses)) * ways.heavy,
            )

        return curve, sizes, wing_mean, mass_mean * ways.heavy**0.3

    return spread


@contextmanager
def _watched(
    cls: type, last: Callable[[Any], Row], known: Callable[[str], tuple[Any, Spread, float, float]]
) -> Iterator[None]:
    """Let every handling bear what the generator knew of the bird."""
    handle = cls.handle
    broods: dict[int, tuple[int, tuple[str, str]]] = {}
    kept: list[Any] = []  # an identity is given again once its bird is gone

    def watched(self: Any, bird: Any, day: dt.date, clock: Any, box: Any, *rest: Any, **more: Any) -> None:
        fresh = not bird.ring
        handle(self, bird, day, clock, box, *rest, **more)
        row = last(self)
        if id(bird) not in broods:
            broods[id(bird)] = (len(kept), (str(box), str(day)))
            kept.append(bird)
        number, brood = broods[id(bird)]
        curve, spread, wing_mean, mass_mean = known(bird.species)
        pullus = row["age"] == "1"
        age = (day - bird.hatched).days
        wing, mass = curve(max(age, 0)) if pullus else (wing_mean, mass_mean)
        before, after = curve(max(age - 1, 0)), curve(age + 1)
        row["_truth"] = Truth(
            bird=number,
            brood=brood,
            species=bird.species,
            pullus=pullus,
            age=age,
            wing=wing,
            mass=mass,
            wing_per_day=(after[0] - before[0]) / 2 / wing if pullus else 0.0,
            mass_per_day=(after[1] - before[1]) / 2 / mass if pullus else 0.0,
            spread=spread,
            ringed_here=fresh and bool(bird.ring),
            place=len(self.handlings),
        )

    with patch.object(cls, "handle", watched):
        yield


def _cut(generator: str, team: str, variant: Variant, seed: int, season: Tables, habits: Habits) -> Made:
    tables = {name: rows for name, rows in season.items() if name not in variant.tables}
    truth = tuple(row["_truth"] for row in tables["handlings"])
    without = {"_truth", *variant.columns}
    tables["handlings"] = [
        {name: value for name, value in row.items() if name not in without} for row in tables["handlings"]
    ]
    return Made(generator, team, variant.name, seed, tables, truth, habits, variant.headers)
