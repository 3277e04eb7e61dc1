"""Whom do the rules bother on clean seasons of other teams, and what do they see there? Run by hand.

    python tests/benchmarks/other_rounds.py [seeds] [--teams plain,heavy] [--mixed 20] [--show] [--slips]

Prints false alarms (errors and suspects in a clean season) per 1,000 rows by team and by rule, and with
``--slips`` per kind of slip the share found and mended.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter, defaultdict
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from robustness.other_rounds import TEAMS, any_ways, other_season
from slips import plant_slips
from typed_season import typed_season

from audit.checking import check
from audit.declarations import load_declarations
from audit.rules.plain import plain_text
from audit.rules.round import FAULT

MOST = 8


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser()
    parser.add_argument("seeds", type=int, nargs="?", default=3)
    parser.add_argument("--first", type=int, default=1)
    parser.add_argument("--teams", default="")
    parser.add_argument("--mixed", type=int, default=0)
    parser.add_argument("--show", action="store_true")
    parser.add_argument("--slips", action="store_true")
    asked = parser.parse_args()
    declared = load_declarations()
    runs = [
        (name, seed, TEAMS[name])
        for name in (asked.teams.split(",") if asked.teams else TEAMS)
        if name in TEAMS
        for seed in range(asked.first, asked.first + asked.seeds)
    ]
    runs += [("mixed", seed, any_ways(seed)) for seed in range(asked.first, asked.first + asked.mixed)]
    rows: Counter[str] = Counter()
    alarms: dict[str, Counter[str]] = defaultdict(Counter)
    planted_n: Counter[str] = Counter()
    found: Counter[str] = Counter()
    mended: Counter[str] = Counter()
    missed: dict[str, list[str]] = defaultdict(list)
    faults = wrong_cells = blamed_cells = innocent_rows = 0
    bothered: Counter[str] = Counter()
    for name, seed, ways in runs:
        season = other_season(seed, ways)
        report = check(typed_season(declared, **season), schemas=declared)
        rows[name] += len(season["handlings"])
        for part in report.not_run:
            if part.reason.startswith(FAULT):
                faults += 1
                if faults <= MOST:
                    print("FAULT", name, seed, part.rule, part.reason)
        for finding in report.above_notes:
            alarms[name][finding.rule] += 1
            if asked.show:
                cells = " ".join(f"{s.cell.label}:{s.cell.field}" for s in finding.suspects)
                print("clean", name, seed, finding.rule, cells, finding.message)
        if not asked.slips or len(season["handlings"]) < 12:
            continue
        innocent_before = {(s.cell.label, s.cell.field) for f in report.above_notes for s in f.suspects}
        try:
            dirty, planted = plant_slips(season, np.random.default_rng(seed))
        except (KeyError, TypeError, AttributeError):
            continue  # a column that the slips need is absent
        report = check(typed_season(declared, **dirty), schemas=declared)
        blamed = {(s.cell.label, s.cell.field): s.suggested for f in report.above_notes for s in f.suspects}
        key = {(f"handlings!{i + 2}", field) for slip in planted for i, field, _ in slip.cells}
        guilty = {label for label, _ in key}
        blamed_cells += len(set(blamed) - innocent_before)
        wrong_cells += len(set(blamed) & key)
        innocent_rows += len(season["handlings"]) - len(guilty)
        for finding in report.above_notes:
            for s in finding.suspects:
                place = (s.cell.label, s.cell.field)
                if place in key or place in innocent_before:
                    continue
                where = "same row" if s.cell.label in guilty else "innocent row"
                bothered[f"{finding.rule} ({where})"] += 1
                if asked.show:
                    print("dirty", name, seed, where, finding.rule, place, finding.message)
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
                missed[slip.kind].append(f"{name}:{seed}:{slip.cells[0][0] + 2}")
    by_rule: Counter[str] = Counter()
    for name, number in rows.items():
        total = sum(alarms[name].values())
        by_rule.update(alarms[name])
        print(f"{name:<26}{number:>7} rows {1000 * total / max(1, number):>7.2f}  {dict(alarms[name])}")
    total = sum(by_rule.values())
    print(f"{'all':<26}{sum(rows.values()):>7} rows {1000 * total / sum(rows.values()):>7.2f}")
    for rule, number in by_rule.most_common():
        print(f"  {rule:<34}{number:>5}")
    if planted_n:
        for kind, n in planted_n.items():
            print(
                f"{kind:<28}{n:>6}{found[kind] / n:>8.2f}{mended[kind] / n:>8.2f}  "
                f"{' '.join(missed[kind][:5])}"
            )
        n = sum(planted_n.values())
        print(f"{'all':<28}{n:>6}{sum(found.values()) / n:>8.2f}{sum(mended.values()) / n:>8.2f}")
        print(f"precision by cell {wrong_cells / max(1, blamed_cells):.3f}; innocent rows {innocent_rows}")
        for rule, number in bothered.most_common(40):
            print(f"  {rule:<50}{number:>5}")


if __name__ == "__main__":
    main()
