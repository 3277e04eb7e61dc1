"""A small season with slips, and questions asked about them: for tests of the query sheet."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from audit.checking import check, read_season
from audit.review.decisions import Decision
from audit.review.places import decided_cell

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audit.findings import Report
    from audit.season import Season

AT = "2026-09-01T10:00:00+02:00"


def bird(box: str, number: int, gross: int, wing: int, /, **more: str) -> dict[str, str]:
    row = {
        "date": "2026-06-13",
        "time": "",
        "box": box,
        "species": "Barn owl",
        "ring": f"SV{number:05}",
        "tag": f"999104190{number:06}",
        "gross_g": str(gross),
        "bag_g": "24",
        "net_g": str(gross - 24),
        "wing_mm": str(wing),
        "ringer": "AB",
        "scribe": "IP",
    }
    return {**row, **more}


def rows() -> list[dict[str, str]]:
    """Eleven birds of three boxes and two days; net of the second bird was not subtracted."""
    return [
        bird("SL-10", 1001, 329, 138, time="11:00"),
        bird("SL-10", 1002, 302, 124, time="11:04", net_g="302"),
        bird("SL-10", 1003, 269, 112, time="11:07"),
        bird("SL-09", 1004, 334, 141, time="09:30"),
        bird("SL-09", 1005, 320, 135, time="09:34"),
        bird("SL-09", 1006, 311, 130, time="09:37", ring="=SV01006"),
        bird("SL-02", 1007, 340, 142, date="2026-06-12"),
        bird("SL-02", 1008, 338, 139, date="2026-06-12", remarks="\u2640 \u2192 12 \u00b5g"),
        bird("SL-02", 1009, 300, 128, date="2026-06-12"),
        bird("SL-02", 1010, 290, 121, date="2026-06-12"),
        bird("SL-02", 1010, 290, 121, date="2026-06-12"),
    ]


def season_of(lines: Sequence[dict[str, str]]) -> Season:
    return read_season({"handlings": pd.DataFrame(lines).fillna("").astype("str")})


def asks(season: Season, *cells: Sequence[tuple[str, str]], who: str = "AB") -> list[Decision]:
    """Ask about cells; each argument is one decision."""
    return [
        Decision(
            f"ask{i}",
            f"2026-08-0{i}T08:00:00+02:00",
            who,
            "ask",
            tuple(decided_cell(season, label, field, None) for label, field in inside),
            reason="smudged" if i == 1 else "",
            findings=(f"finding{i}",),
            rules=("tare.not_subtracted",),
            asked=f"Sentence {i}.",
        )
        for i, inside in enumerate(cells, 1)
    ]


def label(row: int) -> str:
    return f"handlings!{row}"


def report_of(season: Season) -> Report:
    return check(season)
