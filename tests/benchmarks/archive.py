"""Seconds and memory of an archive of many seasons; asserts nothing about time.

    python tests/benchmarks/archive.py --millions 1 10 --folder archives

For each size: an invented archive is written once (``tests/benchmarks/archives.py``), then audited by the
command line in a process of its own; beside it what it takes to read the same columns and count, and the
processor time of ten million additions, which tells how busy the machine is. Then the declared checks of
cells alone: as expressions on DuckDB, by pandera on pandas, by great-expectations, on the same rows.
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

import duckdb

sys.path.insert(0, str(Path(__file__).parent))
sys.path.insert(0, str(Path(__file__).parents[1]))

from archives import Plan, make_archive

from audit.archive.archive_files import archive_files
from audit.archive.duck import open_duck
from audit.archive.laid_out import laid_out
from audit.archive.row_checks import breaches, cell_checks
from audit.declarations import load_declarations, to_gx, to_pandera

MILLION = 1_000_000


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("--millions", type=float, nargs="+", default=[1.0])
    asked.add_argument("--folder", type=Path, default=Path(tempfile.gettempdir()) / "nestproof-archives")
    asked.add_argument("--rows", type=int, default=200_000, help="rows for the checks of cells alone")
    asked.add_argument("--memory", type=int, help="MB for the engine")
    given = asked.parse_args()
    print(f"ten million additions take {additions():.2f} s of processor time")
    for size in given.millions:
        whole(size, given.folder, given.memory)
    cells(given.folder / f"{given.millions[0]:g}m", given.rows)


def additions() -> float:
    begun, total = time.process_time(), 0
    for number in range(10 * MILLION):
        total += number
    return time.process_time() - begun


def whole(millions: float, folder: Path, memory: int | None) -> None:
    source, out = folder / f"{millions:g}m", folder / f"{millions:g}m audited"
    if not source.exists():
        made = make_archive(source, Plan(int(millions * MILLION), seasons=30, teams=40))
        made.key.to_csv(folder / f"{millions:g}m key.csv", index=False)
    subprocess.run(["rm", "-rf", str(out)], check=True)
    begun = time.perf_counter()
    columns = (
        "count(date), count(box), count(ring), count(tag), sum(gross_g), sum(bag_g), sum(net_g), sum(wing_mm)"
    )
    rows, *_ = duckdb.sql(f"select count(*), {columns} from '{source}/handlings/*.parquet'").fetchall()[0]  # noqa: S608 - a path of ours
    reading = time.perf_counter() - begun
    command = [sys.executable, "-m", "audit", "archive", str(source), "--out", str(out)]
    command += ["--memory", str(memory)] if memory else []
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    begun = time.perf_counter()
    with subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True) as run:
        peak = 0
        while run.poll() is None:
            peak = max(peak, resident(run.pid))
            time.sleep(0.2)
    taken = time.perf_counter() - begun
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    processor = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    print(
        f"{rows:,} handlings: {taken:.0f} s ({processor:.0f} s of processor time), {peak / 2**30:.1f} GiB, "
        f"{rows / taken:,.0f} a second; reading and counting alone {reading:.1f} s"
    )


def resident(pid: int) -> int:
    """Bytes in memory of a process and all that it started."""
    total = 0
    try:
        pages = int(Path(f"/proc/{pid}/statm").read_text().split()[1])
        total += pages * os.sysconf("SC_PAGE_SIZE")
        for task in Path(f"/proc/{pid}/task").iterdir():
            for child in (task / "children").read_text().split():
                total += resident(int(child))
    except (OSError, IndexError):
        pass
    return total


def cells(source: Path, rows: int) -> None:
    """Hold the declared checks of cells against each other on the same rows."""
    declared = load_declarations()
    table = declared.tables["handlings"]
    with tempfile.TemporaryDirectory() as folder:
        some = Path(folder) / "some.parquet"
        duckdb.sql(f"copy (select * from '{source}/handlings/*.parquet' limit {rows}) to '{some}'")  # noqa: S608 - as above
        files = archive_files([some], declared)
        with open_duck(files, declared, Path(folder), megabytes=2000) as engine:
            # the first asking loads what it needs
            for _ in range(2):
                begun = time.process_time(), time.perf_counter()
                laid = laid_out(engine.raw.rows, engine.raw.stored, table)
                ours = engine.frame(breaches(laid, cell_checks(table)))
                own = time.process_time() - begun[0], time.perf_counter() - begun[1]
        frame = duckdb.sql(f"select * exclude (season, team) from '{some}'").df()  # noqa: S608 - as above
    texts = [field.name for field in table.fields if field.kind in ("string", "code") and field.name in frame]
    frame = frame.astype(dict.fromkeys(texts, "str"))
    frame.index = [f"handlings!{row}" for row in range(2, len(frame) + 2)]
    to_pandera.blame(table, frame.head(100))
    begun = time.process_time(), time.perf_counter()
    theirs = to_pandera.blame(table, frame)
    pandera = time.process_time() - begun[0], time.perf_counter() - begun[1]
    context = to_gx.quiet_context()
    to_gx.blame(table, frame.head(100), context=context)
    begun = time.process_time(), time.perf_counter()
    to_gx.blame(table, frame, context=context)
    expectations = time.process_time() - begun[0], time.perf_counter() - begun[1]
    blamed = int(ours.drop(columns="at").to_numpy().sum())
    assert blamed == len(theirs), (blamed, len(theirs))
    print(f"{rows:,} rows, {blamed} cells blamed by each; processor time and time, in seconds:")
    for name, (processor, clock) in (
        ("expressions", own),
        ("pandera", pandera),
        ("great-expectations", expectations),
    ):
        print(f"  {name:<20} {processor:8.3f} {clock:8.3f}   {processor / own[0]:6.1f} times")


if __name__ == "__main__":
    main()
