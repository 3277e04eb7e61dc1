"""Text columns, columns with a short list of values, and yes or no."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.intake.answer import MISSING, UNREADABLE, Answer, day_or_moment, plainly, quoted
from audit.intake.words import Words, fold, tidy

if TYPE_CHECKING:
    from audit.declarations.tables import FieldDeclaration

__all__ = ["TextReader", "YesNoReader", "text_reader", "yes_no_reader"]

#: A word with its explanation behind it, such as ``1 (pullus)`` or ``1 = pullus``.
_EXPLAINED = re.compile(r"(.+?)\s*(?:\((.*)\)|=(.*))")


@dataclass(frozen=True, slots=True)
class TextReader:
    """Reads free text, or words that mean one of a few values; unknown words stay as typed.

    Attributes
    ----------
    coded : bool
        Single signs are values of their own, as in age codes.
    """

    meanings: dict[str, str]
    missing: frozenset[str]
    broken: frozenset[str]
    after: tuple[str, ...]
    coded: bool = False

    def read(self, value: object) -> Answer:
        """Read one cell as stored."""
        if value is None:
            return MISSING
        if isinstance(value, str):
            text = value.strip()
        elif isinstance(value, bool):
            text = "TRUE" if value else "FALSE"
        elif isinstance(value, (int, float)):
            if value != value:  # noqa: PLR0124 - only a missing number differs from itself
                return MISSING
            text = plainly(value) if abs(value) != float("inf") else str(value)
        elif isinstance(value, (dt.date, dt.time)):
            text = day_or_moment(value)
        else:
            text = str(value)
        return self._text(text)

    def _text(self, text: str) -> Answer:
        word = fold(tidy(text))
        if not word:
            return MISSING
        meant = self._meaning(word) or self._explained(word)
        if meant is not None:
            return Answer(meant)
        if self.meanings:
            for mark in self.after:
                meant = self._meaning(word.removesuffix(mark).strip()) if word.endswith(mark) else None
                if meant is not None:
                    return Answer(
                        meant,
                        "uncertain_mark",
                        f"{quoted(text)} was read as {meant}; its mark of doubt is kept as typed only",
                        meant,
                    )
        if word in self.missing:
            return MISSING
        if word in self.broken:
            return Answer(
                None,
                UNREADABLE,
                f"{quoted(text)} is what a spreadsheet shows where it could not compute; type the value",
            )
        return Answer(text)

    def _explained(self, word: str) -> str | None:
        """Read a word that is explained in the same cell, unless the explanation means something else."""
        if not self.meanings:
            return None
        said = {self._meaning(part) for part in word.split()}
        if len(said) == 1 and None not in said:
            return said.pop()
        parts = _EXPLAINED.fullmatch(word)
        if parts is None:
            return None
        sign, explanation = parts[1], (parts[2] or parts[3] or "").strip()
        meant = self._meaning(sign)
        if meant is None and self.coded and len(sign) == 1 and sign.isalnum():
            meant = sign.upper()
        other = self._meaning(explanation)
        doubted = any(explanation.endswith(mark) for mark in self.after)
        return None if doubted or other not in {None, meant} else meant

    def _meaning(self, word: str) -> str | None:
        if not self.meanings:
            return None
        found = self.meanings.get(word) or self.meanings.get(word.rstrip("."))
        if found is None and word.endswith(".0"):
            # a column of numbers read through a float
            found = self.meanings.get(word.removesuffix(".0"))
        return found


def text_reader(field: FieldDeclaration, words: Words) -> TextReader:
    """Build the reader of a text column."""
    meanings = words.meanings(field.name) if field.allowed or field.name == "age" else {}
    for value in field.allowed or ():
        meanings[fold(value)] = value
    return TextReader(
        meanings=meanings,
        missing=words.listed("missing.any"),
        broken=words.listed("spreadsheet_errors"),
        after=words.marks("uncertain.after"),
        coded=field.name == "age",
    )


@dataclass(frozen=True, slots=True)
class YesNoReader:
    """Reads yes or no."""

    yes: frozenset[str]
    no: frozenset[str]
    missing: frozenset[str]

    def read(self, value: object) -> Answer:
        """Read one cell as stored."""
        if value is None:
            return MISSING
        if isinstance(value, bool):
            return Answer(value)
        if isinstance(value, (int, float)):
            if value != value:  # noqa: PLR0124 - only a missing number differs from itself
                return MISSING
            text = plainly(value) if abs(value) != float("inf") else str(value)
        else:
            text = str(value)
        word = fold(tidy(text)).rstrip(".")
        if word in self.yes:
            return Answer(value=True)
        if word in self.no:
            return Answer(value=False)
        if not word or word in self.missing:
            return MISSING
        return Answer(None, UNREADABLE, f"{quoted(text)} is neither yes nor no; type yes or no")


def yes_no_reader(field: FieldDeclaration, words: Words) -> YesNoReader:
    """Build the reader of a column of yes and no; the column's own words come before the general ones."""
    own_yes = frozenset(fold(word) for word in field.true_words)
    own_no = frozenset(fold(word) for word in field.false_words)
    return YesNoReader(
        yes=(words.listed("yes") - own_no) | own_yes,
        no=(words.listed("no") - own_yes) | own_no,
        missing=words.listed("missing.any") | words.listed("missing.numbers"),
    )
