"""What goes wrong with loggers: dead spells, ghost codes, markers, clocks."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from lives import DAY, HOUR
from rounds import tag_code

if TYPE_CHECKING:
    from reading import Read
    from rounds import Round


@dataclass(slots=True)
class Faults:
    """What was planted."""

    dead: list[tuple[str, str, float, float]] = field(default_factory=list)  # box, antenna, from, to
    markers: dict[str, tuple[str, float]] = field(default_factory=dict)  # box: code, beat in s
    ghosts: list[str] = field(default_factory=list)
    clocks: dict[str, tuple[float, float, float, float]] = field(
        default_factory=dict
    )  # offset, s/day, step at, step

    def shown(self, box: str, at: np.ndarray) -> np.ndarray:
        """Return what the clock of a box shows at true moments."""
        offset, drift, step_at, step = self.clocks.get(box, (0.0, 0.0, 1e12, 0.0))
        return at + offset + drift * at / DAY + step * (at >= step_at)


def _spell(rng: np.random.Generator, this: Round, nights: int) -> tuple[float, float]:
    first = int(rng.integers(1, max(2, this.nights - nights - 1)))
    start = first * DAY + (rng.uniform(-2, 4) * HOUR if rng.random() < 0.6 else rng.uniform(-2, 16) * HOUR)
    return float(start), float(start + nights * DAY)


def plan(rng: np.random.Generator, this: Round) -> Faults:
    """Draw the faults of one log by its scenario."""
    faults = Faults()
    names = [box.name for box in this.boxes]
    taken = {bird.tag for box in this.boxes for bird in box.birds}
    marked = {"good": 0.3, "weak": 0.3, "ghosts": 0.3, "clock": 1.0, "health": 0.5}[this.scenario]
    if rng.random() < marked:
        beat = float(rng.choice([600, 900, 1800, 3600]))
        shared = tag_code(rng, taken) if rng.random() < 0.3 else None
        for name in names:
            faults.markers[name] = (shared or tag_code(rng, taken), beat)
    if this.scenario == "weak":
        faults.dead.append(
            (str(rng.choice(names)), str(rng.choice(["outer", "inner"])), *_spell(rng, this, 3))
        )
    if this.scenario == "ghosts":
        faults.dead.append(
            (
                str(rng.choice(names)),
                str(rng.choice(["outer", "inner"])),
                *_spell(rng, this, int(rng.integers(1, 4))),
            )
        )
    if this.scenario == "health":
        for name in names:
            if rng.random() < 0.5:
                start, end = _spell(rng, this, int(rng.integers(1, 6)))
                which = str(rng.choice(["outer", "inner", "both"], p=[0.4, 0.4, 0.2]))
                for antenna in ("outer", "inner"):
                    if which in (antenna, "both"):
                        faults.dead.append((name, antenna, start, end))
    if this.scenario == "clock":
        wide = float(
            np.exp(rng.uniform(np.log(5), np.log(150)))
        )  # most clocks of a round are off by seconds to minutes
        right = float(rng.uniform(0.1, 0.7))
        for name in names:
            beat = faults.markers[name][1]
            offset = (
                float(np.clip(rng.normal(0, wide), -0.4 * beat, 0.4 * beat)) if rng.random() > right else 0.0
            )
            drift = float(rng.uniform(-3, 3)) if rng.random() < 0.6 else 0.0
            step = float(rng.uniform(-0.4, 0.4) * min(beat, 1500)) if rng.random() < 0.3 else 0.0
            step = float(np.clip(offset + step, -0.45 * beat, 0.45 * beat) - offset)
            faults.clocks[name] = (offset, drift, float(rng.uniform(0.2, 0.8) * this.nights * DAY), step)
    return faults


def marker_reads(rng: np.random.Generator, this: Round, faults: Faults) -> list[Read]:
    """Reads of the marker tags: on the beat of true time, nearly always heard, at both antennas or one."""
    reads: list[Read] = []
    for box, (code, beat) in faults.markers.items():
        both = rng.random() < 0.75
        lag = float(rng.uniform(0, 0.3))
        for antenna in ("outer", "inner") if both else (str(rng.choice(["outer", "inner"])),):
            beats = np.arange(beat, this.nights * DAY, beat)
            beats = beats[rng.random(beats.size) < rng.uniform(0.96, 1.0)]
            reads.extend(
                (float(at), box, antenna, code) for at in beats + rng.uniform(0, 0.2, beats.size) + lag
            )
    return reads


def ghost_reads(rng: np.random.Generator, this: Round, faults: Faults) -> list[Read]:
    """Codes read once: any code, or a known tag with one digit off."""
    per_night = float(rng.uniform(0.2, 3)) if this.scenario == "ghosts" else float(rng.choice([0, 0, 0.05]))
    known = [bird.tag for box in this.boxes for bird in box.birds]
    taken = set(known) | {code for code, _ in faults.markers.values()}
    reads: list[Read] = []
    for box in this.boxes:
        for _ in range(rng.poisson(per_night * this.nights)):
            at = float(rng.uniform(0, this.nights * DAY))
            if known and rng.random() < 0.5:
                code = list(str(rng.choice(known)))
                place = int(rng.integers(3, 15))
                code[place] = str((int(code[place]) + rng.integers(1, 10)) % 10)
                ghost = "".join(code)
            else:
                ghost = tag_code(rng, taken)
            faults.ghosts.append(ghost)
            reads.append((at, box.name, str(rng.choice(["outer", "inner"])), ghost))
    return reads


def silence(reads: list[Read], faults: Faults) -> list[Read]:
    """Leave out what a dead antenna did not hear."""
    if not faults.dead:
        return reads
    return [
        read
        for read in reads
        if not any(
            read[1] == box and read[2] == antenna and start <= read[0] < end
            for box, antenna, start, end in faults.dead
        )
    ]
