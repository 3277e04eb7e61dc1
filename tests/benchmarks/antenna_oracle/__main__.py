"""How far the passages are from what anybody could tell: run by hand, on the plainest logs there are.

    python tests/benchmarks/antenna_oracle --seeds 100 105

Logs of ``plain_logs`` are judged by the whole command line, and by the exact posterior of ``posterior``
with the true parameters. Both are matched with the truth in the same way (within 30 s; box, tag and
direction right). Where the product falls short of the posterior something can be mended; where the
posterior itself falls short of a goal, nobody can reach it: with one chance to be read a side and
antennas of 0.70 and 0.55 an eighth of all crossings leaves no read at all. "share" is the product's F1
in parts of the posterior's.
"""

from __future__ import annotations

import argparse
import contextlib
import csv
import io
import sys
import tempfile
from collections import defaultdict
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent))

from plain_logs import STARTS, Crossing, Log, Manner, invent
from posterior import WITHIN_S, Told, best

from audit.cli import main as command

GOOD, WEAK = (0.95, 0.93), (0.70, 0.55)
PLAIN = Manner(chances=1, hears=GOOD, looks=0.0, waits_s=(1500, 1500), boxes=3, nights=21, dead_nights=0)
SCENARIOS = {
    "one chance, good": PLAIN,
    "one chance, weak, 3 nights dead": replace(PLAIN, hears=WEAK, dead_nights=3),
    "one chance, weak, 4 passages a night": replace(PLAIN, hears=WEAK, waits_s=(7200, 7200), dead_nights=3),
    "three chances, looks, good": replace(PLAIN, chances=3, looks=0.2),
    "three chances, looks, weak, dead": replace(PLAIN, chances=3, looks=0.2, hears=WEAK, dead_nights=3),
    "two chances, stays of 100 s, weak": replace(PLAIN, chances=2, hears=WEAK, waits_s=(2400, 100)),
}
BINS = (0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 0.98, 0.99)


def main() -> None:
    """Judge logs of all scenarios and print one line for each."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--seeds", type=int, nargs=2, default=[0, 3], metavar=("FROM", "TO"))
    seeds = range(*parser.parse_args().seeds)
    print(f"{'scenario':38} passages  F1 posterior (least)  product (least)  share  calibration errors")
    for name, manner in SCENARIOS.items():
        sums: dict[str, list[tuple[int, int, int]]] = defaultdict(list)
        stated: dict[str, list[tuple[float, bool]]] = defaultdict(list)
        for seed in seeds:
            log = invent(manner, seed)
            told = {"posterior": {key: best(log, *key) for key in log.crossings}, "product": _product(log)}
            for who, passages in told.items():
                counts = np.zeros(3, int)
                for key, true in log.crossings.items():
                    right = _right(true, passages.get(key, []))
                    counts += (len(true), len(right), sum(right))
                    stated[who] += [(t.p, ok) for t, ok in zip(passages.get(key, []), right, strict=True)]
                sums[who].append((int(counts[0]), int(counts[1]), int(counts[2])))
        whole = {who: _f1(*np.sum(parts, axis=0)) for who, parts in sums.items()}
        least = {who: min(_f1(*part) for part in parts) for who, parts in sums.items()}
        print(
            f"{name:38} {sum(part[0] for part in sums['product']):8,}  "
            + "  ".join(f"{whole[who]:12.4f} ({least[who]:.3f})" for who in ("posterior", "product"))
            + f"  {whole['product'] / whole['posterior']:.3f}  "
            + ", ".join(f"{_error(stated[who]):.3f}" for who in ("posterior", "product"))
        )


def _product(log: Log) -> dict[tuple[str, str], list[Told]]:
    """Give what the command line tells."""
    told = defaultdict(list)
    with tempfile.TemporaryDirectory() as folder:
        log.write(Path(folder) / "detections.csv")
        with contextlib.redirect_stdout(io.StringIO()):
            command(["passages", str(Path(folder) / "detections.csv"), "--out", str(Path(folder) / "out")])
        with (Path(folder) / "out" / "passages.csv").open(encoding="utf-8") as file:
            for line in csv.DictReader(file):
                if line["direction"] != "unknown":
                    at = (datetime.fromisoformat(line["passage_at"]) - STARTS).total_seconds()
                    told[line["box"], line["tag"]].append(
                        Told(at, line["direction"] == "in", float(line["p"]))
                    )
    return told


def _right(true: list[Crossing], told: list[Told]) -> list[bool]:
    """Say of each passage told whether it is a true one; each true one counts once, the nearest first."""
    pairs = sorted(
        (abs(crossing.at - passage.at), i, j)
        for j, passage in enumerate(told)
        for i, crossing in enumerate(true)
        if crossing.into == passage.into and abs(crossing.at - passage.at) <= WITHIN_S
    )
    taken: set[int] = set()
    right = [False] * len(told)
    for _, i, j in pairs:
        if i not in taken and not right[j]:
            taken.add(i)
            right[j] = True
    return right


def _f1(true: int, told: int, right: int) -> float:
    return 2 * right / max(1, true + told)


def _error(stated: list[tuple[float, bool]]) -> float:
    """Mean distance of what was stated from what was right, over bins of what was stated."""
    said = np.array([p for p, _ in stated])
    right = np.array([ok for _, ok in stated], float)
    where = np.digitize(said, BINS)
    return float(
        sum(abs(said[where == i].sum() - right[where == i].sum()) for i in np.unique(where))
        / max(1, len(said))
    )


if __name__ == "__main__":
    main()
