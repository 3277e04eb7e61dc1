"""Each box is cleaned at least once in the calendar year, after ringing, and its gear is looked after."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import pandas as pd

from audit.rules.case import At
from audit.rules.rule import Rule

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.findings import Finding, NotRun
    from audit.rules.case import Case

__all__ = ["RULE", "check"]


@dataclass(frozen=True, slots=True)
class _Gear:
    """One kind of gear: the outcome, the tick that looks after it, the box column that says it is there."""

    outcome: str
    tick: str
    there: str
    words: str


_GEAR = (
    _Gear("camera", "camera_cleaned", "camera", "the camera is not marked as cleaned"),
    _Gear("logger", "logger_downloaded", "antennas", "the logger is not marked as downloaded"),
    _Gear("entrance", "entrance_checked", "antennas", "the entrance is not marked as checked"),
)


def check(case: Case) -> Iterator[Finding | NotRun]:
    """Look for boxes without a cleaning after their last ringing, year by year."""
    visits = case.sure("visits")
    visits = visits[visits["date"].notna() & visits["box"].notna()]
    if "cleaned" in visits.columns:
        years = _box_years(case, visits)
        for year in sorted(years["year"].unique()):
            yield from _one_year(case, visits, int(year), years[years["year"] == year])
        yield from _with_young(case, visits)
    else:
        yield case.not_run("not_ticked", "The visits have no column for cleaning.")
    yield from _gear(case, visits)


def _box_years(case: Case, visits: pd.DataFrame) -> pd.DataFrame:
    """One row per box and year: last day with a bird in the hand, last cleaning, last visit and its row."""
    handled = case.sure("handlings")[["date", "box"]].dropna()
    handled = handled.assign(year=handled["date"].dt.year)
    seen = visits[["date", "box"]].assign(year=visits["date"].dt.year, label=visits.index)
    ticked = seen[visits["cleaned"].fillna(value=False).astype("bool")]
    keys = ["year", "box"]
    last = seen.sort_values("date", kind="stable").groupby(keys).last()
    parts = {
        "ringed": handled.groupby(keys)["date"].max(),
        "cleaned": ticked.groupby(keys)["date"].max(),
        "visited": last["date"],
        "label": last["label"],
    }
    years = pd.concat(parts, axis=1).reset_index()
    empty = years["ringed"].isna()
    years["done"] = years["cleaned"].notna() & (empty | (years["cleaned"] > years["ringed"]))
    years["later"] = years["visited"].notna() & (empty | (years["visited"] > years["ringed"]))
    return years


def _one_year(case: Case, visits: pd.DataFrame, year: int, boxes: pd.DataFrame) -> Iterator[Finding]:
    left = boxes[~boxes["done"]]
    if left.empty:
        return
    share = float(boxes["done"].mean())
    if share < case.limit("cleaned_share"):
        rows = [*left["label"].dropna(), *visits.index]
        if not rows:
            return
        yield case.blame(
            "to_clean",
            [At(str(rows[0]), "cleaned")],
            f"In {year} {int(boxes['done'].sum())} of {len(boxes)} boxes are marked as cleaned after ringing;"
            f" left: {_names(case, left['box'])}.",
        )
        return
    for box in left.itertuples():
        if box.later:
            yield case.blame(
                "not_ticked",
                [At(str(box.label), "cleaned", suggested=True)],
                f"Box {box.box} is not marked as cleaned {_since(box.ringed, year)},"
                f" but {int(boxes['done'].sum())} of {len(boxes)} boxes are.",
            )
    away = left[~left["later"]]
    if len(away):
        labels = away["label"].dropna()
        if len(labels):
            yield case.blame(
                "not_visited",
                [At(str(labels.iloc[0]), "cleaned")],
                f"No visit after the last ringing of {year}, so no cleaning: {_names(case, away['box'])}.",
            )


def _since(ringed: object, year: int) -> str:
    if isinstance(ringed, pd.Timestamp):
        return f"after the last ringing on {ringed.date().isoformat()}"
    return f"in {year}"


def _with_young(case: Case, visits: pd.DataFrame) -> Iterator[Finding]:
    if "alive" not in visits.columns:
        return
    both = visits["cleaned"].fillna(value=False).astype("bool") & (visits["alive"].fillna(0) > 0)
    for label, visit in visits[both].iterrows():
        yield case.blame(
            "with_young",
            [At(str(label), "cleaned")],
            f"Box {visit['box']} is marked as cleaned on {visit['date'].date().isoformat()},"
            f" when {visit['alive']} young were in it; boxes are cleaned when they are empty.",
        )


def _gear(case: Case, visits: pd.DataFrame) -> Iterator[Finding]:
    """One note per kind of gear and year, on the boxes that have it."""
    if not case.season.has("boxes"):
        return
    boxes = case.sure("boxes")
    years = visits["date"].dt.year
    for gear in _GEAR:
        if gear.tick not in visits.columns or gear.there not in boxes.columns:
            continue
        fitted = set(boxes.loc[(boxes[gear.there] > 0).fillna(value=False).astype("bool"), "box"].dropna())
        ticks = visits[gear.tick].fillna(value=False).astype("bool")
        for year in sorted(years.unique()):
            seen = visits[(years == year) & visits["box"].isin(fitted)]
            done = set(seen.loc[ticks[seen.index], "box"])
            left = seen[~seen["box"].isin(done)]
            if len(left):
                boxes_left = left["box"].drop_duplicates()
                yield case.blame(
                    gear.outcome,
                    [At(str(left.index[-1]), gear.tick)],
                    f"In {year} {gear.words} at {_names(case, boxes_left)}.",
                )


def _names(case: Case, boxes: pd.Series) -> str:
    names = [str(box) for box in boxes]
    most = case.limit("boxes_named")
    if len(names) <= most:
        return ", ".join(names)
    return f"{', '.join(names[:most])} and {len(names) - most} more"


RULE = Rule(
    slug="cleaning",
    needs={"visits": ("date", "box")},
    check=check,
    heeds={
        "handlings": ("date", "box"),
        "visits": (
            "date",
            "box",
            "alive",
            "cleaned",
            "camera_cleaned",
            "logger_downloaded",
            "entrance_checked",
        ),
        "boxes": ("box", "camera", "antennas"),
    },
)
