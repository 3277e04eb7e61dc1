"""Invented logs with dead antennas and dead loggers of every kind, for the benchmark of their finding.

Written for being hard: pairs, lone parents, roosting birds and empty boxes; quiet nights and storms shared by
all boxes; birds that stay away; nestlings that sit, fly and are gone; seasons that end before the log does;
spells from dusk to dawn and from any hour to any hour, at the ends of a log, twice in a box; antennas that
never worked.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from audit.models.reads import INNER, OUTER, Reads

HOUR = 3_600_000
DAY = 24 * HOUR
#: 2026-04-20, noon.
START = 20563 * DAY + 12 * HOUR
MARKER = 9_000_000


@dataclass
class Outage:
    """A dead spell and what it took."""

    box: int
    sides: tuple[int, ...]
    start: int
    end: int
    length: str
    place: str
    bouts_lost: int = 0


@dataclass
class Outages:
    """A log with its truth."""

    reads: Reads
    spells: list[Outage] = field(default_factory=list)
    markers: tuple[int, ...] = ()
    marked: bool = False
    once: bool = False
    quality: str = ""
    boxes: int = 0
    nights: int = 0


def outages(seed: int, *, quality: str = "", dead: float = 0.5) -> Outages:
    """Draw a log; `dead` is the share of boxes with a spell."""
    rng = np.random.default_rng([seed, 4711])
    boxes, nights = int(rng.integers(3, 8)), int(rng.integers(18, 45))
    quality = quality or str(rng.choice(["good", "weak", "any"]))
    heard = {"good": (0.95, 0.93), "weak": (0.70, 0.55), "any": tuple(rng.uniform(0.55, 0.98, 2))}[quality]
    world = {
        "nights": nights,
        "once": bool(rng.random() < 0.5),
        "factor": np.exp(rng.choice([0.0, 0.25, 0.5]) * rng.normal(size=nights)),
        "storm": rng.random(nights) < rng.choice([0.0, 0.0, 0.02]),
        "dusk": float(rng.choice([8.5, 9.5, 9.5, 17.0])) * HOUR,  # after noon; 17: birds of the day
        "long": float(rng.uniform(6.5, 9.0)) * HOUR,
        "away": float(rng.choice([0.0, 0.005, 0.02])),
        "stays": float(rng.uniform(0.3, 0.8)),
        "spread": float(rng.choice([2.0, 5.0, 1000.0])),
        "looks": float(rng.uniform(0, 3)),
        "sits": float(rng.uniform(0, 1)),
    }
    asleep = None if rng.random() < 0.85 else (1.0, 3.0) if rng.random() < 0.3 else (8.0, 18.0)
    made = Outages(Reads(*(np.zeros(0) for _ in range(4))), boxes=boxes, nights=nights, quality=quality)
    made.once, made.marked = world["once"], bool(rng.random() < 0.15)
    columns: list[np.ndarray] = []
    tag = 0
    for box in range(boxes):
        own = np.clip(np.array(heard) + 0.02 * rng.normal(size=2), 0.3, 0.99)
        parts: list[tuple[int, np.ndarray, np.ndarray]] = []
        for bird in _life(rng, nights):
            tag += 1
            at, side = _bird(rng, world, bird, np.clip(own + 0.02 * rng.normal(size=2), 0.2, 0.99))
            parts.append((tag, at, side))
        for _ in range(rng.poisson(0.05 * nights)):
            tag += 1
            parts.append((tag, START + rng.integers(0, nights * DAY, 1), rng.integers(0, 2, 1)))
        if made.marked:
            made.markers = (MARKER,)
            beats = START + 1000 * rng.integers(0, 60) + np.arange(0, nights * DAY, 900_000)
            for side in (OUTER, INNER):
                some = beats[rng.random(len(beats)) < 0.94] + rng.integers(0, 400)
                parts.append((MARKER, some, np.full(len(some), side)))
        spells = _spells(rng, box, nights, dead, world)
        for tag_, at, side in parts:
            # the log of all boxes ends at one moment, for markers and for birds
            keep = at < START + nights * DAY
            for spell in spells:
                off = (at >= spell.start) & (at < spell.end) & np.isin(side, spell.sides)
                if tag_ != MARKER:
                    spell.bouts_lost += len(np.unique(at[off] // 600_000))
                keep &= ~off
            if asleep:
                hour = at % DAY / HOUR
                keep &= ~((hour >= asleep[0]) & (hour < asleep[1]))
            columns.append(
                np.stack([np.full(keep.sum(), box), np.full(keep.sum(), tag_), at[keep], side[keep]])
            )
        made.spells += spells
    rows = np.concatenate(columns, axis=1).astype(np.int64)
    rows = rows[:, np.lexsort((rows[3], rows[2], rows[1], rows[0]))]
    made.reads = Reads(
        rows[0].astype(np.int32), rows[1].astype(np.int32), rows[2].copy(), rows[3].astype(np.int8)
    )
    return made


def _spells(rng, box, nights, dead, world):
    if rng.random() >= dead:
        return []
    if rng.random() < 0.06:
        side = int(rng.integers(0, 2))
        return [Outage(box, (side,), START - DAY, START + (nights + 1) * DAY, "all", "whole log")]
    found = []
    for _ in range(1 + int(rng.random() < 0.25)):
        sides = ((OUTER,), (INNER,), (OUTER, INNER), (OUTER, INNER))[int(rng.integers(0, 4))]
        length = str(rng.choice(["dusk to dawn", "a day", "1-3 nights", "3 nights"]))
        night = int(rng.integers(0, nights))
        if length == "dusk to dawn":
            start = START + night * DAY + world["dusk"] - rng.uniform(0, 1) * HOUR
            end = start + world["long"] + 2 * HOUR
        else:
            lasts = {"a day": 1.0, "3 nights": 3.0, "1-3 nights": rng.uniform(1, 3)}[length]
            start = START + (night + (0 if rng.random() < 0.4 else rng.random())) * DAY
            end = start + lasts * DAY
        place = "start" if night < 2 else "end" if end > START + (nights - 2) * DAY else "middle"
        if all(end < one.start - DAY or start > one.end + DAY for one in found):
            found.append(Outage(box, sides, int(start), int(end), length, place))
    return found


def _life(rng, nights):
    """Birds of a box: kind, visits a night, first and last night, nights it takes from look to flight."""
    kind = str(rng.choice(["pair", "pair", "pair", "pair", "lone", "roost", "empty"]))
    end = nights if rng.random() < 0.7 else int(rng.integers(4, nights))
    begin = 0 if rng.random() < 0.8 else int(rng.integers(0, 8))
    if kind == "pair":
        visits = rng.uniform(4, 25)
        old = [
            ("adult", visits * rng.uniform(0.5, 1.5), begin, end - int(rng.integers(0, 2))) for _ in range(2)
        ]
        flies = int(rng.integers(5, nights + 15))
        young = [
            ("young", rng.uniform(2, 8), f - 10, min(end + 3, f + int(rng.integers(2, 15))))
            for f in flies + rng.integers(-2, 3, int(rng.integers(0, 6)))
        ]
        return old + young
    if kind == "lone":
        return [("adult", rng.uniform(2, 8), begin, end)]
    if kind == "roost":
        return [("roost", rng.uniform(1, 2), begin, end) for _ in range(int(rng.integers(1, 3)))]
    return [("adult", 1.0, int(n), int(n) + 1) for n in rng.integers(0, nights, 3)]


def _bird(rng, world, bird, chances):
    kind, visits, first, last = bird
    at: list[float] = []
    side: list[int] = []
    absent, inside = False, kind == "young"
    for night in range(max(first, 0), min(last, world["nights"])):
        absent = rng.random() < (world["stays"] if absent else world["away"] + 0.25 * (kind == "roost"))
        if absent or world["storm"][night]:
            continue
        dusk = START + night * DAY + world["dusk"]
        if kind == "young" and night < first + 10:
            for _ in range(rng.poisson(3)):
                sides = [INNER] if night < first + 5 or rng.random() < 0.4 else [INNER, OUTER]
                _sits(
                    rng,
                    at,
                    side,
                    dusk + rng.random() * world["long"],
                    rng.exponential(9e5),
                    sides,
                    chances,
                )
            continue
        mean = visits * world["factor"][night] * rng.gamma(world["spread"], 1 / world["spread"])
        n = max(int(rng.poisson(mean)), int(kind == "roost"))
        moments = np.sort(dusk + rng.beta(0.9, 1.1, 2 * n) * world["long"])
        for begun in moments[np.concatenate([[True], np.diff(moments) > 30_000])] if n else moments:
            when = begun
            for antenna in (INNER, OUTER) if inside else (OUTER, INNER):
                _heard(rng, world, at, side, when, antenna, chances[antenna])
                when += rng.lognormal(np.log(700), 0.4)
            inside = not inside
        for _ in range(rng.poisson(world["looks"])):
            when = dusk + rng.random() * world["long"]
            near = INNER if inside else OUTER
            for antenna in (near, 1 - near, near) if rng.random() < 0.4 else (near,):
                _heard(rng, world, at, side, when, antenna, chances[antenna])
                when += 1500
        for _ in range(rng.poisson(world["sits"])):
            where = [[OUTER], [INNER], [OUTER, INNER]][int(rng.integers(0, 3))]
            _sits(
                rng,
                at,
                side,
                dusk + rng.random() * world["long"],
                rng.exponential(2e5),
                where,
                chances,
            )
    return np.array(at, dtype=np.int64), np.array(side, dtype=np.int64)


def _heard(rng, world, at, side, when, antenna, chance):
    for k in range(1 if world["once"] else int(rng.integers(1, 5))):
        if rng.random() < chance:
            at.append(when + 100 * k + rng.random() * 200)
            side.append(antenna)


def _sits(rng, at, side, when, lasts, sides, chances):
    for antenna in sides:
        n = max(1, int(lasts / 5000))
        moments = when + rng.random(n) * lasts
        moments = moments[rng.random(n) < chances[antenna]]
        at.extend(moments.tolist())
        side.extend([antenna] * len(moments))
