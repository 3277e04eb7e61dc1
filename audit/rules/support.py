"""What is foretold of a nestling if what it rests on, its other visits or a sole sibling, is wrong."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.rules.nestling_density import Nestlings, Ways
from audit.rules.sizes import log_any

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from audit.rules.companions.what_if import Known
    from audit.rules.outlook import Outlook

    Ints = NDArray[np.int64]

__all__ = ["supports_of"]

#: Log odds beyond which one is sure, and the exponential still a number.
_SURE = float(np.log(np.finfo(np.float64).max)) / 2


def supports_of(outlook: Outlook, rows: Sequence[int]) -> dict[int, Ways]:
    """Say what is foretold of some birds, and how likely: as typed, or were their other visits wrong.

    Parameters
    ----------
    rows : sequence of int
        Which birds of the outlook, each once.
    """
    company = outlook.sizes.company
    rests = {}
    found: dict[int, Ways] = {}
    for row in rows:
        place = int(outlook.place[row])
        others = company.supporters(place) if place >= 0 else np.zeros(0, dtype=np.int64)
        others = others[np.isfinite(company.wing[others]) | np.isfinite(company.mass[others])]
        if len(others):
            rests[row] = place, others
        else:
            found[row] = ((1.0, outlook.expected.of(np.array([row]))),)
    if not rests:
        return found
    doubts = _wrong(outlook, list(rests.values()))
    none = np.zeros(0, dtype=np.int64)
    worlds: list[Known] = []
    for place, others in rests.values():
        worlds += [(place, others, none), (place, none, others), (place, others, others)]
    ways_of_each = len(worlds) // len(rests)
    without = company.expect_each_without(worlds)
    for k, (row, (place, others)) in enumerate(rests.items()):
        own = others[company.kin.bird[others] == company.kin.bird[place]]
        ring = company.ring_doubt(place, own)
        right = np.prod([1 - np.array(one) for one in doubts[k]], axis=0)
        wing, mass = 1 - right
        parts = [without.of(np.array([ways_of_each * k + way])) for way in range(ways_of_each)]
        ways = [
            ((1 - ring) * (1 - wing) * (1 - mass), outlook.expected.of(np.array([row]))),
            ((1 - ring) * wing * (1 - mass), parts[0]),
            ((1 - ring) * (1 - wing) * mass, parts[1]),
            (ring + (1 - ring) * wing * mass, parts[2]),
        ]
        found[row] = tuple((float(chance), expected) for chance, expected in ways if chance > 0)
    return found


def _wrong(outlook: Outlook, rests: Sequence[tuple[int, Ints]]) -> list[list[tuple[float, float]]]:
    """Tell how likely wing, and mass, of all that nestlings rest on is wrong, by all but their own bird."""
    company, sizes = outlook.sizes.company, outlook.sizes
    asked: list[Known] = []
    for place, others in rests:
        among = np.append(others, place)
        asked += [(int(other), among[among != other], among[among != other]) for other in others]
    expected = company.expect_each_without(asked)
    at = np.array([other for other, _, _ in asked], dtype=np.int64)
    rows, wing, mass = company.rows[at], company.wing[at], company.mass[at]
    gone = np.full(len(at), np.nan)
    nestlings = Nestlings(sizes, outlook.birds)
    fine = nestlings.dense(rows, wing, mass, expected)
    odds = []
    for column, value, rest in (("wing_mm", wing, (gone, mass)), ("mass_g", mass, (wing, gone))):
        anything = log_any(sizes, column, value)
        left = nestlings.dense(rows, rest[0], rest[1], expected)
        best = np.where(np.isfinite(value), np.log(sizes.grain.slip) + anything + left - fine, -np.inf)
        odds.append(np.exp(np.minimum(best, _SURE)))
    whole = 1 + (odds[0] + odds[1])
    chances = iter(zip((odds[0] / whole).tolist(), (odds[1] / whole).tolist(), strict=True))
    return [[next(chances) for _ in others] for _, others in rests]
