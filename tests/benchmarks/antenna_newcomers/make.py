"""Logs of antennas that no part of the program has seen the making of: readers, their faults, and the truth.

Three kinds by seed: a reader that hears well, one that hears weakly, and one that hears well among noise and
was dead for one to five nights. A log is one season of one or two boxes (`lives`). The chances that one look
hears a tag, the pauses, sleep, markers and drifts are assumptions; that noise passes as a code once, of any
number, is told by makers of readers, and 20 ppm of a quartz are 1.7 s a day (arithmetic).
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from lives import DAY, SPECIES, Bird, brood

if TYPE_CHECKING:
    from pathlib import Path

__all__ = ["KINDS", "Crossing", "Dead", "Log", "Reader", "make"]

KINDS = ("good", "weak", "faulty")
ANTENNAS = ("outer", "inner")
_BEGIN = np.datetime64("2026-06-01T00:00:00.000", "ms")
_HOUR = 3_600.0


@dataclass(frozen=True, slots=True)
class Reader:
    """How a reader listens: looks each ``poll_s``, the chances of one look, what it keeps to itself."""

    poll_s: float
    chances: tuple[float, float]
    pause_s: float
    pause_of_tag: bool
    whole_seconds: bool
    in_turn: bool
    asleep: tuple[float, float] | None
    marker_s: float
    two_files: bool
    ghosts_a_day: float


@dataclass(frozen=True, slots=True)
class Crossing:
    """A passage: when it can be said to have been, and whether it was heard, or is forced by its turn."""

    box: str
    tag: str
    inwards: bool
    begin: float
    end: float
    heard: bool
    forced: bool
    listening: bool


@dataclass(frozen=True, slots=True)
class Dead:
    """From when to when an antenna of a box was dead."""

    box: str
    antenna: str
    begin: float
    end: float


@dataclass(frozen=True, slots=True)
class Log:
    """The files of a log as written, and what is true of it."""

    seed: int
    kind: str
    species: str
    reader: Reader
    days: int
    crossings: list[Crossing]
    dead: list[Dead]
    clocks: dict[str, list[tuple[float, float, float]]]

    def off(self, box: str, moments: np.ndarray) -> np.ndarray:
        """Seconds by which the clock of a box was ahead at true moments."""
        begins, offsets, rates = (np.array(column) for column in zip(*self.clocks[box], strict=True))
        piece = np.clip(np.searchsorted(begins, moments, side="right") - 1, 0, None)
        return np.asarray(offsets[piece] + rates[piece] * (moments - begins[piece]))


def _reader(rng: np.random.Generator, kind: str, species: str) -> Reader:
    polls = (0.2, 0.3, 0.5) if species == "tit" else (0.2, 0.3, 0.5, 0.8, 1.0, 1.5, 2.0)
    poll = float(rng.choice(polls))
    pause = float(rng.choice((1.0, 2.0, 5.0, 8.0) if poll < 0.8 else (0.0, 0.0, 2.0, 5.0)))
    asleep = None
    if rng.random() < 0.3:
        asleep = (8.0, 19.5) if species == "owl" else (22.5, 3.5)
    marker = float(rng.choice((0, 0, 0, 300, 900, _HOUR, 6 * _HOUR, DAY)))
    chances = (0.70, 0.55) if kind == "weak" else (0.95, 0.93)
    of_tag, whole, in_turn, two = rng.random(4) < (0.2 * (pause <= 2), 0.5, 0.6, 0.4)
    ghosts = float(rng.uniform(3, 20)) if kind == "faulty" else 0.0
    return Reader(poll, chances, pause, of_tag, whole, in_turn, asleep, marker, two, ghosts)


def _spread(stays: np.ndarray, poll: float, phases: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Which stay each look falls into, and its number."""
    phase = phases[stays[:, 1].astype(int)]
    first = np.ceil((stays[:, 2] - phase) / poll).astype(np.int64)
    number = np.maximum(np.floor((stays[:, 3] - phase) / poll).astype(np.int64) - first + 1, 0)
    of = np.repeat(np.arange(len(stays)), number)
    return of, np.arange(len(of)) - np.repeat(np.cumsum(number) - number, number) + first[of]


def _kept(moments: np.ndarray, keys: np.ndarray, pause: float) -> list[int]:
    """Which reads are stored by a reader that stores a key again only after a pause."""
    last: dict[int, float] = {}
    keep = []
    for at, (moment, key) in enumerate(zip(moments.tolist(), keys.tolist(), strict=True)):
        if moment - last.get(key, -1e9) >= pause:
            keep.append(at)
            last[key] = moment
    return keep


def _heard(rng: np.random.Generator, birds: list[Bird], reader: Reader) -> np.ndarray:
    """Reads of birds: rows of (bird, antenna, moment) in order of time."""
    stays = np.array([(n, *stay) for n, bird in enumerate(birds) for stay in bird.stays])
    begin = float(rng.uniform(0, reader.poll_s))
    phases = np.array([begin, begin + reader.poll_s / 2 if reader.in_turn else begin])
    of, look = _spread(stays, reader.poll_s, phases)
    bird, antenna = stays[of, 0].astype(int), stays[of, 1].astype(int)
    # the ring of one bird in fifteen lies badly; tags in one field hinder each other
    angle = np.where(rng.random(len(birds)) < 1 / 15, 0.6, 1.0)
    _, group, crowd = np.unique(look * 2 + antenna, return_inverse=True, return_counts=True)
    chance = np.array(reader.chances)[antenna] * angle[bird] * np.where(crowd[group] > 1, 0.4, 1.0)
    sure = rng.random(len(of)) < chance
    rows = np.column_stack([bird, antenna, phases[antenna] + look * reader.poll_s])[sure]
    rows = rows[np.argsort(rows[:, 2], kind="stable")]
    if not reader.pause_s:
        return rows
    keys = rows[:, 0] if reader.pause_of_tag else rows[:, 0] * 2 + rows[:, 1]
    return rows[_kept(rows[:, 2], keys, reader.pause_s)]


def _awake(moments: np.ndarray, asleep: tuple[float, float] | None) -> np.ndarray:
    if asleep is None:
        return np.ones(len(moments), bool)
    hour = moments % DAY / _HOUR
    begin, end = asleep
    return ~((hour >= begin) & (hour < end)) if begin < end else ~((hour >= begin) | (hour < end))


def _dead(rng: np.random.Generator, box: str, days: int) -> list[Dead]:
    nights = int(rng.integers(1, 6))
    begin = float(rng.integers(2, max(3, days - nights - 2)) * DAY + rng.uniform(8, 20) * _HOUR)
    which = ANTENNAS if rng.random() < 0.6 else (ANTENNAS[int(rng.integers(2))],)
    return [Dead(box, antenna, begin, begin + nights * DAY + rng.uniform(-2, 4) * _HOUR) for antenna in which]


def _clock(rng: np.random.Generator, days: int, marker_s: float) -> list[tuple[float, float, float]]:
    """Pieces of a clock: from when, ahead by how many seconds, and seconds gained in a second."""
    rate = float(rng.normal(0, 20e-6))
    pieces = [(0.0, float(rng.normal(0, 0.7)), rate)]
    if rng.random() < 0.15 and marker_s < DAY:
        # set by a watch that was wrong; a marker tells of it, but not of whole turns of its own
        pieces[0] = (0.0, float(rng.choice((-100.0, 40.0, 130.0))), rate)
    # at a visit by day the clock is set, or left alone
    visits = [visit for visit in range(7, days, 9) if rng.random() < 0.4]
    for visit in visits:
        pieces += [(visit * DAY + rng.uniform(10, 17) * _HOUR, float(rng.normal(0, 0.7)), rate)]
    return pieces


def _beats(rng: np.random.Generator, reader: Reader, days: int, number: int) -> list[np.ndarray]:
    """Reads of the marker, by both antennas: once a day at any minute, else at multiples since midnight."""
    first = float(rng.integers(24 * 60) * 60) if reader.marker_s == DAY else 0.0
    beats, found = np.arange(first, days * DAY, reader.marker_s), []
    for antenna in (0, 1):
        caught = beats[rng.random(len(beats)) < 0.98] + rng.uniform(0, reader.poll_s / 2)
        found.append(np.column_stack([np.full((len(caught), 2), (number, antenna)), caught]))
    return found


def _listening(moments: np.ndarray, reader: Reader, dead: list[Dead]) -> np.ndarray:
    """Whether the reader was awake, and an antenna of the box alive."""
    deaf = [(one.begin < moments) & (moments < one.end) for one in dead]
    return _awake(moments, reader.asleep) & (np.sum(deaf, axis=0) < 2 if deaf else True)


def _crossings(
    box: str, birds: list[Bird], rows: np.ndarray, reader: Reader, dead: list[Dead]
) -> list[Crossing]:
    """Passages of all birds of a box, with what their reads could tell of each."""
    told: list[Crossing] = []
    for number, bird in enumerate(birds):
        reads = rows[rows[:, 0] == number, 2]
        spans = np.array([(begin, end) for _, begin, end in bird.passages]).reshape(-1, 2)
        early = spans[:, 0] - 2 * bird.zone_s - 1
        heard = np.searchsorted(reads, spans[:, 1] + 0.5) > np.searchsorted(reads, early)
        listening = _listening(spans[:, 0], reader, dead)
        for at, (inwards, begin, end) in enumerate(bird.passages):
            around = at > 0 and at + 1 < len(spans) and heard[at - 1] and heard[at + 1]
            forced = bool(not heard[at] and around and spans[at + 1, 0] - spans[at - 1, 1] < 60)
            known = bool(heard[at]), forced, bool(listening[at])
            told.append(Crossing(box, bird.tag, inwards, begin, end, *known))
    return told


def make(seed: int, folder: Path) -> Log:
    """Write the log of a seed into an empty folder, and give the truth; `seed` % 3 tells its kind."""
    rng = np.random.default_rng([seed, 1_201])
    kind = KINDS[seed % 3]
    species = SPECIES[int(rng.choice(4, p=(0.4, 0.2, 0.2, 0.2)))]
    reader = _reader(rng, kind, species.name)
    days = species.until - species.tagged_at
    tags = [f"999{serial:012d}" for serial in rng.choice(2 * 10**11, 60, replace=False)]
    log, lines = Log(seed, kind, species.name, reader, days, [], [], {}), []
    for box in ("SL-11", "SL-24")[: 1 + int(rng.random() < 0.3)]:
        birds = brood(rng, species, tags)
        heard = [_heard(rng, birds, reader)]
        names = [bird.tag for bird in birds]
        if reader.marker_s:
            heard += _beats(rng, reader, days, len(names))
            names.append(tags.pop())
        ghosts = rng.poisson(reader.ghosts_a_day * days)
        codes = rng.integers(10**14, 10**15, ghosts)
        noise = (rng.integers(0, 2, ghosts), rng.uniform(0, days * DAY, ghosts))
        heard.append(np.column_stack([len(names) + np.arange(ghosts), *noise]))
        names += [str(code) for code in codes]
        rows = np.concatenate(heard)
        rows = rows[(rows[:, 2] > 14 * _HOUR) & _awake(rows[:, 2], reader.asleep)]
        dead = _dead(rng, box, days) if kind == "faulty" else []
        for one in dead:
            gone = (rows[:, 1] == ANTENNAS.index(one.antenna)) & (one.begin < rows[:, 2])
            rows = rows[~(gone & (rows[:, 2] < one.end))]
        rows = rows[np.argsort(rows[:, 2], kind="stable")]
        log.dead.extend(dead)
        log.crossings.extend(_crossings(box, birds, rows, reader, dead))
        log.clocks[box] = _clock(rng, days, reader.marker_s)
        logged = rows[:, 2] + log.off(box, rows[:, 2])
        logged = np.floor(logged) if reader.whole_seconds else logged
        stamps = np.datetime_as_string(_BEGIN + np.rint(logged * 1000).astype("timedelta64[ms]"))
        for (bird, antenna, _), stamp in zip(rows.tolist(), stamps.tolist(), strict=True):
            moment = stamp[:19] if reader.whole_seconds else stamp
            lines.append((box, ANTENNAS[int(antenna)], moment.replace("T", " "), names[int(bird)]))
    for antenna in ANTENNAS if reader.two_files else ("",):
        with (folder / f"log{antenna and '-' + antenna}.csv").open("w", newline="") as file:
            writer = csv.writer(file)
            writer.writerow(("box", "antenna", "detected_at", "tag"))
            writer.writerows(line for line in lines if antenna in ("", line[1]))
    return log
