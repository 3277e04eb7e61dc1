"""What a log of antennas holds, as the table ``heard`` of a season."""

from __future__ import annotations

import string
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from audit.handover.passages.passages_record import moments
from audit.models.tag_text import comparable
from audit.season import Column, Table, row_label

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.handover.passages.passages_record import PassagesRecord
    from audit.season import Season

__all__ = ["HEARD_COLUMNS", "heard_lines", "with_heard"]

#: Columns of ``heard.csv`` and of the table, in order.
HEARD_COLUMNS = ("box", "tag", "night", "reads", "first_heard", "last_heard", "what")


def with_heard(season: Season, record: PassagesRecord) -> Season:
    """Give a season with the table ``heard``, one row for each tag at each box in each night.

    Codes of noise are left out, unless the season knows them; a log that was read as the table ``detections``
    gives way, so that nothing is counted twice.
    """
    nights = record.nights
    if nights is None or not len(nights.tag):
        return season
    noise = [code for code in record.noise if comparable(record.tags[code]) not in _known(season)]
    keep = ~np.isin(nights.tag, noise)
    tags, boxes = np.array(record.tags, dtype=object), np.array(record.boxes, dtype=object)
    what = np.full(len(record.tags), "bird", dtype=object)
    what[list(record.noise)] = "noise"
    what[list(record.markers)] = "marker"
    labels = pd.Index([row_label("heard", i + 2) for i in range(int(keep.sum()))], dtype="str")
    at = {name: getattr(nights, name)[keep].astype("datetime64[ms]") for name in ("first", "last")}
    frame = pd.DataFrame(
        {
            "box": pd.array(boxes[nights.box[keep]], dtype="str"),
            "tag": pd.array(tags[nights.tag[keep]], dtype="str"),
            "night": nights.night[keep].astype("datetime64[D]").astype("datetime64[us]"),
            "reads": pd.array(nights.reads[keep], dtype="Int64"),
            "first_heard": at["first"].astype("datetime64[us]"),
            "last_heard": at["last"].astype("datetime64[us]"),
            "what": pd.array(what[nights.tag[keep]], dtype="str"),
        },
        index=labels,
    )
    typed = frame.astype(object).assign(
        night=np.datetime_as_string(nights.night[keep].astype("datetime64[D]")),
        reads=[str(n) for n in nights.reads[keep].tolist()],
        first_heard=moments(nights.first[keep], exact=record.exact, zoned=record.zoned),
        last_heard=moments(nights.last[keep], exact=record.exact, zoned=record.zoned),
    )
    columns = {
        ("heard", name): Column(name, string.ascii_uppercase[i]) for i, name in enumerate(HEARD_COLUMNS)
    }
    table = Table("heard", frame, typed.astype("str"), columns)
    kept = {name: one for name, one in season.tables.items() if name not in ("heard", "detections")}
    return replace(season, tables={**kept, "heard": table})


def _known(season: Season) -> frozenset[str]:
    """Tags that stand anywhere in a season."""
    return frozenset(
        comparable(str(text))
        for name in ("handlings", "tag_stock", "tag_reads", "earlier")
        if season.has(name, "tag")
        for text in season.frame(name)["tag"].dropna().unique()
    )


def heard_lines(season: Season) -> Iterator[tuple[str, ...]]:
    """Give the lines of ``heard.csv``: the table as its cells are named in findings."""
    if season.has("heard"):
        yield from season.tables["heard"].typed[list(HEARD_COLUMNS)].itertuples(index=False, name=None)
