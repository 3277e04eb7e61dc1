"""Two typings of the same field sheets, each with slips of its own, as seasons and as files."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from invented import Style, invented_season

from audit.checking import read_season
from audit.declarations import load_declarations
from audit.practice.planting import plant

if TYPE_CHECKING:
    from audit.practice.key import Key
    from audit.season import Season

declared = cache(load_declarations)

#: A line of a typing: which row of the field sheet it was typed from, and the texts by column.
Line = "tuple[int, dict[str, str]]"


@dataclass(frozen=True)
class Typing:
    """What one person typed.

    Attributes
    ----------
    season : Season
        As read.
    origin : list of int
        For each row, the row of the field sheet that it was typed from.
    key : Key
        The planted slips; labels are those of the field sheet.
    """

    season: Season
    origin: list[int]
    key: Key = field(repr=False)

    def origin_of(self, label: str) -> int:
        """Row of the field sheet that a row was typed from."""
        return self.origin[list(self.season.frame("handlings").index).index(label)]


@cache
def sheets(seed: int, boxes: int) -> Season:
    """The field sheets as they should have been typed."""
    made = invented_season(seed, Style(boxes=boxes))
    return read_season({name: pd.DataFrame(rows) for name, rows in made.items() if rows}, schemas=declared())


def typing(
    seed: int,
    who: int,
    *,
    boxes: int = 12,
    rate: float = 0.08,
    disorder: bool = True,
    columns: tuple[str, ...] = (),
) -> Typing:
    """Type the sheets of a seed, with slips; with disorder, rows are left out, doubled, moved, and a page."""
    rng = np.random.default_rng([seed, who, 77])
    season, key = plant(sheets(seed, boxes), declared(), rng, rate=rate, apart=1, alone=False)
    texts = season.tables["handlings"].typed
    lines = list(enumerate(texts[list(columns) or list(texts.columns)].to_dict("records")))
    if disorder:
        lines = _disordered(lines, rng)
    other = {name: table.typed.reset_index(drop=True) for name, table in season.tables.items()}
    typed = {**other, "handlings": pd.DataFrame([line for _, line in lines])}
    return Typing(read_season(typed, schemas=declared()), [origin for origin, _ in lines], key)


def _disordered(lines: list[Any], rng: np.random.Generator) -> list[Any]:
    kept = [line for line in lines if rng.random() >= 0.01]
    typed = [again for line in kept for again in ([line, line] if rng.random() < 0.005 else [line])]
    for _ in range(2):
        moved = typed.pop(int(rng.integers(len(typed))))
        typed.insert(int(rng.integers(len(typed))), moved)
    page = int(rng.integers(max(1, len(typed) - 25)))
    cut, rest = typed[page : page + 25], typed[:page] + typed[page + 25 :]
    at = int(rng.integers(len(rest) + 1))
    return rest[:at] + cut + rest[at:]


def wrong_cells(one: Typing) -> set[tuple[int, str]]:
    """Cells, by row of the field sheet, in which the hand slipped."""
    label_to_row = {label: i for i, label in enumerate(sheets_labels(one))}
    return {(label_to_row[label], name) for label, name in one.key.changes}


def sheets_labels(one: Typing) -> list[str]:
    """Labels that the rows of the field sheets have when typed in order."""
    most = max(one.origin) + 2
    return [f"handlings!{i + 2}" for i in range(most + 50)]
