"""Hold what was said of a log against what was true."""

from __future__ import annotations

import csv
import json
from collections import defaultdict
from dataclasses import dataclass, field
from datetime import datetime
from typing import TYPE_CHECKING, Any

import numpy as np
from logfiles import START

if TYPE_CHECKING:
    from pathlib import Path

NEAR = 30.0
DAY = 86_400.0


@dataclass(slots=True)
class Verdict:
    """How one log came out."""

    scenario: str
    variant: str
    single: bool
    true: int = 0
    heard: int = 0
    said: int = 0
    right: int = 0
    right_heard: int = 0
    stated: list[tuple[float, bool]] = field(default_factory=list)
    missed: list[tuple[Any, ...]] = field(default_factory=list)
    invented: list[tuple[Any, ...]] = field(default_factory=list)
    dead: list[tuple[bool, bool]] = field(default_factory=list)  # both antennas, missed
    dead_invented: list[tuple[Any, ...]] = field(default_factory=list)
    antenna_nights: int = 0
    clock: list[float] = field(default_factory=list)  # s, what is left at the ends of each piece


def f1(some: list[Verdict], *, heard: bool = True) -> float:
    """F1 over passages of which anything was heard, or over all."""
    true = sum(one.heard + one.right - one.right_heard if heard else one.true for one in some)
    return 2 * sum(one.right for one in some) / max(1, true + sum(one.said for one in some))


def _seconds(text: str) -> float:
    return (datetime.fromisoformat(text).replace(tzinfo=None) - START).total_seconds()


def _rows(path: Path) -> list[dict[str, str]]:
    if not path.exists():
        return []
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def _alone(said: list[float], true: list[float]) -> tuple[set[int], set[int]]:
    """Pair moments one to one, nearest first; return who remains alone on both sides."""
    pairs = sorted(
        (abs(a - true[j]), i, j)
        for i, a in enumerate(said)
        for j in range(np.searchsorted(true, a - NEAR), np.searchsorted(true, a + NEAR, side="right"))
    )
    one, two = set(range(len(said))), set(range(len(true)))
    for _, i, j in pairs:
        if i in one and j in two:
            one.discard(i)
            two.discard(j)
    return one, two


def judge(place: Path, out: Path) -> Verdict:
    """Judge one log; passages without a direction count as not told."""
    facts = json.loads((place / "truth.json").read_text(encoding="utf-8"))
    result = Verdict(facts["scenario"], facts["variant"], facts["single"])
    true, said = defaultdict(list), defaultdict(list)
    for row in _rows(place / "moves.csv"):
        if row["kind"] in {"in", "out"}:
            true[row["box"], row["tag"], row["kind"]].append((_seconds(row["at"]), int(row["heard"])))
    for row in _rows(out / "passages.csv"):
        if row["direction"] in {"in", "out"}:
            told = (_seconds(row["passage_at"]), float(row["p"]), row["how"])
            said[row["box"], row["tag"], row["direction"]].append(told)
    for key in sorted(set(true) | set(said)):
        ours, theirs = sorted(said[key]), sorted(true[key])
        gone, lost = _alone([one[0] for one in ours], [one[0] for one in theirs])
        result.said += len(ours)
        result.true += len(theirs)
        result.heard += sum(one[1] > 0 for one in theirs)
        result.right += len(ours) - len(gone)
        result.right_heard += sum(one[1] > 0 for j, one in enumerate(theirs) if j not in lost)
        result.stated += [(one[1], i not in gone) for i, one in enumerate(ours)]
        result.invented += [(*key, *ours[i]) for i in sorted(gone)]
        result.missed += [(*key, *theirs[j]) for j in sorted(lost) if theirs[j][1]]
    _judge_health(out, facts, result)
    _judge_clocks(out, facts, result)
    return result


def _judge_health(out: Path, facts: dict[str, Any], result: Verdict) -> None:
    result.antenna_nights = 2 * facts["boxes"] * facts["nights"]
    told = [
        (row["box"], row["antenna"], _seconds(row["from"]), _seconds(row["to"]))
        for row in _rows(out / "antenna_health.csv")
        if row["state"] == "dead"
    ]
    met = set()
    for box, antenna, start, end in facts["dead"]:
        a, b = _seconds(start), _seconds(end)
        shared = [min(b, one[3]) - max(a, one[2]) if one[:2] == (box, antenna) else -1.0 for one in told]
        met.update(i for i, long in enumerate(shared) if long > 0)
        both = sum(spell[0] == box and spell[2] == start for spell in facts["dead"]) > 1
        result.dead.append((both, not any(long > 0.5 * (b - a) for long in shared)))
    result.dead_invented = [one for i, one in enumerate(told) if i not in met]


def _judge_clocks(out: Path, facts: dict[str, Any], result: Verdict) -> None:
    """What is left of the error of a clock at both ends of each piece."""
    rows = _rows(out / "logger_clock.csv")
    for box, (offset, drift, step_at, step) in facts["clocks"].items():
        for row in rows:
            if row["box"] != box or not row["offset_s"]:
                continue
            for end, name, inwards in (("from", "offset_s", 5), ("to", "offset_to_s", -5)):
                at = _seconds(row[end]) - offset + inwards
                true = offset + drift * at / DAY + step * (at >= step_at)
                result.clock.append(float(row[name]) - true)
