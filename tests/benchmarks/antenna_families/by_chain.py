"""Second conception: a bird is a Markov chain; in the entrance it is stepped through every half second."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from lives import DAY, HOUR

if TYPE_CHECKING:
    from lives import Bird
    from rounds import Round

STEP = 0.5
FAR, SILL, HOLE, PERCH, DEEP = range(5)


def _night(at: float) -> bool:
    return 8.8 * HOUR <= at % DAY <= 16.8 * HOUR


def _wait(rng: np.random.Generator, at: float, by_night: float, by_day: float, end: float) -> float:
    """Wait with one hazard by night and another by day (mean waits in s); return the moment."""
    while at < end:
        mean = by_night if _night(at) else by_day
        hour = at % DAY
        ends = (8.8 * HOUR, 16.8 * HOUR, DAY + 8.8 * HOUR)
        edge = at - hour + next(end for end in ends if hour < end)
        wait = rng.exponential(mean)
        if at + wait < edge:
            return at + wait
        at = edge + 1e-3
    return at


def _in_entrance(
    rng: np.random.Generator, at: float, place: int, wish: int, traits: dict[str, float]
) -> tuple[list[tuple[float, int]], float]:
    """Step through the entrance until the bird is FAR or DEEP; return the places by step and the moment."""
    path = []
    sitting = 0.0
    while place not in (FAR, DEEP):
        path.append((at, place))
        at += STEP
        if sitting > 0:
            sitting -= STEP
            if rng.random() < 0.01:
                place = int(np.clip(place + rng.choice([-1, 1]), SILL, PERCH))
            continue
        roll = rng.random()
        if roll < traits["turn"]:
            wish = -wish
        elif roll < traits["turn"] + traits["settle"]:
            sitting = min(5400.0, rng.exponential(traits["sit"]))
        elif roll < traits["turn"] + traits["settle"] + traits["go"]:
            place += wish
    path.append((at, place))
    return path, at


def _bird(rng: np.random.Generator, bird: Bird, this: Round) -> list[tuple[float, int]]:
    """Live through the log; return places by step while in the entrance, write passages as moves."""
    rates = this.rates
    nestling = bird.role == "nestling"
    end = this.nights * DAY
    at = bird.tagged * DAY
    flight = bird.first_flight * DAY + 9 * HOUR if nestling else -1.0
    traits = {
        "turn": 0.004 + 0.03 * rates["looks"],
        "settle": 0.0015,
        "go": float(rng.uniform(0.25, 0.7)),
        "sit": rates["sit_min"] * 40,
    }
    place = DEEP if bird.inside else FAR
    steps: list[tuple[float, int]] = []
    while at < end:
        if nestling and at > bird.leaves * DAY and place == FAR:
            break
        grounded = nestling and at < flight
        if place == DEEP:
            near = float(np.clip((at - flight) / DAY / 15 + 1, 0.02, 1)) if grounded else 1.0
            if grounded:
                at = _wait(rng, at, 8 * HOUR / (rates["sits"] * near), 60 * HOUR, end)
            elif nestling:
                at = _wait(rng, at + 10, 0.7 * HOUR, 40 * HOUR, end)
            elif rng.random() < 0.85 and _night(at):
                at += 15 + rng.exponential(rates["stay"] * 75)
            else:
                at = _wait(rng, at + 10, 1.5 * HOUR, 60 * HOUR, end)
            start, wish = PERCH, -1
        else:
            # towards morning a bird that rests in the box comes home for good
            mean = 8 * HOUR / (rates["flights"] if nestling else rates["deliveries"])
            at = _wait(rng, at + 10, mean, (60 - 50 * rates["home"]) * HOUR, end)
            start, wish = SILL, 1
        if at >= end:
            break
        before = place
        if grounded and at < flight:
            path, at = _in_entrance(rng, at, start, wish, {**traits, "settle": 0.02, "turn": 0.1, "go": 0.2})
            if path[-1][1] == FAR:  # not yet: it stays in the hole instead and goes back
                path = [(t, max(p, HOLE)) for t, p in path[:-1]] + [(path[-1][0] + STEP, DEEP)]
        else:
            path, at = _in_entrance(rng, at, start, wish, traits)
        place = path[-1][1]
        steps.extend(path[:-1])
        if place != before:
            # the crossing: the last time the bird came to the farther side of the hole
            far_side = (PERCH, DEEP) if place == DEEP else (SILL, FAR)
            moment = next(after[0] for after, now in pairwise(path[::-1]) if now[1] not in far_side)
            bird.do(moment, "in" if place == DEEP else "out")
        else:
            bird.do(path[0][0], "look_out" if place == DEEP else "look_in", at - path[0][0])
    bird.inside = place == DEEP
    return steps


def live(rng: np.random.Generator, this: Round) -> dict[str, list[tuple[float, int]]]:
    """Fill in the moves of all birds; return the places by step of each tag."""
    return {bird.tag: _bird(rng, bird, this) for box in this.boxes for bird in box.birds}
