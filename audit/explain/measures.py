"""Gross, bag, net and wing of one handling, weighed together: every slip that may account for them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.explain.account import NOTHING, Account, Posterior
from audit.explain.surroundings import MEASURES
from audit.models.keying import KINDS, close, keying, slack, tidy
from audit.models.numerals import step_of
from audit.rules.growth_accounts import accounts_about_the_bird, log_any

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from audit.explain.surroundings import Surroundings

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]

__all__ = ["worth_a_look", "weigh"]

_GROSS, _BAG, _NET, _WING = range(len(MEASURES))
_MASSES = (_GROSS, _BAG, _NET)
_CELLS = (*_MASSES, _WING)
_TEN = 10.0
_GRAMS_PER_KG = 1000.0
_NEVER = -np.inf
_LEAST = float(np.finfo(np.float64).tiny)


def worth_a_look(around: Surroundings) -> Flags:
    """Rows in which some slip is not much less likely than none, at the very best that it could do."""
    look_from = float(np.log(around.weigher.setting("explain.say.look_from")))
    slip = float(np.log(around.grower.limit("slip")))
    doubtful = around.broken.copy()
    for outlook in around.outlooks.values():
        rows = np.flatnonzero(around.place >= 0)
        rows = rows[around.birds.slug[rows] == outlook.sizes.species.slug]
        fine, without_wing, without_mass = outlook.as_typed()
        birds = outlook.birds
        best = np.maximum(
            slip + log_any(outlook.sizes, "wing_mm", birds.wing) + without_wing,
            slip + log_any(outlook.sizes, "mass_g", birds.mass) + without_mass,
        )
        doubtful[rows] |= np.nan_to_num(best - fine, nan=_NEVER, neginf=_NEVER) > look_from
    bag = around.typed[:, _BAG]
    rows = np.flatnonzero(np.isfinite(bag))
    bags, shares = around.weighings.bags, around.weighings.shares
    usual = bags.usual(rows)
    chance = keying(bag[rows], usual, around.unit[rows], shares.keying).sum(axis=1)
    odds = (
        np.log(np.maximum(chance * shares.slip_rate, _LEAST))
        + bags.log_chance(np.where(np.isfinite(usual), usual, 0.0), around.unit[rows], rows)
        - bags.log_chance(bag[rows], around.unit[rows], rows)
    )
    doubtful[rows] |= odds > look_from
    return doubtful


def weigh(around: Surroundings, row: int) -> Posterior:
    """Weigh everything that may account for the measures of one row.

    Parameters
    ----------
    row : int
        Position in the sheet.

    Returns
    -------
    Posterior
        ``nothing`` is always among the accounts, and so is a wrong cell without a known reason.
    """
    return Posterior(tuple(_Handling(around, row).accounts()))


def _log_steps(column: Floats, values: Floats) -> Floats:
    """Log of the step each value was written to, times how usual its decimals are in its column.

    Decimals in a column of whole numbers are odd, but the next one may be the first.
    """
    known = column[np.isfinite(column)]
    usual = ((np.mod(known, 1) > 0).sum() + 1 / 2) / (len(known) + 1)
    step = np.array([step_of(float(value)) if value == value else 1.0 for value in values])
    told = np.where(step < 1, np.log(step) + np.log(usual), np.log1p(-usual))
    return np.where(np.isfinite(values), told, 0.0)


@dataclass(frozen=True, slots=True)
class _Slips:
    """Slips of one kind in one handling: what all four measures would be, and how likely the slip is.

    Attributes
    ----------
    true : numpy.ndarray, shape (k, 4)
        Gross, bag, net and wing as meant; NaN where nothing is said of them.
    log_prior : numpy.ndarray, shape (k,)
        Log probability of the slip and of what it makes of the meant value.
    how : tuple of str, length k
    cells : tuple of int
        The cells that are wrong.
    unknown : tuple of int
        Of these, the cells whose meant value nobody can tell.
    """

    kind: str
    true: Floats
    log_prior: Floats
    how: tuple[str, ...]
    cells: tuple[int, ...]
    unknown: tuple[int, ...] = ()


class _Handling:
    """The measures of one row, and the accounts of them."""

    def __init__(self, around: Surroundings, row: int) -> None:
        self.around = around
        self.row = row
        self.typed = around.typed[row]
        self.has = np.isfinite(self.typed)
        self.unit = float(around.unit[row])
        self.allowed = float(around.allowed[row])
        self.shares = around.weighings.shares
        self.whole = bool(self.has[list(_MASSES)].all())
        self.weighed = self.has[_NET] or (self.has[_GROSS] and self.has[_BAG])
        self.log_rate = float(np.log(self.shares.slip_rate))

    def setting(self, name: str) -> float:
        return float(self.around.weigher.setting(f"explain.measures.{name}"))

    # --- likelihood -----------------------------------------------------------------------------------

    def _evidence(self, true: Floats) -> Floats:
        """Log probability of measures as meant, shape (k,): bag of the day, growth, and their sum."""
        gross, bag, net, wing = true.T
        net = np.where(np.isfinite(net), net, gross - bag)
        found = np.zeros(len(true))
        if self.whole:
            off = np.abs(gross - bag - net)
            both = np.isfinite(off)
            found = np.where(both & (off > self.allowed + slack(gross)), _NEVER, found)
        if self.has[_BAG]:
            rows = np.full(len(true), self.row)
            units = np.full(len(true), self.unit)
            told = self.around.weighings.bags.log_chance(np.nan_to_num(bag, nan=-1.0), units, rows)
            found = found + np.where(np.isfinite(bag), told, 0.0)
        impossible = np.isfinite(net) & (net <= 0)
        if self.has[_GROSS] and self.has[_NET] and not self.has[_BAG]:
            impossible |= np.isfinite(gross) & (net >= gross)
        found = np.where(impossible, _NEVER, found)
        found = found + self._growth(np.where(net > 0, net, np.nan), wing)
        return found

    def _growth(self, net: Floats, wing: Floats) -> Floats:
        there = self.around.outlook(self.row)
        if there is None:
            rows = np.full(len(net), self.row)
            told = self.around.weighings.prior.of(rows).log_chance(
                np.nan_to_num(net, nan=-1.0), np.full(len(net), self.unit)
            )
            return np.where(np.isfinite(net), told, 0.0)
        outlook, place = there
        birds = outlook.birds
        here = np.full(len(net), place)
        told = outlook.evidence(here, wing, net, np.full(len(net), float(birds.grown[place])))
        return told + _log_steps(birds.mass, net) + _log_steps(birds.wing, wing)

    def _any(self, cell: int) -> float:
        """Log probability of what was typed in a cell, were it typed for no known reason."""
        there = self.around.outlook(self.row)
        name = "wing_mm" if cell == _WING else "mass_g"
        value = self.typed[cell]
        if there is None:
            return float(np.log(min(self.unit / self.shares.keying.span_g, 1.0)))
        density = float(log_any(there[0].sizes, name, np.array([value]))[0])
        birds = there[0].birds
        column = birds.wing if cell == _WING else birds.mass
        return density + float(_log_steps(column, np.array([value]))[0])

    # --- accounts -------------------------------------------------------------------------------------

    def accounts(self) -> list[Account]:
        slips = [
            _Slips(NOTHING, self.typed[None, :], np.zeros(1), ("",), ()),
            *self._single(),
            *self._unknown(),
            *self._of_the_bag(),
            *self._exchanged(),
            *self._carried(),
            *self._scaled(),
        ]
        slips = [one for one in slips if len(one.log_prior)]
        found = self._weighed(slips)
        found += self._weighed(self._pairs(slips, found))
        accounts = [account for _, _, account in found]
        return accounts + self._about_the_bird()

    def _weighed(self, slips: Sequence[_Slips]) -> list[tuple[int, int, Account]]:
        """Accounts of all slips, those that are impossible left out; with their place among the slips."""
        if not slips:
            return []
        weight = self._evidence(np.concatenate([one.true for one in slips]))
        found = []
        start = 0
        for number, one in enumerate(slips):
            k = len(one.log_prior)
            weights = weight[start : start + k] + one.log_prior
            for i in range(k):
                if not one.cells or np.isfinite(weights[i]):
                    meant = tuple(
                        (
                            MEASURES[cell],
                            None if cell in one.unknown else float(round(one.true[i, cell], 2)),
                        )
                        for cell in one.cells
                    )
                    found.append((number, i, Account(one.kind, meant, float(weights[i]), one.how[i])))
            start += k
        return found

    def _instead(self, cell: int, values: Floats) -> Floats:
        """As typed, another value in one cell, shape (k, 4)."""
        true = np.repeat(self.typed[None, :], len(values), axis=0)
        true[:, cell] = values
        return true

    def _sources(self, cell: int) -> Floats:
        """Values that one slip turns into what stands in a cell."""
        typed = float(self.typed[cell])
        values = {float(one.meant) for one in self.shares.keying.sources(typed, unit=self._unit(cell))}
        if cell == _BAG:
            values |= set(self._bags_beside())
        values.discard(typed)
        return np.array(sorted(values))

    def _unit(self, cell: int) -> float:
        return float(self.around.unit_mm[self.row]) if cell == _WING else self.unit

    def _bags_beside(self) -> list[float]:
        rows = np.array([self.row])
        beside = [self.around.weighings.bags.beside(rows, step)[0] for step in (-1, 1)]
        return [float(value) for value in beside if np.isfinite(value)]

    def _usual_bag(self) -> float:
        habits = self.around.weighings.bags.habits
        beside = self._bags_beside()
        return beside[0] if beside else (habits.low_g + habits.high_g) / 2

    def _channel(self, cell: int, meant: Floats) -> tuple[Floats, tuple[str, ...]]:
        """Log probability of the typed value given each meant one, and the likeliest way."""
        typed = np.full(len(meant), self.typed[cell])
        chance = self.shares.keying.numbers(typed, meant, np.full(len(meant), self._unit(cell)))
        best = chance.argmax(axis=1)
        how = tuple(KINDS[int(b)] if chance[i, b] > 0 else "unknown" for i, b in enumerate(best))
        return np.log(np.maximum(chance.sum(axis=1), _LEAST)), how

    def _keyed(self, cell: int, values: Floats) -> _Slips:
        chance, how = self._channel(cell, values)
        return _Slips("keyed", self._instead(cell, values), self.log_rate + chance, how, (cell,))

    def _single(self) -> list[_Slips]:
        """One mistyped cell. Where three masses are there, the other two tell what was meant."""
        found = []
        for cell in _CELLS:
            if not self.has[cell]:
                continue
            if cell != _WING and self.whole:
                value = self._implied(cell)
                if value >= 0 and abs(value - self.typed[cell]) > self.allowed:
                    found.append(self._keyed(cell, np.array([value])))
                    found += self._copied(cell, value)
            else:
                found.append(self._keyed(cell, self._sources(cell)))
        return found

    def _implied(self, cell: int) -> float:
        gross, bag, net = self.typed[:3]
        value = (net + bag, gross - net, gross - bag)[cell]
        return float(tidy(np.array([value]), np.array([self.unit]))[0])

    def _copied(self, cell: int, value: float) -> list[_Slips]:
        """It repeats the row above; net was taken away wrongly by a one, a ten or a hundred."""
        found = []
        true = self._instead(cell, np.array([value]))
        above = self.around.typed[self.row - 1, cell] if self.row else np.nan
        if abs(above - self.typed[cell]) <= slack(np.array([above]))[0]:
            prior = np.array([self.log_rate + np.log(self.shares.copied)])
            found.append(_Slips("copied", true, prior, ("copied",), (cell,)))
        steps = (1.0, _TEN, _TEN * _TEN)
        if cell == _NET and any(np.isclose(abs(value - self.typed[cell]), step) for step in steps):
            prior = np.array([self.log_rate + np.log(self.shares.borrow / (2 * len(steps)))])
            found.append(_Slips("borrow", true, prior, ("borrow",), (cell,)))
        return found

    def _unknown(self) -> list[_Slips]:
        """A cell, or mass and wing both, wrong for no known reason."""
        found = []
        for cell in _CELLS:
            if not self.has[cell]:
                continue
            name = "wing_other" if cell == _WING else "mass_other"
            prior = self.log_rate + np.log(self.setting(name)) + self._any(cell)
            told = cell != _WING and self.whole
            value = self._implied(cell) if told else np.nan
            true = self._instead(cell, np.array([value]))
            if cell in (_GROSS, _NET) and not self.whole:
                # nothing is left to tell what the bird weighed
                true[:, [_GROSS, _NET]] = np.nan
            elif cell == _BAG and not self.whole:
                # whatever the bag weighed, it was no far cry from the one beside it
                true[:, _BAG] = self._usual_bag()
            unknown = () if told else (cell,)
            if not told or value > 0:
                found.append(_Slips("unknown", true, np.array([prior]), ("unknown",), (cell,), unknown))
        if self.has[_WING] and self.weighed:
            true = self._instead(_WING, np.array([np.nan]))
            true[:, [_GROSS, _NET]] = np.nan
            mass = _NET if self.has[_NET] else _GROSS
            prior = 2 * self.log_rate + np.log(self.setting("wing_other") * self.setting("mass_other"))
            prior += self._any(_WING) + self._any(mass)
            if not self.whole:
                found.append(
                    _Slips("unknown", true, np.array([prior]), ("unknown",), (mass, _WING), (mass, _WING))
                )
        if self.has[_WING] and self.row:
            above = self.around.typed[self.row - 1, _WING]
            if above == self.typed[_WING]:
                true = self._instead(_WING, np.array([np.nan]))
                prior = self.log_rate + np.log(self.setting("copied_wing"))
                found.append(_Slips("copied", true, np.array([prior]), ("copied",), (_WING,), (_WING,)))
        return found

    def _in_row(self, kind: str, true: Sequence[float], share: float, cells: tuple[int, ...]) -> _Slips:
        """Make a slip of the whole row, as frequent as `share` of the rows in which a mass went wrong."""
        prior = self.log_rate + np.log(len(_MASSES) * share)
        return _Slips(kind, np.array([[*true, self.typed[_WING]]]), np.array([prior]), (kind,), cells)

    def _of_the_bag(self) -> list[_Slips]:
        """The bag went wrong as a whole: not subtracted, twice, or added."""
        gross, bag, net = self.typed[:3]
        if not self.whole or bag <= self.allowed or gross <= bag:
            return []
        room = max(self.allowed, self.unit / 2)
        true = (gross, bag, self._implied(_NET))
        found = []
        for kind, typed, share in (
            ("not_subtracted", gross, self.shares.not_subtracted),
            ("subtracted_twice", gross - 2 * bag, self.shares.subtracted_twice),
            ("added", gross + bag, self.shares.added),
        ):
            if self._same(net, typed, room):
                found.append(self._in_row(kind, true, share, (_NET,)))
        return found

    def _same(self, one: float, other: float, room: float) -> bool:
        return bool(close(np.array([one]), np.array([other]), np.array([room * 2]))[0])

    def _exchanged(self) -> list[_Slips]:
        """Two numbers stand in each other's column."""
        gross, bag, net, wing = self.typed
        shares = self.shares
        found = []
        if self.has[_GROSS] and self.has[_NET] and gross != net:
            true = (net, bag, gross)
            found.append(self._in_row("exchanged", true, shares.gross_net_exchanged, (_GROSS, _NET)))
        if self.has[_GROSS] and self.has[_BAG] and gross != bag:
            true = (bag, gross, net)
            found.append(self._in_row("exchanged", true, shares.gross_bag_exchanged, (_GROSS, _BAG)))
        if self.has[_BAG] and self.has[_NET] and net != bag:
            true = (gross, net, bag)
            found.append(self._in_row("exchanged", true, shares.bag_net_exchanged, (_BAG, _NET)))
        if self.has[_WING]:
            share = self.setting("net_wing_exchanged")
            for cell in (_NET, _GROSS) if not self.has[_NET] else (_NET,):
                if self.has[cell] and self.typed[cell] != wing:
                    swapped = self.typed[None, :].copy()
                    swapped[0, [cell, _WING]] = swapped[0, [_WING, cell]]
                    prior = np.array([self.log_rate + np.log(share)])
                    found.append(_Slips("exchanged", swapped, prior, ("exchanged",), (cell, _WING)))
        return found

    def _carried(self) -> list[_Slips]:
        """A gross or bag mistaken before the subtraction, so that net carries the slip."""
        if not self.whole or abs(self.typed[_GROSS] - self.typed[_BAG] - self.typed[_NET]) > self.allowed:
            return []
        gross, bag = self.typed[:2]
        found = []
        carried = float(np.log(self.setting("carried")))
        for cell in (_GROSS, _BAG):
            values = self._sources(cell)
            chance, how = self._channel(cell, values)
            true = self._instead(cell, values)
            true[:, _NET] = tidy(true[:, _GROSS] - true[:, _BAG], np.full(len(values), self.unit))
            found.append(_Slips("carried", true, self.log_rate + carried + chance, how, (cell, _NET)))
        del gross, bag
        return found

    def _scaled(self) -> list[_Slips]:
        """Several masses are out by ten, or stand in kilograms."""
        there = tuple(cell for cell in _MASSES if self.has[cell])
        if len(there) < len((_GROSS, _BAG)):
            return []
        masses = self.typed[:3]
        share = self.shares.scaled_rows
        found = [
            self._in_row("tenfold", masses * _TEN, share / 2, there),
            self._in_row("tenfold", masses / _TEN, share / 2, there),
            self._in_row("kilograms", masses * _GRAMS_PER_KG, share, there),
        ]
        if self.whole:
            bird = (masses[_GROSS] * _GRAMS_PER_KG, masses[_BAG], masses[_NET] * _GRAMS_PER_KG)
            found.append(self._in_row("kilograms", bird, share, (_GROSS, _NET)))
        return found

    def _pairs(self, slips: Sequence[_Slips], found: list[tuple[int, int, Account]]) -> list[_Slips]:
        """Two slips in one handling, one of mass and one of wing: the likeliest of either, tried together."""
        most = int(self.around.weigher.setting("explain.say.pair_from"))
        if not self.has[_WING] or not self.weighed:
            return []
        of_wing = [(n, i) for n, i, a in found if a.wrong == {MEASURES[_WING]} and a.kind != "copied"]
        # a broken sum leaves no weight to a wing alone, so its slips are ranked by their prior
        of_wing = self._best(slips, of_wing, alone=_WING)[:most]
        of_mass = [(n, i) for n, i, a in found if a.meant and MEASURES[_WING] not in a.wrong]
        of_mass = self._best(slips, of_mass, alone=None)[:most]
        pairs = []
        for n, i in of_mass:
            for m, j in of_wing:
                mass, wing = slips[n], slips[m]
                true = mass.true[i : i + 1].copy()
                true[0, _WING] = wing.true[j, _WING]
                pairs.append(
                    _Slips(
                        "two slips",
                        true,
                        mass.log_prior[i : i + 1] + wing.log_prior[j],
                        (mass.how[i],),
                        (*mass.cells, _WING),
                        (*mass.unknown, *wing.unknown),
                    )
                )
        return pairs

    def _best(
        self, slips: Sequence[_Slips], places: list[tuple[int, int]], alone: int | None
    ) -> list[tuple[int, int]]:
        """Rank slips by what they explain when the other side of the handling is left out."""
        if not places:
            return []
        true = np.stack([slips[n].true[i] for n, i in places])
        if alone == _WING:
            true[:, list(_MASSES)] = np.nan
        else:
            true[:, _WING] = np.nan
        prior = np.array([slips[n].log_prior[i] for n, i in places])
        order = np.argsort(-(self._evidence(true) + prior), kind="stable")
        return [places[int(k)] for k in order]

    def _about_the_bird(self) -> list[Account]:
        """Species, age, sex or place may be wrong instead of the measures."""
        there = self.around.outlook(self.row)
        if there is None:
            return []
        outlook, place = there
        birds = outlook.birds
        constant = (
            self._evidence(self.typed[None, :])[0]
            - self._growth(np.array([birds.mass[place]]), np.array([birds.wing[place]]))[0]
        )
        here = slice(place, place + 1)
        steps = _log_steps(birds.mass, birds.mass[here]) + _log_steps(birds.wing, birds.wing[here])
        found = accounts_about_the_bird(
            self.around.grower, outlook, self.around.outlooks, place, float(steps[0])
        )
        fields = {
            "age": str(birds.age_field[place]),
            "place": "box",
            "code": "age",
            "sex": "sex",
            "species": "species",
        }
        return [
            Account(
                one.cause,
                ((fields[one.cause], one.meant if isinstance(one.meant, str) else None),),
                one.log_weight + constant,
                one.cause,
            )
            for one in found
            if np.isfinite(constant)
        ]
