"""What the audit sees, names and mends, and whom it bothers, on invented seasons. Run by hand.

    python tests/benchmarks/detection.py [--quick] [--seeds 40] [--first 1] [--misses] [--json FILE]
        [--out DIR]

Seasons come from both generators in variants that lack some evidence, slips from both generators of slips
at several rates, and clean seasons stand beside them. Nothing is asserted about time. Which slips evidence
in the sheet can show is answered by ``visibility.py`` from what the generator knew. Needs
``pip install -e '.[bench]'`` and ``pip install --no-deps tab-err`` (which asks for an older pandas than it
needs).
"""

from __future__ import annotations

import argparse
import json
import os
import sys
from concurrent.futures import ProcessPoolExecutor
from importlib.util import find_spec
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from benchmarks.figures import figures_of
from benchmarks.printing import print_figures, print_misses
from benchmarks.reliability import draw
from benchmarks.trials import run_trial, tasks

QUICK, FULL = 8, 60
INSTALL = "type: pip install -e '.[bench]' && pip install --no-deps tab-err"


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--quick", action="store_true", help="about a minute")
    parser.add_argument("--seeds", type=int, default=None, help="how many seeds; each makes nine seasons")
    parser.add_argument("--first", type=int, default=1, help="the first seed")
    parser.add_argument("--misses", action="store_true", help="list missed slips and innocent cells blamed")
    parser.add_argument("--json", type=Path, default=None, help="write all figures to this file")
    parser.add_argument("--out", type=Path, default=None, help="folder for the reliability plot")
    parser.add_argument("--jobs", type=int, default=min(2, os.cpu_count() or 1))
    asked = parser.parse_args()
    absent = [name for name in ("sklearn", "tab_err") if find_spec(name) is None]
    if absent:
        parser.exit(2, f"{' and '.join(absent)} cannot be imported; {INSTALL}\n")
    seeds = asked.seeds or (QUICK if asked.quick else FULL)
    todo = tasks(asked.first, seeds)
    print(f"seeds {asked.first} to {asked.first + seeds - 1}: {len(todo)} seasons")
    with ProcessPoolExecutor(asked.jobs) as pool:
        trials = list(pool.map(run_trial, todo, chunksize=4))
    figures = figures_of(trials)
    print_figures(figures)
    if asked.misses:
        print_misses(trials)
    if asked.out:
        print("\nplots:", *draw(figures, asked.out))
    if asked.json:
        asked.json.parent.mkdir(parents=True, exist_ok=True)
        asked.json.write_text(json.dumps(figures, indent=1, default=str) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
