"""Cells of which a remark says that they were hard to read: right or wrong, nobody can tell from the page."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import numpy as np

    Place = tuple[str, str]

__all__ = ["hide", "with_remarks"]

#: What a scribe writes beside a value that was hard to read.
_REMARKS = {
    "wing_mm": "wing hard to read, sheet was wet",
    "gross_g": "gross hard to read, sheet was wet",
    "net_g": "net hard to read, sheet was wet",
}


def hide(
    wrong: Sequence[Place], labels: Sequence[str], columns: Sequence[str], rng: np.random.Generator
) -> tuple[Place, ...]:
    """Choose the cells that a remark calls into doubt: those that are wrong, and as many that are right.

    Parameters
    ----------
    wrong : sequence of (label, column)
        Cells with a slip that nobody can see.
    labels, columns : sequence of str
        Rows and columns of the page.

    Returns
    -------
    tuple of (label, column)
        In the order of the rows, so that their order tells nothing.
    """
    free = [label for label in labels if label not in {label for label, _ in wrong}]
    chosen = list(wrong)
    for i in rng.permutation(len(free))[: len(wrong)]:
        fields = [field for field in _REMARKS if field in columns and field in {field for _, field in wrong}]
        chosen.append((free[int(i)], fields[int(rng.integers(len(fields)))]))
    return tuple(sorted(chosen, key=lambda place: labels.index(place[0])))


def with_remarks(
    rows: Sequence[Mapping[str, str]], places: Mapping[str, int], doubtful: Sequence[Place]
) -> list[dict[str, str]]:
    """Write the remarks into the rows."""
    written = [dict(row) for row in rows]
    for label, field in doubtful:
        written[places[label]]["remarks"] = _REMARKS[field]
    return written
