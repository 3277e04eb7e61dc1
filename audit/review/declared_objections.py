"""What the declarations say against a text: unreadable, of another kind, out of its range, set or form."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

import pandas as pd

from audit.declarations.tables import DTYPES
from audit.declarations.to_pandera import blame
from audit.findings import SEVERITIES
from audit.intake.answer import plainly
from audit.intake.wording import listed
from audit.review.typed_cell import Objection
from audit.season import split_label

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.declarations.tables import FieldDeclaration
    from audit.review.typed_cell import TypedCell

__all__ = ["of_declarations", "of_emptying", "of_reading", "of_signs"]

#: Signs of a text that is no code, that show nothing and are none the less meant.
_BREAKS = "\n\t"
#: Words that a message lists at most.
_LISTED = 8


def of_signs(cell: TypedCell) -> Iterator[Objection]:
    """Object to signs that no eye sees, and to a text that no cell of a workbook holds."""
    plain = cell.declaration is None or cell.declaration.kind == "string"
    hidden = [sign for sign in cell.typed if not sign.isprintable() and not (plain and sign in _BREAKS)]
    if hidden:
        names = listed([f"U+{ord(sign):04X}" for sign in dict.fromkeys(hidden)][:_LISTED])
        yield Objection(
            "error",
            f"The text holds signs that cannot be seen ({names}): type it anew instead of pasting it.",
        )
    longest = int(cell.declared.settings["review.text.longest"].value)
    if len(cell.typed) > longest:
        yield Objection(
            "error",
            f"The text has {len(cell.typed):,} signs, and a workbook's cell holds {longest:,}: shorten it.",
        )


def of_emptying(cell: TypedCell) -> Iterator[Objection]:
    """Say what it means that a cell is emptied."""
    stood = str(cell.season.tables[cell.table].typed.loc[cell.label, cell.field]).strip()
    if cell.value is not None or (cell.typed.strip() and cell.reading is not None):
        return
    how = f"{cell.quoted} is read as an empty cell" if cell.typed.strip() else "The cell is emptied"
    declared = cell.declaration
    if declared is not None and (declared.required or declared.needed):
        yield Objection(
            "error",
            f"{how}, but '{cell.head}' may not be empty: type what stands in the notebook, or ask for it.",
        )
    elif stood:
        yield Objection(
            "suspect",
            f"{how}: nothing will be known of '{cell.head}' in row {_row(cell)} of '{_sheet(cell)}'.",
        )


def of_reading(cell: TypedCell) -> Iterator[Objection]:
    """Say how a text was understood that is not plain, or that nothing can be read in it."""
    if cell.reading is None:
        if cell.value is not None and not _plain(cell):
            yield Objection("note", f"{cell.quoted} is read as {cell.shown}{cell.unit}.")
        return
    outcome = cell.declared.rules["reading"].outcomes.get(cell.reading.kind)
    severity = outcome.severity if outcome is not None else "note"
    if cell.value is None:
        # whatever it was taken for, nothing would stand in the clean season
        severity = SEVERITIES[0]
    remark = cell.reading.remark.rstrip(".")
    as_what = "" if cell.value is None or cell.text in remark else f": {cell.shown}{cell.unit}"
    yield Objection(severity, f"{remark[:1].upper()}{remark[1:]}{as_what}.")


def _plain(cell: TypedCell) -> bool:
    """Whether a text says its value as it stands, but for capitals, blanks and noughts at the end."""
    typed, text = ("".join(one.split()).casefold() for one in (cell.typed, cell.text))
    if cell.declaration is None or cell.declaration.kind not in ("number", "integer"):
        return typed == text
    return typed.isascii() and re.fullmatch(rf"[+]?0*{re.escape(text)}([.]?0*)", typed) is not None


def of_declarations(cell: TypedCell) -> Iterator[Objection]:
    """Ask the engine of the audit whether the value keeps to the declaration of its column."""
    field = cell.declaration
    if field is None or cell.value is None:
        return
    table = replace(cell.declared.tables[cell.table], fields=(field,), foreign_keys=())
    frame = pd.DataFrame({field.name: pd.Series([cell.value], index=[cell.label], dtype=DTYPES[field.kind])})
    for breach in blame(table, frame):
        yield Objection("error", _says(cell, field, breach.check))
    if field.unique:
        column = cell.season.tables[cell.table].frame[field.name]
        twins = column.index[(column == cell.value).fillna(value=False)].drop(cell.label, errors="ignore")
        if len(twins):
            yield Objection(
                "error",
                f"{cell.shown} stands in row {split_label(str(twins[0]))[1]} already, and may stand once.",
            )


def _says(cell: TypedCell, field: FieldDeclaration, check: str) -> str:
    here = f"{cell.shown}{cell.unit}"
    if check == "minimum" and field.minimum is not None:
        least = f"{plainly(field.minimum)}{cell.unit}"
        return f"{here} is below {least}, the least that '{cell.head}' can be: look again."
    if check == "maximum" and field.maximum is not None:
        most = f"{plainly(field.maximum)}{cell.unit}"
        return f"{here} is above {most}, the most that '{cell.head}' can be: look again."
    if check == "enum":
        words = listed([str(word) for word in (field.allowed or ())][:_LISTED])
        return f"{cell.quoted} is none of {words}: type one of them."
    if check == "pattern":
        return f"{cell.quoted} does not have the form that '{cell.head}' has: {field.title or field.pattern}"
    return f"{cell.quoted} does not fit '{cell.head}'."


def _row(cell: TypedCell) -> int:
    return split_label(cell.label)[1]


def _sheet(cell: TypedCell) -> str:
    return split_label(cell.label)[0]
