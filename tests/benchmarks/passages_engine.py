"""Seconds and memory from a large log to files of passages, beside plain pandas.

    python tests/benchmarks/passages_engine.py --reads 1000000
    python tests/benchmarks/passages_engine.py --reads 50000000 --kinds dense --runs parquet csv

The log is invented: birds that go in and out through the nights, *sparse* with one read of a crossing at each
antenna where it hears, *dense* with half a dozen, looks, and rests of some hundred reads. One process each:

- parquet, csv: `nestproof passages` from the file to both results;
- relational: plain pandas doing the relational work alone (read, sort, step to the next read, group);
- thumb: plain pandas and the rule of thumb (first antenna, last antenna within 60 s), written as CSV.

Seconds are those of the clock and of the processors, which say more on a machine that others share. Both
pandas runs read the CSV.
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

_BIRDS, _CROSSINGS, _NIGHTS = 5, 24, 120
_HEARD = 0.9
_START = 1_775_073_600_000
_DAY, _HALF = 86_400_000, 1_500_000
#: Reads of a crossing at each antenna; share of looks, and of rests, among the groups.
_EACH = {"sparse": 1, "dense": 6}
_LOOKS, _RESTS, _REST_READS = 0.1, 0.002, 300
RUNS = ("parquet", "csv", "relational", "thumb")


def columns_of(reads: int, kind: str) -> dict[str, np.ndarray]:
    """Codes of a log in the order of time: ``box``, ``bird``, ``antenna``, ``at`` in milliseconds."""
    rng = np.random.default_rng([reads, _EACH[kind]])
    each = _EACH[kind]
    rest = _REST_READS if kind == "dense" else 3
    groups = int(reads / (2 * each * _HEARD + _RESTS * rest))
    of = np.arange(groups)
    night = of // (_BIRDS * _CROSSINGS) % _NIGHTS
    box = (of // (_BIRDS * _CROSSINGS * _NIGHTS)).astype(np.int32)
    bird = (of % _BIRDS).astype(np.int8)
    nr = of // _BIRDS % _CROSSINGS
    start = _START + night * _DAY + nr * _HALF + rng.integers(0, 900_000, groups)
    outward = nr % 2 == 1
    look = rng.random(groups) < _LOOKS
    parts = []
    for antenna in (0, 1):
        # a look comes to one antenna only
        heard = ~look | (outward == antenna)
        late = (outward != antenna).astype(np.int64) * (each * 150 + 200)
        for k in range(each):
            one = np.flatnonzero(heard & (rng.random(groups) < _HEARD))
            parts.append((one, start[one] + late[one] + k * 150, np.full(len(one), antenna, dtype=np.int8)))
    some = np.flatnonzero(rng.random(groups) < _RESTS)
    sits = np.repeat(some, rest)
    step = np.tile(np.arange(rest), len(some))
    parts.append((sits, start[sits] + 5_000 + step * 700, (step // 7 % 2).astype(np.int8)))
    group = np.concatenate([part[0] for part in parts])
    at = np.concatenate([part[1] for part in parts])
    antenna = np.concatenate([part[2] for part in parts])
    order = np.argsort(at, kind="stable")
    return {"box": box[group[order]], "bird": bird[group[order]], "antenna": antenna[order], "at": at[order]}


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
        f"copy (select 'SL-' || lpad((box + 1)::varchar, 4, '0') as box, "  # noqa: S608
        f"case antenna when 0 then 'outer' else 'inner' end as antenna, {moment} as detected_at, "
        f"(999000000000000 + box::bigint * 100 + bird)::varchar as tag from columns) to '{path}' {shape}"
    )


def ours(path: Path, out: Path) -> None:
    from audit.passing import passages

    passages(path).write(out)


def relational(path: Path, out: Path) -> None:
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
        {"relational": relational, "thumb": thumb}.get(what, ours)(path, Path(out))
        size = sum(one.stat().st_size for one in Path(out).iterdir())
    seconds = time.perf_counter() - begun
    own, lent = resource.getrusage(resource.RUSAGE_SELF), resource.getrusage(resource.RUSAGE_CHILDREN)
    processor = sum(one.ru_utime + one.ru_stime for one in (own, lent))
    print(f"{seconds} {processor} {(own.ru_maxrss + lent.ru_maxrss) / 2**20} {size}")


def main() -> None:
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("--reads", type=int, nargs="+", default=[1_000_000])
    words.add_argument("--kinds", nargs="+", choices=tuple(_EACH), default=list(_EACH))
    words.add_argument("--runs", nargs="+", choices=RUNS, default=list(RUNS))
    words.add_argument("--one", nargs=2, metavar=("RUN", "LOG"), help=argparse.SUPPRESS)
    asked = words.parse_args()
    if asked.one:
        run(asked.one[0], Path(asked.one[1]))
        return
    print("| reads | log | run | seconds | processors, s | GiB at most | of the rule of thumb | load |")
    print("| --- " * 8 + "|")
    for reads in asked.reads:
        for kind in asked.kinds:
            with tempfile.TemporaryDirectory() as folder:
                compared(reads, kind, asked.runs, Path(folder))


def compared(reads: int, kind: str, runs: list[str], folder: Path) -> None:
    columns = columns_of(reads, kind)
    exact = len(columns["at"])
    logs = {
        form: folder / f"log.{form}" for form in {"parquet" if one == "parquet" else "csv" for one in runs}
    }
    for path in logs.values():
        write_log(path, columns)
    del columns
    figures = {}
    for one in runs:
        path = logs["parquet" if one == "parquet" else "csv"]
        done = subprocess.run(
            [sys.executable, __file__, "--one", one, str(path)], check=True, capture_output=True, text=True
        )
        figures[one] = (*map(float, done.stdout.split()[:3]), os.getloadavg()[0])
    for one, (seconds, processor, memory, load) in figures.items():
        ratio = f"{processor / figures['thumb'][1]:.2f}" if "thumb" in figures else ""
        cells = (
            f"{exact:,}",
            kind,
            one,
            f"{seconds:.1f}",
            f"{processor:.1f}",
            f"{memory:.2f}",
            ratio,
            f"{load:.1f}",
        )
        print(f"| {' | '.join(cells)} |", flush=True)


if __name__ == "__main__":
    main()
