"""The nestlings of one species and what they foretell of each other."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.models import growth
from audit.models.kinship import Kin, foretell
from audit.rules.companions.by_group import medians_at, others_measured
from audit.rules.companions.deviations import deviations
from audit.rules.companions.expected import Expected
from audit.rules.companions.foretelling import Logs, WingAges, logs_of, wing_ages
from audit.rules.companions.tracks import follows_wings
from audit.rules.companions.what_if import apart, broods_of, left_out

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from audit.declarations.species import Species
    from audit.rules.companions.season_effects import Effects
    from audit.rules.companions.what_if import Known
    from audit.rules.scatter import Grain

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["Company"]


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
    ages_told : WingAges, optional
        What wings tell of ages, where they do.
    logs : tuple of Logs
        What the logarithms of wings, and of masses, foretell of each other, where wings tell no age.
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
    ages_told: WingAges | None
    logs: tuple[Logs, ...]

    def expect(self) -> Expected:
        """Foretell all nestlings, each from all others, shape (k,)."""
        rows = np.arange(len(self.rows))
        return self._expect(self.kin, self.wing, self.mass, rows, self.ages_told, self.logs)

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
        """Age of each nestling by own wing and company, and its standard deviation, days.

        Raises
        ------
        ValueError
            Wings of the species tell no age.
        """
        if self.ages_told is None:
            raise ValueError("wings of this species tell no age")
        return self.ages_told.age, self.ages_told.age_sd

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

    def _expect(
        self,
        kin: Kin,
        wing: Floats,
        mass: Floats,
        among: Ints,
        ages: WingAges | None = None,
        logs: tuple[Logs, ...] = (),
    ) -> Expected:
        """Foretell some nestlings; what wings, or logarithms, tell of them may be known already."""
        found = Expected.nothing(len(wing), self.effects.mass_sd)
        found.told[:] = others_measured(kin.brood, wing, mass)
        found.own[:] = others_measured(kin.bird, wing, mass)
        if follows_wings(self.species):
            ages = ages or wing_ages(self.species, self.grain, self.effects, kin, wing, self.day[among])
            found.age[:], found.age_sd[:] = ages.foretold, ages.foretold_sd
            found.youngest[:], found.oldest[:] = ages.youngest, ages.oldest
            self._expect_masses(found, kin, mass, ages.age, ages.age_sd)
        else:
            known = self.effects.log_wing, self.effects.log_mass
            logs = logs or tuple(
                logs_of(value, one, kin, self.grain) for value, one in zip((wing, mass), known, strict=True)
            )
            means, sds = (found.log_wing, found.log_mass), (found.log_wing_sd, found.log_mass_sd)
            for one, foretold, mean, sd in zip(known, logs, means, sds, strict=True):
                told = (found.told > 0) | (one.between_dof > self.grain.between_worth)
                mean[:] = np.where(told, foretold.mean, np.nan)
                sd[:] = np.where(told, foretold.sd, np.nan)
            if "mass_g" in self.species.curves:
                self._expect_masses(found, kin, mass, self.age[among], self.age_sd[among])
                found.age_sd[:] = self.age_sd[among]
        return found

    def _expect_masses(self, found: Expected, kin: Kin, mass: Floats, age: Floats, age_sd: Floats) -> None:
        z, more = deviations(self.species, self.mass_factor, mass, age, age_sd)
        masses = foretell(
            z, self.effects.mass_noise + more, np.ones(len(z)), kin, self.effects.mass, odd=self.grain.odd
        )
        found.shift[:] = masses.mean
        found.left[:] = np.sqrt(masses.sd**2 + self.effects.mass_noise)
