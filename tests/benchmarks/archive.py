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
import threading
import time
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

import duckdb

sys.path.insert(0, str(Path(__file__).parent))
sys.path.insert(0, str(Path(__file__).parents[1]))

from archives import Plan, make_archive

from audit.archive.archive_files import archive_files
from audit.archive.duck import open_duck
from audit.archive.row_checks import breaches, cell_checks, stored_as_declared
from audit.declarations import load_declarations, to_gx, to_pandera

if TYPE_CHECKING:
    from collections.abc import Callable

    import pandas as pd

    from audit.archive.duck import DuckEngine
    from audit.declarations.tables import TableDeclaration

Answer = TypeVar("Answer")

MILLION = 1_000_000


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("--millions", type=float, nargs="+", default=[1.0])
    asked.add_argument("--folder", type=Path, default=Path(tempfile.gettempdir()) / "nestproof-archives")
    asked.add_argument("--rows", type=int, default=1_000_000, help="rows for the checks of cells alone")
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
        told: list[tuple[float, float, str]] = []
        listening = threading.Thread(target=listen, args=(run, told))
        listening.start()
        peak = 0
        while run.poll() is None:
            peak = max(peak, resident(run.pid))
            time.sleep(0.2)
        listening.join()
    taken = time.perf_counter() - begun
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    processor = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    print(
        f"{rows:,} handlings: {taken:.0f} s ({processor:.0f} s of processor time), {peak / 2**30:.1f} GiB, "
        f"{rows / taken:,.0f} a second; reading and counting alone {reading:.1f} s"
    )
    stages(told, begun)


def listen(run: subprocess.Popen[str], told: list[tuple[float, float, str]]) -> None:
    """Note when what is told, and the processor time until then."""
    told.extend((time.perf_counter(), processor_time(run.pid), line.strip()) for line in run.stderr)


def stages(told: list[tuple[float, float, str]], begun: float) -> None:
    """Print how long each question took; the seasons are judged in the last of them."""
    asked = [one for one in told if not one[2].startswith("Season ")]
    for (since, used, what), (until, later, _) in zip(asked, [*asked[1:], told[-1]], strict=True):
        print(f"    {until - since:7.1f} s {later - used:8.1f} s of processor time  {what}")
    print(f"    begun after {asked[0][0] - begun:.1f} s")


def below(pid: int) -> list[int]:
    """List a process and all that it started."""
    found = [pid]
    try:
        for task in Path(f"/proc/{pid}/task").iterdir():
            for child in (task / "children").read_text().split():
                found += below(int(child))
    except OSError:
        pass
    return found


def processor_time(pid: int) -> float:
    """Seconds of a process and all that it started."""
    total = 0
    for one in below(pid):
        try:
            cells = Path(f"/proc/{one}/stat").read_text().rpartition(")")[2].split()
        except OSError:
            continue
        total += int(cells[11]) + int(cells[12])
    return total / os.sysconf("SC_CLK_TCK")


def resident(pid: int) -> int:
    """Bytes in memory of a process and all that it started."""
    total = 0
    for one in below(pid):
        try:
            total += int(Path(f"/proc/{one}/statm").read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE")
        except (OSError, IndexError):
            continue
    return total


def cells(source: Path, rows: int) -> None:
    """Hold the declared checks of cells against each other on the same rows."""
    declared = load_declarations()
    table = declared.tables["handlings"]
    with tempfile.TemporaryDirectory() as folder:
        some = Path(folder) / "some.parquet"
        whole = f"read_parquet('{source}/handlings/*.parquet', union_by_name=true)"
        duckdb.sql(f"copy (select * from {whole} limit {rows}) to '{some}'")  # noqa: S608 - as above
        files = archive_files([some], declared)
        with open_duck(files, declared, Path(folder), megabytes=2000) as engine:
            assert stored_as_declared(table, engine.raw.stored)
            names = ", ".join(f"count({name})" for name in engine.raw.stored)
            # the first asking loads what it needs
            for _ in range(2):
                reading = seconds(lambda: duckdb.sql(f"select {names} from '{some}'").fetchall())[0]  # noqa: S608 - as above
                own, ours = seconds(lambda: asked_of(engine, table))
        frame = duckdb.sql(f"select * exclude (season, team) from '{some}'").df()  # noqa: S608 - as above
    texts = [field.name for field in table.fields if field.kind in ("string", "code") and field.name in frame]
    frame = frame.astype(dict.fromkeys(texts, "str"))
    frame.index = [f"handlings!{row}" for row in range(2, len(frame) + 2)]
    to_pandera.blame(table, frame.head(100))
    pandera, theirs = seconds(lambda: to_pandera.blame(table, frame))
    context = to_gx.quiet_context()
    to_gx.blame(table, frame.head(100), context=context)
    expectations, _ = seconds(lambda: to_gx.blame(table, frame, context=context))
    blamed = int(ours.drop(columns="at").to_numpy().sum())
    assert blamed == len(theirs), (blamed, len(theirs))
    print(f"{len(frame):,} rows, {blamed} cells blamed by each; processor time and time, in seconds:")
    for name, (processor, clock) in (
        ("reading, counting", reading),
        ("expressions", own),
        ("pandera", pandera),
        ("great-expectations", expectations),
    ):
        print(
            f"  {name:<20} {processor:8.3f} {clock:8.3f}   "
            f"{processor / own[0]:6.1f} and {clock / own[1]:6.1f} times that of expressions"
        )


def asked_of(engine: DuckEngine, table: TableDeclaration) -> pd.DataFrame:
    """Ask the declared checks of cells, as the sieve does; the file is read for it."""
    checks = cell_checks(table, present=list(engine.raw.stored), as_stored=True)
    return engine.frame(breaches(engine.raw.rows, checks))


def seconds(ask: Callable[[], Answer]) -> tuple[tuple[float, float], Answer]:
    """Processor time and time of a question, with its answer."""
    begun = time.process_time(), time.perf_counter()
    answer = ask()
    return (time.process_time() - begun[0], time.perf_counter() - begun[1]), answer


if __name__ == "__main__":
    main()
