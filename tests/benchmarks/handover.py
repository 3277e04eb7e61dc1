"""Seconds of the gate and of each part of a handover, and the size of its files: run by hand.

    python tests/benchmarks/handover.py [HANDLINGS ...]

By default 500 and 5,000 handlings with 1 in 50 cells amended. Beside each part stands its share of the audit
of the same season in the same run.
"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from demo.make_demo import write_workbook
from invented import invented_season, large_style

from audit.checking import check, read_season
from audit.declarations import load_declarations
from audit.demo import demo_season
from audit.handover.clean.change_list import change_list_part
from audit.handover.clean.clean_workbook import clean_workbook_part
from audit.handover.clean.decided_season import DecidedSeason
from audit.handover.clean.tidy_tables import tidy_tables_part
from audit.handover.darwin_core.part import darwin_core_part
from audit.handover.exchange.part import exchange_part
from audit.handover.gate.gate import ask_gate
from audit.handover.gate.part import gate_part
from audit.handover.season_report.part import season_report_part
from audit.review.decisions import Decision
from audit.review.places import decided_cell
from audit.review.replay import replay

if TYPE_CHECKING:
    from collections.abc import Callable

    from audit.declarations import Declarations
    from audit.handover.part import Part

#: One remark in so many is amended.
EVERY = 50


def main(sizes: list[int]) -> None:
    """Measure and print."""
    _, schemas = demo_season()
    declared = load_declarations(schemas)
    with tempfile.TemporaryDirectory() as folder:
        for wanted in sizes:
            _measure(wanted, Path(folder), declared)


def _measure(wanted: int, folder: Path, declared: Declarations) -> None:
    rows = invented_season(7, large_style(round(wanted * 1.2)))
    rows["handlings"] = rows["handlings"][:wanted]
    path = folder / f"season-{wanted}.xlsx"
    write_workbook(rows, path)
    season = read_season(path, schemas=declared)
    labels = list(season.frame("handlings").index)[::EVERY]
    decisions = [
        Decision(
            f"amend{number}",
            "2026-09-01T10:00:00+00:00",
            "AB",
            "amend",
            (decided_cell(season, label, "remarks", "seen"),),
        )
        for number, label in enumerate(labels)
    ]
    replayed = _timed("decisions replayed", lambda: replay(season, declared, decisions))
    started = time.perf_counter()
    report = check(replayed.season, schemas=declared)
    audit = time.perf_counter() - started
    decided = DecidedSeason(season, replayed, tuple(decisions), report, declared)
    print(f"{wanted} handlings, {len(decisions)} decisions: audit {audit:.2f} s")
    gate = _timed("gate, with the import of its engine", lambda: ask_gate(decided), audit)
    _timed("gate again", lambda: ask_gate(decided), audit)
    parts: dict[str, Callable[[], Part]] = {
        "gate": lambda: gate_part(gate, decided),
        "report": lambda: season_report_part(decided, report),
        "clean workbook": lambda: clean_workbook_part(decided),
        "changes": lambda: change_list_part(decided),
        "exchange records": lambda: exchange_part(decided),
        "tables": lambda: tidy_tables_part(decided),
        "Darwin Core": lambda: darwin_core_part(decided),
    }
    for name, make in parts.items():
        out = folder / f"out-{wanted}-{name}"
        _timed(name, lambda make=make, out=out: _written(make(), out), audit)
        print(f"        {sum(file.stat().st_size for file in out.rglob('*')) / 1000:,.0f} kB")


def _written(part: Part, out: Path) -> None:
    for name, write in part.files.items():
        (out / name).parent.mkdir(parents=True, exist_ok=True)
        write(out / name)


def _timed(name: str, make: Callable[[], Any], audit: float = 0.0) -> Any:
    started = time.perf_counter()
    made = make()
    taken = time.perf_counter() - started
    print(f"    {name}: {taken:.2f} s" + (f", {taken / audit:.1f} of the audit" if audit else ""))
    return made


if __name__ == "__main__":
    main([int(word) for word in sys.argv[1:]] or [500, 5000])
