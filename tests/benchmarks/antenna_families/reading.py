"""What the antennas hear of the moves: three ways of reading."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from by_chain import HOLE, PERCH, SILL, STEP

if TYPE_CHECKING:
    from lives import Bird, Move
    from rounds import Reader, Round

Read = tuple[float, str, str, str]  # true time, box, antenna, tag


def _ticks(rng: np.random.Generator, start: float, end: float, every: float) -> np.ndarray:
    """Read chances of a reader that tries every so often; a spell in range holds at least one."""
    times = start + rng.uniform(0, every) + every * np.arange(int((end - start) / every) + 1)
    times = times[times < end]
    return times if times.size else np.array([rng.uniform(start, end)])


def _heard(rng: np.random.Generator, times: np.ndarray, chance: float) -> np.ndarray:
    return times[rng.random(times.size) < chance]


def _zones(
    rng: np.random.Generator, move: Move, reader: Reader, deep: float
) -> dict[str, list[tuple[float, float]]]:
    """Return when the bird is in range of each antenna."""
    near, far = np.clip(reader.spell * np.exp(0.5 * rng.standard_normal(2)), 0.5, 10)
    lap = reader.overlap * min(near, far)
    at, hold = move.at, move.hold
    if move.kind == "in":
        return {"outer": [(at - near, at + lap / 2)], "inner": [(at - lap / 2, at + far)]}
    if move.kind == "out":
        return {"inner": [(at - near, at + lap / 2)], "outer": [(at - lap / 2, at + far)]}
    first, second = ("outer", "inner") if move.kind in ("look_in", "sit_out") else ("inner", "outer")
    if move.kind.startswith("look"):
        zones = {first: [(at, at + hold)]}
        if rng.random() < deep:
            zones[second] = [(at + 0.3 * hold, at + 0.7 * hold)]
        return zones
    # sitting: seen by the near antenna all the time, by the other in spells while it leans over
    spells, clock = [], at + rng.exponential(30)
    while clock < at + hold - 4:
        lean = min(rng.exponential(40) + 1, at + hold - 3 - clock)
        spells.append((clock, clock + lean))
        clock += lean + rng.exponential(90)
    return {first: [(at, at + hold)], second: spells}


def by_polling(rng: np.random.Generator, this: Round) -> list[Read]:
    """A reader that tries each antenna every so often while the bird is in range."""
    reads: list[Read] = []
    for box in this.boxes:
        reader = this.readers[box.name]
        for bird in box.birds:
            for move in bird.moves:
                for antenna, spells in _zones(rng, move, reader, this.rates["deep"]).items():
                    for start, end in spells:
                        every = reader.every[antenna] if end - start < 60 else max(1.0, reader.every[antenna])
                        heard = _heard(rng, _ticks(rng, start, end, every), reader.chance[antenna])
                        reads += [(float(at), box.name, antenna, bird.tag) for at in heard]
    return reads


def by_counts(rng: np.random.Generator, this: Round) -> list[Read]:
    """A number of chances at the first antenna, then at the second, some time apart."""
    reads: list[Read] = []
    mean = 0.0 if this.single else float(rng.uniform(0.3, 4))
    step = float(rng.uniform(0.15, 1.2))
    for box in this.boxes:
        reader = this.readers[box.name]
        for bird in box.birds:
            for move in bird.moves:
                for antenna, times in _counted(rng, move, mean, step, this.rates["deep"]):
                    heard = _heard(rng, times, reader.chance[antenna])
                    reads += [(float(at), box.name, antenna, bird.tag) for at in heard]
    return reads


def _counted(
    rng: np.random.Generator, move: Move, mean: float, step: float, deep: float
) -> list[tuple[str, np.ndarray]]:
    def run(many: int) -> np.ndarray:
        return np.cumsum(rng.exponential(step, many) + 0.05)

    many = 1 + rng.poisson(mean, 2)
    if move.kind in ("in", "out"):
        first, second = ("outer", "inner") if move.kind == "in" else ("inner", "outer")
        half = 0.5 * float(np.exp(rng.normal(-0.3, 0.5)))
        return [(first, move.at - half - run(many[0])), (second, move.at + half + run(many[1]))]
    first, second = ("outer", "inner") if move.kind in ("look_in", "sit_out") else ("inner", "outer")
    if move.kind.startswith("look"):
        found = [(first, move.at + np.sort(rng.uniform(0, move.hold, many[0] + 1)))]
        if rng.random() < deep:
            found.append((second, move.at + move.hold * rng.uniform(0.35, 0.65, 1)))
        return found
    many_sat = int(min(900, 2 + move.hold / max(step, 1.5)))
    inside = move.at + np.sort(rng.uniform(0, move.hold, many_sat))
    other = move.at + np.sort(rng.uniform(0.1, 0.9, rng.poisson(0.3 * many_sat))) * move.hold
    return [(first, inside), (second, other)]


def by_places(rng: np.random.Generator, this: Round, steps: dict[str, list[tuple[float, int]]]) -> list[Read]:
    """Reads of a bird stepped through the entrance: SILL outer, PERCH inner, HOLE both."""
    reads: list[Read] = []
    for box in this.boxes:
        reader = this.readers[box.name]
        for bird in box.birds:
            reads.extend(_placed(rng, bird, reader, steps[bird.tag]))
    return reads


def _placed(
    rng: np.random.Generator, bird: Bird, reader: Reader, steps: list[tuple[float, int]]
) -> list[Read]:
    found: list[Read] = []
    if not steps:
        return found
    times = np.array([step[0] for step in steps])
    places = np.array([step[1] for step in steps])
    for antenna, here in (("outer", (SILL, HOLE)), ("inner", (HOLE, PERCH))):
        every = reader.every[antenna]
        chances = max(1, round(STEP / every))
        if every > STEP:
            tick = np.floor(times / every)
            due = np.r_[True, tick[1:] != tick[:-1]]
            # entering the range always gives one chance
            inside = np.isin(places, here)
            due |= inside & np.r_[True, ~inside[:-1] | (np.diff(times) > 2 * STEP)]
            at = times[due & inside]
        else:
            at = np.repeat(times[np.isin(places, here)], chances)
        at = np.sort(at + rng.uniform(0, min(STEP, every), at.size))
        found.extend((float(t), bird.box, antenna, bird.tag) for t in _heard(rng, at, reader.chance[antenna]))
    return found


def hold_off(reads: list[Read], this: Round) -> list[Read]:
    """Leave out what a reader does not store again within its hold-off."""
    last: dict[tuple[str, str, str], float] = {}
    kept = []
    for read in sorted(reads):
        at, key = read[0], read[1:]
        if at - last.get(key, -1e9) >= max(this.readers[read[1]].hold_off, 0.02):
            last[key] = at
            kept.append(read)
    return kept
