"""One handling: its four measures as typed, and how likely any four true ones are."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from audit.explain.surroundings import MEASURES
from audit.models.slip_kinds import KINDS
from audit.models.written_number import slack, step_of, tidy
from audit.rules.growth_accounts import log_any

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.explain.surroundings import Surroundings

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]

__all__ = ["BAG", "GROSS", "MASSES", "NET", "WING", "Handling"]

GROSS, BAG, NET, WING = range(len(MEASURES))
MASSES = (GROSS, BAG, NET)
_NEVER = -np.inf
_LEAST = float(np.finfo(np.float64).tiny)


@dataclass(frozen=True)
class Handling:
    """The measures of one row of the sheet.

    Attributes
    ----------
    row : int
        Position in the sheet.
    """

    around: Surroundings
    row: int

    @property
    def typed(self) -> Floats:
        """Gross, bag, net, g, and wing, mm, as typed; NaN where missing: shape (4,)."""
        typed: Floats = self.around.typed[self.row]
        return typed

    @cached_property
    def has(self) -> Flags:
        """Which measures are there, shape (4,)."""
        there: Flags = np.isfinite(self.typed)
        return there

    @property
    def allowed(self) -> float:
        """How far gross less bag may differ from net by rounding, g."""
        return float(self.around.allowed[self.row])

    @property
    def whole(self) -> bool:
        """Whether gross, bag and net are all there, so that they can contradict each other."""
        return bool(self.has[list(MASSES)].all())

    @property
    def weighed(self) -> bool:
        """Whether the mass of the bird can be told."""
        return bool(self.has[NET] or (self.has[GROSS] and self.has[BAG]))

    def unit(self, cell: int) -> float:
        """Return the unit to which a measure was written, g or mm."""
        return float((self.around.unit_mm if cell == WING else self.around.unit)[self.row])

    def instead(self, cell: int, values: Floats) -> Floats:
        """Measures as typed, but for other values in one cell: shape (k, 4)."""
        true = np.repeat(self.typed[None, :], len(values), axis=0)
        true[:, cell] = values
        return true

    def implied(self, cell: int) -> float:
        """Mass that the other two imply, g."""
        gross, bag, net = self.typed[: len(MASSES)]
        value = (net + bag, gross - net, gross - bag)[cell]
        return float(tidy(np.array([value]), np.array([self.unit(cell)]))[0])

    def bags_beside(self) -> list[float]:
        """Bags of the rows above and below, where they are of the same day, g."""
        rows = np.array([self.row])
        beside = [self.around.weighings.bags.beside(rows, step)[0] for step in (-1, 1)]
        return [float(value) for value in beside if np.isfinite(value)]

    def usual_bag(self) -> float:
        """Bag to expect where none can be read, g."""
        habits = self.around.weighings.bags.habits
        beside = self.bags_beside()
        return beside[0] if beside else (habits.low_g + habits.high_g) / 2

    # --- how likely what was typed is, were something else meant --------------------------------------

    def sources(self, cell: int) -> Floats:
        """Values that one slip turns into what stands in a cell, in rising order."""
        typed = abs(float(self.typed[cell]))
        keying, unit = self.around.weighings.shares.keying, self.unit(cell)
        # many birds weigh the same
        values = set(
            self.around.weigher.layouts.work_out(
                ("sources", typed, unit),
                lambda: frozenset(float(one.meant) for one in keying.sources(typed, unit=unit)),
            )
        )
        if cell == BAG:
            values |= set(self.bags_beside())
        else:
            # no bird measures nothing
            values.discard(0.0)
        if self.typed[cell] < 0:
            values.add(typed)
        else:
            values.discard(typed)
        return np.array(sorted(values))

    def log_typed(self, cell: int, meant: Floats) -> tuple[Floats, tuple[str, ...]]:
        """Log probability of what stands in a cell given each meant value and a slip; the likeliest way."""
        typed, unit = np.full(len(meant), abs(self.typed[cell])), np.full(len(meant), self.unit(cell))
        chance = self.around.weighings.shares.keying.numbers(typed, meant, unit)
        best = chance.argmax(axis=1)
        how = [KINDS[int(b)] if chance[i, b] > 0 else "unknown" for i, b in enumerate(best)]
        total = chance.sum(axis=1)
        if self.typed[cell] < 0:
            # a minus sign is all that is wrong, more often than not
            only_sign = typed == meant
            total = np.where(only_sign, 1.0, total)
            how = ["sign" if only_sign[i] else way for i, way in enumerate(how)]
        return np.log(np.maximum(total, _LEAST)), tuple(how)

    def log_anything(self, cell: int) -> float:
        """Log probability of what stands in a cell, were it typed for no known reason."""
        there = self.around.outlook(self.row)
        if there is None:
            return float(np.log(min(self.unit(cell) / self.around.weighings.shares.keying.span_g, 1.0)))
        name = "wing_mm" if cell == WING else "mass_g"
        value = np.array([abs(self.typed[cell])])
        return float(log_any(there[0].sizes, name, value)[0] + self.log_steps(cell, value)[0])

    # --- how likely true measures are -----------------------------------------------------------------

    def evidence(self, true: Floats) -> Floats:
        """Log probability of true measures: their sum, the bags of the day, and how birds grow.

        Parameters
        ----------
        true : numpy.ndarray, shape (k, 4)
            NaN where a measure may have been anything.

        Returns
        -------
        numpy.ndarray, shape (k,)
        """
        gross, bag, net, wing = true.T
        net = np.where(np.isfinite(net), net, gross - bag)
        impossible = np.isfinite(net) & (net <= 0) | (wing <= 0)
        if self.whole:
            impossible |= np.nan_to_num(np.abs(gross - bag - net)) > self.allowed + slack(
                np.nan_to_num(gross)
            )
        if self.has[GROSS] and self.has[NET] and not self.has[BAG]:
            impossible |= np.isfinite(gross) & (net >= gross)
        found = np.where(impossible, _NEVER, 0.0) + self.growth(
            np.where(net > 0, net, np.nan), np.where(wing > 0, wing, np.nan)
        )
        if self.has[BAG]:
            rows, units = np.full(len(true), self.row), np.full(len(true), self.unit(BAG))
            told = self.around.weighings.bags.log_chance(np.nan_to_num(bag, nan=-1.0), units, rows)
            found = found + np.where(np.isfinite(bag), told, 0.0)
        return found

    def growth(self, net: Floats, wing: Floats) -> Floats:
        """Log probability of net mass and wing of this bird, given its brood, its life and its season."""
        there = self.around.outlook(self.row)
        if there is None:
            rows = np.full(len(net), self.row)
            units = np.full(len(net), self.unit(NET))
            told = self.around.weighings.prior.of(rows).log_chance(np.nan_to_num(net, nan=-1.0), units)
            return np.where(np.isfinite(net), told, 0.0)
        outlook, place = there
        stage = np.full(len(net), float(outlook.birds.grown[place]))
        told = outlook.evidence(np.full(len(net), place), wing, net, stage)
        return np.asarray(told + self.log_steps(NET, net) + self.log_steps(WING, wing))

    def log_steps(self, cell: int, values: Floats) -> Floats:
        """Log of the step each value was written to, times how usual its decimals are among birds like it.

        Decimals in a column of whole numbers are odd, but the next one may be the first.
        """
        usual = self._decimals[cell == WING]
        there = np.isfinite(values)
        step = np.array([step_of(float(value)) for value in np.where(there, values, 0.0)])
        told = np.where(step < 1, np.log(step) + np.log(usual), np.log1p(-usual))
        return np.where(there, told, 0.0)

    @cached_property
    def _decimals(self) -> tuple[float, float]:
        """How usual decimals are in masses and in wings of birds of this species."""
        there = self.around.outlook(self.row)
        birds = there[0].birds if there is not None else self.around.birds
        return _with_decimals(birds.mass), _with_decimals(birds.wing)


def _with_decimals(column: Floats) -> float:
    known = column[np.isfinite(column)]
    return float(((np.mod(known, 1) > 0).sum() + 1 / 2) / (len(known) + 1))
