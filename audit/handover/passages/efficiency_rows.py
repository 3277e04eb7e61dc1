"""How well the two antennas of each box heard, each told by the other: a line for each box, and in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.handover.table_file import guard
from audit.models.paired_antennas import BIAS, paired
from audit.review.wording import counted

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.handover.passages.passages_record import PassagesRecord
    from audit.models.interval import Share

__all__ = ["EFFICIENCY_COLUMNS", "efficiency_rows", "efficiency_sentences"]

#: Columns of ``antenna_efficiency.csv``, in order. Only ever extended at the end.
EFFICIENCY_COLUMNS = (
    "box", "heard_outer", "heard_inner", "heard_both", "outer", "outer_low", "outer_high", "inner",
    "inner_low", "inner_high", "either", "both", "crossings", "crossings_sd", "missed",
    "missed_low", "missed_high", "missed_by_turns",
)  # fmt: skip
#: Boxes told in full; how many more there are is always said.
_SHOWN = 8
#: Fewer crossings tell next to nothing in words; they stand in the file.
_LEAST = 5


def efficiency_rows(record: PassagesRecord) -> Iterator[tuple[str, ...]]:
    """Give the lines of ``antenna_efficiency.csv``: by box; a cell is empty where nothing can be said."""
    if record.crossings is None:
        return
    turns = np.bincount(record.crossings.box, record.crossings.neither)
    for box, pair in paired(record.crossings, record.confidence).items():
        lost = pair.missed
        yield (
            guard(record.boxes[box]),
            *(str(count) for count in (pair.outer, pair.inner, pair.both)),
            *_cells(pair.outer_share),
            *_cells(pair.inner_share),
            *((f"{pair.either:.4f}", f"{pair.directed:.4f}") if pair.outer and pair.inner else ("", "")),
            f"{lost.total:.1f}",
            f"{pair.chapman_variance**0.5:.1f}",
            f"{lost.estimate:.1f}",
            f"{lost.low:.0f}",
            "" if lost.is_open else f"{lost.high:.0f}",
            f"{turns[box]:.1f}",
        )


def _cells(share: Share) -> tuple[str, str, str]:
    if not share.trials:
        return "", "", ""
    return f"{share.value:.4f}", f"{share.low:.4f}", f"{share.high:.4f}"


def efficiency_sentences(record: PassagesRecord) -> Iterator[str]:
    """Say how well each antenna heard the crossings that the other one heard, and what the shares hide."""
    if record.crossings is None:
        return
    pairs = paired(record.crossings, record.confidence)
    told = [(box, pair) for box, pair in pairs.items() if min(pair.outer, pair.inner) >= _LEAST]
    if not told:
        return
    level = round(record.confidence * 100)
    told_by = "of those that the other antenna heard while both were awake"
    yield f"Crossings heard, {told_by} ({level} % interval):"
    for box, pair in told[:_SHOWN]:
        yield (
            f"  {record.boxes[box]}: outer {_words(pair.outer_share)}, inner {_words(pair.inner_share)}; "
            f"about {round(pair.missed.estimate):,} missed by both"
        )
    if len(told) > _SHOWN:
        yield f"  and {counted(len(told) - _SHOWN, 'more box', 'more boxes')} in antenna_efficiency.csv"
    yield BIAS


def _words(share: Share) -> str:
    return f"{share.value:.2f} ({share.low:.2f} to {share.high:.2f}) of {share.trials:,}"
