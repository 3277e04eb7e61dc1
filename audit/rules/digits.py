"""Last digits of wings and masses, observer by observer: a habit of reading, not a wrong cell."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from audit.models.digits import Preference, last_digits, on_step, preference
from audit.models.written_number import typed_unit
from audit.rules.case import At
from audit.rules.rule import Rule

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from audit.findings import Finding, NotRun
    from audit.rules.case import Case

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]

__all__ = ["RULE", "Habit", "check", "habits_of"]

_MEASURES = {"wing_mm": "wing lengths", "gross_g": "gross masses", "net_g": "net masses"}
_OBSERVERS = ("ringer", "scribe")
_FIVE = 5
_TEN = 10


@dataclass(frozen=True, slots=True)
class Habit:
    """Last digits of one measure as one observer wrote them.

    Attributes
    ----------
    observer, measure, label : str
        Initials; column; label of the first row.
    unit : float
        Unit of the last digit.
    found : Preference
        How unevenly they are used.
    """

    observer: str
    measure: str
    label: str
    unit: float
    found: Preference


def check(case: Case) -> Iterator[Finding | NotRun]:
    """Compare the last digits that each observer writes with equal shares."""
    if not _observers(case):
        yield case.not_run("favoured", "There is no column for the ringer or the scribe.")
        return
    for habit in habits_of(case, case.limit("least_values")):
        found = habit.found
        if found.p_value < case.limit("p_value") and found.index >= case.limit("least_index"):
            says = _says(case, habit.observer, habit.measure, found)
            yield case.blame("favoured", [At(habit.label, habit.measure)], says)


def habits_of(case: Case, least: int) -> Iterator[Habit]:
    """Count the last digits that each observer wrote; none without a column for ringer or scribe.

    Left out are values of kinds of birds that differ too little for even last digits, and those of an
    instrument that is marked in coarser steps.

    Parameters
    ----------
    least : int
        Observers with fewer values of a measure are left out.
    """
    frame = case.sure("handlings")
    if not (observer := _observers(case)):
        return
    if "ringer" in frame.columns and not frame["ringer"].notna().any() and "scribe" in frame.columns:
        observer = "scribe"
    frame = frame[frame[observer].notna()]
    # net computed by the sheet repeats the habit of gross: it is looked at only where gross is not written
    measures = [name for name in _MEASURES if name in frame.columns]
    if "gross_g" in measures and frame["gross_g"].notna().any():
        measures = [name for name in measures if name != "net_g"]
    for measure in measures:
        yield from _one_measure(case, frame, observer, measure, least)


def _observers(case: Case) -> str:
    return next((name for name in _OBSERVERS if name in case.frame("handlings").columns), "")


def _one_measure(case: Case, frame: pd.DataFrame, observer: str, measure: str, least: int) -> Iterator[Habit]:
    numbers = frame[measure].to_numpy(dtype=np.float64, na_value=np.nan)
    usable = np.isfinite(numbers) & (numbers >= 0)
    values, rows = numbers[usable], frame[usable]
    if len(values) < least:
        return
    unit = _units(rows, observer, values)
    wide = _wide(case, rows, values / unit) & ~_by_instrument(
        case, rows, observer, values, unit, weighed=measure != "wing_mm"
    )
    visit = rows.groupby([name for name in ("date", "box") if name in rows.columns], dropna=False).ngroup()
    for name in rows[observer].unique():
        for one in np.unique(unit):
            mine = (rows[observer] == name).to_numpy(dtype=bool) & (unit == one) & wide
            if mine.sum() < least:
                continue
            found = preference(last_digits(values[mine], one), visit.to_numpy()[mine])
            yield Habit(str(name), measure, str(rows.index[mine][0]), float(one), found)


def _by_instrument(
    case: Case, rows: pd.DataFrame, observer: str, values: Floats, unit: Floats, *, weighed: bool
) -> Flags:
    """Find the values that end as they do because the instrument is marked in coarser steps.

    A species has a balance of its own; an observer, too, whose masses never lie between the marks.
    """
    kinds = [["species"]] if "species" in rows.columns else [[]]
    if weighed:
        kinds.append([*kinds[0], observer])
    found = np.zeros(len(values), dtype=bool)
    for keys, share in zip(kinds, (case.limit("instrument_share"), case.limit("own_share")), strict=False):
        parts = [rows[name].to_numpy(dtype=object) for name in keys]
        group = pd.DataFrame({"unit": unit, **{str(k): part for k, part in enumerate(parts)}})
        number = group.groupby(list(group.columns), sort=False, dropna=False).ngroup().to_numpy()
        for one in np.unique(number):
            inside = number == one
            found[inside] |= any(
                on_step(values[inside], step * 1.0) >= share
                for step in case.limit("instrument_steps")
                if step > unit[inside][0]
            )
    return found


def _units(rows: pd.DataFrame, observer: str, values: Floats) -> Floats:
    """Find the unit of each observer, day and species: whole numbers beside tenths may be another balance."""
    own = typed_unit(values)
    keys = [name for name in (observer, "date", "species") if name in rows.columns]
    day = rows.groupby(keys, sort=False, dropna=False).ngroup().to_numpy()
    finest = np.ones(int(day.max(initial=0)) + 1)
    np.minimum.at(finest, day, own)
    return np.asarray(finest[day], dtype=np.float64)


def _wide(case: Case, rows: pd.DataFrame, units: Floats) -> Flags:
    """Whether birds of one kind vary enough for their last digits to be even by nature."""
    keys = [name for name in ("species", "age") if name in rows.columns]
    if not keys:
        return np.full(len(units), bool(np.std(units) >= case.limit("least_spread_units")))
    kind = rows.groupby(keys, sort=False, dropna=False).ngroup().to_numpy()
    n = np.bincount(kind)
    mean = np.bincount(kind, weights=units) / n
    variance = np.bincount(kind, weights=(units - mean[kind]) ** 2) / n
    return np.asarray(np.sqrt(variance[kind]) >= case.limit("least_spread_units"), dtype=bool)


def _says(case: Case, name: str, measure: str, found: Preference) -> str:
    counts = found.counts
    if found.whipple >= case.limit("least_whipple"):
        ends, expected = "0 or 5", found.n * 2 / _TEN
        times = counts[0] + counts[_FIVE]
    else:
        digit = int(np.argmax(counts))
        ends, expected, times = str(digit), found.n / _TEN, counts[digit]
    return (
        f"Of {found.n} {_MEASURES[measure]} by {name}, {times} end in {ends} where about {expected:.0f}"
        " would be expected: easily done in a hurry, and a second look at the last digit helps."
    )


RULE = Rule(
    slug="digits",
    needs={"handlings": ()},
    check=check,
    heeds={"handlings": ("date", "box", "species", "age", "ringer", "scribe", "gross_g", "net_g", "wing_mm")},
)
