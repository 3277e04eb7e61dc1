"""Two rivals on the same seasons: the declarations alone, and an isolation forest told the error rate."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from audit.declarations.to_pandera import blame

if TYPE_CHECKING:
    from audit.declarations import Declarations
    from audit.season import Season

__all__ = ["run_rivals"]

_SIZES = ("gross_g", "bag_g", "net_g", "wing_mm", "brood_size", "age_days")
_WORDS = ("species", "ring_leg", "tag_leg", "age", "event", "sex", "box", "ringer")

Place = tuple[str, str]


def run_rivals(
    season: Season, declared: Declarations, slips: list[set[Place]], visible: list[bool]
) -> dict[str, dict[str, Any]]:
    """Count what each rival finds and whom it bothers."""
    return {
        "declarations": _count(_declarations(season, declared), slips, visible),
        "isolation forest": _count(_forest(season, slips), slips, visible),
    }


def _count(blamed: set[Place], slips: list[set[Place]], visible: list[bool]) -> dict[str, Any]:
    key = set().union(*slips)
    guilty = {label for label, _ in key}
    rows = {label for label, _ in blamed}
    found = [bool(cells & blamed) for cells in slips]
    return {
        "slips": len(slips),
        "visible": sum(visible),
        "found": sum(found),
        "found_visible": sum(f and v for f, v in zip(found, visible, strict=True)),
        "found_row": sum(bool({label for label, _ in cells} & rows) for cells in slips),
        "blamed": len(blamed),
        "blamed_wrong": len(blamed & key),
        "bothered": len(rows - guilty),
    }


def _declarations(season: Season, declared: Declarations) -> set[Place]:
    references = {
        (key.table, key.column): set(season.frame(key.table)[key.column].dropna())
        for table in declared.tables.values()
        for key in table.foreign_keys
        if season.has(key.table, key.column)
    }
    # text that could not be read leaves an empty cell: the reader's own error, known before any rule
    unread = {(reading.label, reading.field) for reading in season.readings if reading.kind == "unreadable"}
    return unread | {
        (breach.label, breach.field)
        for name, table in declared.tables.items()
        if name in season.tables
        for breach in blame(table, season.frame(name), references)
        if breach.label
    }


def _forest(season: Season, slips: list[set[Place]]) -> set[Place]:
    """Rows by an isolation forest, in each the cell that lies furthest out."""
    from sklearn.ensemble import IsolationForest

    frame = season.frame("handlings")
    columns: dict[str, tuple[str, pd.Series]] = {}
    for name in _SIZES:
        if name in frame:
            columns[name] = (name, frame[name].astype("float64"))
    if {"gross_g", "bag_g", "net_g"} <= set(frame):
        columns["rest"] = ("net_g", (frame["gross_g"] - frame["bag_g"] - frame["net_g"]).astype("float64"))
    if {"net_g", "wing_mm"} <= set(frame):
        columns["stout"] = ("net_g", (frame["net_g"] / frame["wing_mm"].clip(lower=1)).astype("float64"))
    days = (frame["date"] - frame["date"].min()).dt.days.astype("float64")
    columns["day"] = ("date", days)
    columns["day_step"] = ("date", days.diff())
    for name in ("ring", "tag"):
        if name in frame:
            digits = pd.to_numeric(frame[name].str.replace(r"\D", "", regex=True).str[-6:], errors="coerce")
            columns[f"{name}_number"] = (name, digits.astype("float64"))
            columns[f"{name}_step"] = (name, digits.astype("float64").diff())
            columns[f"{name}_length"] = (name, frame[name].str.len().astype("float64"))
            columns[f"{name}_times"] = (name, frame.groupby(name)[name].transform("size").astype("float64"))
    for name in _WORDS:
        if name in frame:
            counts = frame[name].map(frame[name].value_counts()).astype("float64")
            columns[f"{name}_times"] = (name, counts)
    table = pd.DataFrame({name: values for name, (_, values) in columns.items()})
    table = table.fillna(table.median()).fillna(0.0)
    guilty = len({label for cells in slips for label, _ in cells})
    rate = float(np.clip(guilty / max(1, len(frame)), 1e-4, 0.5))
    forest = IsolationForest(n_estimators=100, contamination=rate, random_state=0).fit(table)
    flagged = forest.predict(table) < 0
    middle = table.median()
    spread = (table - middle).abs().median() * 1.4826
    spread = spread.where(spread > 0, table.std().replace(0, 1)).fillna(1)
    away = ((table - middle) / spread).abs()
    worst = away.to_numpy().argmax(axis=1)
    names = list(columns)
    return {(str(table.index[i]), columns[names[worst[i]]][0]) for i in range(len(table)) if flagged[i]}
