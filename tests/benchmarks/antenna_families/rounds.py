"""Draw everything about one log at random: boxes, birds, readers, faults."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from lives import Bird, Box

SCENARIOS = ("good", "weak", "ghosts", "clock", "health")
VARIANTS = ("nights", "chain", "bouts")


@dataclass(slots=True)
class Reader:
    """How the reader of one box works."""

    every: dict[str, float]  # s between read chances of each antenna
    chance: dict[str, float]  # of each read chance
    hold_off: float  # s in which the same tag is not stored again at the same antenna
    spell: float  # median s in range of one antenna on the way through
    overlap: float  # share of the spell in which both antennas are in range


@dataclass(slots=True)
class Round:
    """One log to be made."""

    seed: int
    scenario: str
    variant: str
    nights: int
    boxes: list[Box]
    readers: dict[str, Reader]
    decimals: int
    single: bool
    rates: dict[str, float]
    facts: dict[str, object] = field(default_factory=dict)


def tag_code(rng: np.random.Generator, taken: set[str]) -> str:
    """Return a code of the test range not used before."""
    while True:
        code = f"999{rng.integers(0, 10**12):012d}"
        if code not in taken:
            taken.add(code)
            return code


def draw_box(rng: np.random.Generator, name: str, nights: int, taken: set[str], *, dense: bool) -> Box:
    """Draw the family of one box."""
    brood = int(rng.integers(1, 9)) if dense else int(rng.integers(1, 5))
    age = float(rng.uniform(8, 62))
    birds = []
    if rng.random() < 0.92:
        birds.append(Bird(name, tag_code(rng, taken), "male", inside=bool(rng.random() < 0.2)))
    if rng.random() < 0.95:
        birds.append(
            Bird(
                name, tag_code(rng, taken), "female", inside=bool(rng.random() < (0.95 if age < 20 else 0.4))
            )
        )
    tagged = 0.0 if age > 28 else float(28 + rng.uniform(0, 12) - age)
    for nth in range(brood):
        own_age = age - nth * rng.uniform(1.5, 2.5)
        flight = float(np.round(rng.normal(57, 3.5)) - own_age)
        bird = Bird(
            name, tag_code(rng, taken), "nestling", tagged=tagged, first_flight=max(flight, 1.0), inside=True
        )
        bird.leaves = bird.first_flight + float(rng.uniform(6, 35))
        birds.append(bird)
    return Box(name, [bird for bird in birds if bird.tagged < nights], brood, age)


def draw_round(seed: int) -> Round:
    """Draw a log; the seed decides everything."""
    rng = np.random.default_rng([seed, 77])
    scenario = SCENARIOS[seed % 5]
    variant = VARIANTS[(seed // 5) % 3]
    dense = bool(rng.random() < 0.5)
    many = int(rng.choice([1, 2, 3, 5, 8, 12, 20], p=[0.2, 0.2, 0.2, 0.15, 0.12, 0.08, 0.05]))
    nights = int(rng.integers(10, 61)) if many <= 5 else int(rng.integers(10, 25))
    taken: set[str] = set()
    single = bool(rng.random() < 0.15)
    names = [f"SL-{n:02d}" for n in sorted(rng.choice(np.arange(1, 40), many, replace=False))]
    boxes = [draw_box(rng, name, nights, taken, dense=dense) for name in names]
    readers = {}
    common = float(np.exp(rng.uniform(np.log(0.1), np.log(2.0))))
    for name in names:
        if scenario == "weak":
            chance = {"outer": rng.uniform(0.66, 0.74), "inner": rng.uniform(0.51, 0.59)}
        else:
            chance = {"outer": rng.uniform(0.93, 0.97), "inner": rng.uniform(0.91, 0.95)}
        every = common * float(rng.uniform(0.9, 1.1))
        hold_off = float(rng.choice([0, 0, 0, 1, 4, 8])) if not single else float(rng.uniform(8, 25))
        readers[name] = Reader(
            {"outer": every, "inner": every},
            {key: float(value) for key, value in chance.items()},
            hold_off,
            float(np.exp(rng.uniform(np.log(0.8), np.log(4.0)))),
            float(rng.uniform(0, 0.35)),
        )
    rates = {
        "deliveries": float(rng.uniform(2, 9)),  # of a male, a night
        "stay": float(rng.uniform(0.7, 4.0)),  # min inside with prey, median
        "looks": float(rng.uniform(0.0, 0.35)),  # look-ins per delivery
        "roost": float(rng.uniform(0.05, 0.9)),  # adult rests by day in the box
        "sits": float(rng.uniform(0.2, 3.0)),  # of a nestling near flight, a night
        "sit_min": float(np.exp(rng.uniform(np.log(0.5), np.log(25.0)))),  # median min in the entrance
        "flights": float(rng.uniform(1.0, 4.5)),  # trips of a flown nestling, a night
        "home": float(rng.uniform(0.3, 0.95)),  # a flown nestling rests in the box by day
        "at_hole": float(rng.uniform(0.0, 0.5)),  # prey handed over at the hole once nestlings are big
        "deep": float(rng.uniform(0.0, 0.4)),  # look that reaches the other antenna
    }
    if not dense:
        rates["deliveries"] = float(rng.uniform(0.5, 3))
    return Round(
        seed,
        scenario,
        variant,
        nights,
        boxes,
        readers,
        int(rng.choice([3, 3, 1, 0, 0])),
        single,
        rates,
        {"dense": dense},
    )
