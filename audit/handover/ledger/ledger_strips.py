"""The ledgers as strips of cells, ready to be drawn."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from audit.charts.ring_strings import Drawing
    from audit.rules.ring_ledger.ledger import RingLedger
    from audit.rules.tag_ledger import TagLedger

__all__ = ["rings_chart", "tags_chart"]


def rings_chart(ledger: RingLedger, *, most_lines: int | None = None) -> Drawing | None:
    """Draw each string; None where no string was issued."""
    from audit.charts.ring_strings import MOST_LINES, Piece, Strip, Words, chart

    strips = [
        Strip(
            string.holder,
            [
                Piece(
                    line.ring,
                    line.fate.value,
                    line.date,
                    line.worn.box if line.worn else "",
                    line.remark,
                    line.conflict,
                )
                for line in ledger.lines(which)
            ],
        )
        for which, string in enumerate(ledger.strings)
    ]
    words = Words("What became of every ring?", "string", "strings", "ring")
    return chart(strips, words, most_lines=most_lines or MOST_LINES)


def tags_chart(ledger: TagLedger, *, most_lines: int | None = None) -> Drawing | None:
    """Draw each batch of tags in the order of their numbers; None where there is no list of tags."""
    from audit.charts.ring_strings import MOST_LINES, Piece, Strip, Words, chart

    strips = [
        Strip(
            batch,
            [
                Piece(
                    line.tag,
                    line.fate.value,
                    line.date or line.read,
                    line.box,
                    "; ".join(filter(None, (f"ring {line.ring}" if line.ring else "", line.remark))),
                    line.conflict,
                )
                for line in lines
            ],
        )
        for batch, lines in ledger.by_batch.items()
    ]
    words = Words(
        "What became of every tag?", "batch", "batches", "tag", "on two rings, or twice in the list"
    )
    return chart(strips, words, most_lines=most_lines or MOST_LINES)
