"""When a kind of slip comes back, and what stands on the next sheet.

Each kind climbs a step with each sheet on which all its slips were mended, or rightly asked about, and falls
back to the foot with one on which they were not. Where many cells were marked without need it stays where it
is: to mark every cell finds every slip and shows nothing. On step n it is due again after as many sheets of
the trainee as the n-th declared interval says; at the foot it is due at once.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.practice.exercise.levels import HIDDEN
from audit.practice.kinds import ways_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from audit.declarations import Declarations
    from audit.practice.exercise.levels import Level
    from audit.practice.exercise.sheet_record import SheetRecord

__all__ = ["Standing", "is_needless", "next_kinds", "next_level", "standings"]


@dataclass(frozen=True, slots=True)
class Standing:
    """How a trainee stands with one kind of slip.

    Attributes
    ----------
    kind : str
    step, best : int
        0 at the foot, or never met; the highest one so far.
    since : int
        Sheets since the last one that held it; 0 when that was the last one.
    waits : int
        Sheets after which it is due again; 0 at the foot.
    slips, mended : int
        Over all sheets.
    """

    kind: str
    step: int = 0
    best: int = 0
    since: int = 0
    waits: int = 0
    slips: int = 0
    mended: int = 0

    @property
    def is_due(self) -> bool:
        """Whether it should come back: the next sheet is the first one after `since` others."""
        return self.slips > 0 and self.since + 1 >= self.waits

    @property
    def miss_rate(self) -> float:
        """Share of its slips that will probably not be mended: the rule of succession.

        References
        ----------
        Laplace, P.-S.: posterior mean of a share with a uniform prior, ``(k + 1) / (n + 2)``.
        """
        return (self.slips - self.mended + 1) / (self.slips + 1 + 1)


def standings(
    records: Sequence[SheetRecord], levels: Sequence[Level], declared: Declarations
) -> dict[str, Standing]:
    """Tell how one trainee stands with each kind of slip, in the order of the levels.

    Parameters
    ----------
    records : sequence of SheetRecord
        Sheets of this trainee, in the order in which they were marked.
    """
    intervals = [int(days) for days in declared.settings["practice.sheets.intervals"].value]
    found = {}
    for level in levels:
        if not level.ways:
            continue
        step = best = since = slips = mended = 0
        for record in records:
            met = next((one for one in record.kinds if one.kind == level.slug), None)
            since += 1
            if met is not None:
                if met.mended < met.slips:
                    step = 0
                elif not is_needless(record, declared):
                    step = min(step + 1, len(intervals))
                best = max(best, step)
                since, slips, mended = 0, slips + met.slips, mended + met.mended
        waits = intervals[step - 1] if step else 0
        found[level.slug] = Standing(level.slug, step, best, since if slips else 0, waits, slips, mended)
    return found


def is_needless(record: SheetRecord, declared: Declarations) -> bool:
    """Whether so many cells without a slip were marked that what was found says little."""
    return record.blamed + record.unneeded > int(declared.settings["practice.sheets.needless_most"].value)


def next_level(standing: Mapping[str, Standing], levels: Sequence[Level], declared: Declarations) -> Level:
    """Choose the level to practise: the first whose kind was never settled, or the last one.

    A kind that was settled and is missed later comes back on the sheets of later levels.
    """
    settled = int(declared.settings["practice.sheets.settled"].value)
    for level in levels:
        if level.slug in standing and standing[level.slug].best < settled:
            return level
    return levels[-1]


def next_kinds(
    level: Level,
    records: Sequence[SheetRecord],
    levels: Sequence[Level],
    declared: Declarations,
    *,
    seed: int,
) -> tuple[str, ...]:
    """Choose the kinds of slip on the next sheet of a level.

    Parameters
    ----------
    level : Level
    records : sequence of SheetRecord
        Sheets of the trainee, in the order in which they were marked.
    seed : int
        Decides how many there are, and between kinds that have equal need.

    Returns
    -------
    tuple of str
        The kind of the level first, unless it is settled and not due, then the kinds of earlier levels that
        are due: those that were missed the last time, then the longest overdue. None on a sheet without a
        slip, which never follows another one.
    """
    settings = declared.settings
    rng = np.random.default_rng([seed, level.number, len(records)])
    blamed = bool(records) and records[-1].blamed > 0
    empty = float(settings[f"practice.sheets.empty_{'after_blame' if blamed else 'share'}"].value)
    # drawn at every level, so that what follows does not depend on it
    is_empty = rng.random() < empty and not (records and not records[-1].kinds)
    number = int(rng.integers(level.slips[0], level.slips[1] + 1))
    if is_empty and level.number >= int(settings["practice.sheets.empty_from"].value):
        return ()
    standing = standings(records, levels, declared)
    known = [standing[one.slug] for one in levels if one.number <= level.number and _fits(one, level)]
    shuffled = [known[int(i)] for i in rng.permutation(len(known))]
    due = sorted((one for one in shuffled if one.is_due and one.kind != level.slug), key=_need, reverse=True)
    own = standing.get(level.slug)
    if own is None:
        rest = [one for one in shuffled if one not in due]
        return tuple(one.kind for one in (*due, *rest)[:number])
    settled = int(settings["practice.sheets.settled"].value)
    first = [own] if own.step < settled or own.is_due or not due else []
    chosen = [one.kind for one in (*first, *due)][:number]
    return (*chosen, *(level.slug for _ in range(number - len(chosen))))


def _fits(kind: Level, level: Level) -> bool:
    """Whether the page of a level has the columns for a kind of slip."""
    has = set(level.columns)
    return any(has.issuperset(way.needs) for way in ways_of(kind.ways) if kind.ways) and (
        kind.slug != HIDDEN or "remarks" in has
    )


def _need(one: Standing) -> tuple[bool, float, float]:
    return not one.step, (one.since + 1) / max(one.waits, 1), one.miss_rate
