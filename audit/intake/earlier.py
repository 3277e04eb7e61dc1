"""Earlier seasons as one table of witnesses: read as handlings, under names of their own."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from audit.intake.assembly import BuiltTable, below_each_other, build_table
from audit.intake.wording import counted, readable
from audit.season import Column, Table

if TYPE_CHECKING:
    from collections.abc import Hashable, Iterable, Iterator, Sequence

    import pandas as pd
    from numpy.typing import NDArray

    from audit.declarations import Declarations
    from audit.intake.sheet_plan import SheetPlan

    Flags = NDArray[np.bool_]

__all__ = ["EarlierFile", "build_earlier", "renamed"]


@dataclass(frozen=True, slots=True)
class EarlierFile:
    """Sheets of one source that hold birds of earlier seasons.

    Attributes
    ----------
    name : str
        Name of the source, which may say its year.
    plans : tuple of SheetPlan
        How to read its sheets, as handlings.
    """

    name: str
    plans: tuple[SheetPlan, ...]


def renamed(plans: Sequence[SheetPlan], file: str, taken: set[str]) -> tuple[SheetPlan, ...]:
    """Put the file's name before the names of its sheets, so that a row is found and no two sheets are one.

    Parameters
    ----------
    file : str
        Name of the file.
    taken : set of str
        Names of sheets in use, in small letters; the new ones are added.
    """
    named = []
    for plan in plans:
        own = plan.sheet.name
        # a text file is its only sheet
        usual = (
            readable(file) if file.startswith(f"{own}.") and len(plans) == 1 else f"{readable(file)}, {own}"
        )
        name, number = usual, 2
        while name.casefold() in taken:
            name, number = f"{usual} ({number})", number + 1
        taken.add(name.casefold())
        named.append(replace(plan, sheet=replace(plan.sheet, name=name)))
    return tuple(named)


def build_earlier(
    files: Sequence[EarlierFile], handlings: Table | None, declared: Declarations
) -> BuiltTable | None:
    """Type the cells of earlier seasons; rows of this season, and rows met before, are left out.

    Parameters
    ----------
    handlings : Table or None
        The handlings of this season.

    Returns
    -------
    BuiltTable or None
        Without readings, since nothing is asked of these cells; None where no row is left.
    """
    fields = declared.tables["earlier"].names
    frames: list[pd.DataFrame] = []
    typed: list[pd.DataFrame] = []
    columns: dict[tuple[str, str], Column] = {}
    notices: list[str] = []
    for file in files:
        built = build_table("handlings", file.plans, declared, file.name)
        own = [field for field in fields if field in built.table.frame.columns]
        frames.append(built.table.frame[own])
        typed.append(built.table.typed[own])
        columns |= {
            key: Column(column.header, column.letter)
            for key, column in built.table.columns.items()
            if key[1] in own
        }
        notices += built.notices
        lost = sum(reading.field in own and not reading.value for reading in built.readings)
        if lost:
            cells = counted(lost, "cell", "cells")
            notices.append(f"{cells} of '{file.name}' could not be read and tell nothing of earlier seasons.")
    if not frames:
        return None
    order = [field for field in fields if any(field in frame for frame in frames)]
    whole, texts = below_each_other(frames, order), below_each_other(typed, order)
    texts = texts if len(typed) == 1 else texts.fillna("")
    marked = _marked(whole)
    if not marked.all():
        whole, texts = whole[marked], texts[marked]
    again = _met_again(whole, () if handlings is None else _keys(handlings.frame))
    if again.any():
        rows = counted(int(again.sum()), "row of an earlier season was", "rows of earlier seasons were")
        notices.append(f"{rows} met twice, with the same date, box and ring, and counted once.")
    if again.all():
        return None
    if again.any():
        whole, texts = whole[~again], texts[~again]
    return BuiltTable(Table("earlier", whole, texts, columns), (), tuple(notices))


def _marked(whole: pd.DataFrame) -> Flags:
    """Rows with a ring or a tag: nobody is told by the others."""
    found = np.zeros(len(whole), dtype=bool)
    for name in ("ring", "tag"):
        if name in whole.columns:
            found |= whole[name].notna().to_numpy()
    return found


def _met_again(whole: pd.DataFrame, here: Iterable[Hashable]) -> Flags:
    """Rows of a ring and day that stand in this season too, or further up, with the same box."""
    known = (whole["date"].notna() & whole["ring"].notna()).to_numpy()
    seen, found = set(here), np.zeros(len(whole), dtype=bool)
    for row, key in enumerate(_keys(whole)):
        found[row] = known[row] and key in seen
        seen.add(key)
    return found


def _keys(frame: pd.DataFrame) -> Iterator[Hashable]:
    """Say by what each row is known; what is missing is like what else is missing."""
    days = frame["date"].to_numpy(dtype="datetime64[us]").astype(np.int64).tolist()
    return zip(days, *(frame[name].fillna("").tolist() for name in ("box", "ring")), strict=True)
