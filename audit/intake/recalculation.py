"""Formulas worked out anew after cells that they refer to were typed anew."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING, Protocol

from audit.intake.formula_values import NoValueError, in_kind, work_out

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from audit.intake.formulas import Area, Formula, Place
    from audit.intake.grid import Stored

__all__ = ["MOST_IN_RANGES", "Cells", "recalculated"]

#: Cells in ranges that are looked at for one set of changes. It bounds the work: a running sum reads its
#: column again in every row; formulas after that have no result.
MOST_IN_RANGES = 100_000
_MANY_COLUMNS = 64


class Cells(Protocol):
    """What the cells of a workbook hold as stored."""

    def at(self, place: Place) -> Stored:
        """Give the stored value of a cell, None where it is empty; of a formula its result.

        Raises
        ------
        audit.intake.formula_values.NoValueError
            The cell is not known, or a formula without a stored result.
        """

    def within(self, sheet: str, area: Area) -> Iterable[Place]:
        """List the cells of an area, row by row; those that are and were empty may be left out.

        Raises
        ------
        audit.intake.formula_values.NoValueError
            Not all of them are known.
        """


def recalculated(
    formulas: Mapping[Place, Formula], cells: Cells, changed: Mapping[Place, Stored]
) -> dict[Place, Stored]:
    """Work out all formulas that depend on changed cells, directly or through others.

    Parameters
    ----------
    formulas : mapping of place to Formula
        All there are; one that stands in a changed cell was overwritten.
    cells : Cells
        As stored.
    changed : mapping of place to stored value
        Cells that hold something else than is stored, and what.

    Returns
    -------
    dict of place to stored value
        Each formula whose stored result may not hold any more, with its result of now: None where there is
        none that is sure, since it is more than plain arithmetic, or depends on a cell that is not known or
        holds no number.
    """
    if not changed or not formulas:
        return {}
    results: dict[Place, Stored] = {}
    now = _Now(cells, changed, results, _outdated(formulas, changed))
    for start in now.outdated:
        waiting, begun = [start], {start}
        while waiting:
            place = waiting[-1]
            if place not in results and (needed := now.work_out(place, formulas[place])):
                if begun.isdisjoint(needed):
                    begun.add(place)
                    waiting += needed
                    continue
                results[place] = None  # it needs itself
            begun.discard(place)
            waiting.pop()
    return results


def _outdated(formulas: Mapping[Place, Formula], changed: Mapping[Place, Stored]) -> dict[Place, None]:
    """Find the formulas that depend on a changed cell."""
    index = _Dependents(formulas, changed)
    found = dict.fromkeys(
        place for place, formula in formulas.items() if formula.anywhere and place not in changed
    )
    waiting = [*changed, *found]
    while waiting:
        for place in index.of(waiting.pop()):
            if place not in found:
                found[place] = None
                waiting.append(place)
    return found


class _Dependents:
    """Formulas by the cells that they refer to."""

    def __init__(self, formulas: Mapping[Place, Formula], changed: Mapping[Place, Stored]) -> None:
        self._of_cell: dict[Place, list[Place]] = defaultdict(list)
        #: by sheet and column; under column 0 those of many columns
        self._of_range: dict[tuple[str, int], dict[Area, list[Place]]] = defaultdict(dict)
        for place, formula in formulas.items():
            if place in changed:
                continue
            for area in formula.areas:
                sheet = area.sheet or place[0]
                if area.is_cell:
                    self._of_cell[sheet, area.top, area.left].append(place)
                    continue
                many = area.right - area.left >= _MANY_COLUMNS
                for column in (0,) if many else range(area.left, area.right + 1):
                    self._of_range[sheet, column].setdefault(area, []).append(place)

    def of(self, here: Place) -> list[Place]:
        """List the formulas that refer to a cell; those that refer to a range of it only the first time."""
        sheet, row, column = here
        found = list(self._of_cell.get(here, ()))
        for key in ((sheet, column), (sheet, 0)):
            ranges = self._of_range.get(key)
            if ranges:
                for area in [area for area in ranges if area.holds(row, column)]:
                    found += ranges.pop(area)
        return found


class _NotYetError(Exception):
    """Other formulas have to be worked out before."""

    def __init__(self, places: list[Place]) -> None:
        super().__init__(places)
        self.places = places


class _Now:
    """The cells as they are now."""

    def __init__(
        self,
        cells: Cells,
        changed: Mapping[Place, Stored],
        results: dict[Place, Stored],
        outdated: Mapping[Place, None],
    ) -> None:
        self._cells = cells
        self._changed = changed
        self._results = results
        self.outdated = outdated
        self._left = MOST_IN_RANGES

    def work_out(self, place: Place, formula: Formula) -> list[Place]:
        """Work one formula out; where that needs others before, say which."""
        try:
            self._results[place] = self._result(place, formula)
        except _NotYetError as others:
            return others.places
        return []

    def _result(self, place: Place, formula: Formula) -> Stored:
        if formula.tree is None or formula.anywhere:
            return None
        try:
            value = work_out(formula.tree, lambda area: self._within(area.sheet or place[0], area))
            # an empty result is 0
            return in_kind(0.0 if value is None else value, self._former(place))
        except NoValueError:
            return None

    def _former(self, place: Place) -> Stored:
        """Give the result that was stored; None where there was none."""
        try:
            return self._cells.at(place)
        except NoValueError:
            return None

    def _at(self, place: Place) -> Stored:
        if place in self._changed:
            return self._changed[place]
        if place not in self.outdated:
            return self._cells.at(place)
        if place not in self._results:
            raise _NotYetError([place])
        value = self._results[place]
        if value is None:
            raise NoValueError
        return value

    def _within(self, sheet: str, area: Area) -> Iterator[Stored]:
        if area.is_cell:
            yield self._at((sheet, area.top, area.left))
            return
        places = []
        for place in self._cells.within(sheet, area):
            self._left -= 1
            if self._left < 0:
                raise NoValueError
            places.append(place)
        needed = [place for place in places if place in self.outdated and place not in self._results]
        if needed:
            raise _NotYetError(needed)
        yield from map(self._at, places)
