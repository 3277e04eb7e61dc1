"""Logs by somebody who never saw the models: `python tests/benchmarks/antenna_strangers --help`.

The generator was written from what is said of two-antenna logs in words only, before its writer had read any
line of the code that is judged here. It shares no assumption with the generator that the models grew up on.
"""

from __future__ import annotations

import argparse
import tempfile
from collections import Counter, defaultdict
from itertools import pairwise
from pathlib import Path

from acts import LIVES
from hearing import READINGS
from trial import SCENARIOS, Told, trial

BINS = (0.0, 0.5, 0.7, 0.8, 0.9, 0.95, 0.98, 1.0001)


def show(told: list[Told]) -> None:
    """Print the table and what went wrong."""
    print(
        f"{'scenario':9}{'life':10}{'reading':9}{'logs':>5}{'passages':>9}"
        f"{'F1 least':>9}{'F1 all':>8}{'ceiling':>8}{'P':>7}{'R':>7}"
        f"{'dead':>7}{'invented/1000':>14}{'clock s':>9}"
    )
    cells: dict[tuple[str, ...], list[Told]] = defaultdict(list)
    for one in told:
        _, life, reading, scenario = one.name.split()
        cells[scenario, life, reading].append(one)
        cells[scenario, "", ""].append(one)
    for key in sorted(cells, key=lambda one: (SCENARIOS.index(one[0]), one)):
        some = [one for one in cells[key] if not one.failed]
        if not some:
            continue
        total = {
            name: sum(getattr(one, name) for one in some)
            for name in ("truth", "rows", "right", "unheard", "dead", "found", "invented", "awake_nights")
        }
        least = min((one.f1 for one in some if one.truth), default=float("nan"))
        f1 = 2 * total["right"] / max(1, total["truth"] + total["rows"])
        ceiling = 2 * (total["truth"] - total["unheard"]) / max(1, 2 * total["truth"] - total["unheard"])
        clock = max((value for one in some for value in one.clock), default=float("nan"))
        print(
            f"{key[0]:9}{key[1] or '(all)':10}{key[2]:9}{len(some):5}{total['truth']:9}"
            f"{least:9.4f}{f1:8.4f}{ceiling:8.4f}"
            f"{total['right'] / max(1, total['rows']):7.3f}{total['right'] / max(1, total['truth']):7.3f}"
            f"{total['found']:4}/{total['dead']:<3}"
            f"{1000 * total['invented'] / max(1, total['awake_nights']):13.1f}{clock:10.1f}"
        )
    for scenario in SCENARIOS:
        some = [one for one in told if one.name.endswith(scenario)]
        if not some:
            continue
        print(f"\n{scenario}: stated probabilities")
        stated = [pair for one in some for pair in one.stated]
        for low, high in pairwise(BINS):
            inside = [pair for pair in stated if low <= pair[0] < high]
            if inside:
                said, was = (sum(pair[index] for pair in inside) / len(inside) for index in (0, 1))
                print(
                    f"  {low:4.2f}-{min(high, 1):4.2f}  n {len(inside):6}"
                    f"  stated {said:.3f}  right {was:.3f}  {was - said:+.3f}"
                )
        apart: dict[str, list[int]] = defaultdict(lambda: [0, 0])
        for one in some:
            for key, pair in one.apart.items():
                apart[key] = [apart[key][0] + pair[0], apart[key][1] + pair[1]]
        print(
            f"{scenario}: found, by the time to the bird's nearest other passage: "
            + ", ".join(
                f"{key} {apart[key][1] / apart[key][0]:.3f} of {apart[key][0]}"
                for key in ("<10 s", "<20 s", "<30 s", "<60 s", "<120 s", "<600 s", "more")
                if key in apart
            )
        )
        for title, name in (("missed", "misses"), ("told wrongly", "wrong")):
            counts: Counter[str] = Counter()
            for one in some:
                counts += getattr(one, name)
            print(
                f"{scenario}: {title}: "
                + "; ".join(f"{kind} {count}" for kind, count in counts.most_common(12))
            )
    print("\nworst against the ceiling:")
    for one in sorted(told, key=lambda one: one.f1 - one.ceiling)[:15]:
        print(
            f"  {one.name}: F1 {one.f1:.4f}, ceiling {one.ceiling:.4f}, "
            f"{one.truth} passages, {one.reads} reads, wrong {dict(one.wrong.most_common(3))}, "
            f"missed {dict(one.misses.most_common(3))}"
        )
    for one in told:
        if one.failed:
            print(f"FAILED {one.name}: {one.failed}")


def main() -> None:
    """Run what the arguments name."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--seeds", type=int, nargs=2, default=(1, 2), metavar=("FIRST", "AFTER"))
    asked.add_argument("--lives", nargs="*", default=list(LIVES), choices=list(LIVES))
    asked.add_argument("--readings", nargs="*", default=list(READINGS), choices=list(READINGS))
    asked.add_argument("--scenarios", nargs="*", default=list(SCENARIOS), choices=list(SCENARIOS))
    asked.add_argument("--boxes", type=int, nargs=2, default=(3, 6))
    asked.add_argument("--nights", type=int, nargs=2, default=(5, 12))
    asked.add_argument(
        "--forms", action="store_true", help="other separators, stamps and files than the plain one"
    )
    asked.add_argument("--keep", type=Path, help="folder for the logs; else they are thrown away")
    args = asked.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        told = [
            trial(
                seed,
                life,
                reading,
                scenario,
                (args.keep or Path(scratch)) / f"{seed}-{life}-{reading}-{scenario}",
                (tuple(args.boxes), tuple(args.nights)),
                not args.forms,
            )
            for scenario in args.scenarios
            for life in args.lives
            for reading in args.readings
            for seed in range(*args.seeds)
        ]
    show(told)


if __name__ == "__main__":
    main()
