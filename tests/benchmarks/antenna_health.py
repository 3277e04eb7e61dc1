"""How many dead antennas and dead loggers are found, and how many are invented, by kind.

Three generators are asked that share no code with the models or with each other: `simulated_outages`, made
to be hard; `simulated_health`; `simulated_detections`. A spell counts as found where at least half of it is
called dead at each antenna that was, and a piece called dead as invented where it shares less than half, of
its own length and of any true spell's. "Lost" are the bouts of birds that each dead antenna would have heard.

    python tests/benchmarks/antenna_health.py [--seeds 985000 40] [--each]
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import defaultdict
from dataclasses import fields
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from simulated_detections import Sky, by_counts, by_events
from simulated_health import invent
from simulated_outages import DAY, HOUR, Outage, Outages, outages
from simulated_pairs import pairs

from audit.declarations import load_declarations
from audit.models.antenna_health import AWAKE, DEAD, UNKNOWN, health
from audit.models.health_beliefs import HealthBeliefs
from audit.models.reads import INNER, OUTER

_SETTINGS = load_declarations().settings
BELIEFS = HealthBeliefs(
    **{one.name: _SETTINGS[f"antennas.health.{one.name}"].value for one in fields(HealthBeliefs)}
)


class Count:
    """Spells of one kind."""

    def __init__(self):
        self.spells = self.found = self.unknown = 0
        self.edges: list[float] = []


def of_health(seed: int, *, quiet: bool) -> Outages:
    """A log of `simulated_health`."""
    from simulated_health import random_habits

    rng = np.random.default_rng([seed, 12])
    fixed = {} if quiet else {"dead_one": 0.4, "dead_both": 0.4, "whole_nights": bool(rng.random() < 0.5)}
    habits = random_habits(rng, dead_nights=(1, 3), everywhere=True, **fixed)
    made = invent(seed, habits)
    spells = [
        Outage(box, (OUTER, INNER) if which == 2 else (which,), start, end, "1-3 nights", "middle")
        for box, which, start, end in made.dead
    ]
    for spell in spells:
        around = np.abs(made.reads.at - spell.start) < 4 * DAY
        spell.bouts_lost = (
            len(np.unique(made.reads.at[around & (made.reads.box == spell.box)] // 600_000)) // 8
        )
    return Outages(made.reads, spells, (), False, False, "any", habits.boxes, habits.nights)


def of_detections(seed: int) -> Outages:
    """A log of `simulated_detections`, weak or good."""
    rng = np.random.default_rng([seed, 13])
    boxes, nights = int(rng.integers(3, 6)), int(rng.integers(12, 25))
    good = bool(rng.random() < 0.5)
    dead = tuple(
        (box, int(rng.integers(0, 3)), float(rng.uniform(0, nights - 3)), float(rng.choice([1, 1.5, 3])))
        for box in range(boxes)
        if rng.random() < 0.5
    )
    sky = Sky(
        seed=seed,
        boxes=boxes,
        nights=nights,
        detection=(0.95, 0.93) if good else (0.70, 0.55),
        dead=dead,
        once=bool(rng.random() < 0.5),
        cycle_s=0.5,
        trip_s=float(rng.uniform(600, 5000)),
        visit_s=float(rng.uniform(40, 400)),
        nestlings=int(rng.integers(0, 4)),
        rests=0.03,
    )
    log = (by_events if seed % 2 else by_counts)(sky)
    noon = 1_777_636_800_000
    spells = [
        Outage(
            b,
            (OUTER, INNER) if w == 2 else (w,),
            noon + int(f * DAY),
            noon + int((f + n) * DAY),
            "1-3 nights",
            "start" if f < 2 else "end" if f + n > nights - 2 else "middle",
            50,
        )
        for b, w, f, n in dead
    ]
    return Outages(log.reads, spells, (), False, sky.once, "good" if good else "weak", boxes, nights)


def judged(
    log: Outages, counts: dict[tuple[str, ...], Count], name: str, each: bool
) -> tuple[float, int, float]:
    """Antenna-nights awake, pieces invented, seconds."""
    began = time.process_time()
    span = int(log.reads.at.min()), int(log.reads.at.max()) + 1
    told = health(log.reads, BELIEFS, markers=log.markers, span=span)
    spent = time.process_time() - began
    awake, invented = 0.0, 0
    for spell in log.spells:
        parts = []
        for side in spell.sides:
            mine = (told.box == spell.box) & (told.antenna == side)
            low, high = told.start[mine].min(initial=spell.end), told.end[mine].max(initial=spell.start)
            start, end = max(spell.start, int(low)), min(spell.end, int(high))
            if spell.place == "whole log":
                spell.start, spell.end = start, end
            shared = np.minimum(told.end, spell.end) - np.maximum(told.start, spell.start)
            share = [
                float(np.maximum(shared[mine & (told.state == state)], 0).sum())
                / max(spell.end - spell.start, 1)
                for state in (DEAD, UNKNOWN)
            ]
            parts.append(share)
            dead = mine & (told.state == DEAD) & (shared > 0)
            if share[0] >= 0.5 and spell.place != "whole log":
                edge = [abs(told.start[dead].min() - spell.start), abs(told.end[dead].max() - spell.end)]
                edges = [e / HOUR for e in edge]
            else:
                edges = []
        found, unsure = min(p[0] for p in parts) >= 0.5, min(sum(p) for p in parts) >= 0.5
        lost = spell.bouts_lost / max(len(spell.sides), 1)
        kind = "both antennas" if len(spell.sides) == 2 else "one antenna"
        activity = (
            "lost 0" if lost == 0 else "lost 1-4" if lost < 5 else "lost 5-14" if lost < 15 else "lost 15+"
        )
        lost_kind = "marker" if log.marked else "no marker"
        keys = [(name, kind, lost_kind)]
        if not log.marked:
            keys.append((name, kind, activity))
            if lost >= 5:
                keys.append((name, kind, "lost 5+", spell.place))
            if lost >= 5 and name == "pairs":
                keys.append((name, kind, "lost 5+", spell.place, spell.length, log.quality))
            if spell.place == "middle" and lost >= 5:
                keys += [
                    (name, kind, "lost 5+, middle", spell.length),
                    (name, kind, "lost 5+, middle", log.quality, "once" if log.once else "several"),
                ]
        for key in keys:
            counts[key].spells += 1
            counts[key].found += found
            counts[key].unknown += unsure and not found
            if found:
                counts[key].edges += edges
        if each and not found and lost >= 5 and not log.marked:
            print(
                "missed",
                name,
                spell,
                log.quality,
                log.once,
                [np.round(p, 2).tolist() for p in parts],
                flush=True,
            )
    for box in range(log.boxes):
        for side in (OUTER, INNER):
            mine = np.flatnonzero((told.box == box) & (told.antenna == side))
            true = [(s.start, s.end) for s in log.spells if s.box == box and side in s.sides]
            nights = (told.end[mine].max() - told.start[mine].min()) / DAY if len(mine) else 0.0
            awake += max(0.0, nights - sum(max(0, e - s) for s, e in true) / DAY)
            for k in mine[told.state[mine] == DEAD].tolist():
                shared = sum(max(0, min(e, int(told.end[k])) - max(s, int(told.start[k]))) for s, e in true)
                # hours in which no bird comes cannot be told, so half of a whole true spell will do
                whole = any(min(e, told.end[k]) - max(s, told.start[k]) > 0.5 * (e - s) for s, e in true)
                if shared < 0.5 * (told.end[k] - told.start[k]) and not whole:
                    invented += 1
                    if each:
                        print(
                            "invented",
                            name,
                            box,
                            side,
                            (told.start[k] - log.reads.at.min()) / DAY,
                            (told.end[k] - told.start[k]) / DAY,
                            log.quality,
                            log.once,
                            flush=True,
                        )
    assert AWAKE == 0
    return awake, invented, spent


def main() -> None:
    """Print the table."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--seeds", type=int, nargs=2, default=(985000, 40), metavar=("FIRST", "N"))
    asked.add_argument("--each", action="store_true", help="also print every miss and every invention")
    asked.add_argument("--only", default="", help="one generator")
    args = asked.parse_args()
    first, n = args.seeds
    makers = {
        "outages": outages,
        "outages, none dead": lambda seed: outages(seed + 500, dead=0.0),
        "health": lambda seed: of_health(seed, quiet=False),
        "health, none dead": lambda seed: of_health(seed + 500, quiet=True),
        "detections": of_detections,
        "pairs": pairs,
    }
    counts: dict[tuple[str, ...], Count] = defaultdict(Count)
    quiet = []
    for name, make in makers.items():
        if not name.startswith(args.only):
            continue
        total = np.zeros(3)
        for seed in range(first, first + (n if name != "detections" else max(2, n // 4))):
            if args.each:
                print("seed", seed, flush=True)
            total += judged(make(seed), counts, name, args.each)
        quiet.append((name, *total))
    print("| spells | found | unknown | of | edge off, h: median, 0.9 |")
    print("| --- | --- | --- | --- | --- |")
    for key in sorted(counts):
        one = counts[key]
        edge = "{:.1f}, {:.1f}".format(*np.quantile(one.edges, [0.5, 0.9])) if one.edges else ""
        print(f"| {', '.join(key)} | {one.found} | {one.unknown} | {one.spells} | {edge} |")
    print(
        "\n| generator | antenna-nights awake | invented | per 1,000 | processor s |\n"
        "| --- | --- | --- | --- | --- |"
    )
    for name, awake, invented, spent in quiet:
        rate = 1000 * invented / max(awake, 1)
        print(f"| {name} | {awake:,.0f} | {invented:.0f} | {rate:.2f} | {spent:.1f} |")


if __name__ == "__main__":
    main()
