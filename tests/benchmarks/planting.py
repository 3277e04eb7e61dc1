"""Slips of both generators, put into a clean season at a given rate, with the key.

The key is the cells that changed, whatever they say now: a slip that leaves a value that the season allows is
in the key like any other.
"""

from __future__ import annotations

import random
import warnings
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from audit.practice import planting
from audit.rules.plain import plain_text
from audit.season import split_label

if TYPE_CHECKING:
    from collections.abc import Callable

    from benchmarks.seasons import Row

    from audit.declarations import Declarations
    from audit.season import Season

__all__ = ["SOURCES", "Changed", "Slip", "apply", "plant"]

#: Generator of slips -> what it is.
SOURCES = {"own": "audit/practice/planting.py", "tab_err": "tab-err (PyPI)"}


@dataclass(frozen=True)
class Changed:
    """One changed cell of the handlings: row from 0, field, the true value, the text typed instead."""

    row: int
    field: str
    true: Any
    typed: str

    @property
    def true_text(self) -> str:
        """The true value as a person would type it."""
        return plain_text(self.true)


@dataclass(frozen=True)
class Slip:
    """One slip and every cell that it changed."""

    kind: str
    source: str
    cells: tuple[Changed, ...]


def plant(
    season: Season,
    declared: Declarations,
    rows: list[Row],
    source: str,
    rate: float,
    rng: np.random.Generator,
) -> list[Slip]:
    """Draw slips for about a share `rate` of the rows; `season` is the same clean season, read."""
    number = int(np.floor(rate * len(rows) + rng.random()))
    if not number or len(rows) < 3:
        return []
    if source == "own":
        return _own(season, declared, rows, number, rng)
    return _tab_err(rows, number, rng)


def apply(rows: list[Row], planted: list[Slip]) -> list[dict[str, str]]:
    """Type the rows, with the slips in place of what was meant."""
    typed = [{name: plain_text(value) for name, value in row.items()} for row in rows]
    for slip in planted:
        for cell in slip.cells:
            typed[cell.row][cell.field] = cell.typed
    return typed


def _own(
    season: Season, declared: Declarations, rows: list[Row], number: int, rng: np.random.Generator
) -> list[Slip]:
    _, key = planting.plant(season, declared, rng, number=number)
    planted = []
    for slip in key.slips:
        cells = []
        for change in slip.changes:
            row = split_label(change.label)[1] - 2
            cells.append(Changed(row, change.field, rows[row][change.field], change.typed))
        planted.append(Slip(slip.name, "own", tuple(cells)))
    return planted


# the package's error types on one cell each; weights: about how often each field is typed by hand
_TEXTS = ("ring", "tag", "box", "date", "time")
_NUMBERS = ("gross_g", "bag_g", "net_g", "wing_mm", "brood_size", "age_days")
_CLASSES = ("species", "ring_leg", "tag_leg", "age", "event", "box", "ringer")


def _tab_err(rows: list[Row], number: int, rng: np.random.Generator) -> list[Slip]:
    frame = pd.DataFrame(rows).map(plain_text).astype("object")
    ways: list[tuple[str, str, str]] = [
        (kind, field, shape)
        for fields, shape, kinds in (
            (_TEXTS, "text", ("Typo", "Typo", "Extraneous", "MissingValue")),
            (("date",), "text", ("Permutate",)),
            (
                _NUMBERS,
                "number",
                ("WrongUnit", "WrongUnit/10", "Outlier", "AddDelta", "MissingValue", "Mistype"),
            ),
            (_NUMBERS, "text", ("Typo", "Typo", "Typo")),
            (_CLASSES, "class", ("CategorySwap",)),
        )
        for field in fields
        if field in frame.columns
        for kind in kinds
    ]
    planted: list[Slip] = []
    taken: set[int] = set()
    for _ in range(number * 6):
        if len(planted) == number:
            break
        kind, field, shape = ways[int(rng.integers(0, len(ways)))]
        filled = [i for i in range(len(rows)) if frame[field].iloc[i] and i not in taken]
        if not filled:
            continue
        row = int(rng.choice(filled))
        typed = _changed(frame, row, field, kind, shape, int(rng.integers(0, 2**31)))
        cell = Changed(row, field, rows[row][field], typed or "")
        if typed is None or _same(cell):
            continue
        name = "omitted" if kind == "MissingValue" else kind
        planted.append(Slip(f"tab_err.{name}", "tab_err", (cell,)))
        taken.add(row)
    return planted


def _same(cell: Changed) -> bool:
    """Whether the text typed still says the same: ``373.0`` says 373, ``20,5`` says 20.5."""
    if cell.typed.strip() == cell.true_text:
        return True
    if not isinstance(cell.true, int | float):
        return False
    try:
        return float(cell.typed.replace(",", ".")) == float(cell.true)
    except ValueError:
        return False


def _changed(frame: pd.DataFrame, row: int, field: str, kind: str, shape: str, seed: int) -> str | None:
    from tab_err import error_type

    column = frame[field]
    if shape == "number":
        column = pd.to_numeric(column).astype(float)
    elif shape == "class":
        column = column.mask(column == "", None).astype("category")
        if len(column.cat.categories) < 2:
            return None
    one = pd.DataFrame({field: column})
    mask = pd.DataFrame({field: [i == row for i in range(len(frame))]})
    settings: dict[str, Any] = {"permutation_separator": "-", "outlier_coefficient": 1.0}
    if kind == "WrongUnit/10":
        settings["wrong_unit_scaling"] = _tenth
    name = kind.partition("/")[0]
    random.seed(seed)  # its Typo draws from the standard library's generator
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it warns of every default
        make: Callable[..., Any] = getattr(error_type, name)
        changed = make(config=error_type.ErrorTypeConfig(**settings), seed=seed).apply(one, mask, field)
    value = changed.iloc[row]
    if value is None or value != value:  # noqa: PLR0124 - a missing value is unequal to itself
        return ""
    if isinstance(value, str):
        return value
    places = len(frame[field].iloc[row].partition(".")[2])
    return plain_text(round(float(value), places if kind != "WrongUnit/10" else places + 1))


def _tenth(value: float) -> float:
    return value / 10
