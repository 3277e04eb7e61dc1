"""What lies beside a practice sheet: sizes by age, strings of rings, the list of the hand reader."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.models.growth import mean, spread
from audit.practice.exercise.words import heading
from audit.review.wording import listed

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.declarations import Declarations
    from audit.practice.exercise.exercise import Exercise

__all__ = ["Aid", "aids_of"]

#: Ages that a table of sizes shows.
_AGES = 7
#: Sizes from here on are told without decimals.
_LARGE = 100


@dataclass(frozen=True, slots=True)
class Aid:
    """Something that helps: a sentence, and a table where there is one.

    Attributes
    ----------
    says : str
    heads : tuple of str
    rows : tuple of tuple of str
    """

    says: str
    heads: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()


def aids_of(exercise: Exercise, declared: Declarations) -> tuple[Aid, ...]:
    """List what helps at the level of a sheet."""
    return tuple(_aids(exercise, declared))


def _aids(exercise: Exercise, declared: Declarations) -> Iterator[Aid]:
    aids = exercise.level.aids
    if "columns" in aids and exercise.planted:
        fields = dict.fromkeys(field for _, field in exercise.changes)
        yield Aid(f"Look at the column {listed([heading(field) for field in fields])}.")
    if "sums" in aids and {"gross_g", "bag_g", "net_g"} <= set(exercise.fields):
        yield Aid("On every line, gross less bag makes net.")
    if "growth" in aids:
        yield _growth(exercise, declared)
    if "strings" in aids:
        yield Aid("Rings as they were issued:", *_table(exercise, "ring_stock", ("prefix", "first", "last")))
    if "reader" in aids:
        says = "What the hand reader has stored, in the order of reading:"
        yield Aid(says, *_table(exercise, "tag_reads", ("read_at", "tag")))


def _growth(exercise: Exercise, declared: Declarations) -> Aid:
    species = declared.species[exercise.recipe.species]
    shown = {"mass_g": "net_g", "wing_mm": "wing_mm"}
    curves = {
        shown[name]: curve for name, curve in species.curves.items() if shown.get(name) in exercise.fields
    }
    low = max(
        [species.number("ringing.youngest_day") or 0.0, *(curve.first_day for curve in curves.values())]
    )
    high = min([species.number("ringing.oldest_day") or low, *(curve.last_day for curve in curves.values())])
    ages = sorted({round(float(age)) for age in np.linspace(low, high, _AGES)})
    rows = []
    for age in ages:
        row = [f"{age} days"]
        for curve in curves.values():
            middle, wide = float(mean(curve, age)), 2 * float(spread(curve, age))
            digits = 0 if middle >= _LARGE else 1
            row.append(f"{max(middle - wide, 0):.{digits}f} to {middle + wide:.{digits}f}")
        rows.append(tuple(row))
    says = f"What most young of the {species.english} measure at each age (19 of 20 lie within):"
    return Aid(says, ("age", *(heading(field) for field in curves)), tuple(rows))


def _table(
    exercise: Exercise, table: str, fields: tuple[str, ...]
) -> tuple[tuple[str, ...], tuple[tuple[str, ...], ...]]:
    typed = exercise.season.tables[table].typed
    rows = tuple(tuple(str(typed.loc[label, field]) for field in fields) for label in typed.index)
    return tuple(field.replace("_", " ") for field in fields), rows
