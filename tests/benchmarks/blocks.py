"""What the audit makes of one slip in a whole block: exchanged, slid, under another box or date. Run by hand.

    python tests/benchmarks/blocks.py [--seeds 6] [--first 1] [--kinds tag.page ...] [--misses] [--jobs 2]

One block slip per season, seasons of both generators with and without what may tell. Nothing is asserted.
"""

from __future__ import annotations

import argparse
import datetime as dt
import sys
import zlib
from collections import defaultdict
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from benchmarks.scoring import same_value
from benchmarks.seasons import VARIANTS, first_season
from benchmarks.seasons import other_season as made_other
from benchmarks.trials import blames_of, declared, label, read_typed
from robustness.other_rounds import TEAMS

from audit.checking import check
from audit.rules.plain import plain_text

if TYPE_CHECKING:
    from collections.abc import Callable

    from benchmarks.seasons import Made

Texts = list[dict[str, str]]
#: Row, column, text.
Change = tuple[int, str, str]

PAGE = (10, 25)
LACKING = ("all tables", "without download", "one visit", "without visits", "handlings alone")


@dataclass(frozen=True)
class Page:
    """Rows of one visit that stand together, and whether it is the first one of its brood."""

    rows: tuple[int, ...]
    day: str
    box: str
    later: bool


def visits_of(rows: Texts) -> list[Page]:
    """Part a sheet into visits, in sheet order."""
    parts: list[list[int]] = []
    for i, row in enumerate(rows):
        if not row["box"] or not row["date"]:
            continue
        last = rows[parts[-1][-1]] if parts and parts[-1][-1] == i - 1 else {}
        if last.get("box") == row["box"] and last.get("date") == row["date"]:
            parts[-1].append(i)
        else:
            parts.append([i])
    young = [[i for i in part if rows[i].get("age", "1") == "1"] for part in parts]
    return [
        Page(
            tuple(part),
            rows[part[0]]["date"],
            rows[part[0]]["box"],
            sum(rows[i].get("event") == "re-encountered" for i in nestlings) * 2 > len(nestlings),
        )
        for part, nestlings in zip(parts, young, strict=True)
    ]


def pages_of(rows: Texts) -> list[tuple[int, ...]]:
    """Rows of one day that stand together and cross from box to box."""
    found: list[list[Page]] = []
    for visit in visits_of(rows):
        if found and found[-1][-1].day == visit.day and found[-1][-1].rows[-1] + 1 == visit.rows[0]:
            found[-1].append(visit)
        else:
            found.append([visit])
    return [
        tuple(i for visit in day for i in visit.rows)[: PAGE[1]]
        for day in found
        if len(day) > 1 and sum(len(visit.rows) for visit in day) >= PAGE[0]
    ]


def _crossed(rows: Texts, rng: np.random.Generator, *, name: str, n: int, later: bool) -> list[Change]:
    for k in rng.permutation(len(every := visits_of(rows))):
        held = [i for i in every[k].rows if rows[i].get(name)]
        if every[k].later == later and len({rows[i][name] for i in held}) >= max(n, 2):
            chosen = [held[j] for j in rng.permutation(len(held))[:n]]
            return [(i, name, rows[j][name]) for i, j in zip(chosen, [*chosen[1:], chosen[0]], strict=True)]
    return []


def _slid(rows: Texts, rng: np.random.Generator, *, name: str, wide: bool, how: str) -> list[Change]:
    down, end = how.split()
    parts = pages_of(rows) if wide else [visit.rows for visit in visits_of(rows)]
    for k in rng.permutation(len(parts)):
        part = list(parts[k])
        start = int(rng.integers(0, max(len(part) - (5 if wide else 2), 1)))
        part = part[start:]
        texts = [rows[i].get(name, "") for i in part]
        if len(set(filter(None, texts))) < (5 if wide else 3):
            continue
        left = {
            "empty": "",
            "doubled": texts[0 if down == "down" else -1],
            "wrapped": texts[-1 if down == "down" else 0],
        }
        moved = [left[end], *texts[:-1]] if down == "down" else [*texts[1:], left[end]]
        return [(i, name, new) for i, new, old in zip(part, moved, texts, strict=True) if new != old]
    return []


def _other_box(rows: Texts, rng: np.random.Generator, *, near: bool) -> list[Change]:
    boxes = sorted({row["box"] for row in rows if row["box"]})
    for k in rng.permutation(len(every := visits_of(rows))):
        visit = every[k]
        at = boxes.index(visit.box)
        if near:
            labels = [boxes[j] for j in (at - 1, at + 1) if 0 <= j < len(boxes)]
        else:
            labels = [
                b for b in boxes if len(b) == len(visit.box) and sum(map(str.__ne__, b, visit.box)) == 1
            ]
        labels = [b for b in labels if not any(v.box == b and v.day == visit.day for v in every)]
        if len(visit.rows) > 1 and labels:
            return [(i, "box", labels[0]) for i in visit.rows]
    return []


def _other_date(rows: Texts, rng: np.random.Generator, *, how: str) -> list[Change]:
    days = sorted({row["date"] for row in rows if row["date"]})
    for k in rng.permutation(len(every := visits_of(rows))):
        visit = every[k]
        day = dt.date.fromisoformat(visit.day)
        if how == "off":
            meant = [(day + dt.timedelta(days=int(rng.choice([-1, 1])))).isoformat()]
        elif how == "turned":
            meant = [dt.date(day.year, day.day, day.month).isoformat()] if day.day <= 12 else []
        else:
            meant = [days[int(rng.integers(0, len(days)))]]
        meant = [
            m for m in meant if m != visit.day and not any(v.day == m and v.box == visit.box for v in every)
        ]
        if len(visit.rows) > 1 and meant:
            return [(i, "date", meant[0]) for i in visit.rows]
    return []


def _two_broods(rows: Texts, rng: np.random.Generator) -> list[Change]:
    every = visits_of(rows)
    for k in rng.permutation(len(every)):
        one = every[k]
        for other in every:
            same = other.day == one.day and other.box != one.box
            if same and min(len(one.rows), len(other.rows)) > 1:
                return [
                    *((i, "box", other.box) for i in one.rows),
                    *((i, "box", one.box) for i in other.rows),
                ]
    return []


KINDS: dict[str, Callable[[Texts, np.random.Generator], list[Change]]] = {
    **{
        f"{name} exchanged {when}": partial(_crossed, name=name, n=2, later=when == "later")
        for name in ("tag", "ring")
        for when in ("first", "later")
    },
    **{f"{name} cycle": partial(_crossed, name=name, n=3, later=False) for name in ("tag", "ring")},
    **{
        f"{name} brood {how}": partial(_slid, name=name, wide=False, how=how)
        for name in ("tag", "ring")
        for how in ("down empty", "down doubled", "down wrapped", "up empty", "up doubled", "up wrapped")
    },
    **{
        f"{name} page {how}": partial(_slid, name=name, wide=True, how=how)
        for name in ("tag", "ring", "net_g", "wing_mm", "gross_g", "bag_g")
        for how in ("down empty", "down doubled", "up empty", "up doubled")
    },
    "box neighbour": partial(_other_box, near=True),
    "box one slip": partial(_other_box, near=False),
    "date a day off": partial(_other_date, how="off"),
    "date turned": partial(_other_date, how="turned"),
    "date another": partial(_other_date, how="other"),
    "broods exchanged": _two_broods,
}


@dataclass
class Told:
    """What was made of one block."""

    kind: str
    variant: str
    team: str
    seed: int
    cells: int
    found: bool
    whole: bool
    right: float
    findings: int
    innocent: int
    graded: list[tuple[float, bool]] = field(default_factory=list)
    messages: list[str] = field(default_factory=list)


def run(task: tuple[str, str, str, int]) -> Told | None:
    """Make, spoil and audit one season."""
    kind, variant_name, team, seed = task
    variant = next(v for v in VARIANTS if v.name == variant_name)
    made: Made = first_season(seed, variant) if team == "invented" else made_other(seed, variant, team)
    rows = [{k: plain_text(v) for k, v in row.items()} for row in made.tables["handlings"]]
    rng = np.random.default_rng([seed, zlib.crc32(f"{kind}{team}".encode())])
    try:
        changes = KINDS[kind](rows, rng)
    except KeyError:
        return None
    if not changes:
        return None
    clean = {b.place for b in blames_of(check(read_typed(made, rows), schemas=declared()))}
    truth = {(label(i), name): rows[i].get(name, "") for i, name, _ in changes}
    typed = [dict(row) for row in rows]
    for i, name, text in changes:
        typed[i][name] = text
    report = check(read_typed(made, typed), schemas=declared())
    blames = [b for b in blames_of(report) if b.place not in clean or b.place in truth]
    groups: dict[tuple[str, str], list[Any]] = defaultdict(list)
    for blame in blames:
        groups[blame.group, blame.message].append(blame)
    hit = {b.place for b in blames if b.place in truth}
    right, best = 0.0, 0.0
    for cells in groups.values():
        said = {c.place: c for c in cells if c.place in truth}
        best = max(best, len(said) / len(truth))
        good = [p for p, c in said.items() if truth[p] and same_value(c.suggested, truth[p])]
        n = sum(bool(t) for t in truth.values())
        right = max(right, len(good) / max(n, 1))
    touching = {key[0] for key, cells in groups.items() if any(c.place in truth for c in cells)}
    last: dict[Any, float] = {}
    for b in blames:
        last[b.place] = max(last.get(b.place, 0.0), b.p_error)
    faults = [part.reason for part in report.not_run if "failed here" in part.reason]
    said = [
        f"{sum(c.place in truth for c in cells)}/{len(cells)} {cells[0].rule}: {key[1]}"
        for key, cells in groups.items()
    ]
    return Told(
        kind,
        variant_name,
        team,
        seed,
        len(truth),
        bool(hit),
        best >= 0.9 and right >= 0.7,
        right,
        len(touching),
        len({b.place for b in blames} - truth.keys()),
        [(p, place in truth) for place, p in last.items()],
        [*faults, *said],
    )


def tasks(first: int, seeds: int, kinds: list[str], lacking: list[str]) -> list[tuple[str, str, str, int]]:
    """Deal kinds and variants over both generators."""
    teams = list(TEAMS)
    dealt = []
    for kind in KINDS:
        if kinds and not any(kind.startswith(k) for k in kinds):
            continue
        for turn, variant in enumerate(lacking):
            for seed in range(first, first + seeds):
                at = (seed * 17 + turn * 31 + zlib.crc32(kind.encode())) % len(teams)
                dealt += [(kind, variant, "invented", seed), (kind, variant, teams[at], seed)]
    return dealt


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--seeds", type=int, default=4)
    parser.add_argument("--first", type=int, default=1)
    parser.add_argument("--kinds", nargs="*", default=[])
    parser.add_argument("--lacking", nargs="*", default=list(LACKING))
    parser.add_argument("--misses", action="store_true")
    parser.add_argument("--by-variant", action="store_true")
    parser.add_argument("--jobs", type=int, default=2)
    asked = parser.parse_args()
    todo = tasks(asked.first, asked.seeds, asked.kinds, asked.lacking)
    if asked.jobs == 1:
        told = [one for task in todo if (one := run(task))]
    else:
        with ProcessPoolExecutor(asked.jobs) as pool:
            told = [one for one in pool.map(run, todo, chunksize=8) if one]
    _print(told, by_variant=asked.by_variant)
    for one in told if asked.misses else ():
        if not one.whole or one.innocent:
            print(f"\n{one.kind}, {one.variant}, {one.team} {one.seed}: {one.cells} cells")
            print(*(f"    {message}" for message in one.messages), sep="\n")


def _print(told: list[Told], *, by_variant: bool) -> None:
    names = ("n", "cells", "found", "whole", "right", "findings", "innocent")
    print(f"{'kind':28}{'lacking':18}", *(f"{name:>8}" for name in names))
    for kind, variant in dict.fromkeys((one.kind, one.variant if by_variant else "") for one in told):
        some = [one for one in told if one.kind == kind and variant in ("", one.variant)]
        figures = [
            np.mean([one.cells for one in some]),
            *(np.mean([getattr(one, name) for one in some]) for name in ("found", "whole", "right")),
            np.mean([one.findings for one in some if one.found] or [0]),
            np.mean([one.innocent for one in some]),
        ]
        print(f"{kind:28}{variant:18} {len(some):8}", *(f"{figure:8.2f}" for figure in figures))
    graded = [pair for one in told for pair in one.graded]
    chance, wrong = np.array([p for p, _ in graded]), np.array([w for _, w in graded])
    for low in np.arange(0, 1, 0.2):
        at = (chance > low) & (chance <= low + 0.2)
        if at.any():
            said, was = chance[at].mean(), wrong[at].mean()
            print(f"p_error to {low + 0.2:.1f}: n {at.sum()}, said {said:.2f}, wrong {was:.2f}")


if __name__ == "__main__":
    main()
