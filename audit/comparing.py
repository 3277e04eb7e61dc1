"""Compare two typings of the same field sheets: a verb of the front door."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

from audit.checking import check, check_closely, declarations_of, read_season
from audit.review.double_entry import compare, second_typing
from audit.review.opening import open_desk
from audit.season import Season

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    import pandas as pd

    from audit.declarations import Declarations
    from audit.review.double_entry import DoubleEntry

__all__ = ["double_entry"]


def double_entry(
    first: Season | str | Path | Mapping[str, pd.DataFrame],
    second: Season | str | Path | Mapping[str, pd.DataFrame],
    *,
    schemas: str | Path | Declarations | None = None,
) -> DoubleEntry:
    """Compare two typings of the same field sheets, cell by cell, by what the cells mean.

    Parameters
    ----------
    first, second : Season, path or mapping of str to pandas.DataFrame
        What two people typed, each on their own; anything that `read_season` takes.
    schemas : path or Declarations, optional
        A team's folder of declarations, laid over the shipped ones.

    Returns
    -------
    DoubleEntry
        Its ``report`` holds the differences, as findings on cells of the first typing; ``report.desk()``
        opens the desk of the first typing with them beside what the audit says.

    Raises
    ------
    audit.refusal.SeasonRefusal
        Both are one file, or they have no row in common.

    Examples
    --------
    >>> import pandas as pd
    >>> row = {"date": "2026-05-04", "box": "SL-01", "ring": "SV01001", "wing_mm": "201"}
    >>> one = pd.DataFrame([row, {**row, "ring": "SV01002", "wing_mm": "188"}])
    >>> other = one.assign(date="04.05.2026", wing_mm=["20.1 cm", "198"])
    >>> double = double_entry({"handlings": one}, {"handlings": other})
    >>> [finding.suspects[0].cell.address for finding in double.differences]
    ['D3']
    """
    declared = declarations_of(schemas)
    one, other = (
        season if isinstance(season, Season) else read_season(season, schemas=declared)
        for season in (first, second)
    )
    checked = check_closely(one, schemas=declared)
    double = compare(one, other, declared, (checked.report, check(other, schemas=declared)))
    opener = partial(open_desk, checked, also=double.report.findings, evidence=partial(second_typing, double))
    return replace(double, report=replace(double.report, opener=opener))
