"""Young birds that rest in the entrance before their first flight and afterwards, beside busy parents."""

from __future__ import annotations

import numpy as np

from audit.models.reads import Passages, Reads

__all__ = ["fledging"]

HOUR = 3600.0
DAY = 24 * HOUR
PARENTS = 2


class _Box:
    """Reads and passages of one box while they are made."""

    def __init__(self, rng, box, detection):
        self.rng, self.box, self.detection = rng, box, detection
        self.reads, self.passed = [], []

    def cross(self, tag, at, *, inward):
        """Cross both antennas, each read several times; the moment is that at the second one."""
        later = at + 1.2 * self.rng.lognormal(0.0, 0.4)
        for antenna, moment in zip((0, 1) if inward else (1, 0), (at, later), strict=True):
            for k in range(1 + self.rng.poisson(1.0)):
                if self.rng.random() < self.detection[antenna]:
                    self.reads.append((tag, moment + 0.25 * k, antenna))
        self.passed.append((tag, later, 0 if inward else 1))
        return later

    def rest(self, tag, at, lasts):
        """Be read now and then by either antenna."""
        for _ in range(1 + int(lasts / 12)):
            self.reads.append((tag, at + self.rng.uniform(0, lasts), int(self.rng.random() < 0.6)))

    def parent(self, tag, nights):
        """Leave at dusk, bring prey, come home at dawn."""
        for night in range(nights):
            dusk = night * DAY + 20.5 * HOUR
            at = self.cross(tag, dusk + self.rng.exponential(0.5 * HOUR), inward=False)
            while True:
                at += 60.0 + self.rng.exponential(HOUR)
                if at > dusk + 8.5 * HOUR:
                    break
                at = self.cross(tag, at, inward=True)
                at = self.cross(tag, at + 180.0 * self.rng.lognormal(0.0, 0.6), inward=False)
            self.cross(tag, at + self.rng.exponential(600.0), inward=True)

    def nestling(self, tag, nights):
        """Rest in the entrance at night, and fly out once a night from some night on."""
        flies = int(self.rng.integers(nights // 3, nights - 3))
        for night in range(max(0, flies - 6), nights):
            dusk = night * DAY + 20.5 * HOUR
            gone, back = np.inf, np.inf
            if night >= flies:
                gone = self.cross(tag, dusk + self.rng.exponential(0.7 * HOUR), inward=False)
                back = self.cross(tag, gone + self.rng.uniform(0.5, 6.0) * HOUR, inward=True)
            for _ in range(self.rng.poisson(3.0)):
                at, lasts = dusk + self.rng.uniform(0, 8 * HOUR), self.rng.exponential(300.0)
                if at + lasts < gone - 60.0 or at > back + 60.0:
                    self.rest(tag, at, lasts)


def fledging(
    seed: int, boxes: int = 3, nights: int = 16, young: int = 3, detection: tuple[float, float] = (0.95, 0.93)
) -> tuple[Reads, Passages]:
    """Make a log and the passages behind it; tags of young birds are the later ones of each box."""
    rng = np.random.default_rng(seed)
    reads, passed = [], []
    for box in range(boxes):
        made = _Box(rng, box, detection)
        for k in range(PARENTS + young):
            tag = box * (PARENTS + young) + k
            (made.parent if k < PARENTS else made.nestling)(tag, nights)
        reads += [(box, tag, round(1000 * at), antenna) for tag, at, antenna in made.reads]
        passed += [(box, tag, round(1000 * at), way) for tag, at, way in made.passed]
    box, tag, at, antenna = (np.array(column) for column in zip(*sorted(reads), strict=True))
    told = [np.array(column) for column in zip(*sorted(passed), strict=True)]
    small = (np.int32, np.int32, np.int64, np.int8)
    truth = Passages(
        *(column.astype(kind) for column, kind in zip(told, small, strict=True)),
        np.ones(len(passed)),
        np.zeros(len(passed), dtype=np.int8),
    )
    return (
        Reads(box.astype(np.int32), tag.astype(np.int32), at.astype(np.int64), antenna.astype(np.int8)),
        truth,
    )
