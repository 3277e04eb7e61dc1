"""The nestlings of one species and what they foretell of each other."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.models import growth
from audit.models.kinship import Kin, Shares, foretell
from audit.rules.companions.by_group import medians_at, others_measured
from audit.rules.companions.deviations import deviations, gain_by_visit, scatter_by_visit
from audit.rules.companions.expected import Expected
from audit.rules.companions.siblings import ages_of_siblings, young_in_brood
from audit.rules.companions.tracks import best_age, follows_wings, track_of
from audit.rules.companions.what_if import apart, broods_of, left_out

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from audit.declarations.species import Species
    from audit.rules.birds import Birds
    from audit.rules.companions.season_effects import Effects
    from audit.rules.companions.what_if import Known
    from audit.rules.scatter import Grain

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["Company", "gathered"]


@dataclass(frozen=True, slots=True)
class Company:
    """The nestlings of one species and what they foretell of each other.

    Attributes
    ----------
    rows : numpy.ndarray of int, shape (k,)
        Which birds of the species are nestlings.
    wing, mass, day, tag, age, age_sd : numpy.ndarray, shape (k,)
        As typed; the age is the recorded one.
    effects : Effects
    mass_factor : float
    """

    species: Species
    grain: Grain
    rows: Ints
    kin: Kin
    wing: Floats
    mass: Floats
    day: Floats
    tag: Ints
    age: Floats
    age_sd: Floats
    effects: Effects
    mass_factor: float

    def expect(self) -> Expected:
        """Foretell all nestlings, each from all others, shape (k,)."""
        return self._expect(self.kin, self.wing, self.mass, np.arange(len(self.rows)))

    def expect_without(self, place: int, wings: Ints, masses: Ints) -> Expected:
        """Foretell one nestling were some wings and masses of others not known, shape (1,)."""
        return self.expect_each_without([(place, wings, masses)])

    def expect_each_without(self, asked: Sequence[Known]) -> Expected:
        """Foretell some nestlings, each were some wings and masses of others not known, shape (k,).

        Parameters
        ----------
        asked : sequence of (int, numpy.ndarray of int, numpy.ndarray of int)
            Place of the nestling, and those whose wings, and masses, are not known then.
        """
        broods = broods_of(self.kin, [place for place, _, _ in asked])
        kin = apart(self.kin, broods, most=int(self.grain.most))
        wing = left_out(self.wing, broods, [wings for _, wings, _ in asked])
        mass = left_out(self.mass, broods, [masses for _, _, masses in asked])
        starts = np.cumsum([0, *(len(one) for one in broods[:-1])])
        here = [
            start + int(np.searchsorted(one, place))
            for start, one, (place, _, _) in zip(starts, broods, asked, strict=True)
        ]
        return self._expect(kin, wing, mass, np.concatenate(broods)).of(np.array(here, dtype=np.int64))

    def expect_beside(self, visits: Ints) -> Expected:
        """Say what a further nestling would be like at each of these visits, shape (len(visits),)."""
        known = self.effects
        found = Expected.nothing(len(visits), known.mass_sd)
        told = np.isfinite(self.wing) | np.isfinite(self.mass)
        found.told[:] = medians_at(told.astype(np.float64), self.kin.visit, visits) > 0
        if follows_wings(self.species):
            age, _ = self.ages()
            found.age[:] = medians_at(np.where(np.isfinite(self.wing), age, np.nan), self.kin.visit, visits)
            found.age_sd[:] = np.sqrt(2 * known.age_within)
            return found
        for value, spread, mean, sd in (
            (self.wing, known.log_wing, found.log_wing, found.log_wing_sd),
            (self.mass, known.log_mass, found.log_mass, found.log_mass_sd),
        ):
            mean[:] = medians_at(np.log(value), self.kin.visit, visits)
            sd[:] = np.sqrt(2 * spread.within)
        return found

    def ring_doubt(self, place: int, others: Ints) -> float:
        """Probability that a ring was misread at one of two visits, which then are those of two birds."""
        grain, tag = self.grain, self.tag
        tagged = (tag[place] >= 0) & (tag[others] >= 0)
        chance = np.where(
            tagged,
            np.where(tag[others] == tag[place], grain.ring_slip_same_tag, grain.ring_slip_other_tag),
            grain.ring_slip,
        )
        return float(1 - np.prod(1 - chance))

    def supporters(self, place: int) -> Ints:
        """Rows whose own mistake would mislead about a nestling: its other visits, and a sole sibling."""
        among = np.flatnonzero(self.kin.brood == self.kin.brood[place])
        others = among[among != place]
        same = self.kin.bird[others] == self.kin.bird[place]
        alone = len(set(self.kin.bird[others[~same]].tolist())) == 1
        found: Ints = others if alone else others[same]
        return found

    def ages(self) -> tuple[Floats, Floats]:
        """Age of each nestling by own wing and company, and its standard deviation, days."""
        found = Expected.nothing(len(self.wing), 1.0)
        return self._expect_ages(found, self.kin, self.wing, self.day)

    def wing_distances(self, wing: Floats, expected: Expected) -> Floats:
        """Tell how far each wing lies from what company and recorded age foretell, in standard deviations.

        Parameters
        ----------
        wing : numpy.ndarray, shape (k,)
            As typed, also where the company does not heed it.
        """
        curve, known = self.species.curves["wing_mm"], self.effects
        weight, age = 1 / expected.age_sd**2, expected.age
        recorded = np.isfinite(self.age)
        at = np.clip(np.where(recorded, self.age, age), curve.first_day, curve.last_day)
        # wings of one age differ by more than a wing does from its own track
        beside = np.hypot(self.age_sd, growth.spread(curve, at) / growth.pace(curve, at))
        more = np.where(recorded, 1 / beside**2, 0.0)
        age = (weight * age + more * at) / (weight + more)
        inside = np.clip(age, curve.first_day, curve.last_day)
        centre = growth.mean(curve, inside) * known.wing_factor.value
        room = growth.spread(curve, inside) / growth.spread(curve, curve.last_day)
        sd = np.hypot(growth.pace(curve, inside) / np.sqrt(weight + more), np.sqrt(known.wing_noise) * room)
        return np.asarray((wing - centre) / sd, dtype=np.float64)

    def mass_distances(self, mass: Floats, expected: Expected) -> Floats:
        """Tell how far each mass, as typed, lies from what wing and company foretell, shape (k,)."""
        age, age_sd = self.ages()
        z, vague = deviations(self.species, self.mass_factor, mass, age, age_sd)
        return np.asarray((z - expected.shift) / np.sqrt(expected.left**2 + vague), dtype=np.float64)

    def told(self) -> Floats:
        """How many others of its brood were measured, for each nestling."""
        return others_measured(self.kin.brood, self.wing, self.mass)

    def _expect(self, kin: Kin, wing: Floats, mass: Floats, among: Ints) -> Expected:
        found = Expected.nothing(len(wing), self.effects.mass_sd)
        found.told[:] = others_measured(kin.brood, wing, mass)
        found.own[:] = others_measured(kin.bird, wing, mass)
        if follows_wings(self.species):
            age, age_sd = self._expect_ages(found, kin, wing, self.day[among])
            self._expect_masses(found, kin, mass, age, age_sd)
        else:
            self._expect_logs(found, kin, wing, mass)
            if "mass_g" in self.species.curves:
                self._expect_masses(found, kin, mass, self.age[among], self.age_sd[among])
                found.age_sd[:] = self.age_sd[among]
        return found

    def _expect_ages(self, found: Expected, kin: Kin, wing: Floats, day: Floats) -> tuple[Floats, Floats]:
        known = self.effects
        track = track_of(self.species, self.grain, known.wing_factor.value, kin, wing, day, known.first_age)
        noise = known.wing_noise * track.room**2
        wings = foretell(
            track.hatched - known.first_age,
            noise / track.pace**2,
            1 / track.pace,
            kin,
            Shares(known.age_between, known.age_variance(young_in_brood(kin)), known.wing_visit),
            odd=self.grain.odd,
        )
        found.age[:] = wings.mean + known.first_age + track.since
        found.age_sd[:] = wings.sd
        age, age_sd, suits = best_age(track, found, noise, self.grain.odd)
        hatched = np.where(suits, track.hatched, np.nan)
        found.youngest[:], found.oldest[:] = ages_of_siblings(hatched, track.since, kin)
        return age, age_sd

    def _expect_masses(self, found: Expected, kin: Kin, mass: Floats, age: Floats, age_sd: Floats) -> None:
        z, more = deviations(self.species, self.mass_factor, mass, age, age_sd)
        masses = foretell(
            z, self.effects.mass_noise + more, np.ones(len(z)), kin, self.effects.mass, odd=self.grain.odd
        )
        found.shift[:] = masses.mean
        found.left[:] = np.sqrt(masses.sd**2 + self.effects.mass_noise)

    def _expect_logs(self, found: Expected, kin: Kin, wing: Floats, mass: Floats) -> None:
        for value, known, mean, sd in (
            (wing, self.effects.log_wing, found.log_wing, found.log_wing_sd),
            (mass, self.effects.log_mass, found.log_mass, found.log_mass_sd),
        ):
            stays = self.grain.log_bird_share
            own = known.within * (1 - stays)
            logs = np.log(value)
            scatter = scatter_by_visit(logs, kin.visit, known.within, self.grain)
            foretold = foretell(
                logs - known.mean,
                own * scatter,
                gain_by_visit(logs, kin.visit, known, self.grain),
                kin,
                Shares(0.0, known.within * stays, known.between),
                odd=self.grain.odd,
            )
            told = (found.told > 0) | (known.between_dof > self.grain.between_worth)
            mean[:] = np.where(told, foretold.mean + known.mean, np.nan)
            # in a brood that scatters, the birds themselves do
            wide = foretold.sd**2 + own + known.within * (scatter - 1)
            sd[:] = np.where(told, np.sqrt(wide), np.nan)


def gathered(
    species: Species,
    grain: Grain,
    rows: Ints,
    kin: Kin,
    wing: Floats,
    young: Birds,
    known: Effects,
    mass_factor: float,
) -> Company:
    """Bring together what is known of nestlings and what was learnt of their season."""
    measured = (wing, young.mass, young.day, young.tag, young.age, young.age_sd)
    return Company(species, grain, rows, kin, *measured, known, mass_factor)
