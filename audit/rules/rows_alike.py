"""Rows of handlings that say the same: in every cell as typed, or in all that is measured anew."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

if TYPE_CHECKING:
    from audit.rules.case import Case

__all__ = ["is_measured", "same_measures", "same_row"]


def same_row(case: Case, one: str, two: str) -> bool:
    """Whether two rows have the same text in every cell."""
    typed = case.season.tables["handlings"].typed
    return bool((typed.loc[one] == typed.loc[two]).all())


def same_measures(case: Case, one: str, two: str) -> bool:
    """Whether two rows agree in all that is measured anew whenever a bird is in the hand, however typed."""
    frame = case.frame("handlings")
    fields = [name for name in case.limit("measured_anew") if name in frame.columns]
    measures = frame.loc[[one, two], fields].astype("float64").to_numpy()
    known = ~np.isnan(measures)
    same = np.array_equal(measures[0], measures[1], equal_nan=True)
    return same and int(known[0].sum()) >= case.limit("measures_least")


def is_measured(case: Case, label: str) -> bool:
    """Whether a row holds anything that two birds do not share by chance."""
    row = case.frame("handlings").loc[label]
    return any(name in row.index and pd.notna(row[name]) for name in case.limit("telling"))
