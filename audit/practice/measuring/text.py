"""Repeated measures in plain text, for the command line."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.handover.terminal import on_one_line, wrapped
from audit.practice.measuring.cautions import CAUTIONS
from audit.practice.measuring.gist import gist
from audit.practice.measuring.told import opening, told_of

if TYPE_CHECKING:
    from audit.practice.measuring.record import Measuring

__all__ = ["measuring_text"]

_WIDTH = 100


def measuring_text(measuring: Measuring, *, width: int = _WIDTH) -> str:
    """Say what repeated measures tell and what to practise.

    Parameters
    ----------
    width : int
        Longest line in characters; words are not broken.
    """
    lines: list[str] = []
    for sentence in opening(measuring):
        lines += wrapped(sentence, width)
    lines += ["", "In short"]
    for account in measuring.accounts:
        lines += wrapped(gist(account, measuring.declared), width, "  - ")
    for account in measuring.accounts:
        told = told_of(account, measuring.declared)
        lines += ["", account.repeats.measure.title]
        for heading, sentences in told.sections():
            if heading:
                lines.append(f"  {heading}")
            lines += [line for sentence in sentences for line in wrapped(sentence, width, "  - ")]
    lines.append("")
    for sentence in CAUTIONS:
        lines += wrapped(sentence, width)
    return "\n".join(on_one_line(line) for line in lines)
