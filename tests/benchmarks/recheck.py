"""Seconds of a whole check and after one edited cell, by column, for 500 and 5,000 handlings: run by hand.

    python tests/benchmarks/recheck.py [edits of each column] [handlings ...]

Slips stand in one row of fifty. Each edit puts the text of another row into a cell of the season as it was.
Wall-clock and processor seconds of this process; other work on the machine lengthens the first.
"""

from __future__ import annotations

import sys
import time
from functools import partial
from pathlib import Path
from statistics import median
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from invented import invented_season, large_style

from audit.checking import check, check_closely, read_season, recheck
from audit.declarations import load_declarations
from audit.practice.planting import plant

if TYPE_CHECKING:
    from collections.abc import Callable

    from audit.declarations import Declarations
    from audit.season import Season


def main(edits: int = 20, *sizes: int) -> None:
    """Measure and print."""
    declared = load_declarations()
    for wanted in sizes or (500, 5000):
        season = dirty_season(wanted, declared)
        whole = [_seconds(partial(check, season, schemas=declared)) for _ in range(5)]
        checked = check_closely(season, schemas=declared)
        usual = median(wall for wall, _ in whole)
        print(f"{wanted} handlings, {len(checked.report.findings)} findings: whole check {_said(whole)}")
        for field in season.tables["handlings"].typed.columns:
            spent = [_seconds(partial(recheck, checked, *edit)) for edit in _edits(season, field, edits)]
            ratio = median(wall for wall, _ in spent) / usual
            print(f"    {field:12} {_said(spent)}   {ratio:5.2f} of the whole")


def _edits(season: Season, field: str, number: int) -> list[tuple[str, str, str]]:
    """Cells of a column, each with another text of the column; the same where there is but one."""
    column = season.tables["handlings"].typed[field]
    rng = np.random.default_rng(5)
    edits = []
    for label in rng.choice(column.index.to_numpy(), number):
        others = column[column != column.loc[label]]
        edits.append((str(label), field, str(rng.choice(others if len(others) else column))))
    return edits


def dirty_season(handlings: int, declared: Declarations) -> Season:
    """Make a season of so many handlings, one row of fifty with a slip."""
    rows = invented_season(7, large_style(round(handlings * 1.2)))
    rows["handlings"] = rows["handlings"][:handlings]
    season = read_season(
        {name: pd.DataFrame(table) for name, table in rows.items() if table}, schemas=declared
    )
    return plant(season, declared, np.random.default_rng(1), rate=1 / 50)[0]


def _seconds(work: Callable[[], object]) -> tuple[float, float]:
    wall, own = time.perf_counter(), time.process_time()
    work()
    return time.perf_counter() - wall, time.process_time() - own


def _said(spent: list[tuple[float, float]]) -> str:
    wall, own = ([pair[i] for pair in spent] for i in (0, 1))
    high = float(np.quantile(wall, 0.95))
    return f"{median(wall):.3f} s (95 %: {high:.3f} s; processor {median(own):.3f} s)"


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
