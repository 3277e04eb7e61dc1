"""Tags in stock or in the reader that are one slip of the hand away from a text, or two."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from audit.models.spelling import edits_between, forerunners

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from numpy.typing import NDArray

__all__ = ["KnownTags"]

_DECIMALS = "0123456789"


@dataclass(frozen=True)
class KnownTags:
    """The known tags of a season, written as most of its tags are.

    Attributes
    ----------
    shown : mapping of str to str
        What is written to the key.
    """

    shown: Mapping[str, str]

    @cached_property
    def _by_length(self) -> Mapping[int, tuple[list[str], NDArray[np.uint8]]]:
        """Texts of one length, and their signs as an array of one row for each text."""
        by_length: dict[int, list[str]] = defaultdict(list)
        for text in self.shown:
            if text.isascii():
                by_length[len(text)].append(text)
        return {
            n: (texts, np.frombuffer("".join(texts).encode(), dtype=np.uint8).reshape(len(texts), n))
            for n, texts in by_length.items()
        }

    def near(self, text: str, *, two: bool = False) -> list[str]:
        """List the known tags that are equal to a text or one slip of the hand away; or two, if none is.

        Parameters
        ----------
        two : bool
            Whether two slips at once are looked for, which takes longer. Two wrong signs always are.
        """
        if not text.isascii() or not text:
            return []
        found = (forerunners(text, _DECIMALS) | {text}) & self.shown.keys()
        texts, signs = self._by_length.get(len(text), ([], np.zeros((0, len(text)), dtype=np.uint8)))
        apart = (signs != np.frombuffer(text.encode(), dtype=np.uint8)).sum(axis=1)
        found |= {texts[i] for i in np.flatnonzero(apart <= 2)}  # noqa: PLR2004 - signs of one slip
        if two and not found:
            found = set(self._two_slips_away(text))
        return sorted(self.shown[one] for one in found)

    def _two_slips_away(self, text: str) -> Iterator[str]:
        typed = np.frombuffer(text.encode(), dtype=np.uint8)
        used, counts = np.unique(typed, return_counts=True)
        for n, (texts, signs) in self._by_length.items():
            if abs(n - len(text)) > 2:  # noqa: PLR2004 - as many slips
                continue
            # signs that both have
            common = sum(
                np.minimum((signs == sign).sum(axis=1), count)
                for sign, count in zip(used, counts, strict=True)
            )
            for i in np.flatnonzero(common >= max(n, len(text)) - 2):
                if edits_between(texts[i], text, 2) <= 2:  # noqa: PLR2004 - two slips
                    yield texts[i]
