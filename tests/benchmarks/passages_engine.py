"""Seconds and memory from a large log to passages, beside plain pandas.

    python tests/benchmarks/passages_engine.py --reads 50000000 --form parquet
    python tests/benchmarks/passages_engine.py --reads 2000000 --engine pandas

The log is invented with the engine itself: birds that go in and out once every half hour of the night, each
crossing so many reads at each antenna (--each), one of ten missed. Each run is a process of its own.
"""

from __future__ import annotations

import argparse
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from audit.declarations import load_declarations

_BIRDS, _CROSSINGS, _NIGHTS = 5, 24, 120

LOG = """
with crossings as (
  select i // {per_box} as box, (i // {per_night}) % {birds} as bird, i % {per_night} as nr
  from range({crossings}) t(i)
),
moments as (
  select box, bird, nr,
         epoch_ms(timestamp '2026-04-01 20:00:00') + (nr // {per_evening}) * 86400000
         + (nr % {per_evening}) * 1500000 + (hash(box, bird, nr) % 900000)::bigint as start
  from crossings
),
reads as (
  select box, bird, nr, k, start + k * 300 + case when (k >= {reads}) then 200 else 0 end as stamp,
         (nr % 2 = 0) = (k < {reads}) as outer_one
  from moments, range(2 * {reads}) s(k) where hash(box, bird, nr, k) % 10 > 0
)
select 'SL-' || lpad((box + 1)::varchar, 4, '0') as box,
       case when outer_one then 'outer' else 'inner' end as antenna,
       make_timestamp_ms(stamp) as detected_at, (999000000000000 + box * 100 + bird)::varchar as tag
from reads order by stamp
"""


def write_log(path: Path, reads: int, each: int) -> None:
    import duckdb

    per_night = _CROSSINGS * _NIGHTS
    sql = LOG.format(
        per_box=per_night * _BIRDS,
        per_night=per_night,
        per_evening=_CROSSINGS,
        birds=_BIRDS,
        reads=each,
        crossings=int(reads / (2 * each * 0.9)),
    )
    engine = duckdb.connect()
    engine.execute("set memory_limit = '4GB'")
    engine.execute(f"set temp_directory = '{path.parent / 'spill'}'")
    shape = (
        "(format parquet)"
        if path.suffix == ".parquet"
        else "(header, timestampformat '%Y-%m-%dT%H:%M:%S.%g')"
    )
    engine.execute(f"copy ({sql}) to '{path}' {shape}")


def by_engine(path: Path) -> int:
    from audit.passing import passages

    start = time.perf_counter()
    passed = passages(path)
    print(f"  read, followed {time.perf_counter() - start:7.1f} s")
    with tempfile.TemporaryDirectory() as out:
        passed.write(out)
    print(f"  and written    {time.perf_counter() - start:7.1f} s")
    return len(passed.record.passages.at)


def by_pandas(path: Path) -> int:
    """The same models on one frame held in memory."""
    import numpy as np
    import pandas as pd

    from audit.archive.followed import follow
    from audit.models.reads import Reads
    from audit.passing import Models

    start = time.perf_counter()
    frame = pd.read_csv(path, dtype={"tag": str}, parse_dates=["detected_at"])
    frame = frame.assign(
        box=frame["box"].astype("category").cat.codes,
        code=frame["tag"].astype("category").cat.codes,
        antenna=(frame["antenna"] == "inner").astype("int8"),
    ).sort_values(["box", "code", "detected_at", "antenna"])
    reads = Reads(
        frame["box"].to_numpy(np.int32),
        frame["code"].to_numpy(np.int32),
        frame["detected_at"].astype("datetime64[ms]").astype("int64").to_numpy(),
        frame["antenna"].to_numpy(np.int8),
    )
    print(f"  read           {time.perf_counter() - start:7.1f} s")
    models = Models(load_declarations(), tuple(sorted(frame["tag"].unique())))
    found, _, _ = follow([reads], models.ask)
    print(f"  and followed   {time.perf_counter() - start:7.1f} s")
    return len(found.at)


def main() -> None:
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--reads", type=int, default=5_000_000)
    words.add_argument("--each", type=int, default=6, help="reads of a crossing at each antenna")
    words.add_argument("--form", choices=("csv", "parquet"), default="csv")
    words.add_argument("--engine", choices=("nestproof", "pandas"), default="nestproof")
    words.add_argument("--log", type=Path, help="a log that is there already")
    asked = words.parse_args()
    if asked.log is None:
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder, f"log.{asked.form}")
            write_log(path, asked.reads, asked.each)
            print(f"{asked.reads:,} reads, {path.stat().st_size / 1e6:,.0f} MB, {asked.engine}")
            subprocess.run(
                [sys.executable, __file__, "--engine", asked.engine, "--log", str(path)], check=True
            )
        return
    found = {"nestproof": by_engine, "pandas": by_pandas}[asked.engine](asked.log)
    used = resource.getrusage(resource.RUSAGE_SELF)
    print(f"  processor      {used.ru_utime + used.ru_stime:7.1f} s")
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 2**20
    print(f"  {found:,} passages, at most {peak:.2f} GiB of memory")


if __name__ == "__main__":
    main()
