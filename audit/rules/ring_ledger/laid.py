"""The ledger laid out from stock, handlings and losses."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.models.ring_number import bare, split_ring
from audit.rules.fates import FATES, NO_DAY, Habits
from audit.rules.meant_instead import meant_instead
from audit.rules.ring_ledger.ledger import RingLedger
from audit.rules.ring_ledger.lines import LostElsewhere, OtherRing, Worn
from audit.rules.ring_ledger.series_use import series_uses
from audit.rules.ring_ledger.tables import LARGEST, handled_of, losses_of
from audit.rules.ring_ledger.told import settled, tell
from audit.rules.stock import issued_strings

if TYPE_CHECKING:
    from collections.abc import Container, Iterator, Sequence

    from audit.declarations import Declarations
    from audit.findings import Report
    from audit.rules.fates import Flags, Integers
    from audit.rules.ring_ledger.tables import Handled, Lost
    from audit.rules.ring_rows import Key
    from audit.rules.stock import IssuedString
    from audit.season import Season

__all__ = ["lay_ledger"]


def lay_ledger(season: Season, declared: Declarations, report: Report | None = None) -> RingLedger:
    """Tell what became of every ring of every string issued.

    Parameters
    ----------
    season : Season
        The season as typed; it is not changed.
    declared : Declarations
        Numbers of ``ledger.yaml``.
    report : Report, optional
        Of its findings, suggestions with a high chance to be what was meant decide `RingLedger.likely`;
        what was typed alone decides `RingLedger.fate`.

    Returns
    -------
    RingLedger
        The order of rows in the tables has no part in it.
    """
    stock = issued_strings(season)
    strings, unread = _laid_out(stock, declared)
    starts = np.concatenate(([0], np.cumsum([s.last - s.first + 1 for s in strings], dtype=np.int64))).astype(
        np.int64
    )
    handled, lost = handled_of(season, declared), losses_of(season)
    habits = Habits(
        int(declared.settings["ledger.part"].value), int(declared.rings.limits["order.own_least"].value)
    )
    early = _early(strings, handled, float(declared.settings["ledger.first_year"].value))
    typed = tell(strings, starts, handled, lost)
    fate = settled(typed, starts, early, habits)
    likely = fate
    if report is not None:
        least = float(declared.settings["ledger.p_likely"].value)
        meant = meant_instead(report, "ring", least)
        if meant:
            other = tell(strings, starts, handled.with_rings(meant), lost.with_rings(meant))
            likely = settled(other, starts, early, habits)
    listed = {string.key for string in strings}
    series = {
        key: use
        for key, use in series_uses(handled, lost)
        if not strings or (key not in listed and use.used >= habits.least)
    }
    return RingLedger(
        strings,
        unread,
        starts,
        fate,
        likely,
        typed.row,
        typed.loss,
        typed.times,
        typed.quarrel,
        typed.torn,
        _issued_twice(strings, starts),
        handled.shown,
        lost.shown,
        tuple(_others(handled, typed.known, strings, series)),
        _lost_elsewhere(lost, typed.known_losses),
        tuple(series.values()),
        bool(stock),
    )


def _laid_out(
    stock: Sequence[IssuedString], declared: Declarations
) -> tuple[tuple[IssuedString, ...], tuple[IssuedString, ...]]:
    """Strings that are laid out ring by ring, in order, and those that cannot be."""
    longest = declared.settings["ledger.longest"].value
    room = declared.settings["ledger.most_rings"].value
    laid, unread = [], []
    for string in sorted(stock, key=lambda s: (s.key, s.first, s.last, s.label)):
        length = string.last - string.first + 1
        if string.fault or length > min(longest, room) or string.last > LARGEST:
            unread.append(string)
        else:
            room -= length
            laid.append(string)
    return tuple(laid), tuple(unread)


def _early(strings: Sequence[IssuedString], handled: Handled, share: float) -> list[bool]:
    """Whether each string may have been in use before this season."""
    days = handled.day[handled.lately & (handled.day != NO_DAY)]
    years = np.sort(days.astype("datetime64[D]").astype("datetime64[Y]").astype(np.int64))
    if not years.size:
        return [True] * len(strings)
    first = np.datetime64(int(years[int(share * years.size)]), "Y").item().year
    return [string.issued is None or string.issued.year < first for string in strings]


def _issued_twice(strings: Sequence[IssuedString], starts: Integers) -> Flags:
    twice = np.zeros(int(starts[-1]), dtype=bool)
    by_key: dict[tuple[str, int], list[int]] = {}
    for which, string in enumerate(strings):
        by_key.setdefault(string.key, []).append(which)
    for mine in by_key.values():
        first = np.array([strings[w].first for w in mine], dtype=np.int64)
        last = np.array([strings[w].last for w in mine], dtype=np.int64)
        reach = np.concatenate(([-1], np.maximum.accumulate(last)[:-1]))
        if not (first <= reach).any():
            continue
        serial = np.concatenate([np.arange(a, b + 1) for a, b in zip(first, last, strict=True)])
        where = np.concatenate([np.arange(starts[w], starts[w + 1]) for w in mine])
        _, back, number = np.unique(serial, return_inverse=True, return_counts=True)
        twice[where] = number[back] > 1
    return twice


def _others(
    handled: Handled, known: Flags, strings: Sequence[IssuedString], unlisted: Container[Key]
) -> Iterator[OtherRing]:
    """Rings on birds that are in no string, each once."""
    lowest: dict[tuple[str, int], int] = {}
    for string in strings:
        lowest[string.key] = min(string.first, lowest.get(string.key, string.first))
    told: set[str] = set()
    for i in np.flatnonzero(~known & handled.lately).tolist():
        ring = bare(handled.ring[i])
        if ring in told:
            continue
        told.add(ring)
        stem, digits = split_ring(handled.ring[i])
        key = bare(stem), len(digits)
        # without a word on the event, a number below all strings is one of earlier years
        later = bool(handled.first[i]) and int(digits or 0) > lowest.get(key, int(digits or 0))
        asked = key not in unlisted and bool(handled.said_new[i] or later) and bool(strings)
        yield OtherRing(Worn(*(column[i] for column in handled.shown)), asked)


def _lost_elsewhere(lost: Lost, known: Flags) -> tuple[LostElsewhere, ...]:
    found = {}
    for i in np.flatnonzero(~known).tolist():
        found[lost.ring[i]] = LostElsewhere(lost.ring[i], FATES[lost.fate[i]], lost.shown[2][i])
    return tuple(found[ring] for ring in sorted(found))
