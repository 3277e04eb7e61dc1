"""Dirty tables for hypothesis, and what is wrong with them by plain counting."""

from __future__ import annotations

import dataclasses
import re
from collections import Counter
from typing import TYPE_CHECKING, Any

import pandas as pd
from hypothesis import strategies as st

from audit.declarations import load_declarations

if TYPE_CHECKING:
    from audit.declarations.tables import FieldDeclaration, TableDeclaration

Row = dict[str, Any]
Blamed = set[tuple[str, str, str]]

TABLES = dict(load_declarations().tables)

# a team may declare more than is shipped: forms, sets of numbers, columns without repeats
TABLES["boxes"] = dataclasses.replace(
    TABLES["boxes"],
    fields=tuple(
        {
            "box": dataclasses.replace(field, pattern="SL-[0-9]{2}|X"),
            "antennas": dataclasses.replace(field, allowed=("0", "1", "2"), minimum=None),
            "capacity": dataclasses.replace(field, unique=True, maximum=9),
            "since": dataclasses.replace(field, required=True),
            "camera": dataclasses.replace(field, required=True),
            "latitude": dataclasses.replace(field, unique=True, required=True),
        }.get(field.name, field)
        for field in TABLES["boxes"].fields
    ),
)

_TEXTS = {
    "time": st.sampled_from(["10:05", "23:59"]),
    "code": st.sampled_from(["SL-01", "SL-02", "SL-001", "X", "SV01001", "x"]),
    # signs of regular expressions, line breaks, other scripts; the reader strips both ends
    "string": st.text(max_size=6).map(str.strip).filter(bool)
    | st.sampled_from([".*", "M\nF", "ringed", "L"]),
}


def _cells(field: FieldDeclaration) -> st.SearchStrategy[Any]:
    if field.kind == "number":
        cells = st.sampled_from([-0.5, 0.0, 1.5, 90.0, 90.5, 400.0]) | st.floats(-200, 600, width=32)
    elif field.kind == "integer":
        cells = st.integers(-3, 12)
    elif field.kind in ("date", "datetime"):
        cells = st.datetimes(pd.Timestamp("2020-01-01"), pd.Timestamp("2030-01-01")).map(pd.Timestamp)
        if field.kind == "date":
            cells = cells.map(pd.Timestamp.normalize)
    elif field.kind == "boolean":
        cells = st.booleans()
    else:
        cells = _TEXTS[field.kind]
        if field.allowed:
            cells |= st.sampled_from(field.allowed)
    return st.none() | cells


@st.composite
def dirty_tables(draw: st.DrawFn) -> tuple[str, list[Row]]:
    """A table name and some rows; any column may be absent, even a needed one, and any cell empty."""
    name = draw(st.sampled_from(sorted(TABLES)))
    fields = [field for field in TABLES[name].fields if draw(st.integers(0, 9))]
    row = st.fixed_dictionaries({field.name: _cells(field) for field in fields})
    return name, draw(st.lists(row, min_size=1, max_size=8))


def counted(table: TableDeclaration, frame: pd.DataFrame, boxes: frozenset[str]) -> Blamed:
    """What is wrong, cell by cell, without any engine."""
    found: Blamed = set()
    for field in table.fields:
        if field.name not in frame:
            if field.needed:
                found.add(("", field.name, "needed"))
            continue
        held = {label: value for label, value in frame[field.name].items() if not pd.isna(value)}
        times = Counter(held.values())
        points_to = [key.field for key in table.foreign_keys]
        for label in frame.index:
            if label not in held:
                if field.required:
                    found.add((label, field.name, "required"))
                continue
            value = held[label]
            broken = {
                "unique": field.unique and times[value] > 1,
                "minimum": field.minimum is not None and value < field.minimum,
                "maximum": field.maximum is not None and value > field.maximum,
                "pattern": field.pattern is not None and not re.fullmatch(field.pattern, value),
                "enum": field.allowed is not None and value not in field.allowed_values,
                "foreign_key": field.name in points_to and value not in boxes,
            }
            found |= {(label, field.name, check) for check, is_broken in broken.items() if is_broken}
    return found
