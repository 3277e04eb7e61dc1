"""The ledgers in plain text, for the command line."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from audit.handover.ledger.ledger_words import (
    heads,
    opening,
    questions,
    series_rows,
    string_rows,
    tag_heads,
    tag_rows,
)
from audit.review.wording import counted

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from audit.rules.ring_ledger.ledger import RingLedger
    from audit.rules.tag_ledger import TagLedger

__all__ = ["ledger_text"]

#: Questions told in full; how many more there are is always said.
_SHOWN = 20
#: Lines of a table; a longer one is cut, and the files hold the rest.
_ROWS = 70
_SERIES = ("first", "last", "put on", "losses", "missing between", "these")


def ledger_text(
    season: str, rings: RingLedger, tags: TagLedger, width: int = 80, *, shown: int = _SHOWN
) -> str:
    """Tell the ledgers.

    Parameters
    ----------
    season : str
        Its name.
    width : int
        Longest line of running text in characters; tables are as wide as they need.
    shown : int, optional
        Questions told in full.
    """
    lines = [f"Ledger of the season {season}."]
    for sentence in opening(rings, tags):
        lines += textwrap.wrap(sentence, width, break_on_hyphens=False)
    if rings.strings:
        lines += ["", *_table(heads(rings), list(string_rows(rings)))]
    if rings.series:
        lines += ["", *_table(_SERIES, list(series_rows(rings)))]
    if tags.lines:
        lines += ["", *_table(tag_heads(), list(tag_rows(tags)))]
    asked = questions(rings, tags)
    lines += ["", "Questions:" if asked else "No question is left."]
    for sentence in asked[:shown]:
        lines += textwrap.wrap(
            sentence, width, initial_indent="  ", subsequent_indent="    ", break_on_hyphens=False
        )
    if len(asked) > shown:
        lines.append(f"  {counted(len(asked) - shown, 'more question', 'more questions')} in the files.")
    return "\n".join(lines)


def _table(head: Sequence[str], rows: list[tuple[str, ...]]) -> Iterator[str]:
    """Line up columns, numbers to the right; of a long table the first rows and the last."""
    cut = len(rows) - _ROWS
    shown = [*rows[: _ROWS - 1], rows[-1]] if cut > 0 else rows
    numbers = [all(_is_number(row[i]) for row in shown) for i in range(len(head))]
    wide = [max(len(head[i]), *(len(row[i]) for row in shown)) for i in range(len(head))]
    for row in (head, *shown):
        cells = [
            text.rjust(w) if right else text.ljust(w)
            for text, w, right in zip(row, wide, numbers, strict=True)
        ]
        yield f"  {'  '.join(cells)}".rstrip()
    if cut > 0:
        yield f"  ({counted(cut, 'more line')} in the files)"


def _is_number(text: str) -> bool:
    return text.replace(",", "").isdecimal()
