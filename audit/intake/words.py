"""The words and marks by which cells are understood, from ``reading.yaml``."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeVar

from audit.declarations.once import once_for

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from audit.declarations.limit import Limit

__all__ = ["Words", "fold", "tidy"]

Found = TypeVar("Found")

_ZERO_WIDTH = re.compile("[\u00ad\u200b-\u200f\u202a-\u202e\u2060-\u2064\ufeff]")
_DASHES = str.maketrans(dict.fromkeys("\u2010\u2011\u2012\u2013\u2014\u2015\u2212\ufe63\uff0d", "-"))


def tidy(text: str) -> str:
    """Drop invisible signs; bring blanks, dashes and digits to their plain forms.

    Examples
    --------
    >>> tidy("  −5   mm ")
    '-5 mm'
    """
    if text.isascii():
        return " ".join(text.split())
    text = _ZERO_WIDTH.sub("", text).translate(_DASHES)
    text = "".join(
        str(unicodedata.decimal(sign)) if sign.isdecimal() and not sign.isascii() else sign for sign in text
    )
    return " ".join(text.split())


def fold(text: str) -> str:
    """Bring a word to the form in which words are compared.

    Examples
    --------
    >>> fold("  Not  MEASURED ")
    'not measured'
    """
    # a text of plain letters is in this form already
    plain = text if text.isascii() else unicodedata.normalize("NFC", text)
    return " ".join(plain.split()).casefold()


@once_for
def _answers(_settings: Mapping[str, Limit]) -> dict[tuple[str, str], Any]:
    return {}


@dataclass(frozen=True, slots=True)
class Words:
    """Look-up of the settings under ``reading.``."""

    settings: Mapping[str, Limit]

    def setting(self, key: str) -> Any:  # noqa: ANN401 - a setting may be a number, a word or a list
        """Return one value, such as ``codes.kept_digits``."""
        return self.settings[f"reading.{key}"].value

    def _once(self, what: str, branch: str, find: Callable[[str], Found]) -> Found:
        """Look up once what every column of every sheet asks for."""
        answers = _answers(self.settings)
        if (what, branch) not in answers:
            answers[what, branch] = find(branch)
        found: Found = answers[what, branch]
        return found

    def below(self, branch: str) -> dict[str, Any]:
        """Return every value under a branch, by the rest of its key."""
        return dict(self._once("below", branch, self._below))

    def _below(self, branch: str) -> dict[str, Any]:
        stem = f"reading.{branch}."
        return {
            key.removeprefix(stem): limit.value
            for key, limit in self.settings.items()
            if key.startswith(stem)
        }

    def listed(self, branch: str) -> frozenset[str]:
        """Return all words of a branch, folded, whatever their language."""
        return self._once("listed", branch, self._listed)

    def _listed(self, branch: str) -> frozenset[str]:
        exact = self.settings.get(f"reading.{branch}")
        lists = [exact.value] if exact else self.below(branch).values()
        return frozenset(fold(str(word)) for words in lists for word in words)

    def marks(self, branch: str) -> tuple[str, ...]:
        """Return all words of a branch, the longest first, so that none hides behind a shorter one."""
        return tuple(sorted(self.listed(branch), key=len, reverse=True))

    def meanings(self, field: str) -> dict[str, str]:
        """Map each folded word of a column to the value that it means; empty where there are none."""
        return dict(self._once("meanings", field, self._meanings))

    def _meanings(self, field: str) -> dict[str, str]:
        found: dict[str, str] = {}
        for key, words in self.below(f"meanings.{field}").items():
            value = key.rpartition(".")[0]
            for word in words:
                found.setdefault(fold(str(word)), value)
        return found

    def months(self) -> dict[str, int]:
        """Map each folded name of a month to its number."""
        return dict(self._once("months", "", lambda _: self._months()))

    def _months(self) -> dict[str, int]:
        found: dict[str, int] = {}
        for language in self.below("months").values():
            for number, names in enumerate(language, start=1):
                for name in names:
                    found.setdefault(fold(str(name)), number)
        return found

    def digits_for_letters(self) -> dict[str, str]:
        """Map each letter to the digit that it is taken for."""
        return {str(letter): digit for digit, letters in self.below("letters").items() for letter in letters}
