"""Do the tags on the sheet agree with what the hand reader read? A chart of one visit or day."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.charts.download_layers import link_layers, point_layers, row_layers, text_layers
from audit.charts.download_lines import levels
from audit.charts.download_spots import (
    NO_READ,
    NO_ROW,
    NO_TAG,
    READ,
    ROW,
    WIDTH,
    link,
    link_word,
    of_read,
    of_row,
    point,
    written,
)
from audit.charts.layers import dressed
from audit.charts.palette import QUIET
from audit.charts.picture import BY_KEYBOARD, Picture
from audit.charts.wording import counted
from audit.season import split_label

if TYPE_CHECKING:
    from collections.abc import Collection

    import altair as alt

    from audit.charts.download_lines import Beside

__all__ = ["chart", "counts_of", "picture"]

_STEP = 22
_MOST_LEVELS = 60
_HEADS = 0


def picture(beside: Beside, blamed: Collection[str]) -> Picture | None:
    """Draw the same as a picture of one finding: rows of the sheet can be picked, and one is lit up.

    Parameters
    ----------
    blamed : collection of str
        Labels of the rows that the finding blames, the one to light up first.

    Returns
    -------
    Picture or None
        None where there is neither row nor read.
    """
    met = {beside.rows[row].label for row, _ in levels(beside)[:_MOST_LEVELS] if row is not None}
    lit = next((label for label in blamed if label in met), "")
    drawn = chart(beside, lit)
    if drawn is None:
        return None
    told = []
    for row, read in sorted(beside.pairs.items()):
        typed, stored = beside.rows[row], beside.reads[read]
        if typed.tag != stored.tag or typed.label in blamed:
            where = f"row {split_label(typed.label)[1]}"
            told.append(f"{where}: {typed.tag or NO_TAG}, read {stored.tag} at {stored.clock}")
    paired = set(beside.pairs)
    alone = [row for place, row in enumerate(beside.rows) if place not in paired and row.label in blamed]
    told += [f"row {split_label(row.label)[1]}: {row.tag or NO_TAG}, {NO_READ}" for row in alone]
    said = " ".join([str(drawn.description), *([f"{'; '.join(told)}."] if told else []), BY_KEYBOARD])
    drawn.description = said
    return Picture(drawn, frozenset(met), _question(beside), said)


def _question(beside: Beside) -> str:
    return f"Do the tags agree with the reader? {beside.name}"


def chart(beside: Beside, lit: str | None = None) -> alt.LayerChart | None:
    """Draw the rows of the sheet in the order typed beside the reads in the order of time.

    Parameters
    ----------
    beside : Beside
        Rows, reads, and which belong together.
    lit : str, optional
        Label of the row that is lit up; with one, even an empty one, rows can be picked.

    Returns
    -------
    altair.LayerChart or None
        None where there is neither row nor read.
    """
    laid = levels(beside)
    if not laid:
        return None
    shown = laid[:_MOST_LEVELS]
    at_row = {row: level for level, (row, _) in enumerate(shown, 1) if row is not None}
    at_read = {read: level for level, (_, read) in enumerate(shown, 1) if read is not None}
    row_of = {read: row for row, read in beside.pairs.items()}
    texts = [
        written("left", ROW, _HEADS, "sheet, in the order typed", QUIET),
        written("left", READ, _HEADS, "reader, in the order of time", QUIET),
    ]
    with_box = len({row.box for row in beside.rows}) > 1
    for row, level in at_row.items():
        read = beside.pairs.get(row)
        texts += of_row(
            beside.rows[row], None if read is None else beside.reads[read], level, with_box=with_box
        )
    for read, level in at_read.items():
        texts += of_read(beside.reads[read], beside.rows[row_of[read]] if read in row_of else None, level)
    links = [
        link(beside.rows[row], beside.reads[read], at_row[row], at_read[read])
        for row, read in beside.pairs.items()
        if row in at_row and read in at_read
    ]
    texts += [link_word(one) for one in links if one["word"]]
    counts = counts_of(beside)
    below = [counts, *beside.remarks]
    if len(laid) > len(shown):
        below.append(f"{len(laid) - len(shown):,} more lines not drawn")
    room = (len(shown) + 1 / 2, -1 / 2)
    drawn = dressed(
        [
            *(row_layers(beside, at_row, room, lit) if lit is not None else ()),
            *link_layers(links, room),
            *text_layers(texts, room),
            *point_layers([point(beside.rows[row], level) for row, level in at_row.items()], room),
        ],
        _question(beside),
        below,
        f"Rows of {beside.name} beside the reads of the hand reader: {counts}.",
        WIDTH,
        _STEP * (len(shown) + 1),
    )
    bare: alt.LayerChart = drawn.configure_axis(disable=True)
    return bare


def counts_of(beside: Beside) -> str:
    """Say how many rows and reads there are and how many agree."""
    same = sum(beside.rows[row].tag == beside.reads[read].tag for row, read in beside.pairs.items())
    alone = [row for i, row in enumerate(beside.rows) if i not in beside.pairs]
    numbers = (
        (same, "agree" if same > 1 else "agrees"),
        (len(beside.pairs) - same, "differ" if len(beside.pairs) - same > 1 else "differs"),
        (sum(bool(row.tag) for row in alone), NO_READ),
        (sum(not row.tag for row in alone), "without a tag"),
        (len(beside.reads) - len(beside.pairs), NO_ROW),
    )
    told = [f"{number:,} {word}" for number, word in numbers if number]
    return ", ".join([f"{counted(len(beside.rows), 'row')} and {counted(len(beside.reads), 'read')}", *told])
