"""Seconds and peak memory of whole processes, for 500 and 5,000 handlings: run by hand.

    python tests/benchmarks/season.py

Each figure is the best of three new processes, as a user would start them; the audit itself is timed
inside one.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from pathlib import Path

import psutil

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from demo.make_demo import write_workbook
from invented import invented_season, large_style

TIMED = """
import sys, time
from audit.checking import check, read_season
from audit.declarations import load_declarations
import pandas
started = time.perf_counter()
declared = load_declarations()
declared_at = time.perf_counter()
season = read_season(sys.argv[1], schemas=declared)
read_at = time.perf_counter()
check(season, schemas=declared)
first = time.perf_counter()
check(season, schemas=declared)
again = time.perf_counter()
print(f"declarations {declared_at - started:.2f} s, reading {read_at - declared_at:.2f} s, "
      f"audit {first - read_at:.2f} s (again {again - first:.2f} s)")
"""


def main() -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as folder:
        for wanted in (500, 5000):
            rows = invented_season(7, large_style(round(wanted * 1.2)))
            rows["handlings"] = rows["handlings"][:wanted]
            path = Path(folder) / f"season-{wanted}.xlsx"
            write_workbook(rows, path)
            out = str(Path(folder) / f"out-{wanted}")
            best, peak = min(
                _run([sys.executable, "-m", "audit", "check", str(path), "--out", out]) for _ in range(3)
            )
            print(
                f"{len(rows['handlings'])} handlings: whole process {best:.2f} s, peak {peak / 2**20:.0f} MiB"
            )
            inside = subprocess.run(
                [sys.executable, "-c", TIMED, str(path)], capture_output=True, text=True, check=True
            )
            print("   ", inside.stdout.strip())
    for code in ("import pandas", "import pandas; import audit", "import audit"):
        best, _ = min(_run([sys.executable, "-c", code]) for _ in range(5))
        print(f"{code!r}: {best:.2f} s")


def _run(command: list[str]) -> tuple[float, int]:
    started = time.perf_counter()
    process = psutil.Popen(command, stdout=subprocess.DEVNULL)
    peak = 0
    while process.poll() is None:
        try:
            peak = max(peak, process.memory_info().rss)
        except psutil.NoSuchProcess:
            break
        time.sleep(0.005)
    return time.perf_counter() - started, peak


if __name__ == "__main__":
    main()
