"""Rings that could have been in a row, and the one that a slip turns into what was typed."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass
from enum import IntEnum
from typing import TYPE_CHECKING

from audit.models.ring_number import CLAUSES, bare, join_ring
from audit.models.sequence import slot_of
from audit.rules.sheet_order import NO_DAY

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from audit.rules.ring_rows import Key, Ringings

__all__ = ["Expected", "Fit", "Mend", "best_expected", "expected_rings", "mend_ring"]


class Fit(IntEnum):
    """How well an unused ring fits into a row.

    ``TIP``: it only comes next in time. ``BESIDE``: it stands beside a ring of the same visit, or between two
    that were used before and after this day. ``BETWEEN``: it stands between two used rings, one of
    them of the same visit.
    """

    TIP = 1
    BESIDE = 2
    BETWEEN = 3


@dataclass(frozen=True, slots=True)
class Expected:
    """A ring that could have been in a row.

    Attributes
    ----------
    ring : str
        Its number.
    fit : Fit
        How well it fits.
    beside : tuple of int
        Rows of the rings just below and above.
    """

    ring: str
    fit: Fit
    beside: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Mend:
    """The one expected ring that a single slip turns into what was typed."""

    expected: Expected
    kind: str

    @property
    def clause(self) -> str:
        """Say what the slip was."""
        return CLAUSES[self.kind]

    @property
    def ring(self) -> str:
        """The ring that was probably meant."""
        return self.expected.ring


def expected_rings(rings: Ringings, i: int) -> list[Expected]:
    """List the rings that could have been in a row.

    At a first ringing: unused numbers next to those of the same visit and to the last and next ones of
    each series, as far as day of use and string agree. At a later encounter: the rings of the same box
    that are missing from this visit.
    """
    found: dict[tuple[Key, int], Expected] = {}
    if rings.event[i] != "re-encountered":
        for j in _beside(rings, i):
            for step in (-1, 1):
                number = int(rings.serial[j]) + step
                at = (rings.key[j], number)
                if at not in found and at[0] in rings.running:
                    fit, beside = _fit(rings, i, at)
                    if fit:
                        ring = join_ring(rings.own[at[0]], number, at[0][1])
                        found[at] = Expected(ring, fit, beside)
    for j in _absent_siblings(rings, i):
        at = (rings.key[j], int(rings.serial[j]))
        if at not in found:
            found[at] = Expected(str(rings.ring[j]), Fit.BESIDE, (j,))
    return sorted(found.values(), key=lambda expected: (-expected.fit, expected.ring))


def mend_ring(
    rings: Ringings,
    i: int,
    typed: str,
    *,
    least: Fit = Fit.BESIDE,
    among: Sequence[Expected] | None = None,
    two: bool = False,
) -> Mend | None:
    """Find the one expected ring that a single slip turns into what was typed.

    Parameters
    ----------
    i : int
        Row.
    typed : str
        What stands there.
    least : Fit
        Smallest fit.
    among : sequence of Expected, optional
        Instead of all expected ones.
    two : bool
        Whether two slips at once count, where no single one does.

    Returns
    -------
    Mend or None
        None when no expected ring, or more than one with the best fit, is a slip away.
    """
    candidates = expected_rings(rings, i) if among is None else among
    for both in (False, True)[: 1 + two]:
        reached = [
            Mend(expected, kind)
            for expected in candidates
            if expected.fit >= least and (kind := rings.slip(expected.ring, typed, two=both))
        ]
        if reached:
            best = best_expected(rings, i, [mend.expected for mend in reached])
            return next((mend for mend in reached if mend.expected is best), None)
    return None


def best_expected(rings: Ringings, i: int, expected: Sequence[Expected]) -> Expected | None:
    """Choose the expected ring that fits best, by preference one from the string of the same ringer."""
    if not expected:
        return None
    fit = max(e.fit for e in expected)
    leading = [e for e in expected if e.fit == fit]
    if len(leading) > 1 and rings.ringer[i]:
        leading = [e for e in leading if any(rings.ringer[j] == rings.ringer[i] for j in e.beside)]
    return leading[0] if len(leading) == 1 else None


def _absent_siblings(rings: Ringings, i: int) -> Iterator[int]:
    """Rows of birds of the same brood that were in the hand at other visits but not at this one."""
    if rings.event[i] == "ringed" or rings.visit[i] < 0:
        return
    mates = rings.mates(i)
    here = {bare(rings.ring[j]) for j in (*mates, i)}
    known = [
        j
        for j in rings.rows_of_box.get(rings.box[i], ())
        if rings.ring[j]
        and rings.visit[j] not in (-1, rings.visit[i])
        and (rings.age[j] == rings.age[i] or not rings.age[j] or not rings.age[i])
        and abs(int(rings.day[j]) - int(rings.day[i])) <= rings.brood_days
    ]
    if not rings.event[i] and here.isdisjoint(bare(rings.ring[j]) for j in known):
        return
    for j in known:
        # a ring that is itself out of line is no sibling's
        in_line = rings.at_home[j] or not rings.first[j]
        if bare(rings.ring[j]) not in here and rings.serial[j] >= 0 and in_line:
            yield j


def _beside(rings: Ringings, i: int) -> Iterator[int]:
    """Rows whose rings come just before or after the one of a row."""
    yield from (j for j in rings.mates(i) if rings.first[j] and rings.serial[j] >= 0)
    day = int(rings.day[i])
    if day == NO_DAY:
        return
    for moments, rows in rings.in_time.values():
        place = bisect_left(moments, (day, i))
        near = [j for j in rows[max(place - 2, 0) : place + 2].tolist() if j != i]
        yield from (j for j in near if abs(int(rings.day[j]) - day) <= rings.tip_days)


def _fit(rings: Ringings, i: int, at: tuple[Key, int]) -> tuple[Fit | None, tuple[int, ...]]:
    key, number = at
    if number < 0 or len(str(number)) > key[1] or at in rings.used or at in rings.lost:
        return None, ()
    if rings.stock and any(s.key == key for s in rings.stock) and not rings.issued_at(at):
        return None, ()
    lower = _users(rings, i, (key, number - 1))
    higher = _users(rings, i, (key, number + 1))
    visit, day = int(rings.visit[i]), int(rings.day[i])
    mates = [j for j in (*lower, *higher) if visit >= 0 and rings.visit[j] == visit]
    if not mates:
        if lower and all(rings.day[j] > day for j in lower):
            return None, ()
        if higher and all(rings.day[j] < day for j in higher):
            return None, ()
    beside = tuple(dict.fromkeys((*mates, *lower[:1], *higher[:1])))
    if lower and higher:
        return (Fit.BETWEEN if mates else Fit.BESIDE), beside
    if not mates:
        return Fit.TIP, beside
    # the string may have ended at the neighbour: then nothing tells which one came next
    across = any(not _one_string(rings, key, number, int(rings.serial[j])) for j in mates)
    return (Fit.TIP if across else Fit.BESIDE), beside


def _one_string(rings: Ringings, key: Key, one: int, other: int) -> bool:
    """Whether two rings are used one after the other: from one string, or from two of one holder."""
    strings = [next((s for s in rings.stock if s.holds(key, number)), None) for number in (one, other)]
    if strings[0] is None or strings[1] is None:
        return slot_of(one, rings.string_length) == slot_of(other, rings.string_length)
    return strings[0] is strings[1] or strings[0].holder == strings[1].holder != ""


def _users(rings: Ringings, i: int, at: tuple[Key, int]) -> list[int]:
    return [j for j in rings.used.get(at, ()) if j != i]
