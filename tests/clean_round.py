"""A clean round of boxes, invented: nothing in it is wrong, though it holds much that looks odd.

Two ringers use strings of their own, strings end within a brood, rings are lost, an adult bears the ring of
another scheme, birds are seen again at later visits, and old birds bring rows of earlier years.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from random import Random
from typing import Any
from zlib import crc32

Row = dict[str, Any]


@dataclass
class Strings:
    """The strings of one ringer: the next ring at hand."""

    prefix: str
    digits: int
    next: int
    losses: list[Row] = field(default_factory=list)
    used: list[int] = field(default_factory=list)

    def take(self, random: Random, day: dt.date, loss: float) -> str:
        while random.random() < loss:
            self.losses.append({"ring": self._name(self.next), "fate": "lost", "date": day})
            self.next += 1
        ring, self.next = self._name(self.next), self.next + 1
        if self.next % 100 == 1:
            # the string is used up; the next one at hand is another hundred
            self.next += 300
        return ring

    def _name(self, number: int) -> str:
        return f"{self.prefix}{number:0{self.digits}d}"


def clean_round(
    broods: int = 60,
    *,
    seed: int = 1,
    visits: int = 2,
    ringers: int = 2,
    loss: float = 0.02,
    adults: float = 0.3,
    year: int = 2026,
    prefix: str = "SV",
    digits: int = 5,
    event: bool = True,
) -> dict[str, list[Row]]:
    """Tables of a clean season, handlings in the order of the days."""
    random = Random(seed)  # noqa: S311 - a season to be made the same again, no secret
    strings = [Strings(prefix, digits, 1031 + 4 * 10 ** (digits - 2) * k) for k in range(ringers)]
    names = ("AB", "IP", "MK")
    rows: list[Row] = []
    boxes = [f"SL-{k + 1:02d}" for k in range(broods)]
    plan = sorted((dt.date(year, 5, 20) + dt.timedelta(days=random.randrange(40)), box) for box in boxes)
    known: dict[str, list[str]] = {}
    todo = [(day + dt.timedelta(days=14 * v), v, box) for day, box in plan for v in range(visits)]
    for day, visit, box in sorted(todo):
        who = random.randrange(ringers)
        if visit == 0:
            size = random.randrange(1, 7)
            known[box] = []
            for _ in range(size):
                ring = strings[who].take(random, day, loss)
                known[box].append(ring)
                rows.append(_row(day, box, ring, "ringed", names[who], size))
            if random.random() < adults:
                number = 123456 + 7919 * len(rows) % 876543
                foreign = random.choice(["DEK1", "5", "H-A"]) + f"{number:06d}"
                rows.append({**_row(day, box, foreign, "re-encountered", names[who], size), "age": "4"})
        else:
            here = [ring for ring in known[box] if random.random() > 0.03]
            random.shuffle(here)
            rows += [_row(day, box, ring, "re-encountered", names[who], len(here)) for ring in here]
    if not event:
        for row in rows:
            del row["event"]
    return {
        "handlings": rows,
        "ring_losses": [loss for string in strings for loss in string.losses],
        "visits": [
            {"date": day, "box": box} for day, box in dict.fromkeys((row["date"], row["box"]) for row in rows)
        ],
        "boxes": [{"box": box} for box in boxes],
    }


def old_birds(rows: list[Row], *, years: int = 3) -> list[Row]:
    """Rows of the same females in earlier years, in front of the season, as a long-kept workbook has them."""
    adults = [row for row in rows if row.get("age") == "4"]
    early = [
        {**row, "date": row["date"].replace(year=row["date"].year - back)}
        for back in range(years, 0, -1)
        for row in adults[:: back + 1]
    ]
    return [*sorted(early, key=lambda row: row["date"]), *rows]


def _row(day: dt.date, box: str, ring: str, event: str, ringer: str, size: int) -> Row:
    return {
        "date": day,
        "box": box,
        "species": "barn owl",
        "ring": ring,
        "ring_leg": "L",
        "age": "1",
        "event": event,
        "brood_size": size,
        "ringer": ringer,
        "wing_mm": 80 + _scatter(day, ring) % 90,
        "net_g": 200 + _scatter(ring, day) % 160,
    }


def _scatter(*parts: object) -> int:
    """A number that looks random and is the same in every run."""
    return crc32("|".join(map(str, parts)).encode())


def broods(*sizes: int, start: int = 1031, prefix: str = "SV", digits: int = 5, **extra: object) -> list[Row]:
    """First ringings of consecutive rings, one brood a day in boxes SL-01, SL-02 and so on."""
    rows: list[Row] = []
    for k, size in enumerate(sizes):
        day = dt.date(2026, 6, 1) + dt.timedelta(days=k)
        for _ in range(size):
            ring = f"{prefix}{start + len(rows):0{digits}d}"
            rows.append({**_row(day, f"SL-{k + 1:02d}", ring, "ringed", "AB", size), **extra})
    return rows


def seen_again(rows: list[Row], *, days: int = 14) -> list[Row]:
    """The same birds at a later visit."""
    later = dt.timedelta(days=days)
    return [
        {**row, "date": row["date"] + later, "event": "re-encountered", "wing_mm": row["wing_mm"] + 60}
        for row in rows
    ]
