"""Invented logs of two antennas whose dead and sleeping hours are known, for tests of the antennas.

Birds here have habits: adults that hunt by night, chicks that come to the entrance before they ever leave it,
birds that stay away for days, storms in which nothing stirs. Antennas hear each crossing, or not, with a
chance of their own.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from audit.models.reads import INNER, OUTER, Reads

HOUR = 3_600_000
DAY = 24 * HOUR
#: 2026-04-01, noon.
START = 20544 * DAY + 12 * HOUR
MARKER = 9_000_000


@dataclass
class Habits:
    """What a log is drawn from; everything may be set."""

    boxes: int = 6
    nights: int = 40
    outer: tuple[float, float] = (0.9, 0.98)
    inner: tuple[float, float] = (0.9, 0.98)
    tags_differ: float = 0.0
    adults: tuple[int, int] = (1, 2)
    chicks: tuple[int, int] = (0, 4)
    trips: tuple[float, float] = (3, 10)
    dispersion: float = 4.0
    looks: float = 1.0
    sittings: float = 0.5
    away: float = 0.02
    stays_away: float = 0.6
    storm: float = 0.01
    #: storms are those of all boxes, as weather is, and not of each alone
    everywhere: bool = False
    ghosts: float = 0.2
    dead_one: float = 0.0
    dead_both: float = 0.0
    dead_nights: tuple[int, int] = (1, 4)
    whole_nights: bool = True
    marker_min: float = 0.0
    marker_heard: float = 0.94
    asleep: tuple[float, float] | None = None
    drift: float = 0.0


@dataclass
class Invented:
    reads: Reads
    #: box, antenna (2 both), start, end
    dead: list[tuple[int, int, int, int]] = field(default_factory=list)
    efficiency: dict[tuple[int, int], float] = field(default_factory=dict)
    antenna_nights: int = 0
    markers: tuple[int, ...] = ()
    span: tuple[int, int] = (0, 0)


def random_habits(random: np.random.Generator, **fixed) -> Habits:
    """Habits that nobody chose."""
    low, high = np.sort(random.uniform(0.5, 0.98, 2))
    drawn = {
        "boxes": int(random.integers(3, 7)),
        "nights": int(random.integers(25, 60)),
        "outer": (max(0.5, high - 0.1), high),
        "inner": (max(0.5, low - 0.05), min(0.98, low + 0.1)),
        "tags_differ": float(random.choice([0.0, 0.05, 0.1])),
        "adults": (int(random.integers(0, 2)), int(random.integers(1, 3))),
        "chicks": (0, int(random.integers(0, 6))),
        "trips": tuple(np.sort(random.uniform(2, 14, 2)).tolist()),
        "dispersion": float(random.uniform(1.5, 8)),
        "looks": float(random.uniform(0, 4)),
        "sittings": float(random.uniform(0, 2)),
        "away": float(random.uniform(0, 0.05)),
        "stays_away": float(random.uniform(0.2, 0.85)),
        "storm": float(random.choice([0.0, 0.01, 0.03])),
        "ghosts": float(random.uniform(0, 2)),
    }
    return Habits(**(drawn | fixed))


def invent(seed: int, habits: Habits | None = None) -> Invented:
    """Draw a log."""
    random = np.random.default_rng(seed)
    habits = habits or random_habits(random)
    parts: list[tuple[int, int, np.ndarray, np.ndarray]] = []
    made = Invented(Reads(*(np.zeros(0) for _ in range(4))))
    made.span = (START, START + habits.nights * DAY)
    tags = 0
    storms = np.zeros(habits.nights, dtype=bool)
    for box in range(habits.boxes):
        chances = np.array([random.uniform(*habits.outer), random.uniform(*habits.inner)])
        made.efficiency |= {(box, side): float(chances[side]) for side in (OUTER, INNER)}
        dead = _dead_of_box(random, box, habits)
        made.dead += dead
        drawn = random.random(habits.nights) < habits.storm
        storms = storms if habits.everywhere and box else drawn
        adults = int(random.integers(habits.adults[0], habits.adults[1] + 1))
        chicks = int(random.integers(habits.chicks[0], habits.chicks[1] + 1))
        peeks_from = int(random.integers(0, habits.nights))
        for k in range(adults + chicks):
            tags += 1
            own = np.clip(chances + habits.tags_differ * random.normal(size=2), 0.05, 0.995)
            at, side = _bird(random, habits, own, storms, peeks_from if k >= adults else None)
            parts.append((box, tags, at, side))
        for _ in range(random.poisson(habits.ghosts * habits.nights / 10)):
            tags += 1
            where = np.array([random.integers(START, START + habits.nights * DAY)])
            parts.append((box, tags, where, random.integers(0, 2, 1)))
        if habits.marker_min:
            made.markers = (MARKER,)
            for side in (OUTER, INNER):
                beats = (
                    START
                    + random.integers(0, 60_000)
                    + np.arange(habits.nights * 1440 / habits.marker_min) * (habits.marker_min * 60_000)
                )
                beats = (beats + random.normal(0, 300, len(beats))).astype(np.int64)
                beats = beats[random.random(len(beats)) < habits.marker_heard]
                parts.append((box, MARKER, beats, np.full(len(beats), side)))
        for i, (of, tag, at, side) in enumerate(parts):
            if of != box:
                continue
            keep = np.ones(len(at), dtype=bool)
            for _, which, start, end in dead:
                keep &= ~((at >= start) & (at < end) & ((which == 2) | (side == which)))
            if habits.asleep:
                hour = at % DAY / HOUR
                a, b = habits.asleep
                keep &= ~((hour >= a) & (hour < b)) if a < b else ~((hour >= a) | (hour < b))
            parts[i] = (of, tag, at[keep], side[keep])
    made.antenna_nights = habits.boxes * habits.nights * 2
    box = np.concatenate([np.full(len(p[2]), p[0]) for p in parts])
    tag = np.concatenate([np.full(len(p[2]), p[1]) for p in parts])
    at = np.concatenate([p[2] for p in parts]).astype(np.int64)
    side = np.concatenate([p[3] for p in parts])
    order = np.lexsort((at, tag, box))
    made.reads = Reads(
        box[order].astype(np.int32), tag[order].astype(np.int32), at[order], side[order].astype(np.int8)
    )
    return made


def _dead_of_box(random, box, habits):
    found = []
    for chance, which in ((habits.dead_one, int(random.integers(0, 2))), (habits.dead_both, 2)):
        if random.random() >= chance:
            continue
        length = int(random.integers(habits.dead_nights[0], habits.dead_nights[1] + 1))
        night = int(random.integers(8, max(9, habits.nights - 8 - length)))
        start = START + night * DAY + (0 if habits.whole_nights else int(random.integers(0, DAY)))
        found.append((box, which, start, start + length * DAY))
    return found


def _bird(random, habits, chances, storms, peeks_from):
    at, side = [], []
    mean = random.uniform(*habits.trips)
    absent = False
    inside = bool(random.random() < 0.5)
    for night in range(habits.nights):
        absent = random.random() < (habits.stays_away if absent else habits.away)
        stage = 9 if peeks_from is None else (night - peeks_from) / 5
        if storms[night] or (absent and stage > 2) or stage < 0:
            continue
        dusk = START + night * DAY + 9 * HOUR + random.normal(0, 0.15) * HOUR + night * 60_000
        length = 7.5 * HOUR
        if stage < 2:  # a chick comes to the inner antenna, later rests in the entrance
            for _ in range(random.poisson(4)):
                when = dusk + random.random() * length
                sides = [INNER] if stage < 1 or random.random() < 0.5 else [INNER, OUTER]
                _sits(random, at, side, when, random.exponential(120_000), sides, chances)
            continue
        n = int(random.negative_binomial(habits.dispersion, habits.dispersion / (habits.dispersion + mean)))
        moments = np.sort(dusk + random.random(2 * n) * length)
        moments = moments[np.concatenate([[True], np.diff(moments) > 40_000])] if n else moments
        for when in moments:
            _crosses(random, at, side, when, inside, chances)
            inside = not inside
        for _ in range(random.poisson(habits.looks)):
            when = dusk + random.random() * length
            _sits(random, at, side, when, 3000, [int(random.integers(0, 2))], chances)
        for _ in range(random.poisson(habits.sittings)):
            when = dusk + random.random() * length
            where = [[OUTER], [INNER], [OUTER, INNER]][int(random.integers(0, 3))]
            _sits(random, at, side, when, random.exponential(300_000), where, chances)
    return (
        (np.concatenate(at), np.concatenate(side))
        if at
        else (np.zeros(0, dtype=np.int64), np.zeros(0, dtype=int))
    )


def _crosses(random, at, side, when, inside, chances):
    order = (INNER, OUTER) if inside else (OUTER, INNER)
    for antenna in order:
        if random.random() < chances[antenna]:
            n = 1 + random.poisson(1.5)
            at.append((when + np.cumsum(random.exponential(250, n))).astype(np.int64))
            side.append(np.full(n, antenna))
        when += random.lognormal(np.log(900), 0.4)


def _sits(random, at, side, when, length, sides, chances):
    for antenna in sides:
        n = max(1, int(length / 4000))
        moments = (when + np.sort(random.random(n)) * length).astype(np.int64)
        moments = moments[random.random(n) < chances[antenna]]
        at.append(moments)
        side.append(np.full(len(moments), antenna))
