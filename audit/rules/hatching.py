"""Hatching dates against the day of handling and the age in days."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from audit.models.calendar_slips import date_slips
from audit.models.spelling import one_slip_apart
from audit.rules.case import At

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterator

    from audit.findings import Finding
    from audit.rules.case import Case

__all__ = ["hatching"]


def hatching(case: Case, doubted: frozenset[str]) -> Iterator[Finding]:
    """Find hatching dates after the day of handling, and ages that disagree with them.

    Parameters
    ----------
    case : Case
    doubted : frozenset of str
        Labels of rows whose date is in doubt.
    """
    if not case.season.has("handlings", "hatch_date"):
        return
    frame = case.sure("handlings")
    frame = frame[(frame["hatch_date"].notna() & frame["date"].notna()).to_numpy()]
    frame = frame[~frame.index.isin(list(doubted))]
    elapsed = (frame["date"] - frame["hatch_date"]).dt.days
    after = elapsed < 0
    for label in frame.index[after.to_numpy()]:
        yield _hatched_later(case, frame, str(label))
    if "age_days" not in frame.columns:
        return
    off = elapsed - frame["age_days"]
    spread = _spread(case, frame)
    tolerance = case.limit("age_days_off")
    odd = ~after & ((off < -tolerance) | (off > tolerance + spread))
    if odd.sum() * 2 > off.notna().sum():
        # the two columns do not mean the same here
        return
    for label in frame.index[odd.to_numpy(dtype=bool, na_value=False)]:
        yield _disagree(case, frame, str(label), int(elapsed[label]))


def _spread(case: Case, frame: pd.DataFrame) -> pd.Series[float]:
    """Days by which a bird may be younger than says the hatching date that it shares with nest mates."""
    together = frame.groupby(["box", "hatch_date"])["ring"].transform("nunique")
    spread = float(case.limit("hatching_spread"))
    return (together > 1).astype("float64") * spread


def _mates(frame: pd.DataFrame, label: str) -> pd.DataFrame:
    row = frame.loc[label]
    mates = frame[((frame["box"] == row["box"]) & (frame["date"] == row["date"])).to_numpy()]
    return mates[mates.index != label]


def _meant(frame: pd.DataFrame, label: str, most: int) -> dt.date | None:
    """Find the hatching date one slip away that nest mates have, else the only possible one."""
    row = frame.loc[label]
    day, typed = row["date"].date(), row["hatch_date"].date()
    near = [other for other in date_slips(typed) if 0 <= (day - other).days <= most]
    mates = {date.date() for date in _mates(frame, label)["hatch_date"]}
    shared = [other for other in near if other in mates]
    if len(shared) == 1:
        return shared[0]
    if "age_days" in frame.columns and pd.notna(row["age_days"]):
        age = int(np.rint(row["age_days"]))
        near = [other for other in near if (day - other).days == age]
    return near[0] if len(near) == 1 else None


def _one_slip(meant: int, typed: float) -> bool:
    """Whether a single slip turns one number of days into another: a digit, or a point left out."""
    text = f"{typed:g}"
    return bool(one_slip_apart(str(meant), text)) or text.replace(".", "") == str(meant)


def _hatched_later(case: Case, frame: pd.DataFrame, label: str) -> Finding:
    row = frame.loc[label]
    meant = _meant(frame, label, case.limit("brood_days"))
    message = f"Hatched on {row['hatch_date'].date()}, but handled on {row['date'].date()}"
    message += f": {meant} was probably meant." if meant else "."
    return case.blame("hatched_later", [At(label, "hatch_date", meant or "")], message, [(label, "date")])


def _disagree(case: Case, frame: pd.DataFrame, label: str, elapsed: int) -> Finding:
    row = frame.loc[label]
    message = (
        f"From hatching on {row['hatch_date'].date()} to {row['date'].date()} are {elapsed} days, "
        f"but the age is {row['age_days']:g} days"
    )
    mates = _mates(frame, label)
    same = (mates["hatch_date"] == row["hatch_date"]).sum()
    by_date = _meant(frame, label, case.limit("brood_days"))
    age = float(frame["age_days"].to_dict()[label])
    told = str(elapsed) if _one_slip(elapsed, age) else ""
    if by_date and abs((row["date"].date() - by_date).days - age) > case.limit("age_days_off"):
        # a hatching date that leaves the age as it is explains nothing
        by_date = None
    if by_date and (mates["hatch_date"].dt.date == by_date).any():
        told = ""
    even, likely = case.limit("p_even"), case.limit("p_of_one")
    if (len(mates) > 1 and same * 2 > len(mates)) or not 0 <= age <= case.limit("brood_days"):
        at = [At(label, "age_days", told, likely)]
        message += (
            ", and the nest mates have the same hatching date" if same else ", which no nestling reaches"
        )
        message += f": {told} was probably meant" if told else ""
    elif bool(told) != bool(by_date):
        name, meant = ("age_days", told) if told else ("hatch_date", str(by_date))
        at = [At(label, name, meant, likely)]
        message += f": {meant} was probably meant"
    else:
        at = [
            At(label, name, meant, even)
            for name, meant in (("hatch_date", str(by_date or "")), ("age_days", told))
        ]
    return case.blame("age_and_hatching", at, f"{message}.", [(label, "date")])
