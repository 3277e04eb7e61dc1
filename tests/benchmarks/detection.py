"""What the rules see and whom they bother, on invented seasons: run by hand.

    python tests/benchmarks/detection.py [seeds] [--clean]

Prints per kind of slip the share found (a blamed cell among the changed ones), the share mended right, and
how many innocent rows per 1,000 were bothered, with and without slips.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter, defaultdict
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from invented import Style, invented_season
from slips import plant_slips
from typed_season import typed_season

from audit.checking import check
from audit.declarations import load_declarations
from audit.rules.plain import plain_text


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser()
    parser.add_argument("seeds", type=int, nargs="?", default=6)
    parser.add_argument("--first", type=int, default=1000)
    parser.add_argument(
        "--show", default="", help="print findings on innocent rows whose rule starts with this"
    )
    asked = parser.parse_args()
    declared = load_declarations()
    found: Counter[str] = Counter()
    mended: Counter[str] = Counter()
    planted_n: Counter[str] = Counter()
    bothered: Counter[str] = Counter()
    clean_bothered: Counter[str] = Counter()
    innocent = clean_rows = wrong_cells = blamed_cells = 0
    missed: dict[str, list[str]] = defaultdict(list)
    for seed in range(asked.first, asked.first + asked.seeds):
        rng = np.random.default_rng(seed)
        style = Style(
            boxes=int(rng.integers(35, 75)),
            heavy=float(rng.uniform(0.9, 1.18)),
            second_visit=float(rng.uniform(0.2, 0.8)),
            step_g=float(rng.choice([1.0, 1.0, 0.5])),
            bag_g=(float(rng.uniform(12, 20)), float(rng.uniform(28, 45))),
        )
        season = invented_season(seed, style)
        clean = check(typed_season(declared, **season), schemas=declared)
        clean_rows += len(season["handlings"])
        for finding in clean.above_notes:
            clean_bothered[finding.rule] += 1
            if finding.rule.startswith(asked.show or "-"):
                print("clean", seed, finding.rule, finding.message)
        dirty, planted = plant_slips(season, rng)
        report = check(typed_season(declared, **dirty), schemas=declared)
        blamed = {(s.cell.label, s.cell.field): s.suggested for f in report.above_notes for s in f.suspects}
        guilty = {f"handlings!{i + 2}" for slip in planted for i, _, _ in slip.cells}
        key = {(f"handlings!{i + 2}", field) for slip in planted for i, field, _ in slip.cells}
        blamed_cells += len(blamed)
        wrong_cells += len(set(blamed) & key)
        rows_bothered = {
            label for label, _ in blamed if label.startswith("handlings!") and label not in guilty
        }
        innocent += len(season["handlings"]) - len(guilty)
        for finding in report.above_notes:
            for suspect in finding.suspects:
                if suspect.cell.label in rows_bothered:
                    bothered[finding.rule] += 1
                    if finding.rule.startswith(asked.show or "-"):
                        print("dirty", seed, finding.rule, suspect.cell.label, finding.message)
        for slip in planted:
            planted_n[slip.kind] += 1
            hits = [
                blamed[f"handlings!{i + 2}", field] == plain_text(true)
                for i, field, true in slip.cells
                if (f"handlings!{i + 2}", field) in blamed
            ]
            found[slip.kind] += bool(hits)
            mended[slip.kind] += bool(hits) and all(hits)
            if not hits:
                missed[slip.kind].append(f"{seed}:{slip.cells[0][0] + 2}")
    print(f"{'kind':<28}{'planted':>8}{'found':>8}{'mended':>8}  missed at seed:row")
    for kind, n in planted_n.items():
        print(
            f"{kind:<28}{n:>8}{found[kind] / n:>8.2f}{mended[kind] / n:>8.2f}  {' '.join(missed[kind][:4])}"
        )
    total = sum(planted_n.values())
    print(f"{'all':<28}{total:>8}{sum(found.values()) / total:>8.2f}{sum(mended.values()) / total:>8.2f}")
    print(f"precision by cell {wrong_cells / max(1, blamed_cells):.3f}")
    bothers, clean_bothers = sum(bothered.values()) / innocent, sum(clean_bothered.values()) / clean_rows
    print(f"blamed cells in innocent rows, per 1,000 rows: {1000 * bothers:.2f} {dict(bothered)}")
    print(f"findings in clean seasons, per 1,000 rows: {1000 * clean_bothers:.2f} {dict(clean_bothered)}")


if __name__ == "__main__":
    main()
