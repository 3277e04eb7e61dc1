"""Labels of boxes that people join in several ways, such as SL-01 and SL01: read as most rows write them."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace
from typing import TYPE_CHECKING

from audit.models.box_label import joined_alike

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audit.intake.grid import RawCell

__all__ = ["joined_as_usual"]

_BLANKS = re.compile(r"\s+")


def joined_as_usual(cells: Sequence[RawCell], least: int) -> tuple[list[RawCell], dict[str, str], int]:
    """Let labels that differ in their joints alone mean the one that most rows write.

    A way of joining that few rows have is left as it is: it may be a slip, which a rule tells.

    Parameters
    ----------
    cells : sequence of RawCell
        Cells of the column, row by row.
    least : int
        Rows from which on a way of joining is a habit of somebody.

    Returns
    -------
    cells : list of RawCell
        With the usual label as the value of those that are written otherwise; their texts stay as typed.
    meant : dict of str to str
        Labels as typed, and what they are read as.
    rows : int
        How many cells these are.
    """
    written = [_bare(cell) for cell in cells]
    labels = Counter(label for label in written if any(sign.isdigit() for sign in label))
    forms = Counter[str]()
    for label, rows in labels.items():
        forms[_form(label)] += rows
    usual: dict[str, str] = {}
    for label in sorted(labels, key=lambda label: (-forms[_form(label)], -labels[label], label)):
        usual.setdefault(joined_alike(label), label)
    meant = {
        label: known
        for label in labels
        if (known := usual[joined_alike(label)]) != label and forms[_form(label)] >= least
    }
    told = [
        replace(cell, value=meant[label]) if label in meant else cell
        for cell, label in zip(cells, written, strict=True)
    ]
    return told, meant, sum(labels[label] for label in meant)


def _bare(cell: RawCell) -> str:
    """Write a label in capitals and without blanks, as codes are read; empty where it is no plain text."""
    return "" if cell.formula or not isinstance(cell.value, str) else _BLANKS.sub("", cell.value.upper())


def _form(label: str) -> str:
    """Write a label with its figures as 9 and its letters as A, each run as one sign."""
    return re.sub(r"[^\W\d_]+", "A", re.sub(r"\d+", "9", label))
