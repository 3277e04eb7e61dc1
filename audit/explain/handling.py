"""One handling: its four measures as typed, and how likely that is were others meant."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from audit.explain.likelihood import log_steps
from audit.explain.mistyped import slips_between, work_out
from audit.explain.surroundings import MEASURES
from audit.models.written_number import tidy
from audit.rules.growth_accounts import log_any

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from audit.explain.surroundings import Surroundings

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]

__all__ = ["BAG", "GROSS", "MASSES", "NET", "WING", "Handling", "foresee"]

GROSS, BAG, NET, WING = range(len(MEASURES))
MASSES = (GROSS, BAG, NET)
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
        """Values that one slip turns into what stands in a cell, in rising order; nobody changes them."""
        if cell not in self._sources:
            self._sources[cell] = self._sources_of(cell)
        return self._sources[cell]

    @cached_property
    def _sources(self) -> dict[int, Floats]:
        return {}

    def _sources_of(self, cell: int) -> Floats:
        typed = abs(float(self.typed[cell]))
        keying, unit = self.around.weighings.shares.keying, self.unit(cell)
        values = {float(one.meant) for one in keying.sources(typed, unit=unit)}
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

    @property
    def contradicted(self) -> bool:
        """Whether gross, bag and net are there, and gross less bag is not net."""
        gross, bag, net, _ = self.typed
        return self.whole and bool(abs(gross - bag - net) > self.allowed)

    @property
    def told(self) -> tuple[int, ...]:
        """Cells of which the others tell what was meant."""
        return MASSES if self.whole else ()

    @property
    def untold(self) -> tuple[int, ...]:
        """Cells of which it must be asked what one slip turns into what stands there."""
        if not self.whole:
            return tuple(np.flatnonzero(self.has).tolist())
        # where the sum comes out, net may carry a slip in one of the others
        return (*(() if self.contradicted else (GROSS, BAG)), *((WING,) if self.has[WING] else ()))

    def log_typed(self, cell: int, meant: Floats) -> tuple[Floats, tuple[str, ...]]:
        """Log probability of what stands in a cell given each meant value and a slip; the likeliest way."""
        typed = abs(float(self.typed[cell]))
        total, how = slips_between(
            self.around.weighings.shares.keying, typed, tuple(meant.tolist()), self.unit(cell)
        )
        if self.typed[cell] < 0:
            # a minus sign is all that is wrong, more often than not
            only_sign = np.asarray(typed == meant)
            total = np.where(only_sign, 1.0, total)
            how = tuple("sign" if only_sign[i] else way for i, way in enumerate(how))
        return np.log(np.maximum(total, _LEAST)), how

    def log_anything(self, cell: int) -> float:
        """Log probability of what stands in a cell, were it typed for no known reason."""
        there = self.around.outlook(self.row)
        if there is None:
            return float(np.log(min(self.unit(cell) / self.around.weighings.shares.keying.span_g, 1.0)))
        name = "wing_mm" if cell == WING else "mass_g"
        value = np.array([abs(self.typed[cell])])
        steps = log_steps(self.around, np.array([self.row]), cell, value)
        return float(log_any(there[0].sizes, name, value)[0] + steps[0])


def foresee(handlings: Sequence[Handling]) -> None:
    """Work out together what `sources` and `log_typed` will be asked of some handlings of one season."""
    if not handlings:
        return
    channel = handlings[0].around.weighings.shares.keying
    untold = [(one, cell, abs(float(one.typed[cell]))) for one in handlings for cell in one.untold]
    channel.foresee((typed, one.unit(cell)) for one, cell, typed in untold)
    told = [(one, cell, one.implied(cell)) for one in handlings for cell in one.told]
    work_out(
        channel,
        [
            *((typed, tuple(one.sources(cell).tolist()), one.unit(cell)) for one, cell, typed in untold),
            *((abs(float(one.typed[cell])), (value,), one.unit(cell)) for one, cell, value in told),
        ],
    )
