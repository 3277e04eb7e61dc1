"""A sheet of near-identical rows, decided about, then sorted, extended and mended; the true rows are known.

Every row carries a name of its own that stands in no cell, so that a test knows what the audit cannot see.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import pandas as pd

from audit.review.decisions import Decision
from audit.review.places import decided_cell
from audit.season import Column, Season, Table

if TYPE_CHECKING:
    import random
    from collections.abc import Sequence

    from audit.review.places import Placed

FIELDS = ("date", "box", "species", "ring", "tag", "gross_g", "net_g", "wing_mm", "remarks")
#: Few texts in each column, so that rows resemble each other far more than birds do.
TEXTS = {
    "date": ("4.5.2026", "5.5.2026"),
    "box": ("SL-01", "SL-02"),
    "species": ("Barn owl",),
    "ring": ("SV01001", "SV01002", "SV01003", ""),
    "tag": ("999104190000001", "999104190000002", ""),
    "gross_g": ("310", "395"),
    "net_g": ("288", "373", "=F2-G2"),
    "wing_mm": ("201", "202"),
    "remarks": ("", "", "runt"),
}


@dataclass(frozen=True)
class Row:
    """A row and its hidden name."""

    name: int
    texts: dict[str, str]


@dataclass(frozen=True)
class SheetOfRows:
    """Rows in sheet order, the first in row 2."""

    rows: tuple[Row, ...]
    sheet: str = "handlings"
    fields: tuple[str, ...] = FIELDS

    def season(self) -> Season:
        labels = [f"{self.sheet}!{at + 2}" for at in range(len(self.rows))]
        typed = pd.DataFrame(
            {name: [row.texts.get(name, "") for row in self.rows] for name in self.fields},
            index=pd.Index(labels, dtype="str"),
            dtype="str",
        )
        columns = {(self.sheet, name): Column(name, chr(65 + at)) for at, name in enumerate(self.fields)}
        return Season("sallow", {"handlings": Table("handlings", typed, typed, columns)})

    def row(self, label: str) -> Row:
        return self.rows[int(label.rpartition("!")[2]) - 2]


def alike_rows(rng: random.Random, number: int) -> SheetOfRows:
    """Draw rows that differ in few cells, some of them in none."""
    rows = [Row(0, {name: rng.choice(TEXTS[name]) for name in FIELDS})]
    while len(rows) < number:
        texts = dict(rng.choice(rows).texts)
        for name in rng.sample(FIELDS, rng.choice((0, 1, 1, 2, 3, 5))):
            texts[name] = rng.choice(TEXTS[name])
        rows.append(Row(len(rows), texts))
    return SheetOfRows(tuple(rows))


@dataclass(frozen=True)
class Decided:
    """A decision and the hidden name of the row it is about."""

    decision: Decision
    row: int


def decide_some(rng: random.Random, sheet: SheetOfRows, number: int) -> list[Decided]:
    """Decide cells at random, several in some rows, and none twice."""
    season = sheet.season()
    made: dict[tuple[int, str], Decided] = {}
    for count in range(number):
        at = rng.randrange(max(1, len(sheet.rows) // rng.choice((1, 3))))
        row, field = sheet.rows[at], rng.choice(FIELDS)
        if (row.name, field) in made:
            continue
        others = [text for text in (*TEXTS[field], "7") if text != row.texts[field]]
        verb = rng.choice(("amend", "amend", "accept", "keep"))
        instead = None if verb == "keep" else rng.choice(others)
        cell = decided_cell(season, f"{sheet.sheet}!{at + 2}", field, instead)
        made[row.name, field] = Decided(Decision(f"{count:03}", "", "AB", verb, (cell,)), row.name)
    return list(made.values())


def sorted_anew(rng: random.Random, sheet: SheetOfRows) -> SheetOfRows:
    """Sort the rows; formulas name other rows then."""
    rows = list(sheet.rows)
    rng.shuffle(rows)
    # rows that hold the same keep their order, as in any stable sort
    by_text: dict[tuple[str, ...], list[Row]] = {}
    for row in sheet.rows:
        by_text.setdefault(tuple(row.texts.values()), []).append(row)
    rows = [by_text[tuple(row.texts.values())].pop(0) for row in rows]
    formulas = [
        replace(row, texts={n: f"=F{at}-G{at}" if t[:1] == "=" else t for n, t in row.texts.items()})
        for at, row in enumerate(rows, start=2)
    ]
    return replace(sheet, rows=tuple(formulas))


def extended(rng: random.Random, sheet: SheetOfRows) -> SheetOfRows:
    """Add rows of another visit anywhere, and a column."""
    rows = list(sheet.rows)
    for count in range(rng.randrange(4)):
        new = Row(1000 + count, dict.fromkeys(FIELDS, f"new {count}"))
        rows.insert(rng.randrange(len(rows) + 1), new)
    rows = [replace(row, texts=row.texts | {"Own": rng.choice(("", "x", "y"))}) for row in rows]
    return replace(sheet, rows=tuple(rows), fields=(*sheet.fields[:3], "Own", *sheet.fields[3:]))


def without(rng: random.Random, sheet: SheetOfRows) -> SheetOfRows:
    """Delete some rows."""
    share = rng.choice((0.1, 0.5, 0.9))
    return replace(sheet, rows=tuple(row for row in sheet.rows if rng.random() > share))


def mended(rng: random.Random, sheet: SheetOfRows, decided: Sequence[Decided]) -> SheetOfRows:
    """Type into the sheet what was decided about some cells."""
    texts = {row.name: dict(row.texts) for row in sheet.rows}
    for one in decided:
        cell = one.decision.cells[0]
        if one.row in texts and cell.instead is not None and rng.random() < 0.5:
            texts[one.row][cell.field] = cell.instead
    return replace(sheet, rows=tuple(replace(row, texts=texts[row.name]) for row in sheet.rows))


def touched(rng: random.Random, sheet: SheetOfRows) -> SheetOfRows:
    """Change at most one cell in each of some rows, as a person who mends the sheet."""
    rows = []
    for row in sheet.rows:
        texts = dict(row.texts)
        if rng.random() < 0.3:
            name = rng.choice(FIELDS)
            texts[name] = rng.choice((*TEXTS[name], "8"))
        rows.append(replace(row, texts=texts))
    return replace(sheet, rows=tuple(rows))


def wrong_places(decided: Sequence[Decided], now: SheetOfRows, placed: Placed) -> list[str]:
    """Tell every decision that would change a cell of another row than the one it is about.

    A row that holds the very texts of the former one is that row to everybody; and where a cell already holds
    what was decided nothing is changed.
    """
    row_of = {one.decision.identity: one.row for one in decided}
    wrong = []
    for (label, field), choices in placed.at.items():
        row = now.row(label)
        for decision, cell in choices:
            held = {n: _plain(t) for n, t in row.texts.items() if n in cell.as_typed or n in cell.empty}
            same = held == {
                n: _plain(t) for n, t in (dict(cell.as_typed) | dict.fromkeys(cell.empty, "")).items()
            }
            no_change = cell.instead is None or row.texts[field] == cell.instead
            if row.name != row_of[decision.identity] and not same and not no_change:
                wrong.append(f"{decision.identity}: {cell} at {label} {row}")
    return wrong


def _plain(text: str) -> str:
    return "=" if text.startswith("=") else text
