"""Names of events and occurrences that stay the same when a sheet is sorted anew, or written again.

They are made of what a row is about (day, box, ring or tag), never of where it stands. Rows that are about
the same are numbered in the order of what they hold, so that rows with the same name are told apart the
same way in any order of the sheet. What a row is about may be corrected later: then its name changes with it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

if TYPE_CHECKING:
    from collections.abc import Iterable

__all__ = ["box_event", "joined", "numbered", "season_event", "visit_events"]


def season_event(days: Iterable[str]) -> str:
    """Name the season by the years of its days."""
    years = sorted({day[:4] for day in days if day})
    return ":".join(("season", *(["-".join(dict.fromkeys((years[0], years[-1])))] if years else [])))


def box_event(season: str, boxes: pd.Series) -> pd.Series:
    """Name the season of each box."""
    return joined(boxes.index, season, boxes)


def visit_events(season: str, rows: pd.DataFrame) -> pd.Series:
    """Name the event that each row belongs to: the visit; without a day the box, without a box the season."""
    day, box = rows["date"], rows["box"]
    names = joined(rows.index, "visit", day, box)
    names = names.where(day != "", box_event(season, box))
    return names.where(box != "", season)


def joined(index: pd.Index, kind: str, *parts: pd.Series) -> pd.Series:
    """Join a word and columns with colons; a colon within a column is written ``%3A``."""
    columns = []
    for part in parts:
        texts = part.tolist()
        plain = {text: text.replace("%", "%25").replace(":", "%3A") for text in set(texts)}
        columns.append([plain[text] for text in texts])
    names = [":".join((kind, *row)) for row in zip(*columns, strict=True)]
    return pd.Series(names, index=index, dtype=object)


def numbered(names: pd.Series, content: pd.DataFrame) -> pd.Series:
    """Give the second, third ... of rows with one name a number behind it, in the order of their content.

    Parameters
    ----------
    names : pandas.Series of str
        Length n.
    content : pandas.DataFrame of str
        All that the rows hold, n rows.
    """
    again = names.duplicated(keep=False).to_numpy()
    if not again.any():
        return names
    held = content.loc[again].astype(str).agg("\x1f".join, axis="columns")
    order = pd.DataFrame({"name": names[again].to_numpy(), "held": held.to_numpy(), "row": range(len(held))})
    order = order.sort_values(["name", "held", "row"], kind="stable")
    count = order.groupby("name").cumcount().to_numpy() + 1
    numbers = pd.Series(count, index=order["row"].to_numpy()).sort_index().to_numpy()
    made = names.copy()
    made[again] = [
        name if number == 1 else f"{name}:{number}"
        for name, number in zip(names[again].tolist(), numbers.tolist(), strict=True)
    ]
    return made
