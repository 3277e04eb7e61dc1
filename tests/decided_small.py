"""A small season with slips of every sort, and decisions on it: for tests of what goes out."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pandas as pd

import audit
from audit.handover.clean.decided_season import DecidedSeason
from audit.review.decisions import decide
from audit.review.places import decided_cell
from audit.review.replay import replay

if TYPE_CHECKING:
    from collections.abc import Iterable

    from audit.declarations import Declarations
    from audit.review.decisions import Decision, Verb
    from audit.season import Season

HANDLINGS = {
    "Date": ["2026-05-04", "2026-05-04", "2026-05-05", "2026-05-05", "2026-05-06", "2026-05-06"],
    "Box": ["SL-01", "SL-01", "SL-02", "SL-02", "SL-03", "SL-03"],
    "Ring": ["SV01001", "SV01002", "SV01003", "SV01004", "SV01005", "SV01006"],
    "Gross": ["310", "395", "402", "288", "350", "341"],
    "Bag": ["22", "22", "22", "22", "22", "22"],
    "Net": ["288", "373", "380", "266", "328", "319"],
    "Sex": ["M", "F", "U", "M", "F", "F"],
}
BOXES = {"Box": ["SL-01", "SL-02", "SL-03"], "Latitude": ["52.1", "52.2", "52.3"]}


def small_season(
    declared: Declarations, *slips: tuple[str, int, str], boxes: tuple[tuple[str, int, str], ...] = ()
) -> Season:
    """Read the season as typed, with some cells typed otherwise: (column, spreadsheet row, text)."""
    tables = {
        "handlings": {name: list(cells) for name, cells in HANDLINGS.items()},
        "boxes": {name: list(cells) for name, cells in BOXES.items()},
    }
    for table, changes in (("handlings", slips), ("boxes", boxes)):
        for column, row, text in changes:
            tables[table][column][row - 2] = text
    frames = {name: pd.DataFrame(table, dtype="str") for name, table in tables.items()}
    return audit.read_season(frames, schemas=declared)


def say(
    season: Season,
    verb: Verb,
    *cells: tuple[int, str, str | None],
    who: str = "AB",
    table: str = "handlings",
    **more: object,
) -> Decision:
    """Decide cells, each (spreadsheet row, canonical column, text in its place); always on one day."""
    made = [decided_cell(season, f"{table}!{row}", field, instead) for row, field, instead in cells]
    names = "-".join(f"{one.row}.{one.field}" for one in made)
    decision = decide(who, verb, made, **more)
    return replace(decision, identity=f"{who}-{verb}-{names}", at="2026-07-02T10:00:00+02:00")


def decided(season: Season, declared: Declarations, decisions: Iterable[Decision] = ()) -> DecidedSeason:
    """Apply decisions, and audit what comes of it."""
    log = tuple(decisions)
    replayed = replay(season, declared, log)
    return DecidedSeason(season, replayed, log, audit.check(replayed.season, schemas=declared), declared)
