"""What sizes the birds of one species have this season."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from audit.models import growth
from audit.models.hatching_gaps import log_age_beside
from audit.rules.ages_tried import AtAges, at_ages, step_sd
from audit.rules.companions.expected import Expected
from audit.rules.companions.learnt import company_of
from audit.rules.companions.recalled import anew
from audit.rules.companions.tracks import follows_wings
from audit.rules.scatter import log_between, log_runty, log_sum, log_tailed

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from audit.declarations.species import Range, Species
    from audit.rules.birds import Birds
    from audit.rules.companions.company import Company
    from audit.rules.companions.recalled import Recall
    from audit.rules.scatter import Grain

    Flags = NDArray[np.bool_]
    Floats = NDArray[np.float64]
    Words = NDArray[np.object_]

__all__ = ["Sizes", "log_any", "sizes_of"]

_NOTHING = -np.inf
#: Variance of what lies anywhere within one step: the square of the step over this.
_TWELVE = 2 * 2 * (2 + 1)


@dataclass(frozen=True, slots=True)
class Sizes:
    """What sizes the birds of one species have this season.

    Attributes
    ----------
    days : numpy.ndarray, shape (g,)
        Ages that are tried, days since hatching.
    nestling_factor, adult_factor, wing_factor : growth.Factor
        How this season's birds differ from the declared ones: mass of nestlings and adults, wing of adults.
    company : Company
        The nestlings, what was learnt from them, and what they foretell of each other.
    """

    species: Species
    grain: Grain
    days: Floats
    nestling_factor: growth.Factor
    adult_factor: growth.Factor
    wing_factor: growth.Factor
    company: Company
    _tables: dict[tuple[str, float], AtAges] = field(default_factory=dict, repr=False, compare=False)
    _ceilings: dict[str, tuple[float, float]] = field(default_factory=dict, repr=False, compare=False)

    @property
    def follows(self) -> bool:
        """Whether wings tell ages."""
        return follows_wings(self.species)

    # --- what an age says about a measure -------------------------------------------------------------

    def log_wing(self, wing: Floats, expected: Expected) -> Floats:
        """Log density of wings at each age tried, shape (n, g); nothing is said of a missing wing."""
        if self.follows:
            return self._at_ages("wing_mm", wing)
        near = self._near(wing, expected.log_wing, expected.log_wing_sd, "wing_mm")
        return self._near_or(near, lambda rows: self._at_ages("wing_mm", wing[rows]))

    def log_mass(self, mass: Floats, expected: Expected, age: Floats | None = None) -> Floats:
        """Log density of masses at each age tried, shape (n, g), given what the company says.

        Parameters
        ----------
        age : numpy.ndarray, shape (n,), optional
            Recorded ages: where there is one, it tells more than the logarithms of other birds.
        """
        if self.follows:
            return self._at_ages("mass_g", mass, expected.shift, expected.left)
        told = expected.log_mass_sd <= self.grain.enough
        if age is not None:
            told &= np.isnan(age)
        near = self._near(mass, expected.log_mass, np.where(told, expected.log_mass_sd, np.nan), "mass_g")
        return self._near_or(
            near,
            lambda rows: self._at_ages(
                "mass_g", mass[rows], expected.shift[rows], expected.left[rows], vague=expected.age_sd[rows]
            ),
        )

    def _near_or(self, near: Floats, plain: Callable[[Flags], Floats]) -> Floats:
        """Log density at each age tried: by other birds, the same at all; by the curve where none tell."""
        result = np.repeat(near[:, None], len(self.days), axis=1)
        rest = ~np.isfinite(near)
        if rest.any():
            result[rest] = plain(rest)
        return result

    def _near(self, value: Floats, log_mean: Floats, log_sd: Floats, column: str) -> Floats:
        """Log density of measures that the logarithms of other birds foretell; missing where they do not."""
        grain = self.grain
        top, soft = self.ceiling(column)
        known = np.isfinite(value) & np.isfinite(log_mean) & np.isfinite(log_sd)
        size, sd = np.where(known, value, 1.0), np.where(known, log_sd, 1.0)
        z = (np.log(size) - np.where(known, log_mean, 0.0)) / sd
        if column == "mass_g":
            within = np.full(len(value), np.sqrt(self.company.effects.log_mass.within))
            dense = log_runty(z * sd / within, np.zeros(len(value)), sd / within, grain) - np.log(within)
        else:
            dense = log_tailed(z, grain.tail_share, grain.tail_width) - np.log(sd)
        dense = dense - np.log(size)
        # nothing is heavier or longer than the largest bird
        dense -= (np.maximum(size - top, 0.0) / soft) ** 2 / 2
        anywhere = log_between(size, 0.0, top, soft)
        trust = grain.trust_wings
        both = np.logaddexp(np.log(trust) + dense, np.log1p(-trust) + anywhere)
        return np.where(known, both, np.where(np.isfinite(value), np.nan, 0.0))

    def _at_ages(
        self,
        column: str,
        typed: Floats,
        shift: Floats | None = None,
        left: Floats | None = None,
        wide: float = 0.0,
        vague: Floats | None = None,
    ) -> Floats:
        known = np.isfinite(typed)
        curve = self.species.curves.get(column)
        top, soft = self.ceiling(column)
        if curve is None:
            flat = np.where(known, log_between(typed, 0.0, top, soft), 0.0)
            return np.broadcast_to(flat[:, None], (len(typed), len(self.days)))
        if not known.all():
            result = np.zeros((len(typed), len(self.days)))
            if known.any():
                shift, left, vague = (None if one is None else one[known] for one in (shift, left, vague))
                result[known] = self._at_ages(column, typed[known], shift, left, wide, vague)
            return result
        value = typed[:, None]
        at = self._at(column, wide)
        centre, sd = at.centre, at.sd
        z = (value - centre) / sd
        if shift is not None and left is not None:
            room = left[:, None]
            if vague is not None:
                # what birds of one recorded age differ by holds the mistakes in it, tried one by one
                told = at.pace * np.nan_to_num(vague)[:, None] / sd
                room = np.sqrt(np.maximum(room**2 - told**2, room**2 * self.grain.mass_noise))
            shape = log_runty(z, shift[:, None], room, self.grain)
        else:
            shape = log_tailed(z, self.grain.track_tail_share, self.grain.track_tail_width)
        adult, factor = self.species.adult.get(("", column)), self.factor(column).value
        floor = min(centre[at.last], adult.low * factor) if adult else centre[at.last]
        # younger than the curve: anything smaller than its first value; older: from its last value upwards
        result = shape - at.log_sd
        result[:, : at.first] = log_between(value, 0.0, centre[at.first], soft)
        result[:, at.last + 1 :] = log_between(value, floor, top * factor, soft)
        return result

    def log_track(self, wing: Floats) -> Floats:
        """Log density of wings at each age, shape (n, g): the bird's own track and the luck of its visit."""
        return self._at_ages("wing_mm", wing, wide=self.company.effects.track_sd)

    def factor(self, column: str) -> growth.Factor:
        """How this season's nestlings differ from the curve of a measure."""
        if column == "mass_g":
            return self.nestling_factor
        return self.company.effects.wing_factor

    def _at(self, column: str, wide: float = 0.0) -> AtAges:
        """Give a measure at each age tried: spread of a wing about its own track, of a mass as declared."""
        if (column, wide) not in self._tables:
            own = None
            if column == "wing_mm" and self.follows:
                own = wide / np.sqrt(2.0) if wide else float(np.sqrt(self.company.effects.wing_noise))
            curve = self.species.curves[column]
            self._tables[column, wide] = at_ages(curve, self.days, self.factor(column).value, own)
        return self._tables[column, wide]

    def usual(self, column: str, shift: float, left: float) -> tuple[Floats, Floats]:
        """Give mean and standard deviation of a measure at each age tried, the company's luck included."""
        mean, sd = self._at(column).centre, self._at(column).sd
        return (mean + shift * sd, left * sd) if column == "mass_g" else (mean, sd)

    def ceiling(self, column: str) -> tuple[float, float]:
        """Largest size a nestling may have, and how sharply it ends."""
        if column not in self._ceilings:
            adult = self.species.adult.get(("", column))
            curve = self.species.curves.get(column)
            margin = self.grain.margin if column == "mass_g" else 1.0
            tops = [] if curve is None else [float(growth.mean(curve, self.days).max()) * margin]
            if adult is not None:
                tops.append(adult.high)
            top = max(tops)
            self._ceilings[column] = top, adult.sd if adult is not None else top / (2 * 2)
        return self._ceilings[column]

    def knows(self, column: str) -> bool:
        """Whether a curve or an adult range is declared for this measure."""
        return column in self.species.curves or ("", column) in self.species.adult

    # --- full-grown birds -----------------------------------------------------------------------------

    def adult_range(self, sex: str, column: str) -> tuple[float, float] | None:
        """Centre of full-grown birds and the spread of its logarithm, this season's factor included."""
        size: Range | None = self.species.adult.get((sex, column)) or self.species.adult.get(("", column))
        if size is None:
            return None
        factor = self.adult_factor if column == "mass_g" else self.wing_factor
        return size.middle * factor.value, float(np.hypot(size.log_sd, factor.sd))

    def adult_evidence(self, wing: Floats, mass: Floats, sex: Words) -> Floats:
        """Log density of full-grown birds, shape (n,)."""
        sexed = any(key[0] for key in self.species.adult)
        result = np.full(len(wing), _NOTHING)
        if not sexed:
            return self._adult_of("", wing, mass)
        for one in ("M", "F"):
            fits = np.where(sex == one, 0.0, np.where(sex == "", -np.log(2.0), _NOTHING))
            result = np.logaddexp(result, fits + self._adult_of(one, wing, mass))
        return result

    def _adult_of(self, sex: str, wing: Floats, mass: Floats) -> Floats:
        total = np.zeros(len(wing))
        for column, value in (("wing_mm", wing), ("mass_g", mass)):
            size = self.adult_range(sex, column)
            if size is None:
                continue
            known = np.where(np.isnan(value), size[0], value)
            z = np.log(known / size[0]) / size[1]
            one = log_tailed(z, self.grain.tail_share, self.grain.tail_width) - np.log(size[1] * known)
            total += np.where(np.isnan(value), 0.0, one)
        return total

    # --- nestlings ------------------------------------------------------------------------------------

    def log_recorded(self, age: Floats, age_sd: Floats) -> Floats:
        """Log probability of the recorded age at each age tried, shape (n, g); 0 where none was recorded."""
        result = np.zeros((len(age), len(self.days)))
        known = np.isfinite(age)
        if not known.any():
            return result
        # a recorded age is a whole number of days
        sd = np.hypot(age_sd[known], 1 / np.sqrt(_TWELVE))[:, None]
        if self.follows:
            # wings of one age differ by more than a wing does from its own track
            curve = self.species.curves["wing_mm"]
            beside = np.maximum(growth.spread(curve, self.days) ** 2 - self.company.effects.wing_noise, 0.0)
            sd = np.hypot(sd, np.sqrt(beside) / np.maximum(self._at("wing_mm").pace, 1.0))
        z = (age[known, None] - self.days) / sd
        result[known] = log_tailed(z, self.grain.tail_share, self.grain.tail_width) - np.log(sd)
        return result

    def log_any_age(self, age: Floats) -> Floats:
        """Log probability of a recorded age that has nothing to do with the bird, shape (n,)."""
        return np.where(np.isnan(age), 0.0, -np.log(self.days[-1] + 1))

    def nestling_evidence(self, wing: Floats, mass: Floats) -> Floats:
        """Log density of nestlings of which nothing else is known, shape (n,)."""
        expected = Expected.nothing(len(wing), self.company.effects.mass_sd)
        measures = self.log_wing(wing, expected) + self.log_mass(mass, expected)
        return log_sum(measures - np.log(len(self.days)))

    def log_company(self, expected: Expected) -> Floats:
        """Log ratio of each age tried, by the company, to an age that nothing is known of, shape (n, g)."""
        n, g = len(expected.age), len(self.days)
        known = np.isfinite(expected.age)
        if not self.follows or not known.any():
            return np.zeros((n, g))
        grain = self.grain
        mean = np.where(known, expected.age, 0.0)[:, None]
        sd = np.hypot(np.where(known, expected.age_sd, 1.0), step_sd(self.days))[:, None]
        shape = np.exp(log_tailed((self.days - mean) / sd, grain.tail_share, grain.tail_width))
        gaps = self.company.effects.gaps
        # a bird's own other visits tell more than its siblings
        beside = np.isfinite(expected.youngest) & (expected.own == 0)
        if gaps is not None and beside.any():
            among = log_age_beside(gaps, self.days, expected.youngest[beside], expected.oldest[beside])
            shape[beside] = np.exp(among)
        total = shape.sum(axis=1, keepdims=True)
        share = shape / np.maximum(total, np.finfo(np.float64).tiny)
        trust = np.where(expected.told > 0, grain.trust_siblings, grain.trust_lonely)
        trust = np.where(expected.own > 0, grain.trust_own, trust)[:, None]
        # a company far off the ages tried tells nothing
        trust = np.where((total > 0) & known[:, None], trust, 0.0)
        return np.asarray(np.log(trust * share * g + 1 - trust), dtype=np.float64)


def sizes_of(species: Species, birds: Birds, grain: Grain, recall: Recall = anew) -> Sizes:
    """Learn from the birds of one species how large they are this season.

    Parameters
    ----------
    birds : Birds
        All of this species.
    recall : callable
        Recalls what was learnt of the same wings, or masses, before.
    """
    oldest = species.number("nestling.oldest_day") or max(
        [curve.last_day for curve in species.curves.values()], default=1.0
    )
    days = np.arange(0.0, oldest + grain.day_step, grain.day_step)
    company, nestling_factor = company_of(species, birds, grain, recall)
    none = growth.Factor(1.0, 0.0, 0)
    plain = Sizes(species, grain, days, none, none, none, company)
    old = birds.of(birds.grown == 1)
    adult = {}
    for column, value, prior_sd, group_sd in (
        ("mass_g", old.mass, grain.mass_factor_sd, grain.mass_brood_sd),
        ("wing_mm", old.wing, grain.wing_factor_sd, grain.wing_bird_sd),
    ):
        centre = np.full(len(value), np.nan)
        for sex in ("", "M", "F"):
            size = plain.adult_range(sex, column)
            if size is not None:
                centre[old.sex == sex] = size[0]
        adult[column] = growth.population_factor(
            np.log(value / centre),
            np.arange(len(value)),
            prior_sd=prior_sd,
            group_sd=group_sd,
            clip=grain.clip,
        )
    return Sizes(species, grain, days, nestling_factor, adult["mass_g"], adult["wing_mm"], company)


def log_any(sizes: Sizes, column: str, value: Floats) -> Floats:
    """Log density of a value typed for no known reason: any size, the larger the less likely."""
    scale = sizes.ceiling(column)[0]
    density = 2 / (np.pi * scale * (1 + (value / scale) ** 2))
    return np.where(np.isnan(value), -np.inf, np.log(density))
