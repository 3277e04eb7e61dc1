"""The weighings of a season: gross, bag and net of every handling, and what to expect of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.declarations.species import species_index
from audit.models import growth
from audit.models.bag_use import BagHabits, BagUse, usual_drift
from audit.models.mass_balance import balance_steps, rounding_room
from audit.models.net_prior import NetPrior
from audit.models.usual_mass import usual_by_size
from audit.models.weighing import SlipShares
from audit.rules.columns import as_typed, numbers_of, numbers_of_rows, texts_of_rows
from audit.rules.heeded import WEIGHINGS

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from audit.declarations.species import Species
    from audit.models.mass_balance import Room
    from audit.rules.case import Case

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["MASSES", "Weighings", "weighings_of"]

#: The three columns that must balance, in the order in which they are subtracted.
MASSES: tuple[str, ...] = ("gross_g", "bag_g", "net_g")

#: Columns that say what a bird of its species weighs.
_OF_SPECIES: Mapping[str, tuple[str, ...]] = {"handlings": ("species", "age", "wing_mm")}


@dataclass(frozen=True, slots=True)
class Weighings:
    """The three masses of every handling and what they are judged by, in sheet order.

    Attributes
    ----------
    labels : list of str
        Row labels.
    triples, above : ndarray, shape (n, 3)
        Gross, bag and net as typed, and those of the row above, g; NaN where missing.
    balances : tuple of ndarray of int, shape (n,)
        Number of the balance, where small birds, and where each ringer too, have one of their own.
    bags : BagUse
        Bags that no rule doubts.
    prior : NetPrior
        Net mass to expect of each bird.
    shares : SlipShares
        How often each slip happens.
    """

    labels: list[str]
    triples: Floats
    above: Floats
    balances: tuple[Ints, ...]
    bags: BagUse
    prior: NetPrior
    shares: SlipShares

    def witnesses(self, row: int, *cells: int) -> list[tuple[str, str]]:
        """Cells of one row as witnesses, where something was typed in them."""
        return [(self.labels[row], MASSES[cell]) for cell in cells if np.isfinite(self.triples[row, cell])]

    def room(self, case: Case) -> Room:
        """How far each row may be out of balance without a slip."""
        return rounding_room(
            self.triples,
            habit_share=case.limit("rounding_habit_share"),
            habit_rows=case.limit("rounding_habit_rows"),
            exact_share=case.limit("exact_share"),
            exact_rows=case.limit("exact_rows"),
            firm_share=case.limit("firm_share"),
            firm_rows=case.limit("firm_rows"),
            step=self._steps(case),
        )

    def _steps(self, case: Case) -> Floats:
        """Step of the balance of each row, g; NaN where the numbers as written tell the unit."""
        found = [
            balance_steps(
                self.triples,
                balance,
                steps=case.limit("balance_steps"),
                share=case.limit("balance_share"),
                rows=case.limit("balance_rows"),
            )
            for balance in self.balances
        ]
        steps: Floats = np.fmax.reduce(found)
        return steps


def weighings_of(case: Case) -> Weighings:
    """Take the weighings out of the handlings; cells in doubt are judged, but judge no others."""
    # whoever weighs asks for the limits of one rule
    return case.lay_out(_lay_out, WEIGHINGS)


def _lay_out(case: Case) -> Weighings:
    typed = as_typed(case)
    triples = np.stack([numbers_of(typed, field) for field in MASSES], axis=1)
    above = np.full_like(triples, np.nan)
    above[1:] = triples[:-1]
    visit = numbers_of_rows(typed, "date", "box")
    day = numbers_of_rows(typed, "date", "ringer")
    sure_bags = numbers_of(case, "bag_g")
    return Weighings(
        labels=[str(label) for label in case.frame("handlings").index],
        triples=triples,
        above=above,
        balances=(numbers_of_rows(case, "species"), numbers_of_rows(case, "species", "ringer")),
        bags=BagUse(sure_bags, visit, day, _habits(case, sure_bags, day)),
        prior=_prior(case, visit),
        shares=_shares(case),
    )


def _shares(case: Case) -> SlipShares:
    """How often each slip happens in a row of three masses."""
    return SlipShares(
        slip_rate=case.share("rates.field"),
        copied=case.share("copied.above"),
        borrow=case.share("gross_net.borrow"),
        not_subtracted=case.share("gross_net.not_subtracted"),
        subtracted_twice=case.share("gross_net.subtracted_twice"),
        added=case.share("gross_net.added"),
        gross_net_exchanged=case.share("exchanged.gross_net"),
        gross_bag_exchanged=case.share("exchanged.gross_bag"),
        bag_net_exchanged=case.share("exchanged.bag_net"),
        scaled_rows=case.share("tenfold.row"),
        keying=case.declared.slips.channel(),
    )


def _habits(case: Case, bags: Floats, day: Ints) -> BagHabits:
    """How bags are used; their range is the season's own where it has enough of them."""
    known = bags[np.isfinite(bags) & (bags > 0)]
    low, high = float(case.limit("bag_low_g")), float(case.limit("bag_high_g"))
    if len(known) >= case.limit("bags_to_learn_from"):
        tail, stretch = case.limit("bag_tail_share"), case.limit("bag_stretch")
        least, most = np.quantile(known, [tail, 1 - tail])
        low, high = float(least / stretch), float(most * stretch)
    least_drift, most_drift = float(case.limit("bag_drift_least_g")), float(case.limit("bag_drift_sd_g"))
    rows = int(case.limit("bag_drift_rows"))
    drift = usual_drift(bags, day, rows)
    return BagHabits(
        same_in_visit=case.limit("same_in_visit"),
        same_in_day=case.limit("same_in_day"),
        drifted=case.limit("drifted"),
        other=case.limit("other_bag"),
        drift_sd_g=float(np.clip(drift, least_drift, most_drift)) if np.isfinite(drift) else most_drift,
        swing_sd_g=case.limit("bag_swing_sd_g"),
        swing_share=case.limit("bag_swing_share"),
        beyond=case.limit("bags_beyond"),
        low_g=low,
        high_g=high,
        drift_rows=rows,
    )


def _prior(case: Case, visit: Ints) -> NetPrior:
    """Net mass to expect of each bird: from the season itself, or from the species' curve in a small one."""
    net = numbers_of(case, "net_g")
    mass = np.where(np.isfinite(net), net, numbers_of(case, "gross_g") - numbers_of(case, "bag_g"))
    wing = numbers_of(case, "wing_mm")
    expected, sd = usual_by_size(
        mass,
        wing,
        numbers_of_rows(case, "species", "age"),
        visit,
        start=case.lay_out(_by_species, _OF_SPECIES),
        window=case.limit("birds_to_compare"),
        few=case.limit("birds_for_a_rough_idea"),
        rough_cv=case.limit("net_cv"),
        visit_share=case.limit("net_visit_share"),
        least_cv=case.limit("net_least_cv"),
    )
    return NetPrior(
        expected, sd, case.limit("span_g"), case.limit("net_any_share"), case.limit("net_freedom")
    )


def _by_species(case: Case) -> tuple[Floats, Floats]:
    """Mass to expect from the declared species alone; missing where it declares no curve."""
    frame, wing = case.frame("handlings"), numbers_of(case, "wing_mm")
    n = len(frame)
    expected, sd = np.full(n, np.nan), np.full(n, np.nan)
    if "species" in frame.columns:
        index = species_index(case.declared.species)
        texts = texts_of_rows(case, "species").tolist()
        meaning = {text: index.resolve(text) for text in set(texts)}
        slugs = np.array([meaning[text] for text in texts], dtype=object)
    else:
        slugs = np.full(n, str(case.setting("season.species.default_species")), dtype=object)
    grown = np.zeros(n, dtype=bool)
    if "age" in frame.columns:
        codes = texts_of_rows(case, "age").tolist()
        told = {code for code in set(codes) if code and code.strip() not in case.limit("pullus_codes")}
        grown = np.array([code in told for code in codes], dtype=bool)
    for slug, species in case.declared.species.items():
        here = slugs == slug
        if here.any():
            _fill(species, (here & grown, here & ~grown), wing, expected, sd)
    return expected, sd


def _fill(
    species: Species, grown_young: tuple[NDArray[np.bool_], ...], wing: Floats, expected: Floats, sd: Floats
) -> None:
    grown, young = grown_young
    adult = species.adult.get(("", "mass_g"))
    if adult is not None:
        expected[grown], sd[grown] = adult.middle, adult.sd
    if {"mass_g", "wing_mm"} <= set(species.curves):
        rows = young & (wing > 0)
        found = growth.mass_for_wing(species.curves["mass_g"], species.curves["wing_mm"], wing[rows])
        expected[rows], sd[rows] = found.mean, found.sd
