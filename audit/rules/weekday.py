"""Question of the weekday: does each visit fall on one on which this team goes out? A habit decides."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from audit.rules.case import At
from audit.rules.rule import Rule

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.findings import Finding, NotRun
    from audit.rules.case import Case

__all__ = ["RULE"]

_NAMES = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


def check(case: Case) -> Iterator[Finding | NotRun]:
    """Note days off the team's weekdays: a whole day typed wrongly may show only here."""
    dates = case.sure("handlings")["date"].dropna().dt.normalize()
    days = pd.Series(dates.unique())
    if len(days) < case.limit("days_least"):
        yield case.not_run("unusual", f"days in the field: {len(days)}, too few to show a habit of weekdays")
        return
    counts = days.dt.day_of_week.value_counts()
    usual = counts[counts.cumsum().shift(fill_value=0) < case.limit("habit_share") * len(days)].index
    if len(usual) > case.limit("weekdays_most"):
        return
    names = " and ".join(f"{_NAMES[weekday]}s" for weekday in sorted(usual))
    kept = int(counts[usual].sum())
    for day in days[~days.dt.day_of_week.isin(usual)].sort_values():
        labels = dates.index[dates == day]
        yield case.blame(
            "unusual",
            [At(str(labels[0]), "date")],
            f"{day.date().isoformat()} is a {_NAMES[day.weekday()]}, but {kept} of {len(days)} days in the "
            f"field are {names}: is the date of its {len(labels)} rows right?",
            [(str(label), "date") for label in labels[1:]],
        )


RULE = Rule(
    "weekday",
    {"handlings": ("date",)},
    check,
    heeds={"handlings": ("date",)},
)
