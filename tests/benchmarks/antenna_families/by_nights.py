"""First conception: each bird lives through its nights, event after event."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from lives import DAY, HOUR, Bird, Box

if TYPE_CHECKING:
    from rounds import Round

# The log begins at noon; dusk and dawn in hours after noon.
DUSK, DAWN = 8.8, 16.8


def _long(rng: np.random.Generator, median: float, spread: float = 0.7) -> float:
    return float(median * np.exp(spread * rng.standard_normal()))


def _stays_close(
    rng: np.random.Generator, bird: Bird, clock: float, until: float, rates: dict[str, float], age: float
) -> float:
    """A nestling or a resting bird comes to the hole a few times before ``until`` and goes back."""
    eager = np.clip((age - 38) / 14, 0, 1) if bird.role == "nestling" else 0.15
    for _ in range(rng.poisson(rates["sits"] * eager)):
        start = float(rng.uniform(clock, max(clock + 1, until)))
        hold = float(np.clip(_long(rng, rates["sit_min"] * 60, 1.0), 4, 5400))
        if start > clock + 20 and start + hold < until - 30:
            bird.do(start, "sit_in" if hold > 20 else "look_out", hold)
            clock = start + hold
    return clock


def adult_night(rng: np.random.Generator, bird: Bird, box: Box, day: int, this: Round) -> None:
    """Let one adult live from one noon to the next."""
    rates = this.rates
    age = box.age + day
    base = day * DAY
    dusk, dawn = base + DUSK * HOUR + rng.normal(0, 900), base + DAWN * HOUR + rng.normal(0, 900)
    small = age < 18
    if bird.role == "male":
        many, away = rng.poisson(rates["deliveries"] * (1.0 if age < 62 else 0.4)), None
    elif small:
        many, away = 1 + rng.poisson(2), 9.0
    else:
        many, away = rng.poisson(rates["deliveries"] * (0.75 if age < 62 else 0.3)), None
    clock = dusk + rng.exponential(1200)
    if bird.inside:
        bird.do(clock, "out")
        bird.inside = False
        clock += 60
    gap = (dawn - clock) / (many + 1)
    for _ in range(many):
        clock += max(
            45.0, away * 60 * np.exp(0.5 * rng.standard_normal()) if away else rng.gamma(2.0, gap / 2.0)
        )
        if clock > dawn:
            break
        while rng.random() < rates["looks"]:
            hold = float(np.clip(_long(rng, 3.0, 0.6), 0.6, 25))
            bird.do(clock, "look_in", hold)
            clock += hold + 20 + rng.exponential(90)
        if age > 42 and rng.random() < rates["at_hole"]:
            hold = float(np.clip(_long(rng, 6.0, 0.6), 1, 40))
            bird.do(clock, "look_in", hold)
            clock += hold + 20
            continue
        bird.do(clock, "in")
        stay = max(15.0, _long(rng, rates["stay"] * 60 * (6 if small and bird.role == "female" else 1)))
        if rng.random() < 0.06:
            hold = float(np.clip(_long(rng, 5), 1, 60))
            if stay > hold + 30:
                bird.do(clock + (stay - hold) / 2, "look_out", hold)
        clock += stay
        if rng.random() < 0.08:
            hold = _long(rng, 90)
            bird.do(clock + 10, "sit_in", hold)
            clock += hold + 20
        bird.do(clock, "out")
        clock += 20
    roost = (
        0.97
        if small and bird.role == "female"
        else rates["roost"] * (1.0 if bird.role == "female" else 0.6) * (1 if age < 60 else 0.4)
    )
    if rng.random() < roost:
        clock = max(clock + 60, dawn + rng.normal(0, 600))
        bird.do(clock, "in")
        bird.inside = True
        _stays_close(rng, bird, clock + 60, base + DAY, rates, age)


def nestling_night(rng: np.random.Generator, bird: Bird, day: int, this: Round) -> None:
    """Let one nestling live from one noon to the next."""
    rates = this.rates
    if day < bird.tagged or day > bird.leaves:
        return
    base = day * DAY
    age = 57 + day - bird.first_flight
    dusk, dawn = base + DUSK * HOUR, base + DAWN * HOUR
    if day < bird.first_flight:
        clock = _stays_close(rng, bird, base + 60, dusk, {**rates, "sits": rates["sits"] * 0.3}, age)
        _stays_close(rng, bird, max(clock, dusk), base + DAY - 60, rates, age)
        return
    first = day - bird.first_flight < 1
    trips = 1 if first else 1 + rng.poisson(rates["flights"] - 0.9)
    clock = dusk + rng.exponential(2400)
    gone = day + 1 > bird.leaves
    for nth in range(trips):
        if bird.inside:
            clock = _stays_close(rng, bird, clock, clock + 0.2 * HOUR, rates, age)
            clock += 60 + rng.exponential(900)
            if clock > dawn:
                break
            bird.do(clock, "out")
            bird.inside = False
        elif nth == 0:
            clock += rng.exponential(3600)
        if gone:
            return
        clock += max(30.0, _long(rng, 2400, 1.0))
        last = nth == trips - 1
        if clock > dawn or (last and rng.random() > rates["home"]):
            break
        if rng.random() < rates["looks"]:
            hold = float(np.clip(_long(rng, 4.0, 0.6), 0.6, 25))
            bird.do(clock, "look_in", hold)
            clock += hold + 20 + rng.exponential(60)
        bird.do(clock, "in")
        bird.inside = True
        clock += max(20.0, _long(rng, 900, 1.0))
    if not bird.inside and rng.random() < rates["home"]:
        clock = max(clock + 60, dawn + rng.normal(0, 900))
        bird.do(clock, "in")
        bird.inside = True


def live(rng: np.random.Generator, this: Round) -> None:
    """Fill in the moves of all birds."""
    for box in this.boxes:
        for bird in box.birds:
            for day in range(this.nights):
                if bird.role == "nestling":
                    nestling_night(rng, bird, day, this)
                else:
                    adult_night(rng, bird, box, day, this)
