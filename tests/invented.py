"""Invented seasons of the Sallow Levels box round: clean, typed, and known to the last gram.

The growth used here is written out on its own, so that the audit is never tested with its own arithmetic.
Barn owl: offset Gompertz of wing and mass with recession, values as in schemas/species/barn_owl.yaml
(computed from re-measured wild Swiss birds). Kestrel and great tit: round figures from memory; they only
have to be bird-like.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from typing import Any

import numpy as np

Row = dict[str, Any]


@dataclass(frozen=True)
class Style:
    """What may differ between one team and the next."""

    year: int = 2026
    boxes: int = 60
    second_visit: float = 0.6
    adults: float = 0.35
    heavy: float = 1.0
    bag_g: tuple[float, float] = (18.0, 36.0)
    step_g: float = 1.0
    kestrels: float = 0.12
    tits: float = 0.1
    occupied: float = 0.85
    ringers: tuple[str, ...] = ("AB", "IP", "MK")
    prefixes: dict[str, str] = field(
        default_factory=lambda: {"barn_owl": "SV", "common_kestrel": "SK", "great_tit": "SP"}
    )
    digits: dict[str, int] = field(
        default_factory=lambda: {"barn_owl": 5, "common_kestrel": 5, "great_tit": 6}
    )
    reader_offset_s: int = 95


@dataclass
class Bird:
    species: str
    hatched: dt.date
    wing_factor: float
    mass_factor: float
    sex: str = "U"
    ring: str = ""
    tag: str = ""


def _owl(age: float) -> tuple[float, float]:
    wing = 9 + 304.6 * np.exp(-np.exp(-0.0537 * (age - 28.44)))
    mass = (9.65 + 370.55 * np.exp(-np.exp(-0.1016 * (age - 13.81)))) * (
        1 - 0.185 / (1 + np.exp(-(age - 62.5) / 8))
    )
    return wing, mass


def _kestrel(age: float) -> tuple[float, float]:
    return 12 + 228 * np.exp(-np.exp(-0.095 * (age - 15.5))), 205.9 / (1 + np.exp(-0.293 * (age - 7.9)))


def _tit(age: float) -> tuple[float, float]:
    return 6 + 62 / (1 + np.exp(-0.24 * (age - 11.5))), 17.75 / (1 + np.exp(-0.382 * (age - 5.9)))


GROWTH = {"barn_owl": _owl, "common_kestrel": _kestrel, "great_tit": _tit}
ADULT = {"barn_owl": (291, 5, 335, 25), "common_kestrel": (250, 5, 215, 15), "great_tit": (75, 2, 18, 0.8)}
BROOD = {"barn_owl": (3, 8), "common_kestrel": (3, 7), "great_tit": (5, 10)}
INTERVAL = {"barn_owl": 2.3, "common_kestrel": 0.6, "great_tit": 0.15}
RINGING_AGE = {"barn_owl": (27, 37), "common_kestrel": (13, 19), "great_tit": (12, 14)}
MASS_SPREAD = {"barn_owl": 0.07, "common_kestrel": 0.06, "great_tit": 0.06}


class _Round:
    """State of one invented field season."""

    def __init__(self, rng: np.random.Generator, style: Style) -> None:
        self.rng = rng
        self.style = style
        self.next_ring: dict[tuple[str, str], int] = {}
        self.strings: list[Row] = []
        self.losses: list[Row] = []
        self.tags = self._tag_batch()
        self.used_tags = 0
        self.bags: dict[tuple[dt.date, str], list[float]] = {}
        self.handlings: list[Row] = []
        self.visits: list[Row] = []
        self.reads: list[Row] = []

    def _tag_batch(self) -> list[str]:
        steps = self.rng.integers(1, 60, size=self.style.boxes * 9 + 40)
        serials = 104_000_000_000 + int(self.rng.integers(0, 900_000)) * 1000 + np.cumsum(steps)
        tags = np.array([f"999{serial:012d}" for serial in serials])
        # tags come in bags of 25, used in any order
        for start in range(0, len(tags), 25):
            tags[start : start + 25] = self.rng.permutation(tags[start : start + 25])
        return [str(tag) for tag in tags]

    def ring(self, species: str, ringer: str, day: dt.date) -> str:
        prefix, digits = self.style.prefixes[species], self.style.digits[species]
        key = (species, ringer)
        number = self.next_ring.get(key, 0)
        if number % 100 == 0:  # the last ring of a string ends in 00; a new string is drawn
            taken = max([*self.next_ring.values(), int(self.rng.integers(12, 80)) * 100])
            number = (taken // 100 + int(self.rng.integers(1, 5))) * 100 if self.next_ring else taken
            self.strings.append(
                {
                    "prefix": prefix,
                    "first": f"{number + 1:0{digits}d}",
                    "last": f"{number + 100:0{digits}d}",
                    "issued_to": ringer,
                    "issued": dt.date(self.style.year, 3, 2),
                }
            )
        number += 1
        if self.rng.random() < 0.006 and (number % 100) != 0:
            fate = str(self.rng.choice(["lost", "destroyed"]))
            self.losses.append({"ring": f"{prefix}{number:0{digits}d}", "fate": fate, "date": day})
            number += 1
        self.next_ring[key] = number
        return f"{prefix}{number:0{digits}d}"

    def bag(self, day: dt.date, ringer: str, species: str) -> float:
        low, high = self.style.bag_g if species != "great_tit" else (6.0, 9.0)
        key = (day, ringer + ("t" if species == "great_tit" else ""))
        if key not in self.bags:
            self.bags[key] = [float(self.rng.uniform(low, high)) for _ in range(2)]
        pick = 0 if self.rng.random() < 0.8 else 1
        self.bags[key][pick] += abs(float(self.rng.normal(0, 0.08)))  # a bag gets dirtier, never cleaner
        return self.bags[key][pick]

    def handle(
        self, bird: Bird, day: dt.date, clock: dt.datetime, box: str, ringer: str, *, adult: bool, brood: int
    ) -> None:
        age = (day - bird.hatched).days
        step = self.style.step_g if bird.species != "great_tit" else 0.1
        if adult:
            wing_mean, wing_sd, mass_mean, mass_sd = ADULT[bird.species]
            wing = wing_mean + wing_sd * bird.wing_factor
            mass = mass_mean + mass_sd * bird.mass_factor
        else:
            wing_mean, mass_mean = GROWTH[bird.species](age)
            wing = wing_mean * bird.wing_factor
            mass = mass_mean * bird.mass_factor
        wing += self.rng.normal(0, 1.5 if bird.species != "great_tit" else 0.5)
        mass *= self.style.heavy * (1 + self.rng.normal(0, 0.025))
        bag = round(self.bag(day, ringer, bird.species) / step) * step
        net = round(mass / step) * step
        first = not bird.ring
        if first:
            bird.ring = self.ring(bird.species, ringer, day)
            if bird.species != "great_tit":
                bird.tag = self.tags[self.used_tags]
                self.used_tags += 1
        decimals = 0 if step >= 1 else 1
        self.handlings.append(
            {
                "date": day,
                "time": clock.strftime("%H:%M"),
                "box": box,
                "species": bird.species,
                "ring": bird.ring,
                "ring_leg": "R",
                "tag": bird.tag or None,
                "tag_leg": "L" if bird.tag else None,
                "age": "4" if adult else "1",
                "event": "ringed" if first else "re-encountered",
                "gross_g": round(net + bag, decimals),
                "bag_g": round(bag, decimals),
                "net_g": round(net, decimals),
                "wing_mm": float(round(wing)),
                "age_days": None,
                "hatch_date": None,
                "brood_size": brood,
                "sex": bird.sex,
                "condition": None,
                "ringer": ringer,
                "scribe": self.style.ringers[-1],
                "remarks": None,
            }
        )
        if bird.tag:
            offset = dt.timedelta(seconds=self.style.reader_offset_s + int(self.rng.integers(0, 40)))
            self.reads.append({"read_at": clock + offset, "tag": bird.tag, "reader": "R1"})


def _brood(rng: np.random.Generator, species: str, oldest: dt.date) -> list[Bird]:
    low, high = BROOD[species]
    size = int(rng.integers(low, high + 1))
    brood_wing, brood_mass = rng.normal(1, 0.02), rng.normal(1, MASS_SPREAD[species] * 0.8)
    birds = []
    hatched = 0.0
    for place in range(size):
        runt = 1 - abs(rng.normal(0, 0.14)) if place >= size - 1 and rng.random() < 0.15 else 1.0
        birds.append(
            Bird(
                species,
                oldest + dt.timedelta(days=round(hatched)),
                float(brood_wing * rng.normal(1, 0.015)),
                float(brood_mass * runt * rng.normal(1, MASS_SPREAD[species])),
                sex="U",
            )
        )
        hatched += max(0.0, rng.normal(INTERVAL[species], INTERVAL[species] * 0.3))
    return birds


def invented_season(seed: int, style: Style | None = None) -> dict[str, list[Row]]:
    """Make one clean season as canonical rows, in the order in which a team would type it."""
    style = style or Style()
    rng = np.random.default_rng(seed)
    team = _Round(rng, style)
    width = max(2, len(str(style.boxes)))
    boxes = [f"SL-{number:0{width}d}" for number in range(1, style.boxes + 1)]
    kind = {}
    for box in boxes:
        draw = rng.random()
        kind[box] = (
            "great_tit"
            if draw < style.tits
            else "common_kestrel"
            if draw < style.tits + style.kestrels
            else "barn_owl"
        )
    plan: list[tuple[dt.date, str, int]] = []
    broods: dict[str, list[Bird]] = {}
    mothers: dict[str, Bird] = {}
    for box in boxes:
        if rng.random() > style.occupied:
            continue
        species = kind[box]
        start = {"barn_owl": (4, 25), "common_kestrel": (5, 20), "great_tit": (5, 8)}[species]
        oldest = dt.date(style.year, *start) + dt.timedelta(days=int(rng.integers(0, 45)))
        broods[box] = _brood(rng, species, oldest)
        low, high = RINGING_AGE[species]
        plan.append((_round_day(oldest + dt.timedelta(days=int(rng.integers(low, high + 1)))), box, 1))
        if species == "barn_owl" and rng.random() < style.second_visit:
            later = plan[-1][0] + dt.timedelta(days=int(rng.integers(10, 18)))
            plan.append((_round_day(later), box, 2))
        if species == "barn_owl" and rng.random() < style.adults:
            mothers[box] = Bird(
                species,
                dt.date(style.year - 2, 5, 1),
                float(rng.normal(0, 0.8)),
                float(rng.normal(0.6, 0.7)),
                sex="F",
            )
            if rng.random() < 0.4:  # ringed in an earlier year, or elsewhere
                earlier = f"{int(rng.integers(100, 1100)):0{style.digits[species]}d}"
                mothers[box].ring = str(
                    rng.choice(
                        [f"{style.prefixes[species]}{earlier}", f"QX{int(rng.integers(10000, 99999))}"]
                    )
                )
    plan.sort()
    day, clock, ringer = None, dt.datetime(style.year, 1, 1, tzinfo=dt.UTC), style.ringers[0]
    for when, box, turn in plan:
        if when != day:
            day = when
            clock = dt.datetime(when.year, when.month, when.day, 9, 30)
            ringer = style.ringers[int(rng.integers(0, max(1, len(style.ringers) - 1)))]
        birds = broods[box]
        began = clock
        for bird in rng.permutation(np.array(birds, dtype=object)) if turn == 2 else birds:
            team.handle(bird, when, clock, box, ringer, adult=False, brood=len(birds))
            clock += dt.timedelta(minutes=int(rng.integers(3, 7)))
        if turn == 1 and box in mothers:
            team.handle(mothers[box], when, clock, box, ringer, adult=True, brood=len(birds))
            clock += dt.timedelta(minutes=5)
        team.visits.append(
            {
                "date": when,
                "time": began.strftime("%H:%M"),
                "box": box,
                "ringer": ringer,
                "eggs": 0,
                "alive": len(birds),
                "dead": 0,
                "cleaned": False,
                "camera_cleaned": False,
                "logger_downloaded": True,
                "entrance_checked": True,
                "remarks": None,
            }
        )
        clock += dt.timedelta(minutes=int(rng.integers(20, 45)))
    for number, box in enumerate(boxes):
        when = dt.date(style.year, 10, 3) + dt.timedelta(days=7 * (number * 5 // len(boxes)))
        team.visits.append(
            {
                "date": when,
                "time": f"{10 + number % 5}:{(number * 7) % 60:02d}",
                "box": box,
                "ringer": style.ringers[0],
                "eggs": 0,
                "alive": 0,
                "dead": 0,
                "cleaned": True,
                "camera_cleaned": True,
                "logger_downloaded": True,
                "entrance_checked": True,
                "remarks": None,
            }
        )
    grid = int(np.ceil(np.sqrt(len(boxes))))
    return {
        "handlings": team.handlings,
        "visits": team.visits,
        "boxes": [
            {
                "box": box,
                # a grid in the open ocean: no real place
                "latitude": round(45.0 + 0.01 * (i // grid), 4),
                "longitude": round(-30.0 + 0.015 * (i % grid), 4),
                "capacity": 11,
                "antennas": 2 if i % 4 == 0 else 0,
                "camera": i % 4 == 0,
                "since": dt.date(style.year - 5, 2, 1),
                "until": None,
            }
            for i, box in enumerate(boxes)
        ],
        "ring_stock": team.strings,
        "ring_losses": team.losses,
        "tag_stock": [
            {"tag": tag, "batch": f"B{1 + i // 100}"}
            for i, tag in enumerate(team.tags[: (team.used_tags // 25 + 1) * 25])
        ],
        "tag_reads": team.reads,
    }


def _round_day(day: dt.date) -> dt.date:
    """The team goes out on Wednesdays and Saturdays."""
    while day.weekday() not in (2, 5):
        day += dt.timedelta(days=1)
    return day


def large_style(handlings: int) -> Style:
    """A style whose season has about so many handlings."""
    return Style(boxes=max(20, round(handlings / 6.6)))
