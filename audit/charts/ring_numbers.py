"""Rings as numbers on one folded axis: those of one prefix together, each string a stretch."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from audit.charts.folded import fold

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from audit.charts.folded import Fold

__all__ = ["RingNumbers", "beside", "stretches"]

_NUMBERED = re.compile(r"(.*?)([0-9]{1,9})", re.DOTALL)
#: Two prefixes never meet: no number of a ring is so long.
_SERIES = 1e10


@dataclass
class RingNumbers:
    """Turns rings into numbers and back.

    Examples
    --------
    >>> numbers = RingNumbers.of(["SV03001", "SV03002", "SK10001"])
    >>> numbers.number("SV03002") - numbers.number("SV03001"), numbers.ring(numbers.number("SV02999"))
    (1.0, 'SV02999')
    """

    series: dict[str, int] = field(default_factory=dict)
    widths: dict[str, int] = field(default_factory=dict)
    texts: dict[float, str] = field(default_factory=dict)

    @classmethod
    def of(cls, rings: Iterable[str]) -> RingNumbers:
        """Learn prefixes, the most frequent first, and how many digits each has."""
        rings = list(rings)
        seen = Counter((prefix, len(ring) - len(prefix)) for ring in rings for prefix, _ in (_split(ring),))
        made = cls()
        often: Counter[str] = Counter()
        for (prefix, width), many in seen.most_common():
            often[prefix] += many
            made.widths.setdefault(prefix, width)
        made.series.update({prefix: place for place, (prefix, _) in enumerate(often.most_common())})
        for ring in rings:
            made.texts.setdefault(made.number(ring), ring)
        return made

    def number(self, ring: str) -> float:
        """Place of a ring among all rings; NaN without one."""
        if not ring:
            return float("nan")
        prefix, number = _split(ring)
        return self.series.setdefault(prefix, len(self.series)) * _SERIES + number

    def ring(self, number: float) -> str:
        """Write a number as a ring again, as it was typed where it was."""
        if number in self.texts:
            return self.texts[number]
        place, rest = divmod(number, _SERIES)
        prefix = next((text for text, at in self.series.items() if at == place), "")
        width = self.widths.get(prefix, 0)
        return f"{prefix}{int(rest):0{width}}" if width else prefix


def _split(ring: str) -> tuple[str, int]:
    found = _NUMBERED.fullmatch(ring)
    return (found[1], int(found[2])) if found else (ring, 0)


def beside(ring: str, most: int) -> list[str]:
    """Rings just before and after one, in the same writing.

    Examples
    --------
    >>> beside("SV03001", 1)
    ['SV03000', 'SV03002']
    """
    prefix, number = _split(ring)
    width = len(ring) - len(prefix)
    if not width:
        return []
    steps = [*range(-most, 0), *range(1, most + 1)]
    return [f"{prefix}{number + step:0{width}}" for step in steps if number + step >= 0]


def stretches(wanted: Sequence[float], others: Sequence[float], apart: float, most: int) -> Fold | None:
    """Fold an axis of rings; of too many stretches those with fewest of the others are left out.

    Parameters
    ----------
    wanted : sequence of float
        Numbers that must be shown; NaN is passed over.
    others : sequence of float
        Numbers that are shown as far as there is room.
    """
    folded = fold([*wanted, *others], apart)
    if folded is None or len(folded.lows) <= most:
        return folded
    needed = {folded.stretch(number) for number in wanted if np.isfinite(number)}
    crowd = Counter(folded.stretch(number) for number in others if np.isfinite(number))
    ranked = sorted(range(len(folded.lows)), key=lambda at: (at not in needed, -crowd[at]))
    kept = set(ranked[: max(most, len(needed))])
    return fold([number for number in (*wanted, *others) if folded.stretch(number) in kept], apart)
