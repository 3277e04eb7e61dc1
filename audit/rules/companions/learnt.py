"""Learn from a season how much its nestlings differ."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from audit.models import effects, growth
from audit.models.effects import Prior, shrunk
from audit.models.hatching_gaps import HatchingGaps, variance_within
from audit.models.kinship import Kin, Shares, kin_of
from audit.rules.companions.by_group import others_measured
from audit.rules.companions.company import Company
from audit.rules.companions.deviations import deviations
from audit.rules.companions.foretelling import logs_of, wing_ages
from audit.rules.companions.recalled import anew, same
from audit.rules.companions.season_effects import Effects
from audit.rules.companions.siblings import young_in_brood
from audit.rules.companions.tracks import follows_wings, longest_wing, track_of
from audit.rules.companions.wing_factor import WingTracks, wing_factor

if TYPE_CHECKING:
    from collections.abc import Hashable

    from numpy.typing import NDArray

    from audit.declarations.species import Species
    from audit.rules.birds import Birds
    from audit.rules.companions.foretelling import Logs, WingAges
    from audit.rules.companions.recalled import Recall
    from audit.rules.scatter import Grain

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["company_of"]


def company_of(
    species: Species, birds: Birds, grain: Grain, recall: Recall = anew
) -> tuple[Company, growth.Factor]:
    """Learn from the nestlings of one species how much they differ, and how heavy they are.

    Parameters
    ----------
    recall : callable
        Recalls what was learnt of the same wings, or masses, before.
    """
    rows = np.flatnonzero((birds.grown == 0) & np.isfinite(birds.day))
    young = birds.of(rows)
    kin = recall(
        same("kin", young.brood, young.ring, young.visit),
        lambda: kin_of(young.brood, young.ring, young.visit, most=int(grain.most)),
    )
    wing = np.where(young.wing > longest_wing(species), np.nan, young.wing)
    learning = Learning(species, grain, kin, wing, young, recall)
    learnt = learning.by_ages() if follows_wings(species) else learning.by_logs()
    measured = (wing, young.mass, young.day, young.tag, young.age, young.age_sd)
    known = (learnt.effects, learnt.mass_factor.value, learnt.ages, learnt.logs)
    return Company(species, grain, rows, kin, *measured, *known), learnt.mass_factor


@dataclass(frozen=True, slots=True)
class Learnt:
    """What a season's nestlings tell of themselves.

    Attributes
    ----------
    ages, logs
        As in `Company`.
    """

    effects: Effects
    mass_factor: growth.Factor
    ages: WingAges | None = None
    logs: tuple[Logs, ...] = ()


@dataclass(frozen=True, slots=True)
class Learning:
    """The nestlings of one species, to learn from."""

    species: Species
    grain: Grain
    kin: Kin
    wing: Floats
    young: Birds
    recall: Recall

    def by_logs(self) -> Learnt:
        """Learn logarithms, for species whose wings tell no age; masses where ages were recorded."""
        grain = self.grain
        (wings, wing_logs), (masses, mass_logs) = (
            self.recall(self._same(name, value), partial(self._logs, value, within))
            for name, value, within in (
                ("wing", self.wing, grain.wing_like_sd),
                ("mass", self.young.mass, grain.mass_like_sd),
            )
        )
        mass = Shares(grain.mass_brood, grain.mass_bird, grain.mass_visit)
        none = growth.Factor(1.0, grain.wing_factor_sd, 0)
        known = Effects(none, 0.0, 0.0, 0.0, 0.0, 0.0, None, mass, grain.mass_noise, wings, masses)
        if "mass_g" not in self.species.curves:
            return Learnt(known, growth.Factor(1.0, grain.mass_factor_sd, 0), logs=(wing_logs, mass_logs))
        known, factor = self._masses(known, self.young.age, self.young.age_sd, self._meetings())
        return Learnt(known, factor, logs=(wing_logs, mass_logs))

    def _logs(self, value: Floats, within: float) -> tuple[effects.OneWay, Logs]:
        """Learn how the logarithms of a measure differ, and foretell each from the others."""
        grain = self.grain
        known = _drawn(
            np.log(value),
            self.kin.visit,
            grain,
            # broods are visited at any age, so that a few of them tell more than what is declared
            Prior(grain.log_between_sd**2, 1.0),
            Prior(within**2, grain.log_worth),
        )
        return known, logs_of(value, known, self.kin, grain)

    def _same(self, name: str, *values: Floats) -> Hashable:
        return same(name, self.kin.brood, self.kin.bird, self.kin.visit, *values)

    def by_ages(self) -> Learnt:
        """Learn wings about their own tracks, ages of broods, and masses given wings."""
        young = self.young
        key = self._same("wings", self.wing, young.day, young.age, young.age_sd)
        known, ages = self.recall(key, self._wings)
        told = np.isfinite(self.wing) | (others_measured(self.kin.brood, self.wing, young.mass) > 0)
        known, factor = self._masses(known, np.where(told, ages.age, np.nan), ages.age_sd, self._meetings())
        return Learnt(known, factor, ages=ages)

    def _wings(self) -> tuple[Effects, WingAges]:
        """Learn wings about their own tracks, and ages of broods."""
        grain = self.grain
        earlier, later, together = self._meetings()
        own_sd = self._own_sd()
        tracks = WingTracks(
            self.species.curves["wing_mm"], self.wing, self.young.day, earlier, later, together
        )
        factor = wing_factor(grain, tracks, own_sd, (self.young.age, self.young.age_sd), self.kin.brood)
        own = own_sd**2
        share = grain.wing_visit_share
        track = _drawn(
            tracks.off(factor.value),
            together,
            grain,
            Prior(own * share, grain.between_worth),
            Prior(own * (1 - share), grain.prior_worth),
        )
        # two wings, and two visits, make one difference
        noise, visit = track.within / 2, track.between / 2
        first_age, between, within, gaps = self._ages(factor.value, noise)
        mass = Shares(grain.mass_brood, grain.mass_bird, grain.mass_visit)
        nothing = effects.OneWay(0.0, 0.0, 0.0, 0.0, 0.0)
        known = Effects(
            factor, noise, visit, first_age, between, within, gaps, mass, grain.mass_noise, nothing, nothing
        )
        return known, wing_ages(self.species, grain, known, self.kin, self.wing, self.young.day)

    def _meetings(self) -> tuple[Ints, Ints, Ints]:
        """Rows of two visits of one bird that follow each other; a number for each pair of visits."""
        day, bird, visit = self.young.day, self.kin.bird, self.kin.visit
        order = np.lexsort((day, bird))
        same = (np.diff(bird[order]) == 0) & (np.diff(day[order]) >= 1)
        earlier, later = order[:-1][same], order[1:][same]
        # one number for two: no visit has a number as large as there are rows in the sheet
        together = visit[earlier] * (int(visit.max(initial=0)) + 1) + visit[later]
        return earlier, later, together

    def _own_sd(self) -> float:
        declared = self.species.number("pace.wing_own_sd")
        return declared if declared is not None else self.grain.wing_own_share * self._widest()

    def _widest(self) -> float:
        curve = self.species.curves["wing_mm"]
        return float(growth.spread(curve, curve.last_day))

    def _ages(self, factor: float, noise: float) -> tuple[float, float, float, HatchingGaps | None]:
        """Usual age at the first visit to a brood, its variance between broods and within them, and gaps."""
        grain, species = self.grain, self.species
        curve = species.curves["wing_mm"]
        gaps = _declared_gaps(species)
        alike = self._age_variance(gaps)
        youngest, oldest = (species.number(f"ringing.{name}_day") for name in ("youngest", "oldest"))
        usual = (
            (curve.first_day + curve.last_day) / 2
            if youngest is None or oldest is None
            else (youngest + oldest) / 2
        )
        track = track_of(species, grain, factor, self.kin, self.wing, self.young.day, usual)
        order = np.lexsort((self.young.day, self.kin.bird))
        order = order[np.isfinite(track.hatched[order])]
        first = order[np.r_[True, np.diff(self.kin.bird[order]) != 0]] if len(order) else order
        found = _drawn(
            track.hatched[first],
            self.kin.brood[first],
            grain,
            Prior(grain.age_between_sd**2, grain.between_worth),
            Prior(alike, grain.prior_worth),
        )
        within = found.within
        if len(first):
            within -= float(np.median(noise * (track.room[first] / track.pace[first]) ** 2))
        middle = effects.centre(
            growth.group_medians(track.hatched[first], self.kin.brood[first]), usual, grain.between_worth
        )
        within = max(within, grain.least_share * alike)
        # young of a season that differ more, or less, than declared hatch further apart, or closer together
        gaps = None if gaps is None else gaps.stretched(float(np.sqrt(within / alike)))
        return middle, found.between, within, gaps

    def _age_variance(self, gaps: HatchingGaps | None) -> float:
        """Variance of ages within a usual brood of this season, as declared."""
        apart = self.species.number("nestling.sibling_sd_days")
        alike = self.grain.age_within_sd**2 if apart is None else apart**2 / 2
        if gaps is None:
            return alike
        young = young_in_brood(self.kin)
        # a brood tells of its spread by one contrast less than it has young
        contrasts = 1 - 1 / young
        if not contrasts.any():
            return alike
        return float(np.average(variance_within(gaps, young), weights=contrasts))

    def _mass_factor(self, log_ratio: Floats) -> growth.Factor:
        grain = self.grain
        return growth.population_factor(
            log_ratio,
            self.kin.visit,
            prior_sd=grain.mass_factor_sd,
            group_sd=grain.mass_brood_sd,
            clip=grain.clip,
        )

    def _masses(
        self, known: Effects, age: Floats, age_sd: Floats, meetings: tuple[Ints, Ints, Ints]
    ) -> tuple[Effects, growth.Factor]:
        """Learn the season's factor for masses, and how they differ about it."""
        grain, species, young = self.grain, self.species, self.young
        earlier, later, together = meetings
        curve = species.curves["mass_g"]
        inside = (age >= curve.first_day) & (age <= curve.last_day)
        at = np.where(inside, age, curve.first_day)
        factor = self._mass_factor(np.log(np.where(inside, young.mass, np.nan) / growth.mean(curve, at)))
        z, _ = deviations(species, factor.value, np.where(inside, young.mass, np.nan), at, age_sd)
        worth, few = grain.prior_worth, grain.between_worth
        once = _drawn(
            z,
            self.kin.visit,
            grain,
            Prior(grain.mass_brood + grain.mass_visit, few),
            Prior(grain.mass_bird + grain.mass_noise, worth),
        )
        change = _drawn(
            z[later] - z[earlier],
            together,
            grain,
            Prior(2 * grain.mass_visit, few),
            Prior(2 * grain.mass_noise, worth),
        )
        noise, visit, birds, broods = change.within / 2, change.between / 2, once.within, once.between
        # birds that are only met once do not tell what stays with them: no more noise than there is
        noise, visit = (
            min(noise, (1 - grain.least_share) * birds),
            min(visit, (1 - grain.least_share) * broods),
        )
        # a factor that few broods support is one more thing that the birds of a brood have in common
        days = np.linspace(curve.first_day, curve.last_day)
        loose = (factor.sd * np.median(growth.mean(curve, days) / growth.spread(curve, days))) ** 2
        mass = Shares(broods - visit + float(loose), birds - noise, visit)
        return replace(known, mass=mass, mass_noise=noise), factor


def _declared_gaps(species: Species) -> HatchingGaps | None:
    mean, sd = (species.number(f"nestling.{name}_days") for name in ("sibling_gap", "sibling_gap_sd"))
    return None if mean is None or sd is None else HatchingGaps(mean, sd)


def _drawn(values: Floats, group: Ints, grain: Grain, between: Prior, within: Prior) -> effects.OneWay:
    """Split a variance, wild values cut and both parts drawn towards what is known."""
    found = effects.one_way(values, group, clip=grain.clip, between=between, within=within)
    return replace(
        found,
        between=shrunk(found.between, found.between_dof, between),
        within=shrunk(found.within, found.within_dof, within),
    )
