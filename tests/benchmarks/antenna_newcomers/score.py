"""How well passages, dead spells and clocks are told of logs that were made apart from the program.

    python tests/benchmarks/antenna_newcomers/score.py --seeds 0 30

A told passage is right when the same bird went the same way through the same box within 30 s. Passages while
the reader slept, or both antennas were dead, are not asked for. ``limit`` is the share of the others that was
heard at all, or stands between two heard ones within a minute: what could be told. Of logs without a marker
nothing tells the clock, and moments are compared as logged.
"""

from __future__ import annotations

import argparse
import tempfile
from collections import defaultdict
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from lives import SPECIES
from make import KINDS, make

import audit

if TYPE_CHECKING:
    import pandas as pd
    from make import Log

_SLACK_S = 30.0
_DAY = 86_400.0
_BINS = (0.0, 0.5, 0.7, 0.85, 0.95, 0.99, 1.01)


@dataclass(slots=True)
class Score:
    """Counts of some logs."""

    logs: int = 0
    asked: int = 0
    could: int = 0
    told: int = 0
    right: int = 0
    met: int = 0
    sure: list[tuple[float, bool]] = field(default_factory=list)
    dead: int = 0
    found: int = 0
    unknown: int = 0
    invented: int = 0
    moments: int = 0
    on_time: int = 0

    def join(self, other: Score) -> None:
        """Add what was counted elsewhere."""
        for name in self.__slots__:
            setattr(self, name, getattr(self, name) + getattr(other, name))

    @property
    def f1(self) -> float:
        """Of passages told in a direction."""
        precision, recall = self.right / max(self.told, 1), self.met / max(self.asked, 1)
        return 2 * precision * recall / max(precision + recall, 1e-9)

    def gaps(self) -> list[tuple[int, float]]:
        """By stated probability: how many, and the share that was right less what was stated."""
        stated = np.array([p for p, _ in self.sure])
        right = np.array([one for _, one in self.sure], bool)
        bins = np.digitize(stated, _BINS) - 1
        chosen = [bins == one for one in np.unique(bins)]
        return [(int(one.sum()), float(right[one].mean() - stated[one].mean())) for one in chosen]

    def line(self, name: str) -> str:
        """One line of the table."""
        worst = max((abs(gap) for number, gap in self.gaps() if number >= 100), default=0.0)
        return (
            f"{name:<16}{self.logs:>5}{self.asked:>8}{self.f1:>8.4f}"
            f"{self.right / max(self.told, 1):>8.4f}{self.met / max(self.asked, 1):>8.4f}"
            f"{self.could / max(self.asked, 1):>8.4f}{worst:>7.3f}"
            f"{self.found:>6}/{self.dead}{self.unknown:>5}{self.invented:>5}"
            f"{self.on_time:>8}/{self.moments}"
        )


_HEAD = (
    f"{'':<16}{'logs':>5}{'asked':>8}{'F1':>8}{'right':>8}{'met':>8}{'limit':>8}{'gap':>7}"
    f"{'dead':>8}{'unkn':>5}{'inv':>5}{'clock':>9}"
)


def _seconds(column: pd.Series) -> np.ndarray:
    since = column.to_numpy("datetime64[ms]") - np.datetime64("2026-06-01T00:00:00.000", "ms")
    return np.asarray(since.astype(np.int64) / 1000)


def _match(told: np.ndarray, spans: list[tuple[float, float]]) -> list[int]:
    """For each told moment the passage that it is, or -1: in order, each passage once."""
    free = 0
    matched = []
    for moment in told.tolist():
        while free < len(spans) and spans[free][1] + _SLACK_S < moment:
            free += 1
        if free < len(spans) and spans[free][0] - _SLACK_S <= moment:
            matched.append(free)
            free += 1
        else:
            matched.append(-1)
    return matched


def _of_passages(score: Score, log: Log, table: pd.DataFrame) -> None:
    table = table[table["direction"] != "unknown"].assign(at=lambda t: _seconds(t["passage_at"]))
    truth = defaultdict(list)
    for one in log.crossings:
        shift = 0.0 if log.reader.marker_s else float(log.off(one.box, np.array([one.begin]))[0])
        way = "in" if one.inwards else "out"
        truth[one.box, one.tag, way].append((one.begin + shift, one.end + shift, one))
    told = dict(tuple(table.sort_values("at").groupby(["box", "tag", "direction"])))
    for key in sorted(truth.keys() | told.keys()):
        spans = truth.get(key, [])
        score.asked += sum(one.listening for _, _, one in spans)
        score.could += sum(one.listening and (one.heard or one.forced) for _, _, one in spans)
        lines = told.get(key, table[:0])
        matched = _match(lines["at"].to_numpy(), [(a, b) for a, b, _ in spans])
        score.met += sum(at >= 0 and spans[at][2].listening for at in matched)
        score.told += len(lines)
        score.right += sum(at >= 0 for at in matched)
        score.sure += zip(lines["p"].tolist(), [at >= 0 for at in matched], strict=True)


def _overlap(begin: float, end: float, spells: list[tuple[float, float]]) -> float:
    return sum(max(0.0, min(end, b) - max(begin, a)) for a, b in spells) / max(end - begin, 1.0)


def _of_spells(score: Score, log: Log, health: pd.DataFrame) -> None:
    spells = defaultdict(list)
    edges = zip(_seconds(health["from"]), _seconds(health["to"]), strict=True)
    of = zip(health["box"], health["antenna"], health["state"], strict=True)
    for key, edge in zip(of, edges, strict=True):
        spells[key].append(edge)
    for one in log.dead:
        score.dead += 1
        dead, unknown = (
            _overlap(one.begin, one.end, spells[one.box, one.antenna, state]) > 0.5
            for state in ("dead", "unknown")
        )
        score.found += dead
        score.unknown += unknown and not dead
    for (box, antenna, state), told in spells.items():
        true = [(one.begin, one.end) for one in log.dead if (one.box, one.antenna) == (box, antenna)]
        for begin, end in told if state == "dead" else []:
            if end - begin > _DAY / 4 and _overlap(begin, end, true) < 0.1:
                score.invented += 1


def _of_clocks(score: Score, log: Log, clock: pd.DataFrame) -> None:
    if not log.reader.marker_s:
        return
    moments = np.arange(_DAY, log.days * _DAY, _DAY / 4)
    for box in log.clocks:
        pieces = clock[clock["box"] == box].sort_values("from")
        true = log.off(box, moments)
        told = np.zeros(len(moments))
        if len(pieces):
            at = np.column_stack([_seconds(pieces["from"]), _seconds(pieces["to"])]).ravel()
            off = pieces[["offset_s", "offset_to_s"]].to_numpy().ravel()
            told = np.interp(moments + true, at, off)
        near = np.abs(told - true) <= 2
        score.moments += len(moments)
        score.on_time += int(near.sum())


def score(seed: int) -> tuple[Log, Score]:
    """Make the log of a seed, let the program tell of it, and hold that against the truth."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        log = make(seed, folder)
        passed = audit.passages(folder if log.reader.two_files else folder / "log.csv")
        counted = Score(logs=1)
        _of_passages(counted, log, passed.table())
        _of_spells(counted, log, passed.antenna_health())
        _of_clocks(counted, log, passed.clock())
    return log, counted


def main() -> None:
    """Print one table for a range of seeds."""
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--seeds", nargs=2, type=int, default=(0, 30), metavar=("FIRST", "END"))
    arguments.add_argument("--each", action="store_true", help="print a line for each log, too")
    asked = arguments.parse_args()
    groups: dict[str, Score] = defaultdict(Score)
    print(_HEAD)
    for seed in range(*asked.seeds):
        log, counted = score(seed)
        reader = log.reader
        # looks of the reader while a bird goes through one of its fields
        looks = next(kind.zone_s for kind in SPECIES if kind.name == log.species) / reader.poll_s
        often = "3+ looks" if looks >= 2.5 else "1-2 looks"
        if asked.each:
            print(counted.line(f"{seed} {log.kind} {log.species}"), reader, flush=True)
        for group in (f"{log.kind} {often}", log.kind, log.species):
            groups[group].join(counted)
    for group in sorted(groups, key=lambda name: (name.split()[0] not in KINDS, name)):
        print(groups[group].line(group))
        if group in KINDS:
            print("   by p:", "  ".join(f"{number}: {gap:+.3f}" for number, gap in groups[group].gaps()))


if __name__ == "__main__":
    main()
