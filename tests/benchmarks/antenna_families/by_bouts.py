"""Third conception: bouts of visits, drawn as counts and intervals, without regard to a bird's reasons."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from lives import DAY, HOUR

if TYPE_CHECKING:
    from lives import Bird
    from rounds import Round


def _bout(
    rng: np.random.Generator,
    bird: Bird,
    at: float,
    visits: int,
    stay: float,
    gap: float,
    rates: dict[str, float],
) -> float:
    """A bout outside-in-outside of several visits; return its end."""
    for _ in range(visits):
        if rng.random() < rates["looks"]:
            hold = float(rng.uniform(0.5, 10))
            bird.do(at, "look_in", hold)
            at += hold + rng.uniform(15, 120)
        bird.do(at, "in")
        at += 20.0 + rng.gamma(1.5, stay / 1.5)
        if rng.random() < 0.5 * rates["looks"]:
            hold = float(rng.uniform(0.5, 10))
            bird.do(at, "look_out", hold)
            at += hold + rng.uniform(15, 60)
        bird.do(at, "out")
        at += 30 + rng.exponential(gap)
    return at


def _adult(rng: np.random.Generator, bird: Bird, this: Round) -> None:
    rates = this.rates
    own = float(rng.uniform(0.6, 1.4))
    for day in range(this.nights):
        start = day * DAY + rng.uniform(8.3, 9.6) * HOUR
        if bird.inside:
            bird.do(start, "out")
            bird.inside = False
        end = day * DAY + 16.5 * HOUR
        at = start + rng.uniform(300, 5400)
        left = rng.poisson(own * rates["deliveries"])
        while left > 0 and at < end:
            size = min(left, int(rng.geometric(0.5)))
            left -= size
            at = _bout(rng, bird, at, size, rates["stay"] * 60, 420, rates) + rng.exponential(1.2 * HOUR)
        female = 1.0 if bird.role == "female" else 0.5
        if rng.random() < rates["roost"] * female:
            at = max(at, end + rng.uniform(-900, 1800))
            bird.do(at, "in")
            bird.inside = True
            if rng.random() < 0.25:
                bird.do(at + rng.uniform(1, 5) * HOUR, "sit_in", float(rng.uniform(10, 900)))


def _nestling(rng: np.random.Generator, bird: Bird, this: Round) -> None:
    rates = this.rates
    for day in range(int(np.ceil(bird.tagged)), this.nights):
        start, end = day * DAY + 8.5 * HOUR, day * DAY + 17 * HOUR
        if day > bird.leaves:
            return
        if day < bird.first_flight:
            near = float(np.clip(1 - (bird.first_flight - day) / 15, 0, 1))
            for at in np.sort(rng.uniform(start, end, rng.poisson(rates["sits"] * near))):
                hold = float(min(5400, rng.exponential(rates["sit_min"] * 60)))
                if not bird.moves or at > bird.moves[-1].at + bird.moves[-1].hold + 30:
                    bird.do(float(at), "sit_in" if hold > 15 else "look_out", max(hold, 1.0))
            continue
        at = start + rng.uniform(0, 2) * HOUR
        if bird.moves:
            at = max(at, bird.moves[-1].at + bird.moves[-1].hold + 60)
        if bird.inside:
            bird.do(at, "out")
            at += rng.uniform(60, 3600)
            bird.inside = False
        if day + 1 > bird.leaves:
            return
        at = _bout(rng, bird, at, rng.poisson(rates["flights"] - 1.0), 900, 1500, rates)
        if rng.random() < rates["home"]:
            at = max(at, end + rng.uniform(-1800, 1800))
            bird.do(at, "in")
            bird.inside = True


def live(rng: np.random.Generator, this: Round) -> None:
    """Fill in the moves of all birds."""
    for box in this.boxes:
        for bird in box.birds:
            if bird.role == "nestling":
                _nestling(rng, bird, this)
            else:
                _adult(rng, bird, this)
