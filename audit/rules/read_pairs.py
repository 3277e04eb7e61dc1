"""Reads and rows that are left of a day, paired by where they stand and by how the hand slips."""

from __future__ import annotations

import math
from collections import defaultdict
from typing import TYPE_CHECKING

import numpy as np

from audit.models.assignment import assign

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from audit.rules.case import Case
    from audit.rules.read_days import ReadDay
    from audit.rules.tag_book import TagBook, TagRow

__all__ = ["paired_rest"]


def paired_rest(
    case: Case,
    book: TagBook,
    day: ReadDay,
    rows: Sequence[TagRow],
    free: Sequence[tuple[str, int]],
) -> list[tuple[TagRow, int, float]]:
    """Pair rows and reads that are left of a day, each once, so that all together are likeliest; with odds.

    References
    ----------
    Kuhn, H. W. (1955). The Hungarian method for the assignment problem. Naval Research Logistics Quarterly 2,
    83-97.
    """
    if not rows or not free:
        return []
    limits = case.declared.rules["reader"].limits
    odds = [
        math.log(float(limits[name].value)) for name in ("odds_elsewhere", "odds_in_visit", "odds_in_place")
    ]
    # where hardly any row lacks a tag, an empty cell does by mistake
    empty = max(math.log((len(book.rows) + 1) / (sum(not row.tag for row in book.aside.values()) + 1)), 0.0)
    chance_of_any = math.log(float(limits["any_code"].value))
    gain = np.zeros((len(rows), len(free)))
    printed = [book.printed(key) for key, _ in free]
    numbers = [day.number[key] for key, _ in free]
    for i, (row, near) in enumerate(zip(rows, _near([row.tag for row in rows], printed), strict=True)):
        steps = day.steps(row)
        where = [odds[steps[number]] for number in numbers]
        if not row.tag:
            gain[i] = [empty + here for here in where]
            continue
        for j in near:
            gain[i, j] = book.channel.log_chance(row.tag, printed[j]) - chance_of_any + where[j]
    # most rows and reads have nothing to gain from each other, whatever the others do
    pairs = gain > 0
    some, any_of = np.flatnonzero(pairs.any(axis=1)), np.flatnonzero(pairs.any(axis=0))
    one, other = assign(-np.maximum(gain[np.ix_(some, any_of)], 0.0))
    return [
        (rows[i], free[j][1], float(np.exp(gain[i, j])))
        for i, j in zip(some[one].tolist(), any_of[other].tolist(), strict=True)
        if gain[i, j] > 0
    ]


def _near(typed: Sequence[str], printed: Sequence[str]) -> list[list[int]]:
    """Find for each typed number the printed ones, by place, that a slip of the hand may have turned into it.

    Numbers of one length in more than two places of which other digits stand are left out without weighing.
    """
    by_length: dict[int, list[int]] = defaultdict(list)
    for j, code in enumerate(printed):
        by_length[len(code)].append(j)
    signs = {length: _signs([printed[j] for j in places]) for length, places in by_length.items()}
    found = []
    for text in typed:
        if text.isdigit() and not text.endswith("00") and len(text) in by_length:
            places = by_length[len(text)]
            near = (signs[len(text)] != _signs([text])).sum(axis=1) <= 2  # noqa: PLR2004 - signs of one slip
            other = [j for length, those in by_length.items() if length != len(text) for j in those]
            found.append(sorted([*other, *(places[k] for k in np.flatnonzero(near).tolist())]))
        else:
            found.append(list(range(len(printed))))
    return found


def _signs(codes: Sequence[str]) -> NDArray[np.uint32]:
    """Signs of codes of one length, one row each."""
    return np.array(codes, dtype=np.str_).view(np.uint32).reshape(len(codes), -1)
