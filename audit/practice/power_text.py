"""A self-test in plain text, for the command line."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from audit.practice.power_words import CAUTION, column, lacking, opening, percent, roomless, seldom, total

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.practice.power import Power, Tally

__all__ = ["power_text"]

#: Longest line of running text in characters; the table is as wide as its widest words.
_WIDTH = 80


def power_text(power: Power) -> str:
    """Tell a self-test.

    Parameters
    ----------
    power : Power
        What was measured.
    """
    lines: list[str] = []
    for sentence in opening(power):
        lines += textwrap.wrap(sentence, _WIDTH)
    if power.tallies:
        lines += ["", *_table(power)]
    notes = [*lacking(power), roomless(power)]
    for note in filter(None, notes):
        lines += ["", *textwrap.wrap(note, _WIDTH)]
    last = filter(None, ["What this sheet cannot show.", seldom(power), *power.blind])
    lines += ["", *textwrap.wrap(" ".join(last), _WIDTH)]
    lines += ["", *textwrap.wrap(CAUTION, _WIDTH)]
    return "\n".join(lines)


def _table(power: Power) -> Iterator[str]:
    wide = max(len(tally.says) for tally in power.tallies)

    def line(words: str, tally: Tally) -> str:
        found, mended = percent(tally.found), percent(tally.mended)
        return f"{words:<{wide + 2}}  {tally.planted:>5,}  {found:<15}  {mended}"

    yield f"{'':<{wide + 2}}  slips  {'found':<15}  mended right"
    for field, tallies in power.by_field().items():
        yield column(power, field)
        yield from (line(f"  {tally.says}", tally) for tally in tallies)
        if len(tallies) > 1:
            yield line("  all of these", total(power, tallies))
