"""What a mass or a wing is expected to be, by the sum of the masses, the bags of the day and the brood."""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from audit.explain.surroundings import MEASURES, surroundings_of
from audit.explain.unread_sheet import Belief
from audit.rules.growth_words import expectation
from audit.rules.plain import plain_text

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from audit.explain.surroundings import Surroundings
    from audit.explain.unread_sheet import Tables
    from audit.rules.outlook import Outlook

    Floats = NDArray[np.float64]

__all__ = ["MeasureBeliefs"]

_GROSS, _BAG, _NET, _WING = range(len(MEASURES))


class MeasureBeliefs:
    """Beliefs about gross, bag, net and wing of handlings."""

    def __init__(self, tables: Tables) -> None:
        self.tables = tables

    @cached_property
    def around(self) -> Surroundings:
        """What surrounds each handling; cells in doubt are no witnesses."""
        tables = self.tables
        return surroundings_of(tables.season, tables.declared, tables.doubted, tables.layouts)

    @cached_property
    def place(self) -> dict[str, int]:
        """Position of each row."""
        return {label: i for i, label in enumerate(self.around.labels)}

    @cached_property
    def sure(self) -> Floats:
        """The measures, g and mm, shape (n, 4); missing where a rule doubts them or none can be so small."""
        around = self.around
        found = around.typed.copy()
        found[found < 0] = np.nan
        for cell in (_GROSS, _NET, _WING):
            found[found[:, cell] == 0, cell] = np.nan
        columns = {name: i for i, name in enumerate(MEASURES)}
        for label, field in self.tables.doubted:
            if field in columns and label in self.place:
                found[self.place[label], columns[field]] = np.nan
        return found

    @cached_property
    def imbalances(self) -> tuple[Floats, NDArray[np.int64]]:
        """Gross less bag less net of all rows, g to the hundredth, and how often each is met."""
        off = np.round(self.sure[:, _GROSS] - self.sure[:, _BAG] - self.sure[:, _NET], 2)
        off = off[np.isfinite(off)]
        values, counts = np.unique(off + 0.0, return_counts=True)
        return values, counts

    def measure(self, field: str, label: str, unit: float, grid: Floats) -> Belief | None:
        """Weigh one measure before one looks at what is typed.

        Parameters
        ----------
        grid : numpy.ndarray, shape (k,)
            Numbers that the column may hold.
        """
        cell, row = MEASURES.index(field), self.place[label]
        grid = grid[grid > 0] if cell != _BAG else grid[grid >= 0]
        if not len(grid):
            return None
        noun = "a wing" if cell == _WING else "a mass"
        plain = [plain_text(value) for value in grid]
        if cell == _WING:
            log = self._growth(row, grid, self._mass(row))
            return Belief(plain, log, lambda _: self._expected(row, "wing_mm"), noun)
        summed = self._summed(cell, row)
        # where a sum tells, growth adds too little for its price
        log = self._alone(cell, row, grid, unit, closely=summed is None)
        if summed is not None:
            share = self._log_imbalance(cell, grid - summed, unit)
            log = np.logaddexp(share, log - np.logaddexp.reduce(log) + self._log_any)
        return Belief(plain, log, lambda k: self._why(cell, row, float(grid[k]), summed), noun)

    def _mass(self, row: int) -> float:
        gross, bag, net, _ = self.sure[row]
        mass = float(net if np.isfinite(net) else gross - bag)
        return mass if mass > 0 else np.nan

    def _summed(self, cell: int, row: int) -> float | None:
        gross, bag, net, _ = self.sure[row]
        value = (bag + net, gross - net, gross - bag)[cell]
        return round(float(value), 2) if np.isfinite(value) and value >= 0 else None

    @property
    def _log_any(self) -> float:
        """How likely a row is out of balance in a way not met so far."""
        n = self.imbalances[1].sum()
        return float(np.log(1 / (n + 2)))

    def _log_imbalance(self, cell: int, off: Floats, unit: float) -> Floats:
        """Log probability of each imbalance, gross less bag less net."""
        values, counts = self.imbalances
        sign = 1.0 if cell == _GROSS else -1.0
        near = np.abs(np.round(sign * off, 2)[:, None] - values[None, :]) < unit / 2
        exact = np.abs(off) < unit / 2
        found: Floats = np.log((near @ counts + exact) / (counts.sum() + 2) + np.finfo(np.float64).tiny)
        return found

    def _alone(self, cell: int, row: int, grid: Floats, unit: float, *, closely: bool) -> Floats:
        """Log probability by bags and growth, the sum left out."""
        around = self.around
        rows, units = np.full(len(grid), row), np.full(len(grid), unit)
        if cell == _BAG:
            told = around.weighings.bags.log_chance(grid, units, rows)
            gross = self.sure[row, _GROSS]
            # what is left is the bird, where net is not written
            if np.isfinite(gross) and not np.isfinite(self.sure[row, _NET]):
                told = told + self._net(row, gross - grid, unit, closely=closely)
            return told
        if cell == _NET:
            return self._net(row, grid, unit, closely=closely)
        bag = self.sure[row, _BAG]
        if not np.isfinite(bag):
            bag = float(around.weighings.bags.usual(np.array([row]))[0])
        return self._net(row, grid - (bag if np.isfinite(bag) else 0.0), unit, closely=closely)

    def _net(self, row: int, net: Floats, unit: float, *, closely: bool) -> Floats:
        possible = net > 0
        value = np.where(possible, net, 1.0)
        there = self.around.outlook(row) if closely else None
        if there is None:
            prior = self.around.weighings.prior.of(np.full(len(net), row))
            told = prior.log_chance(value, np.full(len(net), unit))
        else:
            wing = self.sure[row, _WING]
            told = self._between(value, lambda v: _evidence(there, np.full(len(v), wing), v))
        return np.where(possible, told, -np.inf)

    def _growth(self, row: int, wing: Floats, mass: float) -> Floats:
        there = self.around.outlook(row)
        if there is not None:
            return self._between(wing, lambda v: _evidence(there, v, np.full(len(v), mass)))
        known = self.sure[np.isfinite(self.sure[:, _WING]), _WING]
        middle, sd = (float(np.median(known)), float(known.std()) + 1.0) if len(known) else (0.0, np.inf)
        return -(((wing - middle) / sd) ** 2) / 2

    def _between(self, values: Floats, log_dense: Callable[[Floats], Floats]) -> Floats:
        """Work a log density out at some values and put a line through the others."""
        few = int(self.tables.setting("points"))
        if len(values) <= few:
            return log_dense(values)
        points = np.linspace(values.min(), values.max(), few)
        return np.interp(values, points, log_dense(points))

    # --- why ------------------------------------------------------------------------------------------

    def _why(self, cell: int, row: int, value: float, summed: float | None) -> str:
        if summed is not None and value == summed:
            gross, bag, net = (plain_text(one) for one in self.sure[row, :3])
            told = plain_text(value)
            return (
                f"bag {bag} g and net {net} g make {told} g",
                f"gross {gross} g less net {net} g leaves {told} g",
                f"gross {gross} g less bag {bag} g leaves {told} g",
            )[cell]
        if cell == _BAG:
            beside = [self.around.weighings.bags.beside(np.array([row]), step)[0] for step in (-1, 1)]
            known = [plain_text(float(bag)) for bag in beside if np.isfinite(bag)]
            if len(set(known)) > 1:
                both = " and ".join(known)
                return f"the bags beside it weigh {both} g: {plain_text(value)} g is the likeliest"
            return f"the bags beside it weigh {known[0]} g" if known else ""
        return self._expected(row, "mass_g")

    def _expected(self, row: int, column: str) -> str:
        there = self.around.outlook(row)
        if there is None:
            return ""
        told = expectation(self.around.grower, there[0], there[1], column)
        # nothing that helps a person
        return "" if told.startswith("that does not suit") or "(0 to " in told else told


def _evidence(there: tuple[Outlook, int], wing: Floats, mass: Floats) -> Floats:
    """Log density of wings and masses of one bird."""
    outlook, place = there
    grown = np.full(len(wing), float(outlook.birds.grown[place]))
    return outlook.evidence(np.full(len(wing), place), wing, mass, grown)
