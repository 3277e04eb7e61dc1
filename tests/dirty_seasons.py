"""Seasons of both generators with slips planted in them, and the same seasons with columns spoilt."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from benchmarks.planting import apply
from benchmarks.seasons import VARIANTS, first_season, other_season
from benchmarks.trials import read_typed

from audit.declarations import load_declarations
from audit.practice.planting import plant

if TYPE_CHECKING:
    from collections.abc import Collection

    from audit.season import Season

declared = cache(load_declarations)


@cache
def dirty_season(generator: str, seed: int, boxes: int = 12, team: str = "mixed") -> Season:
    """Make a season with one slip of each kind that it has room for, some side by side."""
    variant = replace(VARIANTS[0], style={"boxes": boxes}, ways={"boxes": boxes})
    made = first_season(seed, variant) if generator == "first" else other_season(seed, variant, team)
    clean = read_typed(made, apply(made.tables["handlings"], []))
    rng = np.random.default_rng([seed, 23])
    return plant(clean, declared(), rng, each=1, apart=1, alone=False)[0]


def spoilt(
    season: Season, columns: Collection[tuple[str, str]], how: str, rng: np.random.Generator
) -> Season:
    """Blank, mix up or drop columns, given as (table, column); a table without any left goes, too."""
    tables = dict(season.tables)
    for name, table in season.tables.items():
        fields = [field for field in table.typed.columns if (name, field) in columns]
        frame, typed, places = table.frame.copy(deep=False), table.typed.copy(deep=False), table.columns
        if how == "drop":
            if len(fields) == len(typed.columns):
                del tables[name]
                continue
            frame = frame.drop(columns=[field for field in fields if field in frame])
            typed = typed.drop(columns=fields)
            places = {key: place for key, place in places.items() if key[1] not in fields}
        else:
            rows = rng.permutation(len(typed))
            for field in fields:
                typed[field] = "" if how == "blank" else typed[field].array[rows]
                if field in frame and how == "blank":
                    frame[field] = pd.Series(index=frame.index, dtype=frame[field].dtype)
                elif field in frame:
                    frame[field] = frame[field].array[rows]
        tables[name] = replace(table, frame=frame, typed=typed, columns=places)
    kept = [one for one in season.readings if (season.table_of(one.label), one.field) not in columns]
    return replace(season, tables=tables, readings=tuple(kept))
