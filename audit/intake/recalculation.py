"""Formulas worked out anew after cells that they refer to were typed anew."""

from __future__ import annotations

from collections import defaultdict
from graphlib import CycleError, TopologicalSorter
from typing import TYPE_CHECKING, Protocol

from audit.intake.formula_values import NoValueError, in_kind, work_out

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from audit.intake.formulas import Area, Formula, Place
    from audit.intake.grid import Stored

__all__ = ["Cells", "recalculated"]


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
        """List the cells of an area, row by row; empty ones may be left out.

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
    needs = _outdated(formulas, changed)
    results: dict[Place, Stored] = dict.fromkeys(needs)
    now = _Now(cells, changed, results)
    for place in _in_order(needs):
        results[place] = _result(place, formulas[place], now)
    return results


def _outdated(formulas: Mapping[Place, Formula], changed: Mapping[Place, Stored]) -> dict[Place, set[Place]]:
    """Find each formula that depends on a changed cell -> those of its cells that are such formulas."""
    of_cell: dict[Place, list[Place]] = defaultdict(list)
    of_range: dict[str, dict[Area, list[Place]]] = defaultdict(lambda: defaultdict(list))
    needs: dict[Place, set[Place]] = {}
    for place, formula in formulas.items():
        if place in changed:
            continue
        if formula.anywhere:
            needs[place] = set()
        for area in formula.areas:
            sheet = area.sheet or place[0]
            if area.is_cell:
                of_cell[sheet, area.top, area.left].append(place)
            else:
                of_range[sheet][area].append(place)
    waiting = [*changed, *needs]
    while waiting:
        here = waiting.pop()
        sheet, row, column = here
        found = list(of_cell.get(here, ()))
        for area, places in of_range.get(sheet, {}).items():
            if area.holds(row, column):
                found += places
        for place in found:
            if place not in needs:
                needs[place] = set()
                waiting.append(place)
            if here not in changed:
                needs[place].add(here)
    return needs


def _in_order(needs: dict[Place, set[Place]]) -> list[Place]:
    """List formulas behind those that they need; those that go round in a ring are left out."""
    needs = dict(needs)
    while True:
        try:
            return [place for place in TopologicalSorter(needs).static_order() if place in needs]
        except CycleError as ring:
            for place in ring.args[1]:
                needs.pop(place, None)


class _Now:
    """The cells as they are now."""

    def __init__(
        self, cells: Cells, changed: Mapping[Place, Stored], results: Mapping[Place, Stored]
    ) -> None:
        self._cells = cells
        self._changed = changed
        self._results = results

    def former(self, place: Place) -> Stored:
        """Give the result that was stored; None where there was none."""
        try:
            return self._cells.at(place)
        except NoValueError:
            return None

    def at(self, place: Place) -> Stored:
        if place in self._results:
            value = self._results[place]
            if value is None:
                raise NoValueError
            return value
        return self._changed[place] if place in self._changed else self._cells.at(place)

    def within(self, sheet: str, area: Area) -> Iterator[Stored]:
        if area.is_cell:
            yield self.at((sheet, area.top, area.left))
            return
        known = list(self._cells.within(sheet, area))
        yield from map(self.at, known)
        # a cell that was empty in the file may be left out above
        there = set(known)
        for place, value in self._changed.items():
            if place[0] == sheet and place not in there and area.holds(*place[1:]):
                yield value


def _result(place: Place, formula: Formula, now: _Now) -> Stored:
    if formula.tree is None or formula.anywhere:
        return None
    try:
        value = work_out(formula.tree, lambda area: now.within(area.sheet or place[0], area))
        # an empty result is 0
        return in_kind(0.0 if value is None else value, now.former(place))
    except NoValueError:
        return None
