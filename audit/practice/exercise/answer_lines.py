"""Lines of a sheet of answers that was filled in."""

from __future__ import annotations

import csv
from typing import TYPE_CHECKING

from audit.refusal import Refusal

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

__all__ = ["answer_lines"]


def answer_lines(path: Path, head: Sequence[str], drill: str) -> list[list[str]]:
    """Read the lines below the header; the file is never written to.

    Parameters
    ----------
    path : Path
    head : sequence of str
        The columns, the first of which holds the code of the round.
    drill : str
        As the command line calls it.

    Returns
    -------
    list of list of str
        At least one line, as many cells in each as `head` has, without the blanks around them.

    Raises
    ------
    audit.refusal.Refusal
        It cannot be read, or is another file.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as fault:
        raise Refusal(
            "The sheet of answers cannot be read.",
            where=str(path),
            cure="Save it as CSV in UTF-8, and see that you may read it.",
        ) from fault
    # programs for spreadsheets write the signs of their country between cells
    sign = ";" if text.partition("\n")[0].count(";") > 1 else ","
    rows = [
        [cell.strip() for cell in row] for row in csv.reader(text.splitlines(), delimiter=sign) if any(row)
    ]
    if not rows or tuple(rows[0][: len(head)]) != tuple(head) or len({row[0] for row in rows[1:]}) != 1:
        raise Refusal(
            f"This is no sheet of answers of the {drill} drill.",
            where=str(path),
            cure=f"Name a file that 'nestproof practise --drill {drill}' wrote, with all its lines.",
        )
    return [(row + [""] * len(head))[: len(head)] for row in rows[1:]]
