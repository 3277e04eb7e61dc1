"""Invented reads of two antennas with the passages behind them, by two generators that share no code.

`by_events` follows birds through their nights: dwell in the field of each antenna, the cycle of the reader,
looks, rests, nestlings before and after their first flight. `by_counts` knows nothing of that: each passage
gives some reads at each antenna, each lost by chance. Neither shares anything with the models.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from audit.models.reads import INNER, OUTER, Passages, Reads, Spells

SECOND, HOUR, DAY = 1000, 3_600_000, 86_400_000
#: Noon of the first of May 2026.
SEASON = 1_777_636_800_000


@dataclass
class Sky:
    """What a generated log is made with."""

    seed: int
    boxes: int = 6
    nights: int = 20
    detection: tuple[float, float] = (0.95, 0.93)
    #: one read per antenna and crossing instead of one per cycle
    once: bool = False
    cycle_s: float = 0.25
    field_s: float = 0.5
    transit_s: float = 0.5
    visit_s: float = 90.0
    visit_spread: float = 0.7
    trip_s: float = 1500.0
    trip_spread: float = 0.8
    looks: float = 0.15
    rests: float = 0.05
    nestlings: int = 3
    flight_night: float = 0.5
    ghosts: float = 0.0
    #: box, antenna (or both, 2), first night, nights
    dead: tuple[tuple[int, int, float, float], ...] = ()
    #: thinned after the record: these spells hear worse
    stamp_ms: int = 1


@dataclass
class Log:
    """Reads, the truth behind them, and the spells as they were."""

    reads: Reads
    truth: Passages
    spells: Spells
    tags: int
    extra: dict[str, object] = field(default_factory=dict)


class _Record:
    def __init__(self, sky: Sky):
        self.sky = sky
        self.rng = np.random.default_rng(sky.seed)
        self.rows: list[tuple[int, int, int, int]] = []
        self.true: list[tuple[int, int, int, int]] = []
        self.acts: list[tuple[str, int, int, int, int]] = []

    def field(self, box: int, tag: int, antenna: int, start: float, lasting: float) -> None:
        """A bird stands in the field of an antenna."""
        sky, rng = self.sky, self.rng
        p = sky.detection[antenna]
        if sky.once:
            if rng.random() < p:
                self.rows.append((box, tag, int(start + rng.random() * lasting), antenna))
            return
        cycle = sky.cycle_s * SECOND
        at = start + rng.random() * cycle
        while at <= start + lasting:
            if rng.random() < p:
                self.rows.append((box, tag, int(at), antenna))
            at += cycle

    def cross(self, box: int, tag: int, at: float, direction: int) -> float:
        """A bird passes; returns when it is through."""
        sky, rng = self.sky, self.rng
        way = (OUTER, INNER) if direction == 0 else (INNER, OUTER)
        near, between, far = (
            float(rng.lognormal(np.log(s * SECOND), 0.5)) for s in (sky.field_s, sky.transit_s, sky.field_s)
        )
        near, far = max(near, sky.cycle_s * SECOND), max(far, sky.cycle_s * SECOND)
        self.field(box, tag, way[0], at, near)
        self.field(box, tag, way[1], at + near + between, far)
        self.true.append((box, tag, int(at + near + between / 2), direction))
        return at + near + between + far

    def look(self, box: int, tag: int, at: float, near: int) -> float:
        rng = self.rng
        there = float(rng.lognormal(np.log(0.7 * SECOND), 0.5))
        self.field(box, tag, near, at, there)
        at += there
        if rng.random() < 0.6:
            turn = float(rng.lognormal(np.log(0.8 * SECOND), 0.6))
            self.field(box, tag, 1 - near, at + 300, turn)
            at += turn + 600
            self.field(box, tag, near, at, there)
            at += there
        return at

    def rest(self, box: int, tag: int, at: float, near: int) -> float:
        rng = self.rng
        until = at + float(rng.lognormal(np.log(240 * SECOND), 1.0))
        while at < until:
            antenna = near if rng.random() < 0.75 else 1 - near
            stay = float(rng.exponential(8 * SECOND)) + 500
            p = self.sky.detection[antenna]
            step = max(self.sky.cycle_s, 0.5) * SECOND
            times = at + np.arange(0, stay, step)
            self.rows.extend((box, tag, int(t), antenna) for t in times[rng.random(len(times)) < p])
            at += stay
        return at


def by_events(sky: Sky) -> Log:
    """Follow each bird through its nights."""
    record = _Record(sky)
    rng = record.rng
    end = SEASON + sky.nights * DAY
    tag = 0
    for box in range(sky.boxes):
        for k in range(2 + sky.nestlings):
            flight = SEASON if k < 2 else SEASON + (sky.flight_night + 0.3 * rng.random()) * sky.nights * DAY
            at = SEASON + 8 * HOUR + rng.random() * HOUR
            inside = k >= 2 or bool(rng.random() < 0.5)
            while at < end:
                clock = (at - SEASON) % DAY
                if not 8 * HOUR <= clock < 17 * HOUR:
                    at += (8 * HOUR - clock) % DAY + rng.exponential(0.5 * HOUR)
                    continue
                if at < flight:
                    at += rng.exponential(3 * HOUR)
                    act = record.rest if rng.random() < 0.4 else record.look
                    begun = at
                    at = act(box, tag, at, INNER)
                    record.acts.append((f"{act.__name__} before flight", box, tag, int(begun), int(at)))
                    continue
                near = INNER if inside else OUTER
                begun, what = at, "cross"
                u = rng.random()
                if u < sky.looks:
                    what = "look"
                    at = record.look(box, tag, at, near)
                elif u < sky.looks + sky.rests:
                    what = "rest"
                    at = record.rest(box, tag, at, near)
                    if rng.random() < 0.5:
                        what = "rest and cross"
                        at = record.cross(box, tag, at, int(inside))
                        inside = not inside
                else:
                    at = record.cross(box, tag, at, int(inside))
                    inside = not inside
                record.acts.append((what, box, tag, int(begun), int(at)))
                if inside:
                    at += rng.lognormal(np.log(sky.visit_s * SECOND), sky.visit_spread)
                else:
                    at += rng.lognormal(np.log(sky.trip_s * SECOND), sky.trip_spread)
            tag += 1
    rows = np.array(record.rows, dtype=np.int64)
    rows = _haunted(rows, sky, rng, tag)
    log = _log(rows, record.true, sky, tag)
    log.extra["acts"] = record.acts
    return log


def by_counts(sky: Sky) -> Log:
    """Some reads per passage and antenna, each lost by chance."""
    rng = np.random.default_rng(sky.seed)
    rows: list[np.ndarray] = []
    true: list[tuple[int, int, int, int]] = []
    tag = 0
    for box in range(sky.boxes):
        for _ in range(2 + sky.nestlings):
            n = int(rng.integers(4, 12) * sky.nights)
            start = np.sort(rng.uniform(0, sky.nights, n))
            # all in the first half of a day that begins at dusk
            start = SEASON + (np.floor(start) + (start % 1) * 0.45 + 0.3) * DAY
            stay = rng.gamma(2.0, sky.visit_s / 2, n) * SECOND + 8 * SECOND
            room = np.append(np.diff(start), np.inf)
            keep = room > stay + 60 * SECOND
            start, stay = start[keep], stay[keep]
            moments = np.stack([start, start + stay], axis=1).ravel()
            ways = np.tile([0, 1], len(start))
            if rng.random() < 0.5:
                moments, ways = moments[1:], ways[1:]
            true.extend((box, tag, int(t), int(w)) for t, w in zip(moments, ways, strict=True))
            for antenna in (OUTER, INNER):
                k = np.ones(len(moments), int) if sky.once else rng.integers(1, 5, len(moments))
                at = np.repeat(moments, k)
                side = np.repeat(np.where((ways == 0) == (antenna == OUTER), -1.0, 1.0), k)
                at = at + side * (0.25 * SECOND + rng.exponential(0.6 * SECOND, len(at)))
                kept = rng.random(len(at)) < sky.detection[antenna]
                rows.append(
                    np.stack(
                        [
                            np.full(kept.sum(), box),
                            np.full(kept.sum(), tag),
                            at[kept],
                            np.full(kept.sum(), antenna),
                        ],
                        axis=1,
                    )
                )
            # looks: two reads of the same antenna around one of the other
            looks = rng.uniform(SEASON, SEASON + sky.nights * DAY, int(sky.looks * len(moments)))
            place = np.searchsorted(moments, looks)
            inside = np.where(place > 0, ways[np.clip(place - 1, 0, len(ways) - 1)] == 0, ways[0] == 1)
            for shift, far in ((-2, False), (0, True), (2, False)):
                antenna = np.where(inside != far, INNER, OUTER)
                p = np.array(sky.detection)[antenna]
                kept = rng.random(len(looks)) < p
                rows.append(
                    np.stack(
                        [
                            np.full(kept.sum(), box),
                            np.full(kept.sum(), tag),
                            looks[kept] + shift * SECOND,
                            antenna[kept],
                        ],
                        axis=1,
                    )
                )
            tag += 1
    found = _haunted(np.concatenate(rows).astype(np.int64), sky, rng, tag)
    return _log(found, true, sky, tag)


def _haunted(rows: np.ndarray, sky: Sky, rng: np.random.Generator, tags: int) -> np.ndarray:
    """Add codes that no bird carries, each read once."""
    n = int(sky.ghosts * len(rows))
    if n == 0:
        return rows
    made = rows[rng.integers(0, len(rows), n)].copy()
    made[:, 1] = tags + np.arange(n)
    made[:, 2] += rng.integers(-HOUR, HOUR, n)
    made[:, 3] = rng.integers(0, 2, n)
    return np.concatenate([rows, made])


def _log(rows: np.ndarray, true: list[tuple[int, int, int, int]], sky: Sky, tags: int) -> Log:
    pieces = []
    for box in range(sky.boxes):
        for antenna in (OUTER, INNER):
            at, end = SEASON - DAY, SEASON + (sky.nights + 1) * DAY
            off = sorted(
                (SEASON + int(first * DAY), SEASON + int((first + long) * DAY))
                for where, which, first, long in sky.dead
                if where == box and which in (antenna, 2)
            )
            for low, high in off:
                pieces.append((box, antenna, at, low, 0))
                pieces.append((box, antenna, low, high, 2))
                gone = (
                    (rows[:, 0] == box) & (rows[:, 3] == antenna) & (rows[:, 2] >= low) & (rows[:, 2] < high)
                )
                rows = rows[~gone]
                at = high
            pieces.append((box, antenna, at, end, 0))
    rows[:, 2] -= rows[:, 2] % sky.stamp_ms
    order = np.lexsort((rows[:, 3] if sky.seed % 2 else -rows[:, 3], rows[:, 2], rows[:, 1], rows[:, 0]))
    rows = rows[order]
    reads = Reads(
        rows[:, 0].astype(np.int32),
        rows[:, 1].astype(np.int32),
        rows[:, 2].copy(),
        rows[:, 3].astype(np.int8),
    )
    sure = np.array(sorted(true), dtype=np.int64).reshape(-1, 4)
    truth = Passages(
        sure[:, 0].astype(np.int32),
        sure[:, 1].astype(np.int32),
        sure[:, 2],
        sure[:, 3].astype(np.int8),
        np.ones(len(sure)),
        np.zeros(len(sure), np.int8),
    )
    made = np.array(pieces, dtype=np.int64)
    spells = Spells(
        made[:, 0].astype(np.int32),
        made[:, 1].astype(np.int8),
        made[:, 2],
        made[:, 3],
        made[:, 4].astype(np.int8),
        np.where(made[:, 4] == 2, 0.0, np.nan),
    )
    return Log(reads, truth, spells, tags)


def matched(found: Passages, truth: Passages, within_s: float = 30.0) -> np.ndarray:
    """Which found passages are true, each true one used once: nearest in time first within each bird."""
    right = np.zeros(len(found.at), dtype=bool)
    by: dict[tuple[int, int, int], list[int]] = {}
    for k, key in enumerate(zip(truth.box, truth.tag, truth.direction, strict=True)):
        by.setdefault((int(key[0]), int(key[1]), int(key[2])), []).append(k)
    used: set[int] = set()
    for k in np.argsort(found.at, kind="stable"):
        there = by.get((int(found.box[k]), int(found.tag[k]), int(found.direction[k])))
        if not there:
            continue
        at = truth.at[there]
        low, high = np.searchsorted(at, [found.at[k] - within_s * SECOND, found.at[k] + within_s * SECOND])
        free = [j for j in range(low, high) if there[j] not in used]
        if free:
            used.add(there[free[0]])
            right[k] = True
    return right


def f1(found: Passages, truth: Passages) -> float:
    """Harmonic mean of precision and recall."""
    return float(2 * matched(found, truth).sum() / max(len(found.at) + len(truth.at), 1))


def calibration_error(found: Passages, truth: Passages, bins: int = 10) -> float:
    """Mean distance between stated and true shares in bins of equal width, weighted by their size."""
    right = matched(found, truth)
    place = np.minimum((found.p * bins).astype(int), bins - 1)
    n = np.bincount(place, minlength=bins)
    gap = np.abs(np.bincount(place, found.p, bins) - np.bincount(place, right, bins))
    return float(gap.sum() / max(n.sum(), 1))
