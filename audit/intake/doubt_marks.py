"""Marks of doubt or limit around what was typed: a question mark, *ca*, a sign for more or less, brackets."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from audit.intake.words import Words

__all__ = ["DoubtMarks", "doubt_marks"]


@dataclass(frozen=True, slots=True)
class DoubtMarks:
    """Takes marks off.

    Attributes
    ----------
    before, after : tuple of str
        Marks in front of and behind a value, the longest first, so that none hides behind a shorter one.
    """

    before: tuple[str, ...]
    after: tuple[str, ...]

    def taken_off(self, text: str) -> str | None:
        """Take one mark off a tidy text; None where it bears none, or is nothing but one."""
        word = text.casefold()
        for mark in self.before:
            if word.startswith(mark) and len(text) > len(mark):
                return text[len(mark) :].strip()
        for mark in self.after:
            if word.endswith(mark) and len(text) > len(mark):
                return text[: -len(mark)].strip()
        return None

    def unwrapped(self, text: str) -> str | None:
        """Take one mark off a tidy text, or the brackets around it."""
        inner = self.taken_off(text)
        if inner is None and text.startswith("(") and text.endswith(")"):
            return text[1:-1].strip()
        return inner


def doubt_marks(words: Words) -> DoubtMarks:
    """Build what takes marks of doubt off from the words of ``reading.yaml``."""
    return DoubtMarks(words.marks("uncertain.before"), words.marks("uncertain.after"))
