"""Counts, row numbers, lists and articles in sentences."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

__all__ = ["counted", "hidden_words", "listed", "readable", "rows_in_words", "with_article"]


def readable(name: str) -> str:
    """Write the name of a file so that it can be shown and stored, whatever bytes it is made of.

    Examples
    --------
    >>> readable("round.csv") == "round.csv", readable("r\udce9union") == "r\ufffdunion"
    (True, True)
    """
    return name.encode("utf-16-le", "surrogatepass").decode("utf-16-le", "replace")


def counted(number: int, one: str, many: str) -> str:
    """Write a count with its noun.

    Examples
    --------
    >>> counted(1, "row", "rows"), counted(3123, "row", "rows")
    ('1 row', '3,123 rows')
    """
    return f"{number:,} {one if number == 1 else many}"


def listed(words: Sequence[str], last: str = "and") -> str:
    """Join words as a person would.

    Examples
    --------
    >>> listed(["ring", "tag", "box"])
    'ring, tag and box'
    """
    if len(words) <= 1:
        return "".join(words)
    return f"{', '.join(words[:-1])} {last} {words[-1]}"


def with_article(noun: str) -> str:
    """Put an article before a noun.

    Examples
    --------
    >>> with_article("owl"), with_article("tit")
    ('an owl', 'a tit')
    """
    return f"{'an' if noun[0] in 'aeiou' else 'a'} {noun}"


def rows_in_words(rows: Sequence[int]) -> str:
    """Name spreadsheet rows, runs in short.

    Examples
    --------
    >>> rows_in_words([7]), rows_in_words([3, 4, 5, 9]), rows_in_words([2, 3])
    ('row 7', 'rows 3 to 5 and 9', 'rows 2 and 3')
    """
    runs: list[list[int]] = []
    for row in sorted(set(rows)):
        if runs and row == runs[-1][-1] + 1:
            runs[-1].append(row)
        else:
            runs.append([row])
    parts = []
    for run in runs:
        parts.extend([f"{run[0]} to {run[-1]}"] if run[-1] - run[0] > 1 else [str(row) for row in run])
    return f"{'row' if len(set(rows)) == 1 else 'rows'} {listed(parts)}"


def hidden_words(columns: Sequence[str], rows: Sequence[int]) -> str:
    """Say which columns and rows are hidden; empty when none are."""
    parts = []
    if columns:
        parts.append(f"hidden {'column' if len(columns) == 1 else 'columns'} {listed(columns)}")
    if rows:
        parts.append(f"hidden {rows_in_words(rows)}")
    return listed(parts)
