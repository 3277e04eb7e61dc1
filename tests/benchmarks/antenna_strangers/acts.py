"""What the birds do at the entrance of a box, by four ways of life that share nothing but the entrance.

Times are seconds after midnight of the first day. A way of life gives, for each bird and box, the moments at
which it passes and whether it is inside at first; `lingering` then fills the stretches between with what is
no passage: looks in, looks out, and sitting in the entrance.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

    import numpy as np

__all__ = ["DAY", "LIVES", "Act", "Round", "draw_round"]

DAY = 86_400.0


@dataclass(frozen=True, slots=True)
class Act:
    """One thing that one bird does in one entrance; `kind` is in, out, look in, look out or sit."""

    box: str
    tag: int
    kind: str
    at: float
    lasts: float = 0.0
    side: str = ""  # where a sitter sits


@dataclass(frozen=True, slots=True)
class Round:
    """The drawn circumstances of one log."""

    boxes: tuple[str, ...]
    nights: int
    dusk: float  # seconds after midnight
    dawn: float  # seconds after midnight of the next day
    look_rate: float  # looks in a night and bird
    sit_rate: float
    sit_long: float  # median length of a sitting in seconds
    pause_share: float  # passages that begin with sitting in the entrance
    visits: float  # visits of an adult in a night
    stay: float  # median time inside on a feeding visit, in seconds
    trip: float  # median time outside in seconds

    def night(self, number: int) -> tuple[float, float]:
        """Dusk and dawn of a night."""
        return number * DAY + self.dusk, (number + 1) * DAY + self.dawn

    @property
    def end(self) -> float:
        """End of the log."""
        return self.nights * DAY + 12 * 3600.0


Bird = tuple[
    str, int, bool, float, float, list[tuple[float, str]]
]  # box, tag, inside at first, from, to, passages


def draw_round(rng: np.random.Generator, boxes: tuple[int, int], nights: tuple[int, int]) -> Round:
    """Draw circumstances from wide ranges."""
    count = int(rng.integers(boxes[0], boxes[1] + 1))
    return Round(
        tuple(f"SL-{number:02d}" for number in range(1, count + 1)),
        int(rng.integers(nights[0], nights[1] + 1)),
        float(rng.uniform(20, 22) * 3600),
        float(rng.uniform(4, 6) * 3600),
        float(rng.choice([0.3, 1.0, 3.0, 6.0])),
        float(rng.choice([0.1, 0.5, 2.0])),
        float(np_exp(rng, 30, 1500)),
        float(rng.choice([0.0, 0.05, 0.2])),
        float(rng.uniform(5, 25)),
        float(np_exp(rng, 15, 240)),
        float(np_exp(rng, 600, 3600)),
    )


def np_exp(rng: np.random.Generator, low: float, high: float) -> float:
    """Draw evenly on the scale of ratios."""
    return float(low * (high / low) ** rng.random())


def lognormal(rng: np.random.Generator, median: float, spread: float, least: float) -> float:
    """Draw a length of time."""
    return max(least, float(median * rng.lognormal(0.0, spread)))


def _alternating(
    rng: np.random.Generator, world: Round, begin: float, end: float, inside: bool, stay: float, trip: float
) -> list[tuple[float, str]]:
    """Stays and trips of log-normal length in turn, at night only; the day is spent where it is."""
    at, told = begin, []
    while True:
        at += lognormal(rng, stay, 1.0, 4.0) if inside else lognormal(rng, trip, 0.9, 20.0)
        night = int((at - world.dawn) // DAY)
        dusk, dawn = world.night(night)
        if at < dusk:
            at = dusk + float(rng.exponential(1800))
        elif at > dawn:
            at = dusk + DAY + float(rng.exponential(1800))
        if at >= end:
            return told
        told.append((at, "out" if inside else "in"))
        inside = not inside


def _booked(
    rng: np.random.Generator, world: Round, begin: float, end: float, visits: float, roosts: bool, stay: float
) -> list[tuple[float, str]]:
    """So many visits a night, each with its time inside; the last may become a day's rest inside."""
    told: list[tuple[float, str]] = []
    free = begin
    for night in range(world.nights):
        dusk, dawn = world.night(night)
        if told and told[-1][1] == "in":  # rested inside since the morning
            leaves = max(free, dusk + float(rng.exponential(1200)))
            told.append((leaves, "out"))
            free = leaves + 30
        count = int(rng.poisson(visits))
        middle = rng.beta(0.8, 0.8, count) if rng.random() < 0.5 else rng.random(count)
        for at in sorted(dusk + middle * (dawn - dusk)):
            if at < free or at > end:
                continue
            kind = rng.random()
            if kind < 0.75:
                lasts = 3.0 + float(rng.gamma(2.0, stay / 2))
            elif kind < 0.95:
                lasts = float(rng.uniform(120, 1200))
            else:
                lasts = float(rng.uniform(1200, 7200))
            told += [(float(at), "in"), (float(at) + lasts, "out")]
            free = float(at) + lasts + float(rng.uniform(5, 90))
        if roosts and rng.random() < 0.5 and free < dawn:
            told.append((max(free, dawn - float(rng.uniform(0, 1800))), "in"))
            free = told[-1][0] + 60
    return [one for one in told if begin < one[0] < end]


def _nestlings(
    rng: np.random.Generator,
    world: Round,
    box: str,
    tags: list[int],
    later: Callable[[float, float], list[tuple[float, str]]],
) -> list[Bird]:
    """Young that stay inside until their first flight; then `later(from, to)` tells. One day they go."""
    leaving = rng.uniform(-0.2, 1.4) * world.nights
    birds: list[Bird] = []
    for tag in tags:
        night = int(leaving + rng.normal(0, 2))
        first = max(0, night - int(rng.integers(6, 18)))
        if rng.random() < 0.2:
            first = world.nights + 1  # too small to climb to the entrance at all
        heard_from = first * DAY + world.dusk
        if night < 0 or night >= world.nights:
            birds.append((box, tag, True, heard_from, world.end, []))
            continue
        dusk, dawn = world.night(night)
        flight = float(rng.uniform(dusk, dawn))
        gone = min(world.end, flight + float(rng.integers(2, 16)) * DAY)
        moves = [(flight, "out"), *later(flight, gone)]
        if moves[-1][1] == "in" and gone < world.end:
            moves.append((moves[-1][0] + float(rng.uniform(60, 3000)), "out"))
        birds.append((box, tag, True, heard_from, gone, moves))
    return birds


def renewal(rng: np.random.Generator, world: Round, tags: list[int]) -> list[Bird]:
    """Trips and stays follow each other without plan, each of log-normal length."""
    birds: list[Bird] = []
    for box in world.boxes:
        if rng.random() < 0.1:
            continue  # an empty box
        for _ in range(int(rng.choice([1, 2, 2, 2]))):
            inside = bool(rng.random() < 0.5)
            trip = world.trip * float(rng.uniform(0.6, 1.6))
            moves = _alternating(rng, world, world.dusk, world.end, inside, world.stay, trip)
            birds.append((box, tags.pop(), inside, 0.0, world.end, moves))
        if rng.random() < 0.8:
            young = [tags.pop() for _ in range(int(rng.integers(4, 9)))]
            birds += _nestlings(
                rng, world, box, young, lambda a, b: _alternating(rng, world, a, b, False, 900.0, world.trip)
            )
    return birds


def booked(rng: np.random.Generator, world: Round, tags: list[int]) -> list[Bird]:
    """Each adult comes a Poisson number of times a night."""
    birds: list[Bird] = []
    for box in world.boxes:
        for _ in range(int(rng.choice([1, 2, 2]))):
            visits = world.visits * float(rng.uniform(0.6, 1.4))
            moves = _booked(rng, world, world.dusk, world.end, visits, bool(rng.random() < 0.4), world.stay)
            birds.append((box, tags.pop(), False, 0.0, world.end, moves))
        if rng.random() < 0.8:
            young = [tags.pop() for _ in range(int(rng.integers(4, 9)))]
            birds += _nestlings(
                rng, world, box, young, lambda a, b: _booked(rng, world, a, b, 3.0, True, 300.0)
            )
    return birds


def _play(rng: np.random.Generator, world: Round, begin: float, end: float) -> list[tuple[float, str]]:
    """A fledged bird: home at dawn, out at dusk, and bursts of hopping in and out."""
    told: list[tuple[float, str]] = []
    at, inside = begin, False
    while True:
        night = int((at - world.dawn) // DAY)
        dusk, dawn = world.night(night)
        if at > dusk and rng.random() < 0.6:  # a burst
            for _ in range(int(rng.integers(2, 9))):
                at += float(rng.uniform(5, 60))
                told.append((at, "out" if inside else "in"))
                inside = not inside
        if not inside:
            at = max(at + 120, dawn - float(rng.uniform(0, 5400)))
            told.append((at, "in"))
        at = max(at + 120, dusk + DAY + float(rng.exponential(900)))
        told.append((at, "out"))
        inside = False
        at += float(rng.uniform(60, 7200))
        if at >= end:
            return [one for one in told if one[0] < end]


def brooding(rng: np.random.Generator, world: Round, tags: list[int]) -> list[Bird]:
    """The female stays inside for weeks with short outings, the male brings prey; later both hunt."""
    birds: list[Bird] = []
    for box in world.boxes:
        until = int(rng.integers(0, world.nights + 5))
        moves: list[tuple[float, str]] = []
        for night in range(min(until, world.nights)):
            dusk, dawn = world.night(night)
            at = dusk
            for _ in range(int(rng.integers(0, 4))):
                at += float(rng.uniform(600, 9000))
                back = at + lognormal(rng, 540, 0.7, 30)
                if back > dawn:
                    break
                moves += [(at, "out"), (back, "in")]
                at = back
        if until < world.nights:
            leaves = max(
                world.night(until)[0] + float(rng.uniform(0, 3000)), moves[-1][0] + 60 if moves else 0
            )
            moves.append((leaves, "out"))
            moves += _booked(
                rng, world, leaves + 60, world.end, world.visits / 2, bool(rng.random() < 0.3), world.stay
            )
        birds.append((box, tags.pop(), True, 0.0, world.end, moves))
        if rng.random() < 0.85:
            brings = _booked(rng, world, world.dusk, world.end, world.visits, False, min(world.stay, 40.0))
            birds.append((box, tags.pop(), False, 0.0, world.end, brings))
        young = [tags.pop() for _ in range(int(rng.integers(4, 9)))]
        birds += _nestlings(rng, world, box, young, lambda a, b: _play(rng, world, a, b))
    return birds


def roosting(rng: np.random.Generator, world: Round, tags: list[int]) -> list[Bird]:
    """No brood: birds that sleep by day in one of several boxes and look at others by night."""
    told: dict[tuple[str, int], list[tuple[float, str]]] = {}
    for _ in range(max(2, int(len(world.boxes) * rng.uniform(0.5, 1.5)))):
        tag = tags.pop()
        homes = list(
            rng.choice(world.boxes, size=min(len(world.boxes), int(rng.integers(1, 4))), replace=False)
        )
        for night in range(world.nights):
            dusk, dawn = world.night(night)
            at = dusk + float(rng.exponential(3600))
            for _ in range(int(rng.poisson(1.5))):
                at += float(rng.exponential(4000))
                stays = lognormal(rng, 120, 1.2, 5)
                if at + stays > dawn - 3600:
                    break
                box = str(rng.choice(homes))
                told.setdefault((box, tag), []).extend([(at, "in"), (at + stays, "out")])
                at += stays
            if rng.random() < 0.75:
                box = str(rng.choice(homes))
                comes, goes = dawn - float(rng.uniform(0, 3500)), dusk + DAY + float(rng.exponential(900))
                told.setdefault((box, tag), []).append((comes, "in"))
                if goes < world.end:
                    told[box, tag].append((goes, "out"))
    return [(box, tag, False, 0.0, world.end, sorted(moves)) for (box, tag), moves in told.items()]


def lingering(rng: np.random.Generator, world: Round, bird: Bird) -> list[Act]:
    """All acts of a bird: its passages, and looks and sittings in the stretches between them."""
    box, tag, inside, begin, end, moves = bird
    moves = sorted(moves)
    acts: list[Act] = []
    end = max(end, moves[-1][0] if moves else 0.0)
    begin = min(begin, moves[0][0] if moves else end)
    edges = [(begin, ""), *moves, (end, "")]
    state = inside
    for (before, _), (after, kind) in pairwise(edges):
        room = after - before
        nightly = room / DAY
        looks = int(rng.poisson(min(60.0, world.look_rate * nightly * (0.5 if state else 1.0))))
        sits = int(rng.poisson(min(15.0, world.sit_rate * nightly * (1.0 if state else 0.3))))
        taken: list[tuple[float, float]] = [(before, before + 3), (after - 3, after)]

        def place(
            lasts: float, taken: list[tuple[float, float]] = taken, before: float = before, room: float = room
        ) -> float | None:
            for _ in range(8):
                at = before + float(rng.random()) * room
                hour = at % DAY
                if world.dawn < hour < world.dusk and rng.random() < 0.9:
                    continue
                if all(at + lasts + 3 < a or at > b + 3 for a, b in taken) and at + lasts < before + room:
                    taken.append((at, at + lasts))
                    return at
            return None

        for _ in range(looks):
            lasts = lognormal(rng, 4.0, 0.8, 0.6)
            at = place(lasts)
            if at is not None:
                acts.append(Act(box, tag, "look out" if state else "look in", at, lasts))
        for _ in range(sits):
            lasts = min(4 * 3600.0, lognormal(rng, world.sit_long, 1.0, 8.0))
            at = place(lasts)
            if at is not None:
                side = str(rng.choice(["inner", "both"] if state else ["outer", "both"]))
                acts.append(Act(box, tag, "sit", at, lasts, side))
        if kind:
            if rng.random() < world.pause_share:
                lasts = min(600.0, lognormal(rng, 30, 1.0, 5))
                if all(after - lasts > b + 3 for a, b in taken[:1] + taken[2:]):
                    acts.append(
                        Act(box, tag, "sit", after - lasts - 1, lasts, "inner" if kind == "out" else "outer")
                    )
            acts.append(Act(box, tag, kind, after))
            state = kind == "in"
    return acts


LIVES = {"renewal": renewal, "booked": booked, "brooding": brooding, "roosting": roosting}
