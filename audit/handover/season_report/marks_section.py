"""The section on rings and tags: what became of every one that was issued."""

from __future__ import annotations

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
from audit.handover.season_report.content import Heading, Items, Rows, Words
from audit.review.wording import counted
from audit.rules.ring_ledger.laid import lay_ledger
from audit.rules.tag_ledger import lay_tag_ledger

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.handover.clean.decided_season import DecidedSeason
    from audit.handover.season_report.content import Block

__all__ = ["marks_section"]

_SERIES = ("first", "last", "put on", "losses", "missing between", "these")
#: Questions told in full.
_ASKED = 25
#: Strings or batches in one table.
_LINES = 150
_WORDS = 3


def marks_section(decided: DecidedSeason) -> Iterator[Block]:
    """Tell the ledgers of rings and tags of the decided season."""
    told = decided.clean, decided.declared, decided.report
    rings, tags = lay_ledger(*told), lay_tag_ledger(*told)
    yield Heading("Rings and tags")
    for sentence in opening(rings, tags):
        yield Words(sentence)
    if rings.strings:
        yield _table("Rings by string", heads(rings), list(string_rows(rings)), words=_WORDS)
    if rings.series:
        lines = list(series_rows(rings))
        numbers = frozenset((2, 3, 4))
        yield Rows("Rings put on, by series", _SERIES, tuple(lines[:_LINES]), numbers, frozenset((0, 1)))
    if tags.lines:
        yield _table("Tags by batch", tag_heads(), list(tag_rows(tags)), words=1)
    asked = questions(rings, tags)
    if not asked:
        yield Words("No question about a ring or a tag is left.")
        return
    yield Words(
        f"{counted(len(asked), 'question')} about rings and tags {'is' if len(asked) == 1 else 'are'} left:"
    )
    yield Items(tuple(asked[:_ASKED]))
    if len(asked) > _ASKED:
        yield Words(f"{len(asked) - _ASKED:,} more are not told here.")


def _table(caption: str, names: tuple[str, ...], lines: list[tuple[str, ...]], *, words: int) -> Rows:
    cut = len(lines) - _LINES
    shown = [*lines[: _LINES - 1], lines[-1]] if cut > 0 else lines
    more = f" ({counted(cut, 'line')} not shown)" if cut > 0 else ""
    return Rows(
        f"{caption}{more}",
        names,
        tuple(shown),
        numbers=frozenset(range(words, len(names))),
        codes=frozenset((0,)),
        total=True,
    )
