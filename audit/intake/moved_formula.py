"""A formula as it reads in another cell: cells that share one formula store it only once.

References
----------
ISO/IEC 29500-1, 18.3.1.40 (``f``, shared formulas): references move along, those with a dollar sign stay.
"""

from __future__ import annotations

import re

from audit.intake.formulas import LAST_COLUMN, LAST_ROW, TOKEN
from audit.intake.grid import column_letter, column_number
from audit.intake.table_references import bracketed

__all__ = ["moved_formula"]

_CORNER = re.compile(r"(\$?)([A-Za-z]+)?(\$?)([0-9]+)?")
_NAME = re.compile(r"\s*(?:[\w.\\!]+|.)", re.DOTALL)


def moved_formula(text: str, rows: int, columns: int) -> str:
    """Move a formula by some rows and columns.

    Parameters
    ----------
    text : str
        Without the equals sign.

    Examples
    --------
    >>> moved_formula("SUM($A2:B$3)-LOG10(C1)", 1, 2)
    'SUM($A3:D$3)-LOG10(E2)'
    >>> moved_formula("A1", -1, 0)
    '#REF!'
    """
    parts: list[str] = []
    at = 0
    while at < len(text):
        match = TOKEN.match(text, at)
        if match is None:
            if text[at:].lstrip().startswith("["):
                passed = bracketed(text, text.index("[", at))
            else:
                name = _NAME.match(text, at)
                passed = name.end() if name is not None else len(text)
            parts.append(text[at:passed])
            at = passed
            continue
        whole = match[0]
        if match["area"] is not None:
            start = match.start("area") - match.start()
            whole = whole[:start] + _moved(match["area"], rows, columns)
        parts.append(whole)
        at = match.end()
    return "".join(parts)


def _moved(area: str, rows: int, columns: int) -> str:
    corners = []
    for corner in area.split(":"):
        match = _CORNER.fullmatch(corner)
        if match is None:
            return area
        stays, letters, row_stays, digits = match.groups()
        if letters is None:  # a whole row: its dollar sign stands first
            stays, row_stays = "", stays or row_stays
        moved = ""
        if letters is not None:
            column = column_number(letters) + (0 if stays else columns)
            if not 1 <= column <= LAST_COLUMN:
                return "#REF!"
            moved += f"{stays}{column_letter(column - 1)}"
        if digits is not None:
            row = int(digits) + (0 if row_stays else rows)
            if not 1 <= row <= LAST_ROW:
                return "#REF!"
            moved += f"{row_stays}{row}"
        corners.append(moved)
    return ":".join(corners)
