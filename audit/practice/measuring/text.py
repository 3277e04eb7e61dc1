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

#: Longest line in characters; words are not broken.
_WIDTH = 100


def measuring_text(measuring: Measuring) -> str:
    """Say what repeated measures tell and what to practise."""
    lines: list[str] = []
    for sentence in opening(measuring):
        lines += wrapped(sentence, _WIDTH)
    lines += ["", "In short"]
    for account in measuring.accounts:
        lines += wrapped(gist(account, measuring.declared), _WIDTH, "  - ")
    for account in measuring.accounts:
        told = told_of(account, measuring.declared)
        lines += ["", account.repeats.measure.title]
        for heading, sentences in told.sections():
            if heading:
                lines.append(f"  {heading}")
            lines += [line for sentence in sentences for line in wrapped(sentence, _WIDTH, "  - ")]
    lines.append("")
    for sentence in CAUTIONS:
        lines += wrapped(sentence, _WIDTH)
    return "\n".join(on_one_line(line) for line in lines)
