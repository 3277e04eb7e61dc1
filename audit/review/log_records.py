"""What the lines of a log say together: decisions by identity, and lines that could not be read."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.review.log_lines import MARK, LineFault, decision_in

if TYPE_CHECKING:
    from pathlib import Path

    from audit.review.decisions import Decision

__all__ = ["Damaged", "Records", "shown"]

#: Signs of a damaged line that are shown.
_SHOWN = 80
_BYTE_ORDER_MARK = b"\xef\xbb\xbf"


@dataclass(frozen=True, slots=True)
class Damaged:
    """A line that does not count; it stays in the file as it is.

    Attributes
    ----------
    path : Path or None
        The file; None for a log in memory.
    line : int
        Number of the line in the file, counted from 1.
    why : str
        What is wrong with it.
    text : str
        How it begins.
    """

    path: Path | None
    line: int
    why: str
    text: str

    def __str__(self) -> str:
        where = f" of {self.path.name}" if self.path else ""
        return f"Line {self.line}{where} was left out: {self.why}."


class Records:
    """Lines taken in one after the other; a line that says what another one said adds nothing.

    Attributes
    ----------
    lines : dict of str to list of bytes
        Identity -> lines that say different things under it, those of a later program included. More than one
        is a dispute, and none of them counts: which is right cannot be told, whichever came first.
    looks_like_log : bool
        Whether any line was a decision, or began as one.
    """

    def __init__(self) -> None:
        self.lines: dict[str, list[bytes]] = {}
        self.looks_like_log = False
        self._read: dict[str, Decision] = {}

    @property
    def decisions(self) -> tuple[Decision, ...]:
        """Return all that count, in the order in which they were first read."""
        return tuple(decision for identity, decision in self._read.items() if self.counts(identity))

    def counts(self, identity: str) -> bool:
        """Whether a decision is known, could be read and is not in dispute."""
        return identity in self._read and len(self.lines[identity]) == 1

    def get(self, identity: str) -> Decision | None:
        """Return a decision that counts."""
        return self._read[identity] if self.counts(identity) else None

    def has(self, line: bytes) -> bool:
        """Whether a line, or one that says the same, was taken in."""
        identity, decision, _ = _understood(line)
        return self._known(identity, line, decision)

    def take(self, line: bytes) -> str:
        """Take in one line without its line end.

        Returns
        -------
        str
            Why it does not count; empty when it does, or when it is blank.
        """
        line = line.removeprefix(_BYTE_ORDER_MARK).strip()
        if not line:
            return ""
        self.looks_like_log |= MARK in line or MARK.startswith(line)
        identity, decision, why = _understood(line)
        if not identity:
            return why
        self.looks_like_log = True
        said = self.lines.setdefault(identity, [])
        if not self._known(identity, line, decision):
            said.append(line)
        if len(said) > 1 and line != said[0]:
            return "another line has the same identity and says something else, and neither of them counts"
        if decision is not None:
            self._read.setdefault(identity, decision)
        return why

    def _known(self, identity: str, line: bytes, decision: Decision | None) -> bool:
        said = self.lines.get(identity, ())
        if line in said:
            return True
        return decision is not None and any(decision == _understood(other)[1] for other in said)


def shown(line: bytes) -> str:
    """Return the beginning of a line for a person."""
    text = line[: 2 * _SHOWN].decode(errors="replace").strip()
    text = "".join(sign if sign.isprintable() else "\N{REPLACEMENT CHARACTER}" for sign in text)
    return text if len(text) <= _SHOWN else f"{text[:_SHOWN]}\N{HORIZONTAL ELLIPSIS}"


def _understood(line: bytes) -> tuple[str, Decision | None, str]:
    try:
        decision = decision_in(line)
    except LineFault as fault:
        return fault.identity, None, str(fault)
    return decision.identity, decision, ""
