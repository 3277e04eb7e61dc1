"""What two antennas and their logger make of it: reads, dead spells, sleep, ghosts, markers and clocks."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from acts import DAY, Act, Round

if TYPE_CHECKING:
    import numpy as np

__all__ = ["READINGS", "Hearing", "Log", "hear"]

READINGS = ("once", "polled", "bunched", "rested")
ANTENNAS = ("outer", "inner")


@dataclass(frozen=True, slots=True)
class Hearing:
    """Drawn circumstances of the antennas. What "per read" means is `reading`.

    once: a pass through a field gives one chance of a read. polled: a pass lasts 0.2 to 3 s with a chance
    each poll. bunched: a pass is heard or not as a whole, and gives several reads when it is. rested: polled,
    but the logger holds back the same tag at the same antenna for some seconds.
    """

    reading: str
    heard: dict[str, float]
    poll: float
    longest: float  # longest pass through a field
    transit: float  # median time from one antenna to the other
    sit_poll: float
    rest: float
    clash: float  # share of reads lost while another tag is near
    sleep: tuple[float, float] | None  # hours of the day
    ghosts: float  # ghosts per read
    marker: float | None  # its beat in seconds


@dataclass(slots=True)
class Log:
    """Reads with the truth behind them."""

    reads: list[tuple[float, str, str, int]] = field(default_factory=list)  # stamp, box, antenna, tag
    heard: dict[Act, set[str]] = field(default_factory=dict)
    dead: list[tuple[str, str, float, float]] = field(default_factory=list)
    clocks: dict[str, tuple[float, float, float, float]] = field(
        default_factory=dict
    )  # offset, drift/day, step, at


def _passes(rng: np.random.Generator, how: Hearing, act: Act) -> list[tuple[str, float, float]]:
    """The stays in the fields of the antennas that one act makes: antenna, from, to."""
    gap = min(8.0, max(0.1, how.transit * float(rng.lognormal(0, 0.5))))
    first, second = (float(rng.uniform(0.2, how.longest)) for _ in range(2))
    near, far = ("outer", "inner") if act.kind in {"in", "look in"} else ("inner", "outer")
    if act.kind in {"in", "out"}:
        return [
            (near, act.at - gap / 2 - first, act.at - gap / 2),
            (far, act.at + gap / 2, act.at + gap / 2 + second),
        ]
    if act.kind == "sit":
        sides = ANTENNAS if act.side == "both" else (act.side,)
        return [(side, act.at, act.at + act.lasts) for side in sides]
    short = min(first, act.lasts / 3)
    told = [(near, act.at, act.at + short), (near, act.at + act.lasts - short, act.at + act.lasts)]
    if rng.random() < 0.4:
        told.append((far, act.at + act.lasts * 0.4, act.at + act.lasts * 0.6))
    return told


def _chances(
    rng: np.random.Generator, how: Hearing, act: Act, antenna: str, start: float, end: float
) -> list[float]:
    """Moments at which this stay in a field is read, were the antenna awake."""
    p = how.heard[antenna]
    if act.kind == "sit":
        count = max(1, int((end - start) / how.sit_poll))
        return [
            start + (index + float(rng.random())) * how.sit_poll for index in range(count) if rng.random() < p
        ]
    if how.reading == "once":
        return [float(rng.uniform(start, end))] if rng.random() < p else []
    if how.reading == "bunched":
        if rng.random() >= p:
            return []
        return sorted(float(one) for one in rng.uniform(start, end, int(rng.geometric(0.35))))
    count = max(1, int((end - start) / how.poll))
    return [start + index * how.poll for index in range(count) if rng.random() < p]


def _asleep(how: Hearing, at: float) -> bool:
    if how.sleep is None:
        return False
    hour = at % DAY / 3600
    start, end = how.sleep
    return start <= hour < end if start < end else hour >= start or hour < end


def hear(rng: np.random.Generator, world: Round, how: Hearing, acts: list[Act], log: Log) -> None:
    """Fill `log.reads` from acts; `log.dead` and `log.clocks` are there already."""
    raw: list[tuple[float, str, str, int, Act | None]] = []
    for act in acts:
        for antenna, start, end in _passes(rng, how, act):
            raw += [
                (at, act.box, antenna, act.tag, act) for at in _chances(rng, how, act, antenna, start, end)
            ]
    dead: dict[tuple[str, str], list[tuple[float, float]]] = {}
    for box, antenna, start, end in log.dead:
        dead.setdefault((box, antenna), []).append((start, end))

    def awake(at: float, box: str, antenna: str) -> bool:
        spells = dead.get((box, antenna), ())
        return 0 <= at < world.end and not any(a <= at < b for a, b in spells) and not _asleep(how, at)

    raw = sorted((one for one in raw if awake(one[0], one[1], one[2])), key=lambda one: one[:4])
    last: dict[tuple[str, str], tuple[float, int]] = {}
    kept: list[tuple[float, str, str, int]] = []
    told: dict[tuple[str, str, int], float] = {}
    for at, box, antenna, tag, act in raw:
        before, other = last.get((box, antenna), (-1e9, tag))
        last[box, antenna] = (at, tag)
        if other != tag and at - before < 1.0 and rng.random() < how.clash:
            continue
        if how.reading == "rested" and at - told.get((box, antenna, tag), -1e9) < how.rest:
            continue
        told[box, antenna, tag] = at
        kept.append((at, box, antenna, tag))
        if act is not None:
            log.heard.setdefault(act, set()).add(antenna)
    known = sorted({one[3] for one in kept})
    for _ in range(int(rng.poisson(how.ghosts * len(kept)))):
        at, box = float(rng.random()) * world.end, str(rng.choice(world.boxes))
        antenna = str(rng.choice(ANTENNAS))
        if not awake(at, box, antenna):
            continue
        if rng.random() < 0.5 or not known:
            tag = int(rng.integers(10**14, 10**15))
        else:
            digits = list(str(int(rng.choice(known))))
            place = int(rng.integers(3, 15))
            digits[place] = str((int(digits[place]) + int(rng.integers(1, 10))) % 10)
            tag = int("".join(digits))
            if tag in known:
                continue
        kept.append((at, box, antenna, tag))
    if how.marker:
        for number, box in enumerate(world.boxes):
            for beat in range(int(world.end / how.marker)):
                at = beat * how.marker
                kept.extend(
                    (at + float(rng.uniform(0, 0.3)), box, antenna, 999_000_000_990_000 + number)
                    for antenna in ANTENNAS
                    if awake(at, box, antenna) and rng.random() < how.heard[antenna]
                )
    for at, box, antenna, tag in kept:
        offset, drift, step, when = log.clocks.get(box, (0.0, 0.0, 0.0, 0.0))
        log.reads.append((at + offset + drift * at / DAY + (step if at >= when else 0.0), box, antenna, tag))
    log.reads.sort()
