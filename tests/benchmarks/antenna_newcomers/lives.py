"""What birds do in the entrance of a nest box, from hatched young to an empty box: stays at each antenna.

Moments are seconds since the midnight before the visit at which the young were tagged. Paces are assumptions
after accounts of field workers; nothing is fitted to any log.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

    import numpy as np

__all__ = ["DAY", "SPECIES", "Bird", "Species", "brood"]

DAY = 86_400.0
_HOUR = 3_600.0
OUTER, INNER = 0, 1


@dataclass(frozen=True, slots=True)
class Species:
    """How a kind of bird lives; hours are those of the day, and beyond 24 those of the next."""

    name: str
    active: tuple[float, float]
    young: tuple[int, int]
    tagged_at: int
    comes_at: tuple[int, int]
    flies_at: tuple[int, int]
    leaves_at: tuple[int, int] | None
    until: int
    feeds: float
    zone_s: float
    indoors_s: float
    sits: float
    rests_s: float
    roosts: float


SPECIES = (
    Species("owl", (21.7, 28.5), (4, 8), 34, (44, 48), (54, 62), (68, 80), 76, 16, 1.4, 25, 0.15, 600, 0.7),
    Species("tit", (5.0, 21.0), (5, 9), 9, (16, 17), (18, 20), None, 23, 300, 0.5, 12, 0.03, 40, 0.9),
    Species("jackdaw", (5.0, 20.5), (2, 5), 20, (25, 27), (31, 35), (33, 38), 41, 55, 1.0, 30, 0.1, 120, 0.8),
    Species("kestrel", (5.0, 21.5), (3, 6), 18, (22, 25), (28, 32), (34, 44), 44, 14, 1.0, 20, 0.2, 240, 0.3),
)


@dataclass(slots=True)
class Bird:
    """One tagged bird: its stays (antenna, from, to) and its passages (inwards or not, from, to)."""

    tag: str
    zone_s: float
    rng: np.random.Generator
    inside: bool = True
    now: float = 0.0
    stays: list[tuple[int, float, float]] = field(default_factory=list)
    passages: list[tuple[bool, float, float]] = field(default_factory=list)

    def _dwell(self) -> float:
        return float(self.zone_s * math.exp(self.rng.normal(0, 0.4)))

    def _stay(self, antenna: int, seconds: float) -> None:
        self.stays.append((antenna, self.now, self.now + seconds))
        self.now += seconds

    def wait(self, until: float) -> None:
        """Let time pass; what a bird does next never begins before it has done with the last."""
        self.now = max(self.now + 2.0, until)

    def at(self, moments: np.ndarray) -> Iterator[float]:
        """Come to moments, in order, at which the bird is not busy yet."""
        for moment in sorted(moments):
            if moment > self.now:
                self.wait(moment)
                yield moment

    def cross(self, *, lingers: float = 0.1) -> None:
        """Go through both antennas to the other side, perhaps pausing at one of them."""
        inwards = not self.inside
        first, second = (OUTER, INNER) if inwards else (INNER, OUTER)
        pauses = [self.rng.exponential(8.0) if self.rng.random() < lingers else 0.0 for _ in "oi"]
        dwell = self._dwell()
        self._stay(first, dwell + pauses[0])
        # the fields overlap a little or leave a gap between them
        self.now += dwell * self.rng.uniform(-0.25, 0.4)
        begun = self.now
        self._stay(second, self._dwell() + pauses[1])
        self.passages.append((inwards, begun, self.now))
        self.inside = inwards

    def look(self) -> None:
        """Come to the entrance and turn back, often before the antenna further on."""
        near, far = (INNER, OUTER) if self.inside else (OUTER, INNER)
        self._stay(near, self._dwell() + self.rng.exponential(2.0))
        if self.rng.random() < 0.4:
            self._stay(far, self._dwell() * 0.7)
            self._stay(near, self._dwell())

    def rest(self, seconds: float) -> None:
        """Sit in the entrance, turning about, and step back to the side it came from."""
        near, far = (INNER, OUTER) if self.inside else (OUTER, INNER)
        end = self.now + seconds
        while self.now < end:
            self._stay(near, self.rng.exponential(25.0) + 1.0)
            if self.rng.random() < 0.5:
                self._stay(far, self.rng.exponential(12.0) + 0.5)
                self._stay(near, self._dwell())
            elif self.rng.random() < 0.5:
                self.now += self.rng.exponential(40.0)


@dataclass(frozen=True, slots=True)
class _Time:
    """What the days of one box are like: how lively each is, and when the young are about."""

    species: Species
    days: int
    lively: np.ndarray
    comes: float
    last_flight: float

    def window(self, day: int) -> tuple[float, float]:
        begin, end = self.species.active
        return day * DAY + begin * _HOUR, day * DAY + end * _HOUR


def _parent(bird: Bird, time: _Time, share: float, roosts: float) -> None:
    kind, rng = time.species, bird.rng
    for day in range(time.days):
        begin, end = time.window(day)
        gone = day > time.last_flight
        pace = kind.feeds * share * time.lively[day]
        if gone:
            pace *= 0.25 if kind.leaves_at else 0.01
        if bird.inside:
            bird.wait(begin + rng.exponential(900.0))
            if rng.random() < kind.sits:
                bird.rest(rng.exponential(kind.rests_s))
            bird.cross()
        for _ in bird.at(rng.uniform(begin, end, rng.poisson(pace))):
            if day >= time.comes and rng.random() < 0.35:
                bird.look()
                continue
            if rng.random() < 0.08:
                bird.look()
                bird.wait(bird.now + rng.exponential(40.0))
            bird.cross()
            bird.wait(bird.now + kind.indoors_s * math.exp(rng.normal(0, 0.9)))
            if rng.random() < 0.06:
                bird.look()
                bird.wait(bird.now + rng.exponential(10.0))
            if rng.random() < 0.15 * kind.sits:
                bird.rest(rng.exponential(kind.rests_s) / 3)
            bird.cross()
        late = roosts * (0.05 if gone else max(0.1, 1 - day / 12))
        if bird.now < end and rng.random() < late:
            bird.wait(end + rng.uniform(-1200.0, 600.0))
            bird.cross()


def _sits_about(bird: Bird, kind: Species, begin: float, end: float, often: float) -> None:
    for _ in bird.at(bird.rng.uniform(begin, end, bird.rng.poisson(often))):
        if bird.rng.random() < 0.5:
            bird.look()
        else:
            bird.rest(min(bird.rng.exponential(kind.rests_s), 5400.0))


def _nestling(bird: Bird, time: _Time, comes: int, flies: int, leaves: int | None) -> None:
    kind, rng = time.species, bird.rng
    for day in range(time.days):
        begin, end = time.window(day)
        lively = time.lively[day]
        if day < flies:
            if day >= comes:
                _sits_about(bird, kind, begin, end, lively * (2 + 6 * (day - comes) / (flies - comes)))
            continue
        if day == flies:
            # owls leave in the evening, birds of the day in the morning
            bird.wait(begin + rng.uniform(0, 0.35) * (end - begin))
            if rng.random() < 0.5:
                bird.rest(rng.exponential(kind.rests_s))
            bird.cross(lingers=0.4)
            if leaves is None:
                return
        if leaves is None or day >= leaves:
            if bird.inside:
                bird.wait(begin + rng.exponential(1800.0))
                bird.cross()
            return
        homely = 1 - (day - flies) / (leaves - flies + 1)
        if bird.inside:
            bird.wait(begin + rng.exponential(1500.0))
            if rng.random() < 0.4:
                bird.rest(rng.exponential(kind.rests_s))
            bird.cross()
        for _ in bird.at(rng.uniform(begin, end - 1800, rng.poisson(4 * homely * lively))):
            if rng.random() < 0.3:
                bird.look()
                continue
            bird.cross()
            bird.wait(bird.now + 300.0 * math.exp(rng.normal(0, 1.2)))
            if rng.random() < 0.2:
                bird.rest(rng.exponential(kind.rests_s))
            bird.cross()
        if bird.now < end and rng.random() < 0.8 * homely:
            bird.wait(end - rng.uniform(0, 1500.0))
            bird.cross()


def _visitor(bird: Bird, time: _Time) -> None:
    rng = bird.rng
    bird.inside = False
    for day in sorted(rng.choice(time.days, min(time.days, rng.integers(1, 6)), replace=False)):
        begin, end = time.window(int(day))
        for _ in bird.at(rng.uniform(begin, end - 3600, rng.integers(1, 3))):
            if rng.random() < 0.6:
                bird.look()
            else:
                bird.cross()
                bird.wait(bird.now + 60.0 * math.exp(rng.normal(0, 1.3)))
                bird.cross()


def brood(rng: np.random.Generator, kind: Species, tags: list[str]) -> list[Bird]:
    """Let one box live from the visit at which its young were tagged to the end of the log."""
    days = kind.until - kind.tagged_at
    lively = rng.uniform(0.7, 1.2, days)
    for _ in range(days // 15 + 1):
        storm = int(rng.integers(1, days))
        lively[storm : storm + int(rng.integers(1, 3))] = rng.choice([0.0, 0.1, 0.3])
    number = int(rng.integers(kind.young[0], kind.young[1] + 1))
    comes = [
        int(rng.integers(kind.comes_at[0], kind.comes_at[1] + 1)) - kind.tagged_at for _ in range(number)
    ]
    flies = [
        int(rng.integers(kind.flies_at[0], kind.flies_at[1] + 1)) - kind.tagged_at for _ in range(number)
    ]
    time = _Time(kind, days, lively, min(comes), max(flies))
    birds = []
    for role in range(number + 2 + int(rng.integers(1, 5))):
        # the walk of each bird is its own
        bird = Bird(tags.pop(), kind.zone_s * math.exp(rng.normal(0, 0.15)), rng, now=14 * _HOUR)
        if role < number:
            last = None
            if kind.leaves_at:
                last = max(int(rng.integers(*kind.leaves_at)) - kind.tagged_at, flies[role] + 1)
            _nestling(bird, time, comes[role], flies[role], last)
        elif role < number + 2:
            # the female goes in to the young for the night, or day
            bird.inside = False
            _parent(bird, time, *((0.45, kind.roosts) if role == number else (0.55, 0.05)))
        else:
            _visitor(bird, time)
        birds.append(bird)
    return birds
