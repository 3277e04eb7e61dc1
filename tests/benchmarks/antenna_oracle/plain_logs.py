"""The plainest logs of two antennas: birds wait for an exponential time, in or out, and cross or look.

Nothing else happens: no rests, no nestlings, no clocks that are off. Each crossing is so many chances
to be read at one antenna, then as many at the other; a look is those at the near antenna alone. One
antenna of the first box may be dead for some nights.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from pathlib import Path

__all__ = ["EVENING_S", "NIGHT_S", "STARTS", "Crossing", "Log", "Manner", "invent"]

STARTS = datetime(2026, 6, 1, 12)
EVENING_S = 9 * 3600.0  # after noon
NIGHT_S = 8 * 3600.0
DAY_S = 86400.0
BETWEEN_S = 0.3  # between two chances to be read at one antenna


@dataclass(frozen=True, slots=True)
class Manner:
    """What is drawn: chances to be read a side, hearing of both antennas, shares, waits and sizes."""

    chances: int
    hears: tuple[float, float]  # outer, inner
    looks: float
    waits_s: tuple[float, float]  # outside, inside
    boxes: int
    nights: int
    dead_nights: int


@dataclass(frozen=True, slots=True)
class Crossing:
    """One true passage: seconds since the start, whether it goes in, and whether anything was read."""

    at: float
    into: bool
    heard: bool


@dataclass(frozen=True, slots=True)
class Log:
    """Reads (s and antenna: 0 outer, 1 inner) and crossings of each box and tag, and the dead spell."""

    manner: Manner
    reads: dict[tuple[str, str], list[tuple[float, int]]]
    crossings: dict[tuple[str, str], list[Crossing]]
    dead: tuple[str, int, float, float] | None

    def hears(self, box: str, antenna: int, at: float) -> float:
        """Give the chance that an antenna reads a tag at a moment, 0 while it is dead."""
        if self.dead is not None and self.dead[:2] == (box, antenna) and self.dead[2] <= at < self.dead[3]:
            return 0.0
        return self.manner.hears[antenna]

    def write(self, path: Path) -> None:
        """Write the log as a logger would, sorted by time."""
        lines = sorted(
            (at, box, antenna, tag) for (box, tag), reads in self.reads.items() for at, antenna in reads
        )
        with path.open("w", newline="", encoding="utf-8") as file:
            writer = csv.writer(file)
            writer.writerow(["box", "antenna", "detected_at", "tag"])
            for at, box, antenna, tag in lines:
                moment = (STARTS + timedelta(seconds=at)).isoformat(timespec="milliseconds")
                writer.writerow([box, ("outer", "inner")[antenna], moment, tag])


def invent(manner: Manner, seed: int) -> Log:
    """Draw a log of two birds at each box."""
    random = np.random.default_rng(seed)
    dead = None
    if manner.dead_nights:
        since = DAY_S * int(random.integers(2, manner.nights - manner.dead_nights - 1))
        dead = ("SL-01", int(random.integers(2)), since, since + DAY_S * manner.dead_nights)
    log = Log(manner, {}, {}, dead)
    for number in range(2 * manner.boxes):
        box = f"SL-{number // 2 + 1:02d}"
        _live(log, random, box, f"999{104000000000 + 7 * number:012d}")
    return log


def _live(log: Log, random: np.random.Generator, box: str, tag: str) -> None:
    """Let one bird live through all nights."""
    manner = log.manner
    reads: list[tuple[float, int]] = []
    crossings: list[Crossing] = []
    inside = bool(random.integers(2))
    active = 0.0  # seconds of night that have passed
    while True:
        active += random.exponential(manner.waits_s[inside])
        night, into_night = divmod(active, NIGHT_S)
        if night >= manner.nights:
            break
        at = night * DAY_S + EVENING_S + into_night
        near = int(inside)
        before = len(reads)
        _heard(log, random, reads, (box, near, at))
        if random.random() >= manner.looks:
            far_at = at + manner.chances * BETWEEN_S + random.uniform(0.5, 2)
            _heard(log, random, reads, (box, 1 - near, far_at))
            crossings.append(Crossing((at + far_at) / 2, not inside, len(reads) > before))
            inside = not inside
            active += far_at - at
        active += manner.chances * BETWEEN_S + 3
    log.reads[box, tag] = reads
    log.crossings[box, tag] = crossings


def _heard(
    log: Log, random: np.random.Generator, reads: list[tuple[float, int]], where: tuple[str, int, float]
) -> None:
    """Draw the reads of a bird that passes under one antenna."""
    box, antenna, at = where
    for chance in range(log.manner.chances):
        moment = at + chance * BETWEEN_S
        if random.random() < log.hears(box, antenna, moment):
            reads.append((moment, antenna))
