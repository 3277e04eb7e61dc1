"""A small season with a log of its antennas, night by night or read by read."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any

from typed_season import typed_season

if TYPE_CHECKING:
    from audit.declarations import Declarations
    from audit.season import Season

DAY = dt.date(2026, 6, 3)
BOX, OTHER = "SL-01", "SL-02"
EVENING = dt.time(21, 30)


def tag(number: int) -> str:
    return f"9991040000{7919 * number % 100_000:05d}" if number > 99 else f"999104000000{number:03d}"


def brood(n: int, *, box: str = BOX, day: dt.date = DAY, first: int = 10) -> list[dict[str, Any]]:
    """Nestlings ringed and tagged together."""
    return [
        {
            "date": day,
            "box": box,
            "species": "barn_owl",
            "ring": f"SV{1000 + first + i:05d}",
            "tag": tag(first + i),
            "age": "1",
            "event": "ringed",
            "remarks": None,
            "condition": None,
        }
        for i in range(n)
    ]


def heard(
    code: str, box: str, *, since: int = 0, nights: int = 10, reads: int = 6, day: dt.date = DAY
) -> list[dict[str, Any]]:
    """One tag at one box, night after night."""
    lines = []
    for k in range(nights):
        night = day + dt.timedelta(days=since + k)
        first = dt.datetime.combine(night, EVENING)
        lines.append(
            {
                "box": box,
                "tag": code,
                "night": night,
                "reads": reads,
                "first_heard": first,
                "last_heard": first + dt.timedelta(minutes=reads - 1),
            }
        )
    return lines


def heard_season(
    declared: Declarations,
    rows: list[dict[str, Any]],
    lines: list[dict[str, Any]],
    *,
    as_reads: bool = False,
    **tables: list[dict[str, Any]],
) -> Season:
    """Handlings, a stock of tags, and the log."""
    log: dict[str, list[dict[str, Any]]] = {"heard": lines} if lines else {}
    if as_reads:
        log = {
            "detections": [
                {
                    "box": line["box"],
                    "antenna": "outer",
                    "detected_at": line["first_heard"]
                    + dt.timedelta(seconds=13 * k * (k + line["night"].day % 7)),
                    "tag": line["tag"],
                }
                for line in lines
                for k in range(line["reads"])
            ]
        }
    stock = [{"tag": tag(number), "batch": "B1"} for number in range(10, 60)]
    return typed_season(declared, handlings=rows, **{"tag_stock": stock} | log | tables)
