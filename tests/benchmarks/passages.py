"""How many passages are right, how sure they say they are, and how long it takes.

Parameters are drawn at random on seeds that nothing was developed on; both generators of
`simulated_detections` are asked. Beside the state model stands a rule of thumb: of reads that lie less than a
minute apart the first antenna and the last one tell the direction.

    python tests/benchmarks/passages.py [--seeds 940000 6] [--speed 5]
"""

from __future__ import annotations

import argparse
import resource
import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from simulated_detections import Log, Sky, by_counts, by_events, matched

from audit.declarations import load_declarations
from audit.models.passages import Limits, passages
from audit.models.read_groups import WAY_IN, WAY_OUT, group_reads
from audit.models.reads import Passages, Reads

LIMITS = Limits(
    **{
        key.rpartition(".")[2]: limit.value
        for key, limit in load_declarations().settings.items()
        if key.startswith("antennas.passages.")
    }
)
REGIMES = {
    "good": {"detection": (0.95, 0.93)},
    "good, one read a crossing": {"detection": (0.95, 0.93), "once": True},
    "weak, three nights dead": {"detection": (0.70, 0.55), "dead": "one antenna"},
    "weak, one read a crossing": {"detection": (0.70, 0.55), "dead": "one antenna", "once": True},
    "ghosts, dead spell": {"detection": (0.95, 0.93), "ghosts": 0.01, "dead": "both antennas"},
}


def drawn(seed: int, regime: dict[str, object]) -> Sky:
    """A sky of which only the regime is fixed."""
    rng = np.random.default_rng([seed, 17])
    nights = int(rng.integers(15, 40))
    boxes = int(rng.integers(3, 9))
    dead = ()
    if "dead" in regime:
        which = 2 if regime["dead"] == "both antennas" else int(rng.integers(0, 2))
        dead = ((int(rng.integers(0, boxes)), which, float(rng.integers(3, nights - 5)), 3.0),)
    return Sky(
        seed=seed,
        boxes=boxes,
        nights=nights,
        detection=regime["detection"],
        once=bool(regime.get("once", False)),
        cycle_s=float(rng.choice([0.1, 0.25, 0.5])),
        field_s=float(rng.uniform(0.3, 1.0)),
        transit_s=float(rng.uniform(0.3, 0.8)),
        visit_s=float(rng.uniform(40, 400)),
        visit_spread=float(rng.uniform(0.4, 1.0)),
        trip_s=float(rng.uniform(600, 4000)),
        trip_spread=float(rng.uniform(0.4, 1.0)),
        looks=float(rng.uniform(0.0, 0.2)),
        rests=float(rng.uniform(0.0, 0.06)),
        nestlings=int(rng.integers(0, 5)),
        flight_night=float(rng.uniform(0.2, 0.7)),
        ghosts=float(regime.get("ghosts", 0.0)),
        dead=dead,
        stamp_ms=int(rng.choice([1, 1000])),
    )


def rule_of_thumb(reads: Reads) -> Passages:
    """First antenna, last antenna, within a minute."""
    groups = group_reads(reads, 60.0)
    way = np.flatnonzero((groups.kind == WAY_IN) | (groups.kind == WAY_OUT))
    n = len(way)
    return Passages(
        reads.box[groups.begin[way]],
        reads.tag[groups.begin[way]],
        groups.start[way],
        (groups.kind[way] == WAY_OUT).astype(np.int8),
        np.ones(n),
        np.zeros(n, dtype=np.int8),
    )


def scores(found: Passages, log: Log) -> tuple[float, float, float]:
    right = matched(found, log.truth)
    precision, recall = right.mean() if len(right) else 0.0, right.sum() / len(log.truth.at)
    return float(precision), float(recall), float(2 * right.sum() / (len(right) + len(log.truth.at)))


def quality(first: int, n: int) -> None:
    heads = "regime,generator,precision,recall,F1 (least),calibration error,heard by none,rule of thumb"
    print("| " + heads.replace(",", " | ") + " |")
    print("| --- " * (heads.count(",") + 1) + "|")
    for name, regime in REGIMES.items():
        for make in (by_events, by_counts):
            rows, chance, right = [], [], []
            for seed in range(first, first + n):
                log = make(drawn(seed, regime))
                found = passages(log.reads, log.spells, LIMITS)
                rows.append((*scores(found, log), unheard(log), scores(rule_of_thumb(log.reads), log)[2]))
                chance.append(found.p)
                right.append(matched(found, log.truth))
            mean = np.mean(rows, axis=0)
            least = min(row[2] for row in rows)
            error = calibration(np.concatenate(chance), np.concatenate(right))
            print(
                f"| {name} | {make.__name__} | {mean[0]:.4f} | {mean[1]:.4f} | {mean[2]:.4f} ({least:.4f}) "
                f"| {error:.4f} | {mean[3]:.3f} | {mean[4]:.3f} |",
                flush=True,
            )


def unheard(log: Log) -> float:
    """Share of true passages with no read of the bird at its box within 30 s: nobody can place them."""
    key = log.reads.box.astype(np.int64) * log.tags + log.reads.tag
    true = log.truth.box.astype(np.int64) * log.tags + log.truth.tag
    span = 1 << 42
    own = log.reads.tag < log.tags
    order = np.sort(key[own] * span + log.reads.at[own])
    place = true * span + log.truth.at
    near = np.searchsorted(order, place + 30_000) > np.searchsorted(order, place - 30_000)
    return float(1 - near.mean())


def calibration(p: np.ndarray, right: np.ndarray, bins: int = 10) -> float:
    place = np.minimum((p * bins).astype(int), bins - 1)
    gap = np.abs(np.bincount(place, p, bins) - np.bincount(place, right, bins))
    return float(gap.sum() / len(p))


def speed(millions: float) -> None:
    for make in (by_events, by_counts):
        log = make(Sky(seed=77, boxes=6, nights=30))
        n, boxes = len(log.reads.at), 6
        times = max(1, int(millions * 1e6 / n))
        reads = replace(
            log.reads,
            box=np.concatenate([log.reads.box + boxes * k for k in range(times)]).astype(np.int32),
            **{name: np.tile(getattr(log.reads, name), times) for name in ("tag", "at", "antenna")},
        )
        start, cpu = time.perf_counter(), time.process_time()
        found = passages(reads, None, LIMITS)
        print(
            f"{make.__name__}: {len(reads.at):,} reads, {len(found.at):,} passages: "
            f"{time.perf_counter() - start:.1f} s, {time.process_time() - cpu:.1f} s of processors, "
            f"{resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6:.2f} GB at most",
            flush=True,
        )


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, nargs=2, default=(940000, 6), metavar=("FIRST", "N"))
    parser.add_argument("--speed", type=float, default=0.0, metavar="MILLIONS")
    asked = parser.parse_args()
    if asked.speed:
        speed(asked.speed)
    else:
        quality(*asked.seeds)
