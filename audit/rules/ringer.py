"""Who ringed: one bird of a visit under another name than its siblings."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from audit.rules.case import At
from audit.rules.rule import Rule

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.findings import Finding, NotRun
    from audit.rules.case import Case

__all__ = ["RULE", "check"]


def check(case: Case) -> Iterator[Finding | NotRun]:
    """Find visits in which one row alone has another ringer, where that is no habit of the team."""
    frame = case.sure("handlings")[["date", "box", "ringer"]].dropna()
    visit = frame.groupby(["date", "box"], sort=False)
    number = visit.ngroup()
    size = visit["ringer"].transform("size")
    same = frame.groupby([number, "ringer"], sort=False)["ringer"].transform("size")
    large = size > case.limit("fewest_others")
    visits = number[large].nunique()
    shared = number[large & (same < size)].nunique()
    if visits < case.limit("fewest_visits") or shared > max(case.limit("shared_share") * visits, 1):
        return
    odd = large & (same == 1) & _alone(same, number)
    for label in frame.index[odd]:
        others = frame[(number == number[label]) & (frame.index != label)]
        name, own = others["ringer"].iloc[0], frame["ringer"][label]
        day, box = frame["date"][label].date().isoformat(), frame["box"][label]
        yield case.blame(
            "alone",
            [At(str(label), "ringer", name)],
            f"Ringer {own}, but the {len(others)} other birds of box {box} on {day} have {name},"
            f" and {visits - shared} of {visits} visits have one ringer alone.",
            [(str(other), "ringer") for other in others.index],
        )


def _alone(same: pd.Series, number: pd.Series) -> pd.Series:
    """Whether just one row of the visit differs: all the others agree."""
    lone = (same == 1).groupby(number).transform("sum") == 1
    kinds = pd.Series(1 / np.asarray(same), index=same.index).groupby(number).transform("sum").round()
    return lone & (kinds == 2)  # noqa: PLR2004 - the row's own and the others'


RULE = Rule(
    slug="ringer",
    needs={"handlings": ("date", "box", "ringer")},
    check=check,
    heeds={"handlings": ("date", "box", "ringer", "ring")},
)
