"""What the tables tell of each ring of a string."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.models.ring_number import bare, split_ring
from audit.rules.fates import CODES, FATES, NO_DAY, Fate, settle
from audit.rules.ring_ledger.tables import LARGEST

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audit.rules.fates import Codes, Flags, Habits, Integers
    from audit.rules.ring_ledger.tables import Handled, Lost
    from audit.rules.stock import IssuedString

__all__ = ["Told", "settled", "tell"]


@dataclass(frozen=True)
class Told:
    """What the tables tell of each ring; `known` marks handlings whose ring is in a string."""

    code: Codes
    new: Flags
    day: Integers
    row: Integers
    loss: Integers
    times: Integers
    quarrel: Flags
    torn: Flags
    known: Flags
    known_losses: Flags


def tell(strings: Sequence[IssuedString], starts: Integers, handled: Handled, lost: Lost) -> Told:
    """Tell of each ring where it was put on, and among which losses it stands."""
    size = int(starts[-1])
    code, row, loss = np.full(size, -1, np.int8), np.full(size, -1, np.int64), np.full(size, -1, np.int64)
    rows, places = _places(strings, starts, handled.ring)
    known = np.zeros(len(handled.ring), dtype=bool)
    known[rows] = True
    times = np.bincount(places[handled.first[rows]], minlength=size).astype(np.int64)
    back = np.argsort(-rows, kind="stable")
    # the first of its rows is written last
    row[places[back]] = rows[back]
    seen_last = np.full(size, NO_DAY)
    np.maximum.at(seen_last, places, handled.day[rows])
    gone, at = _places(strings, starts, lost.ring)
    known_losses = np.zeros(len(lost.ring), dtype=bool)
    known_losses[gone] = True
    turn = np.argsort(gone, kind="stable")
    # of several losses the last one counts
    loss[at[turn]] = gone[turn]
    low, high = np.full(size, len(FATES), np.int8), np.full(size, -1, np.int8)
    np.minimum.at(low, at, lost.fate[gone])
    np.maximum.at(high, at, lost.fate[gone])
    on, off = row >= 0, loss >= 0
    code[off] = lost.fate[loss[off]]
    day = np.full(size, NO_DAY)
    day[on] = handled.day[row[on]]
    gone_on = np.full(size, NO_DAY)
    gone_on[off] = lost.day[loss[off]]
    # a worn ring may be taken off a bird and destroyed, but on a later day than the one it was put on
    taken_off = (
        on
        & off
        & (code == CODES[Fate.DESTROYED])
        & (day != NO_DAY)
        & (gone_on > day)
        & (gone_on >= seen_last)
    )
    code[on & ~taken_off] = CODES[Fate.ON_A_BIRD]
    return Told(
        code,
        on & (times > 0),
        day,
        row,
        loss,
        times,
        on & off & ~taken_off,
        off & (low != high),
        known,
        known_losses,
    )


def settled(told: Told, starts: Integers, early: Sequence[bool], habits: Habits) -> Codes:
    """Decide what became of each ring; the numbers between two that were put on were, too."""
    fate = np.full(told.code.size, CODES[Fate.IN_HAND], np.int8)
    for which, before in enumerate(early):
        span = slice(int(starts[which]), int(starts[which + 1]))
        fate[span] = settle(told.code[span], told.new[span], told.day[span], early=before, habits=habits)
    return fate


def _places(
    strings: Sequence[IssuedString], starts: Integers, texts: Sequence[str]
) -> tuple[Integers, Integers]:
    """Pairs of a text and a place in the ledger, as two arrays; a ring issued twice has two places."""
    by_key: dict[tuple[str, int], list[tuple[int, int]]] = {string.key: [] for string in strings}
    for i, text in enumerate(texts):
        stem, digits = split_ring(text)
        found = by_key.get((bare(stem), len(digits)))
        if found is not None and digits and int(digits) <= LARGEST:
            found.append((int(digits), i))
    ordered = {key: np.array(sorted(found), dtype=np.int64).reshape(-1, 2) for key, found in by_key.items()}
    which, where = [np.zeros(0, np.int64)], [np.zeros(0, np.int64)]
    for string, start in zip(strings, starts.tolist(), strict=False):
        rings = ordered[string.key]
        low, high = np.searchsorted(rings[:, 0], (string.first, string.last + 1))
        which.append(rings[low:high, 1])
        where.append(rings[low:high, 0] - string.first + start)
    return np.concatenate(which), np.concatenate(where)
