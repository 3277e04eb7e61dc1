"""Invented logs of plain busy boxes, whose dead spells the log can show, for the benchmark of their finding.

Two parents feed every night and come ten to twenty times each; nestlings come to the inner antenna, later to
both. Nothing else happens: no storms, no bird that stays away, no season that ends. One antenna, or the whole
logger, is dead for one to five nights anywhere in the log.
"""

from __future__ import annotations

import numpy as np
from simulated_outages import DAY, HOUR, START, Outage, Outages

from audit.models.reads import INNER, OUTER, Reads

#: Antenna pairs by name.
_HEARD = {"good": (0.95, 0.93), "weak": (0.70, 0.55)}


def pairs(seed: int, *, quality: str = "", ghosts: bool | None = None, once: bool | None = None) -> Outages:
    """Draw a log."""
    rng = np.random.default_rng([seed, 2718])
    boxes, nights = int(rng.integers(3, 21)), int(rng.integers(10, 41))
    quality = quality or str(rng.choice(["good", "weak"]))
    once = bool(rng.random() < 0.5) if once is None else once
    ghosts = bool(rng.random() < 0.5) if ghosts is None else ghosts
    made = Outages(Reads(*(np.zeros(0) for _ in range(4))), boxes=boxes, nights=nights, quality=quality)
    made.once = once
    mean, steady = float(rng.uniform(10, 20)), float(rng.choice([5.0, 20.0, 1000.0]))
    columns, tag = [], 0
    for box in range(boxes):
        spells = _spells(rng, box, nights) if rng.random() < 0.4 else []
        for adult in [True] * 2 + [False] * int(rng.integers(0, 6)):
            tag += 1
            at, side = _bird(rng, nights, mean, steady, _HEARD[quality], once=once, adult=adult)
            for spell in spells:
                off = (at >= spell.start) & (at < spell.end) & np.isin(side, spell.sides)
                spell.bouts_lost += len(np.unique(at[off] // 600_000))
                at, side = at[~off], side[~off]
            columns.append(np.stack([np.full(len(at), box), np.full(len(at), tag), at, side]))
        for _ in range(rng.poisson(0.5 * nights) if ghosts else 0):
            tag += 1
            columns.append(
                np.array([[box], [tag], [START + rng.integers(0, nights * DAY)], [rng.integers(0, 2)]])
            )
        made.spells += spells
    rows = np.concatenate(columns, axis=1).astype(np.int64)
    rows = rows[:, np.lexsort((rows[3], rows[2], rows[1], rows[0]))]
    made.reads = Reads(
        rows[0].astype(np.int32), rows[1].astype(np.int32), rows[2].copy(), rows[3].astype(np.int8)
    )
    return made


def _spells(rng, box, nights):
    sides = ((OUTER,), (INNER,), (OUTER, INNER))[int(rng.integers(0, 3))]
    lasts = float(rng.choice([1.0, 1.0, 2.0, 3.0, 3.0, 5.0]))
    start = (
        float(rng.integers(0, nights - int(lasts) + 1))
        if rng.random() < 0.5
        else rng.uniform(0, nights - lasts)
    )
    place = "start" if start < 1 else "end" if start + lasts > nights - 1 else "middle"
    length = "1 night" if lasts == 1 else "2-5 nights"
    return [Outage(box, sides, START + int(start * DAY), START + int((start + lasts) * DAY), length, place)]


def _bird(rng, nights, mean, steady, heard, *, once, adult):
    at, side = [], []
    inside = not adult
    for night in range(nights):
        dusk = START + night * DAY + 9 * HOUR
        if adult:
            n = int(rng.poisson(mean * rng.gamma(steady, 1 / steady)))
        else:
            n = int(rng.poisson(3)) if night > nights / 3 else 0
        for begun in np.sort(dusk + rng.random(n) * 8 * HOUR):
            when = begun
            for crossing in range(2 if adult else 1):
                first = INNER if inside else OUTER
                for antenna in (first, 1 - first) if adult or rng.random() < 0.5 else (first,):
                    if once:
                        reads = int(rng.random() < heard[antenna])
                    else:
                        reads = (
                            int((rng.random(4) < heard[antenna]).sum()) if adult else int(rng.integers(1, 40))
                        )
                    at.extend((when + 150 * np.arange(reads) + rng.integers(0, 100, reads)).tolist())
                    side.extend([antenna] * reads)
                    when += rng.lognormal(np.log(900), 0.4)
                if adult:
                    inside = not inside
                    when += rng.lognormal(np.log(60_000), 0.6) * (crossing == 0)
    return np.array(at, dtype=np.int64), np.array(side, dtype=np.int64)
