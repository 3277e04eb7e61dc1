"""Rings and tags of birds met once, twice or three times: how well wrong ones are found. Run by hand.

    python tests/benchmarks/pairing.py [--seasons 12] [--first 1] [--visits 1 2 3] [--misses] [--json FILE]

Seasons of 60 boxes from both generators; 2 % of the rings and 3 % of the tags are wrong by the kinds of slip
that ``schemas/slips.yaml`` declares, and in 1 % of the visits two siblings have each other's ring or tag.
Every season is audited with ring stock, tag stock and download, with the stocks only, and with neither.
Counted is by cell: every ring and tag of the handlings, wrong where it is not that of the bird, flagged where
the audit blames it above a note. Two rivals look at the same cells: rings outside the strings issued, and
codes seen once in a box that was visited at least twice. The figures to reach come from a simulation of its
own of the same scenario (12 seasons, channel of slips known).
"""

from __future__ import annotations

import argparse
import datetime as dt
import json
import os
import sys
from collections import Counter, defaultdict
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

import invented
from benchmarks.planting import Changed, Slip, apply
from benchmarks.scoring import calibration_error, judge_cells, share
from benchmarks.seasons import VARIANTS, Made, Row, Tables, first_season, other_season
from benchmarks.trials import blames_of, declared, label, read_typed
from robustness import other_rounds

from audit.checking import check
from audit.models.ring_number import next_code
from audit.practice.strokes import STROKES, letter_for_digit, pick
from audit.rules.stock import issued_strings

BOXES = 60
RATES = {"ring": 0.02, "tag": 0.03}
SWAPS = 0.01
EVIDENCE: dict[str, tuple[str, ...]] = {
    "stock and download": (),
    "stock only": ("tag_reads",),
    "neither": ("ring_stock", "ring_losses", "tag_stock", "tag_reads"),
}
#: Precision and recall to reach, by visits: with the download or the list of tags known, and without.
REACHED = {
    "known": {1: (1.00, 0.68), 2: (0.90, 0.90), 3: (0.98, 0.98)},
    "unknown": {1: (1.00, 0.32), 2: (0.60, 0.57), 3: (0.95, 0.95)},
}
#: A suspect surer than this is named; less sure ones ask.
NAMED = 0.5
#: Shares above this are written with one more place.
NEARLY = 0.99
#: How far the third visit is from the second, days.
APART = 8


@dataclass(frozen=True)
class Ask:
    """One season to make and audit."""

    seed: int
    generator: str
    visits: int
    evidence: str


def season_of(ask: Ask) -> Made:
    """Make a clean season in which each brood was visited so many times."""
    variant = VARIANTS[0]
    again, third = float(ask.visits > 1), float(ask.visits > 2)
    if ask.generator == "first":
        style = {"boxes": BOXES, "second_visit": again, "kestrels": 0.0, "tits": 0.0}
        made = first_season(ask.seed, replace(variant, style=style))
        if third:
            made = replace(made, tables=_once_more(made))
    else:
        mixed = other_rounds.any_ways(ask.seed)
        without = () if ask.seed % 4 else tuple(name for name in mixed.without if "event" in name)
        ways = {
            "boxes": BOXES,
            "occupied": 0.85,
            "species": {"barn_owl": 1.0},
            "prefix": {"barn_owl": "VW", **mixed.prefix},
            "years": 1,
            "tags": 1.0,
            "tagged_late": 0.0,
            "reader": True,
            "tag_stock": True,
            "missed_reads": min(mixed.missed_reads, 0.1),
            "ring_stock": "bare" if mixed.ring_stock == "none" else mixed.ring_stock,
            "second_visit": again,
            "third_visit": third,
            "trapping": 0,
            "without": without,
        }
        made = other_season(ask.seed, replace(variant, ways=ways), "mixed")
    tables = {name: rows for name, rows in made.tables.items() if name not in EVIDENCE[ask.evidence]}
    return replace(made, tables=tables)


def _once_more(made: Made) -> Tables:
    """Let every brood be met once more, some days after its last visit."""
    rng = np.random.default_rng([made.seed, 3])
    last: dict[str, dt.date] = {}
    for row in made.tables["handlings"]:
        last[row["box"]] = max(last.get(row["box"], row["date"]), row["date"])
    rows = list(made.tables["handlings"])
    reads = list(made.tables.get("tag_reads", []))
    added: list[tuple[Row, dt.datetime]] = []
    for row, truth in zip(made.tables["handlings"], made.truth, strict=True):
        if not truth.pullus or row["date"] != last[row["box"]]:
            continue
        before, after = invented._owl(truth.age), invented._owl(truth.age + APART)
        net = round(row["net_g"] * after[1] / before[1] * (1 + rng.normal(0, 0.02)))
        wing = float(round(row["wing_mm"] * after[0] / before[0] + rng.normal(0, 1.5)))
        day = row["date"] + dt.timedelta(days=APART)
        bag = round(row["bag_g"])
        more = {
            **row,
            "date": day,
            "event": "re-encountered",
            "net_g": net,
            "bag_g": bag,
            "gross_g": net + bag,
            "wing_mm": wing,
        }
        clock = dt.datetime.combine(day, dt.time.fromisoformat(row["time"]))
        added.append((more, clock))
    rows += [row for row, _ in added]
    reads += [
        {"read_at": clock + dt.timedelta(seconds=110), "tag": row["tag"], "reader": "R1"}
        for row, clock in added
        if row["tag"]
    ]
    rows.sort(key=lambda row: (row["date"], row["time"]))
    reads.sort(key=lambda row: row["read_at"])
    return {**made.tables, "handlings": rows, "tag_reads": reads}


# slips


def plant(rows: list[Row], rng: np.random.Generator) -> list[Slip]:
    """Draw wrong rings and tags, and siblings exchanged."""
    slips = []
    taken: set[tuple[int, str]] = set()
    visits: dict[tuple[Any, Any], list[int]] = defaultdict(list)
    for i, row in enumerate(rows):
        visits[row["date"], row["box"]].append(i)
    for among in visits.values():
        field = str(rng.choice(["ring", "tag"]))
        held = [i for i in among if rows[i].get(field)]
        if len(held) < 2 or rng.random() >= SWAPS:
            continue
        one, two = (int(i) for i in rng.choice(held, 2, replace=False))
        cells = tuple(Changed(i, field, rows[i][field], rows[j][field]) for i, j in ((one, two), (two, one)))
        taken |= {(one, field), (two, field)}
        slips.append(Slip("siblings exchanged", "own", cells))
    for field, rate in RATES.items():
        for i, row in enumerate(rows):
            code = row.get(field)
            if not code or (i, field) in taken or rng.random() >= rate:
                continue
            kind, typed = _slip(code, rows[i - 1].get(field) if i else None, rng)
            if typed and typed != code:
                slips.append(Slip(kind, "own", (Changed(i, field, code, typed),)))
    return slips


def _slip(code: str, above: str | None, rng: np.random.Generator) -> tuple[str, str]:
    channel = declared().slips.channel()
    habits = {name: channel.habits[name] for name in ("look_alike", "copied", "filled")}
    hand = 1 - sum(channel.habits.values())
    shares = {**{name: hand * p for name, p in channel.codes.items()}, **habits}
    names = list(shares)
    p = np.array([shares[name] for name in names])
    kind = names[int(rng.choice(len(names), p=p / p.sum()))]
    if kind == "look_alike":
        return kind, letter_for_digit(code, rng, {"O": "0", "I": "1", "S": "5", "B": "8", "Z": "2"})
    if kind == "copied":
        return kind, above or ""
    if kind == "filled":
        return kind, next_code(above) if above else ""
    if kind == "unknown":
        digits = [sign if not sign.isdigit() else pick("0123456789", rng) for sign in code]
        return kind, "".join(digits)
    return kind, STROKES[kind](code, rng)


# one season


def run(ask: Ask) -> dict[str, Any]:
    """Make, spoil, audit and judge one season."""
    made = season_of(ask)
    rows = made.tables["handlings"]
    # the same slips whatever evidence is there
    slips = plant(rows, np.random.default_rng([ask.seed, ask.visits, ask.generator == "first", 41]))
    truth = {(label(c.row), c.field): c.true_text for slip in slips for c in slip.cells}
    kind_of = {(label(c.row), c.field): slip.kind for slip in slips for c in slip.cells}
    season = read_typed(made, apply(rows, slips))
    report = check(season, schemas=declared())
    blames = [blame for blame in blames_of(report) if blame.place[1] in RATES]
    judged = judge_cells(blames, truth, {at for at, _ in truth})
    cells = [
        {
            "at": cell.blame.place[0],
            "field": cell.blame.place[1],
            "rule": cell.blame.rule,
            "wrong": cell.wrong,
            "fixed": cell.fix_right,
            "p": cell.blame.p_error,
            "p_fix": cell.blame.p_fix,
            "suggested": cell.blame.suggested,
            "message": cell.blame.message,
        }
        for cell in judged
    ]
    blamed = {(c["at"], c["field"]) for c in cells}
    counts = {field: sum(bool(row.get(field)) for row in rows) for field in RATES}
    return {
        **{name: getattr(ask, name) for name in ("seed", "generator", "visits", "evidence")},
        "wrong": [
            {
                "at": at,
                "field": field,
                "kind": kind_of[at, field],
                "found": (at, field) in blamed,
                "true": true,
            }
            for (at, field), true in truth.items()
        ],
        "cells": cells,
        "n": counts,
        "rivals": {
            "out of issued range": _outside(season, truth),
            "seen once": _once(made, apply(rows, slips), truth),
        },
    }


def _outside(season: Any, truth: dict[tuple[str, str], str]) -> list[bool] | None:
    """Rings in no string that was issued, of those ringed: whether they are wrong."""
    if not season.has("ring_stock"):
        return None
    from audit.models.ring_number import bare, split_ring

    strings = issued_strings(season)
    frame = season.frame("handlings")
    found = []
    for at, ring in frame["ring"].dropna().items():
        if "event" in frame.columns and frame["event"][at] == "re-encountered" and frame["age"][at] != "1":
            continue
        stem, digits = split_ring(ring)
        if not digits or not any(s.holds((bare(stem), len(digits)), int(digits)) for s in strings):
            found.append((str(at), "ring") in truth)
    return found


def _once(made: Made, typed: list[dict[str, str]], truth: dict[tuple[str, str], str]) -> list[bool] | None:
    """Codes seen once, in boxes visited at least twice: whether they are wrong."""
    days: dict[str, set[Any]] = defaultdict(set)
    for row in made.tables["handlings"]:
        days[row["box"]].add(row["date"])
    found: list[bool] = []
    for field in RATES:
        counts = Counter(row[field] for row in typed if row.get(field))
        found += [
            (label(i), field) in truth
            for i, row in enumerate(typed)
            if row.get(field)
            and counts[row[field]] == 1
            and len(days[made.tables["handlings"][i]["box"]]) > 1
        ]
    return found if any(len(on) > 1 for on in days.values()) else None


# figures


def said(value: float | None) -> str:
    """Write a figure."""
    if value is None:
        return "-"
    return str(value) if isinstance(value, int) else f"{value:.4f}" if value > NEARLY else f"{value:.3f}"


def figures(results: list[dict[str, Any]], fields: tuple[str, ...]) -> dict[str, Any]:
    """Count cells of some columns over many seasons."""
    cells = [c for r in results for c in r["cells"] if c["field"] in fields]
    wrong = [w for r in results for w in r["wrong"] if w["field"] in fields]
    n = sum(r["n"][field] for r in results for field in fields)
    right = sum(c["wrong"] for c in cells)
    named = [c for c in cells if c["p"] > NAMED]
    return {
        "wrong": len(wrong),
        "flagged": len(cells),
        "P": share(right, len(cells)),
        "R": share(sum(w["found"] for w in wrong), len(wrong)),
        "named P": share(sum(c["wrong"] for c in named), len(named)),
        "named R": share(sum(c["wrong"] for c in named), len(wrong)),
        "mended": share(sum(c["fixed"] for c in cells), len(cells)),
        "specificity": 1 - (len(cells) - right) / max(1, n - len(wrong)),
        "ECE": calibration_error([c["p"] for c in cells], [c["wrong"] for c in cells], 10),
    }


def print_all(results: list[dict[str, Any]]) -> None:
    """Print by evidence, visits and column, and the rivals."""
    head = ("wrong", "flagged", "P", "R", "named P", "named R", "mended", "specificity", "ECE")
    generators = ["both", *sorted({r["generator"] for r in results})]
    for generator in generators:
        chosen = [r for r in results if generator in ("both", r["generator"])]
        print(f"\n{generator} generators" if generator == "both" else f"\ngenerator {generator}")
        print(f"{'evidence':20s}{'visits':>7s} {'column':7s}", *(f"{name:>11s}" for name in head))
        for evidence in EVIDENCE:
            for visits in sorted({r["visits"] for r in chosen}):
                group = [r for r in chosen if r["evidence"] == evidence and r["visits"] == visits]
                if not group:
                    continue
                for name, fields in (("both", ("ring", "tag")), ("rings", ("ring",)), ("tags", ("tag",))):
                    if generator != "both" and name != "both":
                        continue
                    found = figures(group, fields)
                    print(
                        f"{evidence:20s}{visits:7d} {name:7s}", *(f"{said(found[key]):>11s}" for key in head)
                    )
                if generator == "both":
                    _print_rivals(group, evidence, visits)
        for evidence in EVIDENCE:
            group = [r for r in chosen if r["evidence"] == evidence]
            if group:
                found = figures(group, ("ring", "tag"))
                print(f"{evidence:20s}{'all':>7s} {'both':7s}", *(f"{said(found[key]):>11s}" for key in head))


def _print_rivals(group: list[dict[str, Any]], evidence: str, visits: int) -> None:
    known = "unknown" if evidence == "neither" else "known"
    p, r = REACHED[known][visits]
    print(f"{'':28s}to reach: P {p:.2f} R {r:.2f}", end="")
    for name in ("out of issued range", "seen once"):
        told = [r["rivals"][name] for r in group if r["rivals"][name] is not None]
        found = [one for some in told for one in some]
        total = sum(len(r["wrong"]) for r in group)
        if told:
            print(
                f"; {name}: P {said(share(sum(found), len(found)))} R {said(share(sum(found), total))}",
                end="",
            )
    print()


def print_misses(results: list[dict[str, Any]]) -> None:
    """List what was missed and who was blamed for nothing."""
    for r in results:
        where = f"{r['generator']} {r['seed']} visits {r['visits']}, {r['evidence']}"
        for wrong in r["wrong"]:
            if not wrong["found"]:
                print(f"{where}: missed {wrong}")
        for cell in r["cells"]:
            if not cell["wrong"]:
                print(f"{where}: blamed {cell}")


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--seasons", type=int, default=12, help="how many seeds for each generator")
    parser.add_argument("--first", type=int, default=1, help="the first seed")
    parser.add_argument("--visits", type=int, nargs="*", default=[1, 2, 3])
    parser.add_argument("--evidence", nargs="*", default=list(EVIDENCE), choices=list(EVIDENCE))
    parser.add_argument("--misses", action="store_true", help="list missed slips and innocent cells blamed")
    parser.add_argument("--json", type=Path, default=None, help="write all cells to this file")
    parser.add_argument("--jobs", type=int, default=min(2, os.cpu_count() or 1))
    asked = parser.parse_args()
    todo = [
        Ask(seed, generator, visits, evidence)
        for seed in range(asked.first, asked.first + asked.seasons)
        for generator in ("first", "other")
        for visits in asked.visits
        for evidence in asked.evidence
    ]
    with ProcessPoolExecutor(asked.jobs) as pool:
        results = list(pool.map(run, todo, chunksize=2))
    print_all(results)
    if asked.misses:
        print_misses(results)
    if asked.json:
        asked.json.write_text(json.dumps(results) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
