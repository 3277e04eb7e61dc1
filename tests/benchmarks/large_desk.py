"""A season of 20,000 handlings and about 2,000 findings, to time what a desk does; by hand, to time a check.

python tests/benchmarks/large_desk.py [handlings] [findings]
"""

from __future__ import annotations

import resource
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from invented import invented_season, large_style

from audit.checking import check_closely, read_season
from audit.declarations import load_declarations
from audit.practice.planting import plant

if TYPE_CHECKING:
    from audit.declarations import Declarations
    from audit.season import Season

__all__ = ["large_season"]

#: Findings to a slip in a large season: some slips are seen from two sides, some from none.
_FINDINGS_OF_ONE = 1.05


def large_season(declared: Declarations, handlings: int = 20_000, findings: int = 2_000) -> Season:
    """Make a season of so many handlings, with slips enough for so many findings: in ten seconds."""
    rows = invented_season(7, large_style(round(handlings * 1.2)))
    rows["handlings"] = rows["handlings"][:handlings]
    season = read_season(
        {name: pd.DataFrame(table) for name, table in rows.items() if table}, schemas=declared
    )
    return plant(
        season,
        declared,
        np.random.default_rng(1),
        number=round(findings / _FINDINGS_OF_ONE),
        apart=2,
        alone=False,
    )[0]


def main(handlings: int = 20_000, findings: int = 2_000) -> None:
    """Make the season and check it; print seconds and memory."""
    declared = load_declarations()
    start = time.perf_counter()
    season = large_season(declared, handlings, findings)
    made = time.perf_counter()
    before = _peak()
    checked = check_closely(season, schemas=declared)
    print(
        f"{handlings} handlings, {len(checked.report.findings)} findings: made in {made - start:.1f} s, "
        f"checked in {time.perf_counter() - made:.1f} s; most memory {before:.0f} MB when made, "
        f"{_peak():.0f} MB when checked"
    )


def _peak() -> float:
    """Most memory that this process ever held, in megabytes."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
