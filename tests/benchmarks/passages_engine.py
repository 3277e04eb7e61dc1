"""Seconds and memory from a large log to files of passages, beside two rivals in plain pandas.

    python tests/benchmarks/passages_engine.py --reads 1000000
    python tests/benchmarks/passages_engine.py --reads 50000000 --kinds dense --runs parquet csv

The log is invented: 40 to 200 boxes, in each a pair of birds and three nestlings that fly after a while, for
as many seasons of 120 nights as the reads fill. Birds leave for the night when it suits them, and go in and
out a dozen times. *sparse*: one or two reads of a crossing at each antenna, and few rests; *dense*: two to
four, and nestlings that sit in the entrance give more than half of all reads. One process each:

- parquet, csv: `nestproof passages` from the file to both results;
- lag: plain pandas doing the relational work alone (read, sort, step to the read before, group);
- thumb: plain pandas and the rule of thumb (first antenna, last antenna within 60 s), written as CSV.

The rivals run first, and behind each run of ours stands how many times as much of the processors it took as
each of them did in the same call.

Seconds are those of the clock and of the processors, which say more on a machine that others share; memory is
that of all processes together, looked at five times a second. Both pandas runs read the CSV. The first line
tells how fast the machine is: seconds of a plain loop of ten million additions.
"""

from __future__ import annotations

import argparse
import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

_BIRDS, _ADULTS, _VISITS, _NIGHTS = 5, 2, 12, 120
_HEARD = 0.9
#: Evening of the first night, and the first nights of the seasons.
_START = 1_775_073_600_000 + 72_000_000
_MINUTE, _DAY, _YEAR = 60_000, 86_400_000, 365 * 86_400_000
#: Share of nights before nestlings fly; of looks among the times a bird comes to the entrance.
_IN_NEST, _LOOKS = 0.5, 0.1
#: Reads of a crossing at each antenna; rests of a nestling in a night and of a grown bird; reads of a rest.
_EACH = {"sparse": (1, 2), "dense": (2, 4)}
_RESTS = {"sparse": (0.5, 0.05), "dense": (4.0, 0.2)}
_REST_READS = {"sparse": 10, "dense": 150}
_BOXES = 40, 200
_READS_OF_BOX = 250_000
RIVALS = ("lag", "thumb")
RUNS = (*RIVALS, "parquet", "csv")


def columns_of(reads: int, kind: str) -> dict[str, np.ndarray]:
    """Codes of a log in the order of time: ``box``, ``bird``, ``antenna``, ``at`` in milliseconds."""
    rng = np.random.default_rng([reads, len(kind)])
    boxes = int(np.clip(reads // _READS_OF_BOX, *_BOXES))
    parts: list[tuple[np.ndarray, ...]] = []
    for box in range(boxes):
        left, season = reads * (box + 1) // boxes - reads * box // boxes, 0
        while left > 0:
            # the season fills up by nights, so a box is cut at its last one
            bird, at, antenna = _season_of_box(rng, kind)
            order = np.argsort(at, kind="stable")[:left]
            left -= len(order)
            parts.append(
                (
                    np.full(len(order), box, dtype=np.int16),
                    (bird[order] + season * _BIRDS).astype(np.int16),
                    antenna[order],
                    at[order] + season * _YEAR,
                )
            )
            season += 1
    found = [np.concatenate(column) for column in zip(*parts, strict=True)]
    del parts
    order = np.argsort(found[3], kind="stable")
    return dict(zip(("box", "bird", "antenna", "at"), (column[order] for column in found), strict=True))


def _season_of_box(rng: np.random.Generator, kind: str) -> tuple[np.ndarray, ...]:
    """Birds, moments and antennas of the reads of one box in one season, in any order."""
    bird, night = (one.ravel() for one in np.indices((_BIRDS, _NIGHTS)))
    flown = (bird < _ADULTS) | (night >= _IN_NEST * _NIGHTS)
    dusk = _START + night * _DAY + (30 * np.cos(night * np.pi / _NIGHTS) * _MINUTE).astype(np.int64)
    dusk += (rng.gamma(2.0, 25.0, len(night)) * _MINUTE).astype(np.int64)
    out = np.flatnonzero(flown)
    waits = np.empty((len(out), _VISITS, 2))
    waits[:, :, 0] = rng.lognormal(np.log(25.0), 0.8, (len(out), _VISITS))
    waits[:, :, 1] = rng.lognormal(np.log(2.0), 0.7, (len(out), _VISITS)) + 0.2
    start = (
        (dusk[out, None] + np.cumsum(waits.reshape(len(out), -1), axis=1) * _MINUTE).astype(np.int64).ravel()
    )
    of = np.repeat(bird[out], 2 * _VISITS)
    inward = np.tile(np.arange(2 * _VISITS) % 2 == 0, len(out))
    parts = [_crossings(rng, kind, of, start, inward)]
    for some, often in zip((~flown, flown), _RESTS[kind], strict=True):
        here = np.repeat(np.flatnonzero(some), rng.poisson(often, some.sum()))
        many = 1 + rng.geometric(1 / _REST_READS[kind], len(here))
        begun = dusk[here] + (rng.gamma(3.0, 80.0, len(here)) * _MINUTE).astype(np.int64)
        step = np.arange(many.sum()) - np.repeat(np.cumsum(many) - many, many)
        # it sits at the inner antenna, and now and then turns to the other
        side = (rng.random(len(step)) < 0.1).astype(np.int8)
        parts.append((np.repeat(bird[here], many), np.repeat(begun, many) + step * 700, 1 - side))
    return tuple(np.concatenate(column) for column in zip(*parts, strict=True))


def _crossings(
    rng: np.random.Generator, kind: str, of: np.ndarray, start: np.ndarray, inward: np.ndarray
) -> tuple[np.ndarray, ...]:
    """Reads of birds that go in and out, and of looks beside."""
    least, most = _EACH[kind]
    looks = np.flatnonzero(rng.random(len(start)) < _LOOKS)
    # a bird that has come in looks out a little later, and one that has left looks in
    times = np.concatenate([start, start[looks] + 40_000])
    bird = np.concatenate([of, of[looks]])
    side = np.where(inward, 0, 1)
    parts = []
    for second in (False, True):
        many = rng.integers(least, most + 1, len(times))
        antenna = np.concatenate([1 - side if second else side, 1 - side[looks]]).astype(np.int8)
        begun = times + (most * 150 + 300 if second else 0)
        which = np.repeat(np.arange(len(times)), many)
        step = np.arange(len(which)) - np.repeat(np.cumsum(many) - many, many)
        kept = rng.random(len(which)) < _HEARD
        which, step = which[kept], step[kept]
        parts.append((bird[which], begun[which] + step * 150, antenna[which]))
    return tuple(np.concatenate(column) for column in zip(*parts, strict=True))


def write_log(path: Path, columns: dict[str, np.ndarray]) -> None:
    import duckdb

    engine = duckdb.connect()
    engine.execute("set memory_limit = '3GB'")
    engine.execute(f"set temp_directory = '{path.parent / 'spill'}'")
    engine.register("columns", columns)
    shape = "(format parquet)" if path.suffix == ".parquet" else "(header)"
    moment = 'make_timestamp_ms("at")'
    if path.suffix == ".csv":
        moment = f"strftime({moment}, '%Y-%m-%dT%H:%M:%S.%g')"
    engine.execute(
        # made of our own words and a folder of our own
        f"copy (select 'SL-' || lpad((box + 1)::varchar, 3, '0') as box, "  # noqa: S608 - texts of ours
        f"case antenna when 0 then 'outer' else 'inner' end as antenna, {moment} as detected_at, "
        f"(999000000000000 + box::bigint * 100 + bird)::varchar as tag from columns) to '{path}' {shape}"
    )


def ours(path: Path, out: Path) -> None:
    from audit.passing import passages

    passages(path).write(out)


def lag(path: Path, out: Path) -> None:
    """Read, sort, step and group; what any model needs first."""
    _grouped(path, 10.0)[["box", "tag", "stamp", "group"]].groupby("group", sort=False).agg(
        {"stamp": ["min", "max", "size"]}
    ).to_csv(out / "groups.csv")


def thumb(path: Path, out: Path) -> None:
    """First antenna, last antenna within a minute."""
    frame = _grouped(path, 60.0)
    by = frame.groupby("group", sort=False)
    told = by.agg(box=("box", "first"), tag=("tag", "first"), at=("stamp", "first"), one=("antenna", "first"))
    told["other"] = by["antenna"].last()
    told = told[told["one"] != told["other"]]
    told["direction"] = np.where(told["one"] == "outer", "in", "out")
    told[["box", "tag", "at", "direction"]].to_csv(out / "passages.csv", index=False)


def _grouped(path: Path, gap: float):
    import pandas as pd

    kinds = {"box": "category", "antenna": "category", "tag": "category"}
    frame = pd.read_csv(path, dtype=kinds, parse_dates=["detected_at"]).rename(
        columns={"detected_at": "stamp"}
    )
    frame = frame.sort_values(["box", "tag", "stamp", "antenna"], ignore_index=True)
    other = (frame["box"].cat.codes.diff() != 0) | (frame["tag"].cat.codes.diff() != 0)
    frame["group"] = (other | (frame["stamp"].diff() > pd.Timedelta(seconds=gap))).cumsum()
    return frame


def run(what: str, path: Path) -> None:
    begun = time.perf_counter()
    with tempfile.TemporaryDirectory(dir=path.parent) as out:
        {"lag": lag, "thumb": thumb}.get(what, ours)(path, Path(out))
        size = sum(one.stat().st_size for one in Path(out).iterdir())
    seconds = time.perf_counter() - begun
    own, lent = resource.getrusage(resource.RUSAGE_SELF), resource.getrusage(resource.RUSAGE_CHILDREN)
    processor = sum(one.ru_utime + one.ru_stime for one in (own, lent))
    print(f"{seconds} {processor} {size}")


def main() -> None:
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("--reads", type=int, nargs="+", default=[1_000_000])
    words.add_argument("--kinds", nargs="+", choices=tuple(_EACH), default=list(_EACH))
    words.add_argument("--runs", nargs="+", choices=RUNS, default=list(RUNS))
    words.add_argument("--logs", type=Path, help="folder in which logs are kept for the next time")
    words.add_argument("--one", nargs=2, metavar=("RUN", "LOG"), help=argparse.SUPPRESS)
    asked = words.parse_args()
    if asked.one:
        run(asked.one[0], Path(asked.one[1]))
        return
    print(f"A plain loop of ten million additions takes {_loop():.2f} s.")
    print("| reads | log | run | seconds | processors, s | GiB at most | of lag | of thumb | load |")
    print("| --- " * 9 + "|")
    for reads in asked.reads:
        for kind in asked.kinds:
            with tempfile.TemporaryDirectory() as folder:
                compared(reads, kind, asked.runs, asked.logs or Path(folder))


def _loop() -> float:
    begun, total = time.process_time(), 0
    for nr in range(10_000_000):
        total += nr
    return time.process_time() - begun


def _memory(pid: int) -> float:
    """GiB that a process and all that it started hold now."""
    parts: dict[int, tuple[int, int]] = {}
    for folder in Path("/proc").iterdir():
        if folder.name.isdigit():
            try:
                words = (folder / "stat").read_text().rpartition(")")[2].split()
            except OSError:
                continue
            parts[int(folder.name)] = int(words[1]), int(words[21])
    ours = {pid}
    while more := {one for one, (parent, _) in parts.items() if parent in ours} - ours:
        ours |= more
    return sum(parts[one][1] for one in ours if one in parts) * resource.getpagesize() / 2**30


def compared(reads: int, kind: str, runs: list[str], folder: Path) -> None:
    """Run what is asked for, rivals first; logs that stand in the folder are taken as they are."""
    logs = {
        form: folder / f"{kind}-{reads}.{form}"
        for form in sorted({"parquet" if one == "parquet" else "csv" for one in runs})
    }
    if missing := [path for path in logs.values() if not path.exists()]:
        columns = columns_of(reads, kind)
        for path in missing:
            write_log(path, columns)
        del columns
    rivals: dict[str, float] = {}
    for one in sorted(runs, key=RUNS.index):
        path = logs["parquet" if one == "parquet" else "csv"]
        with subprocess.Popen(
            [sys.executable, __file__, "--one", one, str(path)], stdout=subprocess.PIPE, text=True
        ) as done:
            memory = 0.0
            while done.poll() is None:
                memory = max(memory, _memory(done.pid))
                time.sleep(0.2)
            told = done.stdout.read().split()
        load = f"{os.getloadavg()[0]:.1f}"
        if not told:
            print(f"| {reads:,} | {kind} | {one} | did not end | | {memory:.2f} | | | {load} |", flush=True)
            continue
        seconds, processor = map(float, told[:2])
        if one in RIVALS:
            rivals[one] = processor
        ratios = [f"{processor / rivals[other]:.2f}" if other in rivals else "" for other in RIVALS]
        figures = f"{seconds:.1f}", f"{processor:.1f}", f"{memory:.2f}", *ratios
        cells = (f"{reads:,}", kind, one, *figures, load)
        print(f"| {' | '.join(cells)} |", flush=True)


if __name__ == "__main__":
    main()
