"""Birds handled at a box before it was put up or after it was taken down."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from audit.rules.case import At

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.findings import Finding
    from audit.rules.case import Case

__all__ = ["boxes_not_in_place"]


def boxes_not_in_place(case: Case, blamed: set[str]) -> Iterator[Finding]:
    """Birds handled at a box before it was put up or after it was taken down.

    A year of hardly any other row is a question of the date, and asked there.
    """
    bounds = [name for name in ("since", "until") if case.season.has("boxes", name)]
    if not bounds:
        return
    boxes = case.sure("boxes").dropna(subset=["box"])
    boxes = boxes[~boxes["box"].duplicated().to_numpy()]
    rows_of = pd.Series(boxes.index, index=boxes["box"].to_numpy())
    frame = case.sure("handlings")[["box", "date"]].dropna()
    year = frame["date"].dt.year
    least = min(max(case.limit("year_share") * len(frame), 2), len(frame) / 2)
    usual = year.groupby(year).transform("size") >= least
    frame = frame[(usual & ~frame.index.isin(list(blamed))).to_numpy()]
    for name in bounds:
        limit = boxes.set_index("box")[name].reindex(frame["box"]).set_axis(frame.index)
        outside = (frame["date"] < limit) if name == "since" else (frame["date"] > limit)
        rows = frame[outside.to_numpy(dtype=bool)]
        for box, group in rows.groupby("box", sort=False):
            days = sorted({day.date() for day in group["date"]})
            edge = limit[group.index[0]].date()
            when = f"was put up on {edge} only" if name == "since" else f"was taken down on {edge}"
            handled = f"{days[0]}" if len(days) == 1 else f"{len(days)} days, {days[0]} the first"
            message = f"Box {box} {when}, but birds were handled there on {handled}."
            entry = At(str(rows_of[box]), name, "", case.limit("p_table"))
            labels = [str(label) for label in group.index]
            if len(days) > 1:
                witnesses = [(label, "box") for label in labels]
                yield case.blame("not_in_place", [entry], message, witnesses)
            else:
                yield case.blame("not_in_place", [*(At(label, "box") for label in labels), entry], message)
