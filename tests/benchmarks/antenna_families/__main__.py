"""Families followed through their season: `python tests/benchmarks/antenna_families --help`.

Pairs feed broods of one to eight, the young grow, sit in the entrance, fly and come home to rest, over 10 to
60 nights; readers try every 0.1 to 2 s, or store one read of a spell. Three conceptions of a bird and three
of a reader, so that no one assumption decides. Written from what is said of two-antenna logs in words only,
before its writer had read any line of the code that is judged here.
"""

from __future__ import annotations

import argparse
import shutil
import subprocess
import sys
import tempfile
from itertools import pairwise
from pathlib import Path

import by_bouts
import by_chain
import by_nights
import faults as trouble
import numpy as np
import reading
from judging import Verdict, f1, judge
from lives import DAY
from logfiles import write_log, write_truth
from rounds import SCENARIOS, VARIANTS, draw_round

BINS = (0.0, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 0.99, 1.0001)


def make(place: Path, seed: int) -> Path:
    """Make the log of a seed and its truth in a new folder; return the log."""
    this = draw_round(seed)
    rng = np.random.default_rng([seed, 78])
    if this.variant == "chain":
        reads = reading.by_places(rng, this, by_chain.live(rng, this))
    elif this.variant == "nights":
        by_nights.live(rng, this)
        reads = reading.by_polling(rng, this)
    else:
        by_bouts.live(rng, this)
        reads = reading.by_counts(rng, this)
    for box in this.boxes:
        for bird in box.birds:
            bird.moves = [move for move in bird.moves if 0 <= move.at < this.nights * DAY]
    reads = [read for read in reading.hold_off(reads, this) if 0 <= read[0] < this.nights * DAY]
    faults = trouble.plan(rng, this)
    reads += trouble.marker_reads(rng, this, faults) + trouble.ghost_reads(rng, this, faults)
    reads = sorted(trouble.silence(reads, faults))
    shutil.rmtree(place, ignore_errors=True)
    place.mkdir(parents=True)
    log = write_log(place, reads, this, faults, rng)
    write_truth(place, this, faults, reads)
    return log


def trial(place: Path, seed: int) -> Verdict | None:
    """Make a log, have it read and judge what came out; nothing where it was refused."""
    log = make(place, seed)
    done = subprocess.run(
        [sys.executable, "-m", "audit", "passages", str(log), "--out", str(place / "out")],
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode:
        print(f"{seed}: refused: {done.stderr.strip()[-300:]}")
        return None
    return judge(place, place / "out")


def show(found: list[Verdict]) -> None:
    """Print what came out, by scenario."""
    for scenario in SCENARIOS:
        own = [one for one in found if one.scenario == scenario]
        if not own:
            continue
        each = [f1([one]) for one in own]
        print(
            f"{scenario}: {len(own)} logs, F1 of what was heard at all {f1(own):.4f}, "
            f"of all {f1(own, heard=False):.4f}; a log {np.median(each):.4f}, least {min(each):.4f}"
        )
        for variant in VARIANTS:
            some = [one for one in own if one.variant == variant]
            for single in (False, True):
                here = [one for one in some if one.single == single]
                if here:
                    kind = "one read a spell" if single else "many reads"
                    print(f"  {variant}, {kind}: {f1(here):.4f} of {sum(one.heard for one in here)}")
        stated = np.array([pair for one in own for pair in one.stated], dtype=float).reshape(-1, 2)
        for low, high in pairwise(BINS):
            here = stated[(stated[:, 0] >= low) & (stated[:, 0] < high)]
            if len(here):
                said, true = here.mean(axis=0)
                print(
                    f"  stated {low:.2f} to {min(high, 1):.2f}: {len(here)} of {said:.3f}, right {true:.3f}"
                )
        for both, word in ((False, "one antenna"), (True, "both antennas")):
            dead = [lost for one in own for spell, lost in one.dead if spell == both]
            if dead:
                print(f"  dead spells of {word}: {len(dead) - sum(dead)} of {len(dead)} found")
        nights = sum(one.antenna_nights for one in own)
        print(
            f"  dead spells invented: {sum(len(one.dead_invented) for one in own)} in {nights} antenna-nights"
        )
        clock = np.abs([left for one in own for left in one.clock])
        if clock.size:
            print(
                f"  clock off by {np.median(clock):.2f} s at the median, {np.mean(clock <= 2):.3f} within 2 s"
            )


def main() -> None:
    """Run what the arguments name."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--seeds", type=int, nargs=2, default=(1000, 1015), metavar=("FIRST", "AFTER"))
    asked.add_argument("--keep", type=Path, help="folder for the logs; else they are thrown away")
    args = asked.parse_args()
    found = []
    with tempfile.TemporaryDirectory() as scratch:
        for seed in range(*args.seeds):
            one = trial((args.keep or Path(scratch)) / f"{seed:05d}", seed)
            if one is None:
                continue
            found.append(one)
            print(
                f"{seed} {one.scenario} {one.variant}: F1 {f1([one]):.4f}, {one.heard} heard, "
                f"{one.said} told, {len(one.missed)} missed, {len(one.invented)} invented",
                flush=True,
            )
    show(found)


if __name__ == "__main__":
    main()
