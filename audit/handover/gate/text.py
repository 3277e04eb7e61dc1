"""The gate in plain words, for the command line."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.handover.gate.item import by_cell
from audit.handover.gate.wording import (
    EMPTY,
    NEXT,
    cell_notes,
    cells_named,
    engine_sentence,
    headline,
    listed_words,
    sort_word,
)
from audit.handover.terminal import on_one_line, wrapped
from audit.review.wording import counted

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from audit.handover.gate.gate import Gate
    from audit.handover.gate.item import OpenItem

__all__ = ["gate_text"]

#: Longest line in characters; words are not broken.
_WIDTH = 100
#: Places told in full; how many more there are is always said.
_SHOWN = 12


def gate_text(gate: Gate, *, shown: int = _SHOWN) -> str:
    """Say whether a season may be handed over, what is in its way, and what was not checked.

    Parameters
    ----------
    gate : Gate
        What was asked.
    shown : int
        Places, and rules that did not run, told in full.
    """
    lines = wrapped(headline(gate), _WIDTH)
    places = by_cell(gate.shutting)
    for place in places[:shown]:
        lines += ["", *_told(place)]
    if len(places) > shown:
        lines += ["", f"{counted(len(places) - shown, 'more place', 'more places')} on the page of the gate."]
    if not gate.is_open:
        lines += ["", *wrapped(NEXT, _WIDTH)]
    lines += ["", *wrapped(engine_sentence(gate), _WIDTH)]
    if words := listed_words(gate):
        lines += wrapped(words, _WIDTH)
    if skipped := gate.of_sort("not_run"):
        lines += ["", "Not checked:"]
        for item in skipped[:shown]:
            lines += wrapped(f"{item.rule}: {item.says}", _WIDTH, "  ")
        if len(skipped) > shown:
            lines.append(f"  and {len(skipped) - shown:,} more")
    return "\n".join(lines)


def _told(place: Sequence[OpenItem]) -> Iterator[str]:
    """Tell all that is said of one place; where it stands is said once."""
    first = place[0]
    # another item may name more cells
    most = max(place, key=lambda item: len(item.cells))
    where = " ".join(filter(None, (sort_word(first), cells_named(most) or first.rule)))
    bird = " ".join(filter(None, (first.first.marks.box, first.first.marks.date, first.first.marks.ring)))
    stands = f": {on_one_line(first.typed) or EMPTY}" if first.cells else ""
    yield from wrapped(f"{where}{f' ({on_one_line(bird)})' if bird else ''}{stands}", _WIDTH)
    for item in place:
        for sentence in (item.says, *item.beside, item.remark):
            yield from wrapped(on_one_line(sentence), _WIDTH, "  ")
        if item.who and item.sort in ("question", "conflict", "orphan", "held"):
            yield from wrapped(on_one_line(f"{item.who}{f': {item.why}' if item.why else ''}"), _WIDTH, "  ")
        for note in cell_notes(item):
            yield from wrapped(on_one_line(note), _WIDTH, "  -> ")
