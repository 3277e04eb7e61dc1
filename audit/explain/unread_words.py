"""Sentences about cells that cannot be read: the fact, what was probably meant, and by which slip."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.intake.answer import quoted

if TYPE_CHECKING:
    from audit.findings import Finding
    from audit.models.misstruck import Hand, Struck

__all__ = ["Meant", "fact_of", "sentence"]

#: What rules say after the fact itself.
_TAIL = re.compile(
    r"(; type .*|; set the cell .*|; the rows? .*|; it was read as .*"
    r"|[;,:] [^\s;,]+( \S+)? was probably meant.*)$"
)


#: What a letter was taken for, which may not be what it stands for.
_LETTER = re.compile(r" for \S+")


@dataclass(frozen=True, slots=True)
class Meant:
    """The likeliest value, its probability, why, and by which slip; and all others with theirs."""

    value: str
    chance: float
    why: str
    struck: Struck | None
    noun: str
    others: tuple[tuple[str, float], ...]


def sentence(finding: Finding, meant: Meant, unit: str, hand: Hand) -> str:
    """Say the fact, what was probably meant, and by which slip."""
    head = fact_of(finding)
    typed = quoted(finding.suspects[0].cell.observed.strip())
    if finding.rule == "reading.unreadable" and not (meant.struck and meant.struck.kind == "tenfold"):
        head = f"{typed} cannot be read as {meant.noun}"
    if finding.rule == "reading.letter_in_number":
        head = _LETTER.sub("", head)
    how = _how(meant, hand)
    if finding.rule.startswith("times."):
        # the fact names the times around already
        return f"{head}: {meant.value} was probably meant{how}."
    if meant.why and re.search(rf"\b{re.escape(meant.value)}\b", meant.why):
        return f"{head}; {meant.why}{how}."
    why = f"{meant.why}: " if meant.why else ""
    return f"{head}; {why}{meant.value}{unit} was probably meant{how}."


def fact_of(finding: Finding) -> str:
    """Return the fact alone, without advice or suggestion and without a full stop."""
    return _TAIL.sub("", finding.message.removesuffix("."))


def _how(meant: Meant, hand: Hand) -> str:
    struck = meant.struck
    if struck is None:
        return ""
    typed, sign = struck.typed, struck.meant
    # codes are compared without regard to capitals, but shown as they stand
    if sign not in meant.value and sign.upper() in meant.value:
        sign = sign.upper()
    said = {
        "neighbours": "two neighbours are exchanged",
        "dropped": f"{sign} is left out" if sign.strip() else "",
        "extra": f"{typed} is one sign too many" if typed.strip() else "",
        "stray": "signs beside it strayed in",
        "turned": "its parts are exchanged",
        "tenfold": "out by ten",
    }.get(struck.kind, "")
    if struck.kind == "digit":
        if typed.casefold() in hand.beside.get(sign.casefold(), ""):
            said = f"{typed} stands beside {sign} on a keyboard"
        elif typed.casefold() in hand.alike.get(sign.casefold(), ""):
            said = f"{typed} looks like {sign}"
        else:
            said = f"{typed} for {sign}"
    return f" ({said})" if said else ""
