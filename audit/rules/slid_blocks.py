"""Blocks of a column that belong to the rows beside them: found, weighed against each other, and said."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.models.alignment import Alignment, align, best_blocks
from audit.rules.case import At
from audit.rules.plain import plain_text
from audit.rules.sheet_order import NO_DAY
from audit.rules.slid_column import OFFSETS

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from audit.rules.case import Case
    from audit.rules.slid_column import SlidColumn, Slots

__all__ = ["Block", "Said", "blocks_of", "say"]

_NAMES = {
    "tag": "Tags",
    "ring": "Rings",
    "gross_g": "Gross masses",
    "bag_g": "Bags",
    "net_g": "Net masses",
    "wing_mm": "Wings",
}


#: Columns whose values may have changed places within a visit.
_CODES = ("tag", "ring")


@dataclass(frozen=True, slots=True)
class Said:
    """What a block comes to: the cells to blame, and the sentence.

    Attributes
    ----------
    field : str
        The column.
    suspects : sequence of At
        Cells that moved, and the one whose value was pushed out.
    message : str
        One sentence.
    """

    field: str
    suspects: Sequence[At]
    message: str


@dataclass(frozen=True, slots=True)
class Block:
    """Cells of one column that belong to the rows beside them.

    Attributes
    ----------
    first, last : int
        The cells that moved, by their place in the sheet.
    offset : int
        Where they belong: -1 one row up, 1 one row down.
    start : int
        Place of the first row of the alignment.
    """

    column: SlidColumn
    first: int
    last: int
    offset: int
    start: int
    alignment: Alignment

    @property
    def log_odds(self) -> float:
        """Log odds of any slide here against none."""
        return self.alignment.log_odds

    @property
    def odd(self) -> int:
        """Cell at the end at which the slide began to show: left empty, repeated, or something else."""
        return self.first - 1 if self.offset < 0 else self.last + 1

    @property
    def trace(self) -> str:
        """What the slide left behind: ``empty`` or ``doubled``; nothing where something else stands there."""
        texts, beside = self.column.texts, self.first if self.offset < 0 else self.last
        if _blank(texts[self.odd]):
            return "empty"
        return "doubled" if texts[self.odd] == texts[beside] else ""

    @property
    def end(self) -> int:
        """Row whose own value was pushed out."""
        return self.last if self.offset < 0 else self.first

    @property
    def ties(self) -> frozenset[str]:
        """What other slides may explain instead."""
        rows = range(min(self.first, self.odd), max(self.last, self.odd) + 1)
        return frozenset(tie for i in rows for tie in self.column.ties[i])

    def chance(self, cell: int) -> float:
        """Probability that a cell belongs where this block says."""
        return float(self.alignment.moved[cell - self.start, OFFSETS.index(self.offset)])

    def speaking(self, gain: float) -> NDArray[np.int64]:
        """Name the moved cells each of which goes better where it belongs, by such a log ratio."""
        rows, k = slice(self.first, self.last + 1), OFFSETS.index(self.offset)
        return self.first + np.flatnonzero(self.column.fits[rows, k] - self.column.stays[rows] >= gain)


def blocks_of(case: Case, column: SlidColumn) -> Iterator[Block]:
    """Look closely where a block seems likelier than none."""
    n = len(column.stays)
    near = np.zeros(n, dtype=bool)
    for k in range(len(OFFSETS)):
        score, begins = best_blocks(column.fits[:, k] - column.stays, column.opens[:, k], column.closes[:, k])
        for end in np.flatnonzero(score > math.log(case.limit("look_from"))).tolist():
            near[begins[end] : end + 1] = True
    margin = int(case.limit("look_around"))
    edges = np.flatnonzero(np.diff(np.r_[0, near.astype(np.int8), 0]))
    spans: list[tuple[int, int]] = []
    for low, high in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        start, stop = max(low - margin, 0), min(high + margin, n)
        if spans and start <= spans[-1][1]:
            spans[-1] = (spans[-1][0], stop)
        else:
            spans.append((start, stop))
    for start, stop in spans:
        rows = slice(start, stop)
        found = align(column.stays[rows], column.fits[rows], column.opens[rows], column.closes[rows], OFFSETS)
        first = 0
        path = found.offsets
        while first < len(path):
            last = first
            while last + 1 < len(path) and path[last + 1] == path[first]:
                last += 1
            if path[first]:
                yield Block(column, start + first, start + last, path[first], start, found)
            first = last + 1


def _settled(case: Case, blocks: list[Block]) -> Iterator[tuple[Block, float]]:
    """Choose among blocks that explain the same things, with the share of each among them."""
    left = sorted(blocks, key=lambda block: -block.log_odds)
    while left:
        best, *rest = left
        ties = best.ties
        rivals = [
            block
            for block in rest
            if not ties.isdisjoint(block.ties)
            and (block.column is not best.column or block.start != best.start)
        ]
        left = [block for block in rest if block not in rivals]
        share = 1 / (1 + sum(math.exp(block.log_odds - best.log_odds) for block in rivals))
        if share >= case.limit("alone_from"):
            yield best, share


def say(case: Case, slots: Slots, columns: Sequence[SlidColumn]) -> Iterator[Said]:
    """Say which stretches of some columns have slid; those that explain the same things compete.

    Parameters
    ----------
    case : Case
        With the limits of the rule on slides.
    """
    blocks = [block for column in columns for block in blocks_of(case, column)]
    for block, share in _settled(case, blocks):
        said = _say(case, slots, block, share)
        if said is not None:
            yield said


def _say(case: Case, slots: Slots, block: Block, share: float) -> Said | None:
    column, offset, odd = block.column, block.offset, block.odd
    ends = (min(block.first, odd), max(block.last, odd))
    written = [i for i in range(ends[0], ends[1] + 1) if not _blank(column.texts[i])]
    if not written:
        return None
    one_visit = slots.visit[written[0]] == slots.visit[written[-1]]
    whole = len(written) == ends[1] - ends[0] + 1
    beyond = slots.visit[ends[0]] != slots.visit[ends[1]] and not column.lost.get(block.end)
    beyond &= column.field in _CODES
    if one_visit and (beyond or (whole and not block.trace)):
        # codes of one visit that changed places are asked about elsewhere, also beside a bird without one
        return None
    speaking = block.speaking(math.log(case.limit("speaks_from")))
    if column.field in _CODES and not block.trace and len(set(slots.visit[speaking].tolist())) <= 1:
        # a slide without a trace shows in more than one visit, or it is their own matter too
        return None
    # over more than one day its cells would speak, too
    both_ends = bool(block.trace and column.lost.get(block.end)) and block.last > block.first
    both_ends &= bool(slots.day[block.first] == slots.day[block.last])
    alone = len(speaking) < case.limit("speaking_least")
    if alone and not both_ends:
        # a slip, beside a cell that is empty or repeated, looks like a slide too
        return None
    moved = range(block.first, block.last + 1)
    texts = column.texts
    suspects = []
    for i in range(ends[0], ends[1] + 1):
        source = i - offset
        if source in moved:
            meant, sure = texts[source], block.chance(source)
        elif i == block.end:
            meant, sure = column.lost.get(i, ""), block.chance(i) * case.limit("lost_right")
        else:
            continue
        if (_blank(meant) and _blank(texts[i])) or meant == texts[i]:
            continue
        wrong = share * (block.chance(i) if i in moved else sure)
        suggested = "" if _blank(meant) else meant
        suspects.append(At(slots.labels[i], column.field, suggested, wrong, min(share * sure, wrong)))
    least = case.limit("say_from")
    # a value that stands twice was likelier copied by itself than with just one more
    few = 2 if block.trace == "doubled" else 1
    if len(suspects) <= few or max(at.p_error or 0.0 for at in suspects) < least:
        # left to the rules on single cells
        return None
    suspects = [at for at in suspects if (at.p_error or 0.0) >= case.limit("blame_from")]
    return Said(column.field, suspects, _sentence(slots, block))


def _blank(value: object) -> bool:
    return value == "" or value != value  # noqa: PLR0124 - not a number


def _sentence(slots: Slots, block: Block) -> str:
    column = block.column
    first, last = int(slots.number[block.first]), int(slots.number[block.last])
    name = _NAMES[column.field]
    rows = f"row {first}" if first == last else f"rows {first} to {last}"
    days = sorted({int(day) for day in slots.day[block.first : block.last + 1] if day != NO_DAY})
    when = ""
    if days:
        when = f" on {np.datetime64(days[0], 'D')}"
        when += f" to {np.datetime64(days[-1], 'D')}" if len(days) > 1 else ""
    where = "low" if block.offset < 0 else "high"
    odd, beside = block.odd, block.first if block.offset < 0 else block.last
    row = int(slots.number[odd])
    if block.trace == "empty":
        why = f"the cell of row {row} was left empty"
    elif block.trace:
        twice = sorted((row, int(slots.number[beside])))
        why = f"{plain_text(column.texts[odd])} stands twice, in rows {twice[0]} and {twice[1]}"
    else:
        why = f"row {row} holds something else"
    said = f"{name} of {rows}{when} stand one row too {where}: {why}"
    lost = column.lost.get(block.end, "")
    if lost:
        said += f", and {lost} of row {int(slots.number[block.end])} is lost"
    return f"{said}."
