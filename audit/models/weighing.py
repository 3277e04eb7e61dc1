"""Gross, bag and net: which of three masses that should balance is wrong, and what was meant.

All functions work on whole columns at once. Masses are in grams; a missing mass is NaN.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from audit.models.slip_kinds import KINDS
from audit.models.written_number import close, slack, tidy, typed_unit

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from audit.models.keying import Channel

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Flags = NDArray[np.bool_]

__all__ = [
    "CAUSES",
    "BagHabits",
    "BagUse",
    "NetPrior",
    "Room",
    "SlipShares",
    "Verdicts",
    "balance_steps",
    "explain_balanced",
    "explain_broken",
    "imbalance",
    "rounding_room",
    "usual_by_size",
    "usual_drift",
]

#: What can have happened to a row of three masses; the first three are one mistyped cell.
CAUSES: tuple[str, ...] = (
    "gross",
    "bag",
    "net",
    "not_subtracted",
    "subtracted_twice",
    "added",
    "gross_net_exchanged",
    "gross_bag_exchanged",
    "bag_net_exchanged",
    "bag_carried",
    "all_ten_times",
    "all_a_tenth",
    "all_kilograms",
    "bird_kilograms",
    "fine",
)

_GROSS, _BAG, _NET = 0, 1, 2
_CELLS = (_GROSS, _BAG, _NET)
_TEN = 10
_HUNDREDTHS = 100
_GRAMS_PER_KG = 1000.0
_NEVER = -np.inf
_LEAST = float(np.finfo(np.float64).tiny)


@dataclass(frozen=True, slots=True)
class SlipShares:
    """How often each slip in a row of three masses happens: all values come from the declarations.

    Attributes
    ----------
    slip_rate : float
        Probability that one typed field is wrong.
    copied, borrow : float
        Share of broken rows in which a number repeats the row above; in which net was taken away wrongly by a
        one, a ten or a hundred.
    not_subtracted, subtracted_twice, added : float
        Share of broken rows in which the bag went wrong as a whole.
    gross_net_exchanged, gross_bag_exchanged, bag_net_exchanged : float
        Share of broken rows in which two columns were exchanged.
    scaled_rows : float
        Share of broken rows in which several masses are out by ten or in kilograms.
    keying : Channel
        Slips in single numbers.
    """

    slip_rate: float
    copied: float
    borrow: float
    not_subtracted: float
    subtracted_twice: float
    added: float
    gross_net_exchanged: float
    gross_bag_exchanged: float
    bag_net_exchanged: float
    scaled_rows: float
    keying: Channel


@dataclass(frozen=True, slots=True)
class BagHabits:
    """How bags are used, and what they weigh: all values come from the declarations.

    Attributes
    ----------
    same_in_visit, same_in_day, drifted, other : float
        Probability that the bag has exactly a mass used in the same box-visit; on the same day; such a mass
        after it got wet, dirty or was emptied; another mass.
    drift_sd_g, swing_sd_g : float
        Usual change of one bag from bird to bird, and that of a bag that got wet or was emptied, g.
    swing_share : float
        Share of the changes of the second kind.
    beyond : float
        Share of the other bags that lie outside the usual range.
    low_g, high_g : float
        Usual range, g.
    """

    same_in_visit: float
    same_in_day: float
    drifted: float
    other: float
    drift_sd_g: float
    swing_sd_g: float
    swing_share: float
    beyond: float
    low_g: float
    high_g: float


@dataclass(frozen=True)
class BagUse:
    """The bags of a season, and how likely a mass is for the bag of one row given all other rows.

    Attributes
    ----------
    bag : ndarray, shape (n,)
        Bag masses as typed, g, in sheet order.
    visit, day : ndarray of int, shape (n,)
        Number of the box-visit and of the day's round (date and ringer) of each row.
    reach : int
        How many rows up and down the sheet are looked at for a bag that drifts.
    """

    bag: Floats
    visit: Ints
    day: Ints
    habits: BagHabits
    reach: int = 3

    def log_chance(self, mass: Floats, unit: Floats, rows: Ints) -> Floats:
        """Log probability that the bag of each of `rows` weighs `mass`, given the bags of all other rows.

        Parameters
        ----------
        mass, unit : ndarray, shape (k,)
            Supposed mass and unit of its last digit, g.
        rows : ndarray of int, shape (k,)
            Positions of the rows.
        """
        habits = self.habits
        in_visit, has_siblings = self._share_of_same(self.visit, self._in_visit, mass, rows)
        in_day, has_mates = self._share_of_same(self.day, self._in_day, mass, rows)
        drift, has_neighbours = self._drift(mass, unit, rows)
        inside = (mass >= habits.low_g) & (mass <= habits.high_g)
        span = max(habits.high_g - habits.low_g, 1.0)
        other = np.where(inside, 1 - habits.beyond, habits.beyond) * np.minimum(unit / span, 1.0)
        weights = np.stack(
            [
                habits.same_in_visit * has_siblings,
                habits.same_in_day * has_mates,
                habits.drifted * has_neighbours,
                np.full(len(rows), habits.other),
            ]
        )
        weights = weights / weights.sum(axis=0)
        # a balance set to zero with the bag on it is a habit of a visit or a day, never a bag that drifted
        real = mass > 0
        chance = (weights * np.stack([in_visit, in_day, drift * real, other * real])).sum(axis=0)
        return np.log(np.maximum(np.where(np.isfinite(mass) & (mass >= 0), chance, 0.0), _LEAST))

    def beside(self, rows: Ints, step: int) -> Floats:
        """Bag of the row `step` places further down the sheet on the same day, g; NaN where there is none."""
        at = rows + step
        inside = (at >= 0) & (at < len(self.bag))
        safe = np.where(inside, at, rows)
        return np.where(inside & (self.day[safe] == self.day[rows]), self.bag[safe], np.nan)

    def usual(self, rows: Ints) -> Floats:
        """Bag that the rows beside each row used, g: the one above, unless only the one below is known."""
        above, below = self.beside(rows, -1), self.beside(rows, 1)
        return np.where(np.isfinite(above), above, below)

    def mates(self, rows: Ints) -> Ints:
        """How many other rows of the same day have a bag."""
        known = np.isfinite(self.bag)
        counts = np.bincount(self.day[known], minlength=int(self.day.max(initial=0)) + 1).astype(np.int64)
        return counts[self.day[rows]] - known[rows]

    @cached_property
    def _in_visit(self) -> tuple[Ints, Ints, Ints]:
        return self._counted(self.visit)

    @cached_property
    def _in_day(self) -> tuple[Ints, Ints, Ints]:
        return self._counted(self.day)

    def _counted(self, group: Ints) -> tuple[Ints, Ints, Ints]:
        """Bag masses met in each group, how often each, and how many bags each group has."""
        known = np.isfinite(self.bag)
        codes, counts = np.unique(_bag_codes(group[known], self.bag[known]), return_counts=True)
        sizes = np.bincount(group[known], minlength=int(group.max(initial=0)) + 1)
        return codes, counts.astype(np.int64), sizes.astype(np.int64)

    def _share_of_same(
        self, group: Ints, counted: tuple[Ints, Ints, Ints], mass: Floats, rows: Ints
    ) -> tuple[Floats, Flags]:
        codes, counts, sizes = counted
        wanted = _bag_codes(group[rows], mass)
        same = np.zeros(len(rows))
        if len(codes):
            at = np.minimum(np.searchsorted(codes, wanted), len(codes) - 1)
            same = np.where(codes[at] == wanted, counts[at], 0).astype(np.float64)
        own = np.isfinite(self.bag[rows])
        same -= own & (_bag_codes(group[rows], self.bag[rows]) == wanted)
        others = sizes[group[rows]] - own
        return np.where(others > 0, same / np.maximum(others, 1), 0.0), others > 0

    def _drift(self, mass: Floats, unit: Floats, rows: Ints) -> tuple[Floats, Flags]:
        near = self._near(rows)
        known = np.isfinite(near)
        change = np.where(known, mass[None, :] - near, 0.0)
        habits = self.habits
        chance = (1 - habits.swing_share) * _bell(change, habits.drift_sd_g, unit)
        chance += habits.swing_share * _bell(change, habits.swing_sd_g, unit)
        n = known.sum(axis=0)
        return np.where(known, chance, 0.0).sum(axis=0) / np.maximum(n, 1), n > 0

    def _near(self, rows: Ints) -> Floats:
        steps = [step for step in range(-self.reach, self.reach + 1) if step]
        return np.stack([self.beside(rows, step) for step in steps])


def usual_drift(bag: Floats, day: Ints, *, reach: int = 3) -> float:
    """Median change between a bag and the most similar one typed a few rows up or down on the same day, g.

    Parameters
    ----------
    bag : ndarray, shape (n,)
        Bag masses, g, in sheet order.
    day : ndarray of int, shape (n,)
        Number of the day's round of each row.
    reach : int
        How many rows up and down are looked at.

    Returns
    -------
    float
        NaN when no two bags can be compared.
    """
    rows = np.arange(len(bag), dtype=np.int64)
    steps = [step for step in range(-reach, reach + 1) if step]
    least = np.full(len(bag), np.inf)
    for step in steps:
        at = np.clip(rows + step, 0, max(len(bag) - 1, 0))
        comparable = (at == rows + step) & (day[at] == day) & np.isfinite(bag[at]) & np.isfinite(bag)
        least = np.where(comparable, np.minimum(least, np.abs(bag[at] - bag)), least)
    found = least[np.isfinite(least)]
    return float(np.median(found)) if len(found) else float("nan")


def _student(z: Floats, freedom: float) -> Floats:
    """Density of Student's t: written out, since this runs over every row several times."""
    half = (freedom + 1) / 2
    top = float(np.exp(math.lgamma(half) - math.lgamma(freedom / 2))) / float(np.sqrt(freedom * np.pi))
    density: Floats = top * (1 + z**2 / freedom) ** -half
    return density


def _bell(distance: Floats, sd: float, unit: Floats) -> Floats:
    """Probability of a distance rounded to the unit, under a normal distribution."""
    # a narrow bell must not promise more than certainty for one rounded value
    wide = np.maximum(sd, unit / 2)
    density: Floats = np.exp(-((distance / wide) ** 2) / 2) * unit / (wide * np.sqrt(2 * np.pi))
    return density


def _bag_codes(groups: Ints, masses: Floats) -> Ints:
    """One number for each bag mass in each group."""
    base = _TEN**7
    hundredths = np.clip(np.rint(np.nan_to_num(masses) * _HUNDREDTHS), 0, base - 1)
    codes: Ints = groups * base + hundredths.astype(np.int64)
    return codes


@dataclass(frozen=True, slots=True)
class NetPrior:
    """Net mass to expect of each row: bell-shaped with long tails, mixed with a flat part for runts.

    Attributes
    ----------
    expected, sd : ndarray, shape (n,)
        g; where one is missing the prior is flat.
    span_g : float
        Width of the flat part, g.
    any_share : float
        Weight of the flat part.
    freedom : float
        Degrees of freedom of the bell (Student's t): small for long tails.
    """

    expected: Floats
    sd: Floats
    span_g: float
    any_share: float
    freedom: float

    def of(self, rows: Ints) -> NetPrior:
        """Return the prior of some rows only."""
        return NetPrior(self.expected[rows], self.sd[rows], self.span_g, self.any_share, self.freedom)

    def log_chance(self, mass: Floats, unit: Floats) -> Floats:
        """Log probability of a net mass, one per row."""
        known = np.isfinite(self.expected) & np.isfinite(self.sd) & (self.sd > 0)
        # a spread far below the last digit is that of numbers that are no masses
        sd = np.maximum(np.where(known, self.sd, 1.0), unit / _TEN)
        z = np.where(known, (mass - np.where(known, self.expected, 0.0)) / sd, 0.0)
        bell = _student(z, self.freedom) / sd
        flat = 1.0 / self.span_g
        density = np.where(known, (1 - self.any_share) * bell + self.any_share * flat, flat) * unit
        return np.log(np.where(np.isfinite(mass) & (mass > 0), np.clip(density, _LEAST, 1.0), _LEAST))


@dataclass(frozen=True, slots=True)
class Verdicts:
    """What probably happened to each row.

    Attributes
    ----------
    posterior : ndarray, shape (n, len(CAUSES))
        Probability of each cause; rows sum to 1.
    kinds : ndarray of int, shape (n, 3)
        Index into `KINDS`: the likeliest way from the implied to the typed gross, bag and net.
    implied : ndarray, shape (n, 3)
        Gross, bag and net as the other two cells imply them, g.
    """

    posterior: Floats
    kinds: Ints
    implied: Floats


@dataclass(frozen=True, slots=True)
class Room:
    """How far each row may be out of balance without a slip.

    Attributes
    ----------
    allowed : ndarray, shape (n,)
        Imbalance that rounding allows, g.
    one_unit : ndarray of bool, shape (n,)
        Rows out of balance by no more than one unit of the coarsest number.
    """

    allowed: Floats
    one_unit: Flags


def imbalance(gross: Floats, bag: Floats, net: Floats) -> Floats:
    """Gross less bag less net, g; NaN where one of them is missing.

    Examples
    --------
    >>> import numpy as np
    >>> imbalance(np.array([395.0, 395.0]), np.array([22.0, 22.0]), np.array([373.0, 395.0])).tolist()
    [0.0, -22.0]
    """
    difference: Floats = gross - bag - net
    return np.where(np.abs(difference) <= slack(gross) + slack(bag) + slack(net), 0.0, difference)


def balance_steps(
    triples: Floats, group: Ints, *, steps: Sequence[float], share: float, rows: float
) -> Floats:
    """Find the step of the balance where the numbers as written do not show it, such as 5 g or 0.5 g.

    Parameters
    ----------
    triples : ndarray, shape (n, 3)
        Gross, bag and net, g.
    group : ndarray of int, shape (n,)
        Rows that are weighed on the same balance.
    steps : sequence of float
        Steps that balances have, g, from the finest to the coarsest.
    share, rows : float
        From this share of the rows of a group being whole steps, and this many rows, it is the step.

    Returns
    -------
    ndarray, shape (n,)
        The coarsest such step, g; NaN for rows of another group or with a number between two steps.
    """
    found = np.full(len(triples), np.nan)
    known = np.isfinite(triples)
    judged = known.any(axis=1)
    per_group = np.bincount(group[judged], minlength=int(group.max(initial=-1)) + 1)
    for step in steps:
        ratio = np.where(known, triples, 0.0) / step
        whole = judged & (np.abs(ratio - np.rint(ratio)) <= slack(ratio)).all(axis=1)
        fitting = np.bincount(group[whole], minlength=len(per_group))
        habit = (fitting >= rows) & (fitting >= share * per_group)
        found[whole & habit[group]] = step
    return found


def rounding_room(
    triples: Floats,
    *,
    habit_share: float,
    habit_rows: float,
    exact_share: float = 1.0,
    exact_rows: float = np.inf,
    firm_share: float = 0.0,
    firm_rows: float = np.inf,
    step: Floats | None = None,
) -> Room:
    """Find the imbalance that rounding explains.

    A net in whole grams beside a gross in tenths was rounded after the subtraction: it may be half a gram
    off. Masses written to one unit balance to the last digit, since net is computed from the other two,
    unless the season is in the habit of rounding all three on their own: then they may be one unit off.

    Parameters
    ----------
    triples : ndarray, shape (n, 3)
        Gross, bag and net, g.
    habit_share, habit_rows : float
        From this share of the rows, and this many, being one unit off is a habit.
    exact_share, exact_rows : float
        Where this share of the rows in two units balances to the last digit, and there are this many of them,
        a whole number among tenths is a tenth whose nought was left out, not a rounded number.
    firm_share, firm_rows : float
        Where so many rows balance, and no more than this share of them is one unit off, the season computes
        its nets to the last digit: then one unit off is a slip, not rounding.
    step : ndarray, shape (n,), optional
        Step of the balance on which each row was weighed, g, as of `balance_steps`; NaN where the numbers
        as written tell the unit.
    """
    off = np.abs(imbalance(*triples.T))
    units = np.stack([typed_unit(column) for column in triples.T])
    coarsest, finest = units.max(axis=0), units.min(axis=0)
    mixed = coarsest > finest
    if mixed.sum() >= exact_rows and (mixed & (off == 0)).sum() >= exact_share * mixed.sum():
        coarsest = finest
    if step is not None:
        stepped = np.isfinite(step)
        coarsest, finest = np.where(stepped, step, coarsest), np.where(stepped, step, finest)
    allowed = np.where(coarsest > finest, coarsest / 2 + slack(coarsest), 0.0)
    least = coarsest + slack(coarsest) + slack(np.nan_to_num(triples[:, _GROSS]))
    one_unit = (off > allowed) & (off <= least)
    slight, nearly = int(one_unit.sum()), int((off <= least).sum())
    if slight >= habit_rows and slight >= habit_share * nearly:
        allowed = np.maximum(allowed, least)
    elif (off <= allowed).sum() >= firm_rows and slight <= firm_share * (off <= allowed).sum():
        one_unit = np.zeros_like(one_unit)
    return Room(allowed, one_unit)


def explain_broken(
    triples: Floats,
    rows: Ints,
    bags: BagUse,
    prior: NetPrior,
    shares: SlipShares,
    *,
    allowed: Floats,
    above: Floats,
    doubt: Floats,
) -> Verdicts:
    """Weigh what can have happened to rows in which gross less bag is not net.

    Parameters
    ----------
    triples : ndarray, shape (k, 3)
        Gross, bag and net as typed, g; no missing values.
    rows : ndarray of int, shape (k,)
        Their positions among the bags.
    bags : BagUse
        Bags of the season.
    prior : NetPrior
        Net mass to expect of these k rows.
    shares : SlipShares
        How often each slip happens.
    allowed : ndarray, shape (k,)
        Imbalance that rounding allows, g.
    above : ndarray, shape (k, 3)
        Gross, bag and net of the row above, g.
    doubt : ndarray, shape (k, 3)
        How many times more likely than usual each cell is wrong (1 = as usual).

    References
    ----------
    Scholtus, S. (2009). Automatic correction of simple typing errors in numerical data with balance edits.
    Statistics Netherlands Discussion Paper 09046: for each cell the value that restores the balance.
    """
    gross, bag, net = triples.T
    unit = typed_unit(gross, bag, net)
    implied = tidy(np.stack([net + bag, gross - net, gross - bag], axis=1), unit[:, None])
    chances = _cell_chances(triples, implied, unit, shares, above)
    log_slip = np.log(np.maximum(chances.sum(axis=2) * doubt / len(_CELLS), _LEAST))
    bag_fits, net_fits = bags.log_chance(bag, unit, rows), prior.log_chance(net, unit)
    with_net = bag_fits + prior.log_chance(implied[:, _NET], unit)
    real = (bag > allowed) & (gross > bag)
    room = np.maximum(allowed, unit / 2)
    weights = _Weights(len(rows))
    weights.put("gross", log_slip[:, _GROSS] + bag_fits + net_fits)
    weights.put("bag", log_slip[:, _BAG] + bags.log_chance(implied[:, _BAG], unit, rows) + net_fits)
    weights.put("net", log_slip[:, _NET] + with_net)
    weights.put("not_subtracted", with_net, shares.not_subtracted, real & close(net, gross, room * 2))
    twice = real & close(net, gross - bag * 2, room * 2)
    weights.put("subtracted_twice", with_net, shares.subtracted_twice, twice)
    weights.put("added", with_net, shares.added, real & close(net, gross + bag, room * 2))
    weights.put(
        "gross_net_exchanged",
        bag_fits + prior.log_chance(gross, unit),
        shares.gross_net_exchanged,
        (bag > allowed) & close(gross, net - bag, room * 2),
    )
    weights.put(
        "gross_bag_exchanged",
        bags.log_chance(gross, unit, rows) + net_fits,
        shares.gross_bag_exchanged,
        close(bag, net + gross, room * 2),
    )
    in_grams = net * _GRAMS_PER_KG
    weights.put(
        "bird_kilograms",
        bag_fits + prior.log_chance(in_grams, unit),
        shares.scaled_rows,
        close(gross * _GRAMS_PER_KG - bag, in_grams, np.maximum(room * 2, 1.0)),
    )
    return Verdicts(weights.posterior(), chances.argmax(axis=2), implied)


def explain_balanced(
    triples: Floats, rows: Ints, bags: BagUse, prior: NetPrior, shares: SlipShares
) -> Verdicts:
    """Weigh what can be wrong with rows that balance.

    A row that balances can still be wrong as a whole: bag and net exchanged, all three out by ten or in
    kilograms, or net computed from a mistyped bag.

    Parameters
    ----------
    triples : ndarray, shape (k, 3)
        Gross, bag and net, g; no missing values (a missing one is computed from the others).
    rows, bags, prior, shares
        As in `explain_broken`.

    Returns
    -------
    Verdicts
        ``implied`` holds the values meant if net was computed from a mistyped bag.
    """
    gross, bag, net = triples.T
    unit = typed_unit(gross, bag, net)
    usual = bags.usual(rows)
    chance = shares.keying.numbers(bag, usual, unit)
    rate = shares.slip_rate * len(_CELLS)

    def scaled(factor: float) -> Floats:
        return bags.log_chance(bag * factor, unit, rows) + prior.log_chance(net * factor, unit)

    weights = _Weights(len(rows))
    weights.put("fine", scaled(1.0), 1 - rate)
    exchanged = bags.log_chance(net, unit, rows) + prior.log_chance(bag, unit)
    weights.put("bag_net_exchanged", exchanged, rate * shares.bag_net_exchanged)
    carried = (
        np.log(np.maximum(chance.sum(axis=1), _LEAST))
        + bags.log_chance(usual, unit, rows)
        + prior.log_chance(gross - usual, unit)
    )
    weights.put("bag_carried", carried, shares.slip_rate, (usual != bag) & (gross > usual))
    weights.put("all_a_tenth", scaled(float(_TEN)), rate * shares.scaled_rows / 2)
    weights.put("all_ten_times", scaled(1.0 / _TEN), rate * shares.scaled_rows / 2)
    weights.put("all_kilograms", scaled(_GRAMS_PER_KG), rate * shares.scaled_rows)
    kinds = np.zeros((len(rows), len(_CELLS)), dtype=np.int64)
    kinds[:, _BAG] = chance.argmax(axis=1)
    return Verdicts(weights.posterior(), kinds, np.stack([gross, usual, tidy(gross - usual, unit)], axis=1))


def usual_by_size(
    mass: Floats,
    size: Floats,
    kind: Ints,
    visit: Ints,
    *,
    start: tuple[Floats, Floats],
    window: int,
    few: int,
    rough_cv: float,
    visit_share: float,
    least_cv: float,
) -> tuple[Floats, Floats]:
    """Find the mass to expect of each bird from birds of like size and from its own brood.

    The season is its own yardstick: a running median of mass over size, moved by the mean residual of the
    other birds of the same box-visit, shrunk by the share of the variance that lies between visits.

    Parameters
    ----------
    mass, size : ndarray, shape (n,)
        Net mass, g, and wing length, mm; NaN where missing.
    kind : ndarray of int, shape (n,)
        Group within which birds are compared, such as species and age code.
    visit : ndarray of int, shape (n,)
        Number of the box-visit.
    start : tuple of two ndarray, shape (n,)
        Expected mass and standard deviation to fall back on, g; NaN where nothing is known.
    window : int
        How many birds of like size are compared.
    few : int
        As many weighed birds of a kind give at least a rough idea.
    rough_cv : float
        Standard deviation of that rough idea, as a share of the expected mass.
    visit_share : float
        Share of the variance of mass, given size, that lies between box-visits.
    least_cv : float
        Least standard deviation, as a share of the expected mass.

    Returns
    -------
    expected, sd : ndarray, shape (n,)
        g; as in `start` where fewer than `window` birds can be compared.
    """
    expected, sd = start[0].copy(), start[1].copy()
    usable = np.isfinite(mass) & (mass > 0)
    order = np.argsort(kind, kind="stable")
    for members in np.split(order, np.flatnonzero(np.diff(kind[order])) + 1):
        weighed = members[usable[members]]
        if len(weighed) < few:
            continue
        unknown = members[~np.isfinite(expected[members])]
        typical = np.median(mass[weighed])
        expected[unknown] = typical
        sd[unknown] = typical * rough_cv
        sized = members[np.isfinite(size[members])]
        weighed = sized[usable[sized]]
        if len(weighed) < window:
            continue
        weighed = weighed[np.argsort(size[weighed], kind="stable")]
        centre, middle = _running_median(size[weighed], mass[weighed], window)
        usual = np.interp(size[sized], centre, middle)
        around = _relative_sd(mass[weighed], np.interp(size[weighed], centre, middle))
        # beyond the middle of its outermost birds the season says nothing about size
        inside = (size[sized] >= centre[0]) & (size[sized] <= centre[-1]) | ~np.isfinite(start[0][sized])
        expected[sized] = np.where(inside, usual, expected[sized])
        sd[sized] = np.where(inside, usual * around, sd[sized])
    sd = np.maximum(sd, least_cv * expected)
    shift, mates = _of_the_others(np.where(usable, mass - expected, np.nan), visit, sd * 2)
    trust = mates * visit_share / (mates * visit_share + 1 - visit_share)
    return expected + trust * shift, sd * np.sqrt(1 - visit_share * trust)


class _Weights:
    """Log weight of each cause in each row, gathered one cause at a time."""

    def __init__(self, rows: int) -> None:
        self.log = np.full((rows, len(CAUSES)), _NEVER)

    def put(self, cause: str, evidence: Floats, share: float = 1.0, fits: Flags | None = None) -> None:
        weight = evidence + np.log(share)
        self.log[:, CAUSES.index(cause)] = weight if fits is None else np.where(fits, weight, _NEVER)

    def posterior(self) -> Floats:
        top = self.log.max(axis=1, keepdims=True)
        scaled: Floats = np.exp(self.log - np.where(np.isfinite(top), top, 0.0))
        total: Floats = np.maximum(scaled.sum(axis=1, keepdims=True), _LEAST)
        return np.divide(scaled, total)


def _cell_chances(
    triples: Floats, implied: Floats, unit: Floats, shares: SlipShares, above: Floats
) -> Floats:
    """Probability of each typed cell given the implied one: shape (k, 3, kinds)."""
    chances = np.stack([shares.keying.numbers(triples[:, i], implied[:, i], unit) for i in _CELLS], axis=1)
    possible = chances[:, :, KINDS.index("unknown")] > 0
    repeats = np.abs(triples - above) <= slack(triples)
    chances[:, :, KINDS.index("copied")] = shares.copied * (repeats & possible)
    off = np.abs(triples[:, _NET] - implied[:, _NET])
    steps = (1, _TEN, _TEN * _TEN)
    by_a_step = np.logical_or.reduce([close(off, np.full_like(off, step), unit / _TEN) for step in steps])
    borrow = shares.borrow * (by_a_step & possible[:, _NET]) / (2 * len(steps))
    chances[:, _NET, KINDS.index("borrow")] = borrow
    return chances


def _running_median(size: Floats, mass: Floats, window: int) -> tuple[Floats, Floats]:
    view = np.lib.stride_tricks.sliding_window_view
    return np.median(view(size, window), axis=1), np.median(view(mass, window), axis=1)


def _of_the_others(values: Floats, group: Ints, limit: Floats) -> tuple[Floats, Floats]:
    """Mean of the other members of each one's group, far values drawn in to `limit`; and their number."""
    known = np.isfinite(values) & np.isfinite(limit)
    drawn_in = np.where(known, np.clip(values, -limit, limit), 0.0)
    size = int(group.max(initial=0)) + 1
    total = np.bincount(group, weights=drawn_in, minlength=size)
    count = np.bincount(group, weights=known.astype(np.float64), minlength=size)
    others = (count[group] - known).astype(np.float64)
    mean = (total[group] - drawn_in) / np.maximum(others, 1)
    return np.where(others > 0, mean, 0.0), others


def _relative_sd(values: Floats, level: Floats) -> float:
    """Coefficient of variation about a level, from the median absolute deviation (1.4826 for a normal)."""
    mad_to_sd = 1.4826
    residual = values / level - 1
    return float(mad_to_sd * np.median(np.abs(residual - np.median(residual))))
