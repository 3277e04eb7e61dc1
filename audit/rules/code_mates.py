"""How far the number of a ring or a tag lies from the others that it may have been fitted with."""

from __future__ import annotations

import math
import re
from bisect import bisect_left
from collections import defaultdict
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence

    from audit.rules.tag_rows import TagRow

__all__ = ["CodeMates"]

_DECIMAL = re.compile(r"[0-9]{15}")
_HEX = re.compile(r"[0-9A-F]{10}")
_HEX_BASE = 16
_SERIAL = re.compile(r"(.*?)([0-9]{1,15})")


@dataclass(frozen=True)
class CodeMates:
    """The numbers of a season's rings, by box, and of its tags.

    Attributes
    ----------
    rows : sequence of TagRow
        Handlings whose tag is there and not in doubt.
    """

    rows: Sequence[TagRow]

    @cached_property
    def _numbers_in_box(self) -> Mapping[str, Mapping[str, tuple[str, int]]]:
        found: dict[str, dict[str, tuple[str, int]]] = defaultdict(dict)
        for row in self.rows:
            match = _SERIAL.fullmatch(row.ring)
            if match:
                found[row.box][row.ring] = (match[1], int(match[2]))
        return found

    @cached_property
    def _boxes_of_ring(self) -> Mapping[str, tuple[str, ...]]:
        found: dict[str, list[str]] = defaultdict(list)
        for row in self.rows:
            found[row.ring].append(row.box)
        return {ring: tuple(boxes) for ring, boxes in found.items()}

    def distance_of_ring(self, ring: str, among: Collection[str]) -> float:
        """Distance from a ring to the nearest other one of its boxes; infinite where there is none.

        Parameters
        ----------
        ring : str
            The ring.
        among : collection of str
            Rings that are themselves in question and are mates of nobody.
        """
        best = math.inf
        for box in self._boxes_of_ring.get(ring, ()):
            mates = self._numbers_in_box.get(box, {})
            if ring not in mates:
                continue
            letters, number = mates[ring]
            for other, (front, serial) in mates.items():
                if other != ring and other not in among and front == letters:
                    best = min(best, abs(serial - number))
        return best

    @cached_property
    def _numbers(self) -> Mapping[int, list[int]]:
        found: dict[int, list[int]] = defaultdict(list)
        for key in {row.key for row in self.rows}:
            number = _number(key)
            if number is not None:
                found[len(key)].append(number)
        return {length: sorted(numbers) for length, numbers in found.items()}

    @cached_property
    def _usual_gap(self) -> Mapping[int, float]:
        return {
            length: float(np.median(np.diff(np.array(numbers, dtype=np.int64))))
            if len(numbers) > 1
            else math.inf
            for length, numbers in self._numbers.items()
        }

    def gaps_of_tag(self, key: str, among: Collection[str]) -> float:
        """Distance from a tag to the nearest other one of the season, in usual gaps between neighbours.

        Parameters
        ----------
        key : str
            The tag.
        among : collection of str
            Tags that are themselves in question and are mates of nobody.
        """
        number = _number(key)
        numbers = self._numbers.get(len(key))
        if number is None or numbers is None:
            return 0.0
        asked = {_number(other) for other in among} | {number}
        place = bisect_left(numbers, number)
        below = next((n for n in reversed(numbers[:place]) if n not in asked), None)
        above = next((n for n in numbers[place:] if n not in asked), None)
        found = [abs(number - n) for n in (below, above) if n is not None]
        gap = self._usual_gap[len(key)]
        return min(found) / gap if found and gap else 0.0


def _number(key: str) -> int | None:
    if _DECIMAL.fullmatch(key):
        return int(key)
    return int(key, _HEX_BASE) if _HEX.fullmatch(key) else None
