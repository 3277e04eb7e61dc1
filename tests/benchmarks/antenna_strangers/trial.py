"""One generated log, put through the command line and held against its truth."""

from __future__ import annotations

import csv
import math
import subprocess
import sys
from collections import Counter, defaultdict
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np
from acts import DAY, LIVES, Act, Round, draw_round, lingering
from hearing import ANTENNAS, Hearing, Log, hear
from logfiles import Form, draw_form, write

if TYPE_CHECKING:
    from pathlib import Path

__all__ = ["SCENARIOS", "Told", "trial"]

SCENARIOS = ("good", "weak", "ghosts", "clock", "crowd", "drawn")
NEAR = 30.0


@dataclass(slots=True)
class Told:
    """What came of one log."""

    name: str
    reads: int = 0
    truth: int = 0
    rows: int = 0
    right: int = 0
    unheard: int = 0
    misses: Counter[str] = field(default_factory=Counter)
    wrong: Counter[str] = field(default_factory=Counter)
    stated: list[tuple[float, bool]] = field(default_factory=list)
    apart: dict[str, list[int]] = field(
        default_factory=lambda: defaultdict(lambda: [0, 0])
    )  # passages, right
    dead: int = 0
    found: int = 0
    invented: int = 0
    awake_nights: float = 0.0
    clock: list[float] = field(default_factory=list)
    failed: str = ""

    @property
    def f1(self) -> float:
        """Passages right over passages told and true."""
        return 2 * self.right / max(1, self.truth + self.rows)

    @property
    def ceiling(self) -> float:
        """F1 of one who knows all but the passages that no antenna heard."""
        return 2 * (self.truth - self.unheard) / max(1, 2 * self.truth - self.unheard)


def _dead(rng: np.random.Generator, world: Round, scenario: str) -> list[tuple[str, str, float, float]]:
    """Spells without power or with a broken coil."""
    if scenario in {"good", "clock", "crowd"}:
        return []
    told: list[tuple[str, str, float, float]] = []
    share = 0.34 if scenario != "drawn" else float(rng.uniform(0, 0.8))
    count = max(1, round(share * len(world.boxes)))
    for box in rng.choice(world.boxes, size=count, replace=False):
        nights = 3 if scenario == "weak" else int(rng.integers(1, 4))
        nights = min(nights, world.nights - 1)
        start = int(rng.integers(0, world.nights - nights + 1)) * DAY + float(rng.uniform(10, 19)) * 3600
        both = scenario == "drawn" and rng.random() < 0.3
        silent = ANTENNAS if both else (str(rng.choice(ANTENNAS)),)
        told += [(str(box), antenna, start, start + nights * DAY) for antenna in silent]
    return told


def _hearing(rng: np.random.Generator, scenario: str, reading: str) -> Hearing:
    heard = (0.95, 0.93)
    if scenario == "weak":
        heard = (0.70, 0.55)
    if scenario == "drawn":
        heard = (float(rng.uniform(0.4, 1)), float(rng.uniform(0.4, 1)))
    sleep = None
    if rng.random() < 0.3:
        sleep = (float(rng.integers(7, 10)), float(rng.integers(15, 19)))
    if scenario == "drawn" and rng.random() < 0.2:
        sleep = (2.0, 5.0)
    marker = float(rng.choice([300, 600, 900, 1200, 1800, 3600]))
    return Hearing(
        reading,
        dict(zip(ANTENNAS, heard, strict=True)),
        float(rng.choice([0.1, 0.25, 0.5])),
        float(rng.uniform(0.5, 3.0)),
        float(rng.uniform(0.3, 2.0)),
        float(rng.choice([1.0, 3.0, 10.0, 20.0])),
        float(rng.choice([2.0, 4.0, 8.0])),
        float(rng.uniform(0.2, 0.8)) if scenario in {"crowd", "drawn"} else 0.0,
        sleep,
        float(rng.uniform(0.002, 0.05)) if scenario in {"ghosts", "drawn"} else 0.0,
        marker if scenario == "clock" or (scenario == "drawn" and rng.random() < 0.5) else None,
    )


def _clocks(
    rng: np.random.Generator, world: Round, marker: float | None
) -> dict[str, tuple[float, float, float, float]]:
    """A clock for each box; the offset stays below half a beat, else nobody could name it."""
    if not marker:
        return {}
    told = {}
    for box in world.boxes:
        most = min(400.0, 0.35 * marker)
        offset = float(rng.uniform(-most, most)) if rng.random() < 0.8 else 0.0
        drift = float(rng.uniform(-3, 3)) if rng.random() < 0.5 else 0.0
        drift = max(-0.1 * marker / world.nights, min(0.1 * marker / world.nights, drift))
        stepped = rng.random() < 0.2
        told[box] = (
            offset,
            drift,
            float(rng.choice([-3600, 3600])) if stepped else 0.0,
            float(rng.uniform(0.2, 0.8)) * world.end,
        )
    return told


def _tags(rng: np.random.Generator, count: int) -> list[int]:
    """Codes of birds: one prefix, a batch in a row or drawn at random."""
    prefix = int(rng.choice([999, 999, int(rng.integers(901, 998))]))
    first = int(rng.integers(1, 274_000_000_000))
    if rng.random() < 0.5:
        return [prefix * 10**12 + first + index for index in range(count)]
    return [prefix * 10**12 + int(one) for one in rng.choice(274_000_000_000, count, replace=False)]


def _rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def _seconds(start: datetime, text: str) -> float:
    return (datetime.fromisoformat(text).replace(tzinfo=None) - start).total_seconds()


def _paired(told: list[float], true: list[float]) -> list[tuple[int, int]]:
    """Pair two sorted lists one to one within `NEAR`: the most pairs there can be."""
    pairs, i, j = [], 0, 0
    while i < len(told) and j < len(true):
        if abs(told[i] - true[j]) <= NEAR:
            pairs.append((i, j))
            i, j = i + 1, j + 1
        elif told[i] < true[j]:
            i += 1
        else:
            j += 1
    return pairs


def _score_passages(told: Told, form: Form, acts: list[Act], log: Log, rows: list[dict[str, str]]) -> None:
    true: dict[tuple[str, int, str], list[Act]] = defaultdict(list)
    near: dict[tuple[str, int], list[Act]] = defaultdict(list)
    for act in sorted(acts, key=lambda one: one.at):
        near[act.box, act.tag].append(act)
        if act.kind in {"in", "out"}:
            true[act.box, act.tag, act.kind].append(act)
    given: dict[tuple[str, int, str], list[tuple[float, float, str]]] = defaultdict(list)
    for row in rows:
        key = (row["box"], int(row["tag"]), row["direction"])
        given[key].append((_seconds(form.start, row["passage_at"]), float(row["p"] or "nan"), row["how"]))
    closest: dict[Act, str] = {}
    for some in near.values():
        passages = [act for act in some if act.kind in {"in", "out"}]
        for index, act in enumerate(passages):
            gap = min(
                (
                    abs(act.at - other.at)
                    for other in passages[max(0, index - 1) : index + 2]
                    if other is not act
                ),
                default=math.inf,
            )
            closest[act] = next((f"<{most} s" for most in (10, 20, 30, 60, 120, 600) if gap < most), "more")
    told.rows, told.truth = len(rows), sum(map(len, true.values()))
    for key in set(true) | set(given):
        mine, theirs = sorted(given.get(key, [])), true.get(key, [])
        pairs = _paired([one[0] for one in mine], [one.at for one in theirs])
        told.right += len(pairs)
        hit, got = {i for i, _ in pairs}, {j for _, j in pairs}
        told.stated += [(one[1], index in hit) for index, one in enumerate(mine)]
        box, tag, direction = key
        others = [
            (one[0], other) for other in ("in", "out", "unknown") for one in given.get((box, tag, other), [])
        ]
        for index, act in enumerate(theirs):
            apart = told.apart[closest.get(act, "alone")]
            apart[0] += 1
            apart[1] += index in got
            heard = log.heard.get(act, set())
            if not heard:
                told.unheard += 1
            if index in got:
                continue
            kind = {0: "unheard", 1: "one antenna", 2: "both antennas"}[len(heard)]
            close = [other for at, other in others if abs(at - act.at) <= NEAR]
            late = min((abs(at - act.at) for at, other in others if other == direction), default=math.inf)
            if "unknown" in close:
                kind += ", told without direction"
            elif close and direction not in close:
                kind += ", other direction told"
            elif NEAR < late < 900:
                kind += ", moment off"
            elif any(
                a is not act and a.kind in {"in", "out"} and abs(a.at - act.at) <= NEAR
                for a in near[box, tag]
            ):
                kind += ", close to another passage"
            told.misses[kind] += 1
        for index, (at, _, how) in enumerate(mine):
            if index in hit:
                continue
            around = [a for a in near.get((box, tag), []) if a.at - NEAR <= at <= a.at + a.lasts + NEAR]
            kinds = {a.kind for a in around}
            if not near.get((box, tag)):
                kind = "no such bird at this box"
            elif kinds & {"in", "out"}:
                kind = "twice told" if direction in kinds else "direction wrong"
            elif kinds & {"look in", "look out"}:
                kind = "look called passage"
            elif "sit" in kinds:
                kind = "sitting called passage"
            else:
                kind = "moment off or invented"
            told.wrong[f"{kind} ({direction}, {how})"] += 1


def _score_health(told: Told, form: Form, world: Round, log: Log, rows: list[dict[str, str]]) -> None:
    dead_rows: dict[tuple[str, str], list[tuple[float, float]]] = defaultdict(list)
    for row in rows:
        if row["state"] == "dead":
            start = _seconds(form.start, row["from"]) if row["from"] else 0.0
            end = _seconds(form.start, row["to"]) if row["to"] else world.end
            dead_rows[row["box"], row["antenna"]].append((start, end))
    for box, antenna, start, end in log.dead:
        until = min(end, world.end)
        told.dead += 1
        shared = sum(max(0.0, min(b, until) - max(a, start)) for a, b in dead_rows[box, antenna])
        told.found += shared >= 0.5 * (until - start)
    for box in world.boxes:
        if not any(one[1] == box for one in log.reads):
            continue
        for antenna in ANTENNAS:
            spells = [one for one in log.dead if one[:2] == (box, antenna)]
            told.awake_nights += (world.end - sum(min(b, world.end) - a for _, _, a, b in spells)) / DAY
            for a, b in dead_rows[box, antenna]:
                shared = sum(max(0.0, min(b, d) - max(a, c)) for _, _, c, d in spells)
                told.invented += shared < 0.5 * (b - a)


def _score_clock(told: Told, form: Form, acts: list[Act], log: Log, rows: list[dict[str, str]]) -> None:
    """How far the moments of both-antenna passages stand from the truth after the clock was put right."""
    true: dict[tuple[str, int, str], list[float]] = defaultdict(list)
    for act in acts:
        true[act.box, act.tag, act.kind].append(act.at)
    off: dict[tuple[str, bool], list[float]] = defaultdict(list)
    for row in rows:
        at = _seconds(form.start, row["passage_at"])
        moments = true.get((row["box"], int(row["tag"]), row["direction"]), [])
        if row["how"] != "both antennas" or not moments:
            continue
        step_at = log.clocks[row["box"]][3]
        best = min((at - one for one in moments), key=abs)
        if abs(best) < 4000:
            off[row["box"], at > step_at].append(best)
    told.clock += [abs(float(np.median(some))) for some in off.values() if len(some) >= 5]


def trial(
    seed: int,
    life: str,
    reading: str,
    scenario: str,
    place: Path,
    sizes: tuple[tuple[int, int], tuple[int, int]],
    plain: bool,
) -> Told:
    """Make a log, have it read, and score what came out."""
    rng = np.random.default_rng([seed, list(LIVES).index(life), SCENARIOS.index(scenario), len(reading)])
    world = draw_round(rng, *sizes)
    if scenario == "weak" and world.nights < 6:
        world = replace(world, nights=6)
    birds = LIVES[life](rng, world, _tags(rng, 20 * len(world.boxes) + 20))
    acts = [act for bird in birds for act in lingering(rng, world, bird)]
    inside = [(a.tag, a.box, a.at) for a in acts if a.kind == "in"]
    homes: dict[int, set[str]] = defaultdict(set)
    for tag, box, _ in inside:
        homes[tag].add(box)
    acts = [
        a for a in acts if 0 < a.at < world.end - 5 and (len(homes[a.tag]) < 2 or a.kind in {"in", "out"})
    ]
    how = _hearing(rng, scenario, reading)
    log = Log(dead=_dead(rng, world, scenario), clocks=_clocks(rng, world, how.marker))
    hear(rng, world, how, acts, log)
    form = draw_form(rng, plain)
    told = Told(f"{seed} {life} {reading} {scenario}", reads=len(log.reads))
    path = write(form, log, place)
    out = place / "out"
    done = subprocess.run(
        [sys.executable, "-m", "audit", "passages", str(path), "--out", str(out)],
        capture_output=True,
        text=True,
        check=False,
    )
    (place / "said.txt").write_text(done.stdout + done.stderr, encoding="utf-8")
    if done.returncode:
        told.failed = (done.stdout + done.stderr).strip()[-300:]
        return told
    rows = _rows(out / "passages.csv")
    _score_passages(told, form, acts, log, rows)
    _score_health(told, form, world, log, _rows(out / "antenna_health.csv"))
    if log.clocks:
        _score_clock(told, form, acts, log, rows)
    with (place / "truth.csv").open("w", encoding="utf-8", newline="") as stream:
        pen = csv.writer(stream)
        pen.writerow(("box", "tag", "kind", "at", "lasts", "heard by"))
        for act in sorted(acts, key=lambda one: one.at):
            clock = form.start + timedelta(seconds=act.at)
            pen.writerow(
                (
                    act.box,
                    act.tag,
                    act.kind,
                    clock,
                    round(act.lasts, 1),
                    " ".join(sorted(log.heard.get(act, ()))),
                )
            )
    (place / "drawn.txt").write_text(
        f"{world}\n{how}\n{form}\ndead {log.dead}\nclocks {log.clocks}\n", encoding="utf-8"
    )
    return told
