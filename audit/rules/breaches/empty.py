"""Cells that may not be empty, and cells that are filled for all other birds of their kind."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from audit.rules.breaches.fault import Fault
from audit.rules.case import At
from audit.rules.moves import said_moved
from audit.rules.plain import plain_text
from audit.season import split_label

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from audit.findings import Finding
    from audit.rules.case import Case

__all__ = ["left_out", "missing"]


#: Columns that tell of the brood in which a young bird hatched.
_OF_BROOD = ("brood_size",)
#: Columns that tell what a bird is.
_KINDS = ("species", "age")


class _Texts:
    """Values of a column as a person would type them: few rows are asked about."""

    def __init__(self, values: Sequence[object]) -> None:
        self.values = values

    def __getitem__(self, row: int) -> str:
        return plain_text(self.values[row])


def missing(case: Case, fault: Fault) -> Iterator[Finding]:
    """Say which cells may not be empty, and what the rows around them say."""
    name = fault.field.name
    guesses = _from_neighbours(case, fault)
    away = _away(case, fault)
    yield from _say_away(case, fault, away)
    for label in fault.labels:
        if label in away:
            continue
        meant, p_fix, why = guesses.get(label, ("", None, ""))
        text = f"The column '{fault.header(case, label)}' may not be empty{why}."
        yield case.blame("missing", [At(label, name, meant, p_fix=p_fix)], text)


def _away(case: Case, fault: Fault) -> set[str]:
    """Rows of full-grown birds without a box, on days without any nest: caught away from the boxes."""
    frame = case.frame(fault.table.name)
    if (fault.table.name, fault.field.name) != ("handlings", "box") or not {"age", "date"} <= set(frame):
        return set()
    codes = frame["age"].str.strip()
    nest = frame["box"].notna() | codes.isna() | codes.isin(case.limit("pullus_codes"))
    if "brood_size" in frame:
        nest |= frame["brood_size"].notna()
    # a date that could not be read is mostly that of the row above
    day = frame["date"].ffill()
    return set(frame.index[day.notna() & ~day.isin(day[nest])])


def _say_away(case: Case, fault: Fault, away: set[str]) -> Iterator[Finding]:
    first = next((label for label in fault.labels if label in away), None)
    if first is None:
        return
    birds = "1 full-grown bird has" if len(away) == 1 else f"{len(away)} full-grown birds have"
    text = f"{birds} no box, on days on which nothing was done at a nest: caught away from the boxes?"
    yield case.blame("away", [At(first, fault.field.name)], text)


def _from_neighbours(case: Case, fault: Fault) -> dict[str, tuple[str, float, str]]:
    """Take the value typed above or below where both agree, or where date or box tells which.

    Several empty cells under each other look to the same two rows.
    """
    frame = case.frame(fault.table.name)
    values = fault.column(case)
    known: dict[str, list[int]] = {}
    labels = frame.index.tolist()
    for row, (label, there) in enumerate(zip(labels, values.notna().tolist(), strict=True)):
        if there:
            known.setdefault(split_label(label)[0], []).append(row)
    places = dict(zip(labels, range(len(labels)), strict=True))
    texts = _Texts(values.tolist())
    companions = {
        other: _Texts(frame[other].tolist())
        for other in ("date", "box")
        if other != fault.field.name and other in frame
    }
    guesses = {}
    for label in fault.labels:
        here, filled = places[label], known.get(split_label(label)[0], [])
        before, after = bisect_right(filled, here) - 1, bisect_left(filled, here)
        if before < 0 or after == len(filled):
            continue
        above, below = filled[before], filled[after]
        if texts[above] == texts[below]:
            why = f"; the rows above and below both say {texts[above]}"
            guesses[label] = (texts[above], case.limit("neighbours_fix"), why)
            continue
        for other, said in companions.items():
            agree = [row for row in (above, below) if said[here] and said[row] == said[here]]
            if len(agree) == 1:
                (row,) = agree
                side = "above" if row == above else "below"
                why = f"; the row {side}, with the same {other}, says {texts[row]}"
                guesses[label] = (texts[row], case.limit("neighbour_fix"), why)
                break
    return guesses


def left_out(case: Case) -> Iterator[Finding]:
    """Find single empty cells in columns that are filled for all other birds of their kind."""
    frame = case.sure("handlings")
    table = case.declared.tables["handlings"]
    needed = dict(pair.split() for pair in case.limit("left_out_beside"))
    usual: pd.Series | None = None
    for name in case.limit("left_out_fields"):
        field = table.field(name)
        if name not in frame.columns or field.required:
            continue
        beside = needed.get(name)
        asked = (
            frame[beside].notna().to_numpy() if beside in frame.columns else np.ones(len(frame), dtype=bool)
        )
        empty = asked & frame[name].isna().to_numpy() & case.frame("handlings")[name].isna().to_numpy()
        if not empty.any():
            continue
        kinds = usual = _kinds(case, frame) if usual is None else usual
        if name in _KINDS:
            kinds = _kinds(case, frame.drop(columns=name))
        kind, _ = pd.factorize(kinds)
        all_of, empty_of = (np.bincount(kind[rows], minlength=len(kind))[kind] for rows in (asked, empty))
        rare = empty_of - 1 <= case.limit("left_out_share") * all_of
        for row in np.flatnonzero(empty & rare & (all_of >= case.limit("left_out_rows"))).tolist():
            label = frame.index[row]
            if case.in_doubt(str(label), name, "date", "box"):
                continue
            if name in _OF_BROOD and said_moved(case, [str(label)]):
                # one that was put to a brood of others is none of those that hatched there
                continue
            fault = Fault(table, field, "required", (str(label),))
            filled = int(all_of[row] - empty_of[row])
            text = f"The column '{fault.header(case, str(label))}' is empty here, but filled for"
            yield case.blame("left_out", [At(str(label), name)], f"{text} {filled} birds of this kind.")


def _kinds(case: Case, frame: pd.DataFrame) -> pd.Series:
    """Name of what is alike in birds: species, and whether it is a nestling."""
    kinds = pd.Series("", index=frame.index)
    if "species" in frame.columns:
        kinds = kinds + frame["species"].fillna("")
    if "age" in frame.columns:
        kinds = kinds + frame["age"].str.strip().isin(case.limit("pullus_codes")).astype("str")
    return kinds
