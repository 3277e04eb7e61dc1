"""How often clocks are set right by markers that beat on the round, and wrongly by markers that do not.

Phases alone are drawn, without a log: of loggers whose clocks are off by some normal error, in half of the
boxes or in all, or evenly to a third of the interval, and of markers that were started at any moment. Each
cell has, for three bounds, the share of clocks off by 2 s and more that are set right to 2 s; in rows "free"
the share of logs in which any clock is moved by 2 s and more, though markers tell nothing.

Run with `python tests/benchmarks/round_markers.py --seed 1 --logs 60`.
"""

from __future__ import annotations

import argparse

import numpy as np

from audit.antennas.clock_numbers import clock_numbers
from audit.declarations import load_declarations
from audit.models.marker_phase import MarkerPhase
from audit.models.round_weighing import weigh_phases

INTERVALS = (60, 300, 600, 900, 1800, 3600)
BOUNDS = (0.66, 0.8, 0.95)
LEAST_S = 2.0


def _offsets(random: np.random.Generator, kind: str, boxes: int, every: float) -> np.ndarray:
    if kind == "free":
        return random.uniform(-every / 2, every / 2, boxes)
    if kind == "even":
        return random.uniform(-every / 3, every / 3, boxes)
    share, sd = kind.split()
    off = random.normal(0, float(sd), boxes)
    return np.where(random.random(boxes) < float(share), off, random.normal(0, 0.3, boxes))


def _cell(random: np.random.Generator, kind: str, boxes: int, every: float, logs: int) -> str:
    limits = clock_numbers(load_declarations()).rounds
    good, asked = np.zeros(len(BOUNDS)), 0
    for _ in range(logs):
        off = _offsets(random, kind, boxes, every)
        beside = (off + every / 2) % every - every / 2
        found = weigh_phases([MarkerPhase(float(one), every) for one in beside], limits)
        p, told = np.array(found.p), beside - np.array(found.shift_s)
        as_logged = max(0.0, 1 - found.p_round - found.p_together)
        for nr, sure in enumerate(BOUNDS):
            taken = (p >= limits.least) & (p >= sure * (p + as_logged))
            if kind == "free":
                good[nr] += (taken & (np.abs(told) >= LEAST_S)).any()
            else:
                good[nr] += (taken & (np.abs(off) >= LEAST_S) & (np.abs(told - off) < LEAST_S)).sum()
        asked += 1 if kind == "free" else int((np.abs(off) >= LEAST_S).sum())
    return "/".join(f"{one:.2f}" for one in good / max(asked, 1))


def main() -> None:
    """Print the table."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--logs", type=int, default=60)
    asked.add_argument("--boxes", type=int, nargs="+", default=[1, 2, 4, 8])
    args = asked.parse_args()
    seed, logs = args.seed, args.logs
    random = np.random.default_rng(seed)
    print(f"bounds {BOUNDS}; clocks off: share and standard deviation in seconds")
    print(f"{'boxes':>5} {'off':17}" + "".join(f"{every:>17} s" for every in INTERVALS))
    for boxes in args.boxes:
        for kind in ("1 10", "1 60", "1 200", "0.5 60", "even", "free"):
            cells = [_cell(random, kind, boxes, float(every), logs) for every in INTERVALS]
            print(f"{boxes:5} {kind:17}" + "".join(f"{one:>19}" for one in cells), flush=True)


if __name__ == "__main__":
    main()
