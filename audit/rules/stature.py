"""What size a bird should have, as far as species, age, company and the season's other birds tell."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from audit.models import growth
from audit.rules.birds import Birds, birds_of
from audit.rules.companions.expected import Expected
from audit.rules.companions.learnt import company_of
from audit.rules.companions.tracks import follows_wings
from audit.rules.scatter import Grain, log_between, log_runty, log_sum, log_tailed

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.declarations.species import Range, Species
    from audit.rules.companions.company import Company

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Flags = NDArray[np.bool_]
    Words = NDArray[np.object_]

__all__ = ["Birds", "Grain", "Outlook", "Sizes", "birds_of", "log_sum", "outlook_of", "sizes_of"]

_NOTHING = -np.inf
#: Variance of what lies anywhere within one step: the square of the step over this.
_TWELVE = 2 * 2 * (2 + 1)
#: Log odds beyond which one is sure, and the exponential still a number.
_SURE = float(np.log(np.finfo(np.float64).max)) / 2


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

    @property
    def follows(self) -> bool:
        """Whether wings tell ages."""
        return follows_wings(self.species)

    @property
    def _step_sd(self) -> float:
        """Standard deviation of an age that lies anywhere within one step: (b - a) / sqrt(12)."""
        return float((self.days[1] - self.days[0]) / np.sqrt(_TWELVE))

    # --- what an age says about a measure -------------------------------------------------------------

    def log_wing(self, wing: Floats, expected: Expected) -> Floats:
        """Log density of wings at each age tried, shape (n, g); nothing is said of a missing wing."""
        if self.follows:
            return self._at_ages("wing_mm", wing)
        if "wing_mm" in self.species.curves:
            plain = self._at_ages("wing_mm", wing)
        else:
            top, soft = self.ceiling("wing_mm")
            flat = np.where(np.isfinite(wing), log_between(wing, 0.0, top, soft), 0.0)
            plain = np.broadcast_to(flat[:, None], (len(wing), len(self.days)))
        near = self._near(wing, expected.log_wing, expected.log_wing_sd, "wing_mm")
        return np.where(np.isfinite(near)[:, None], near[:, None], plain)

    def log_mass(self, mass: Floats, expected: Expected, age: Floats | None = None) -> Floats:
        """Log density of masses at each age tried, shape (n, g), given what the company says.

        Parameters
        ----------
        age : numpy.ndarray, shape (n,), optional
            Recorded ages: where there is one, it tells more than the logarithms of other birds.
        """
        if self.follows:
            return self._at_ages("mass_g", mass, expected.shift, expected.left)
        plain = self._at_ages("mass_g", mass, expected.shift, expected.left, vague=expected.age_sd)
        told = expected.log_mass_sd <= self.grain.enough
        if age is not None:
            told &= np.isnan(age)
        near = self._near(mass, expected.log_mass, np.where(told, expected.log_mass_sd, np.nan), "mass_g")
        return np.where(np.isfinite(near)[:, None], near[:, None], plain)

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
        value = np.where(known, typed, 0.0)[:, None]
        curve = self.species.curves.get(column)
        top, soft = self.ceiling(column)
        if curve is None:
            flat = np.where(known, log_between(typed, 0.0, top, soft), 0.0)
            return np.broadcast_to(flat[:, None], (len(typed), len(self.days)))
        factor = self.factor(column)
        centre, sd = growth.mean(curve, self.days) * factor.value, self._spread(column, wide)
        z = (value - centre) / sd
        if shift is not None and left is not None:
            room = left[:, None]
            if vague is not None:
                # what birds of one recorded age differ by holds the mistakes in it, tried one by one
                told = growth.pace(curve, self.days) * np.nan_to_num(vague)[:, None] / sd
                room = np.sqrt(np.maximum(room**2 - told**2, room**2 * self.grain.mass_noise))
            shape = log_runty(z, shift[:, None], room, self.grain)
        else:
            shape = log_tailed(z, self.grain.track_tail_share, self.grain.track_tail_width)
        first, last = np.searchsorted(self.days, [curve.first_day, curve.last_day])
        adult = self.species.adult.get(("", column))
        floor = min(centre[last], adult.low * factor.value) if adult else centre[last]
        # younger than the curve: anything smaller than its first value; older: from its last value upwards
        result = shape - np.log(sd)
        result[:, :first] = log_between(value, 0.0, centre[first], soft)
        result[:, last + 1 :] = log_between(value, floor, top * factor.value, soft)
        result[~known] = 0.0
        return result

    def log_track(self, wing: Floats) -> Floats:
        """Log density of wings at each age, shape (n, g): the bird's own track and the luck of its visit."""
        return self._at_ages("wing_mm", wing, wide=self.company.effects.track_sd)

    def factor(self, column: str) -> growth.Factor:
        """How this season's nestlings differ from the curve of a measure."""
        if column == "mass_g":
            return self.nestling_factor
        return self.company.effects.wing_factor

    def _spread(self, column: str, wide: float = 0.0) -> Floats:
        """Give the spread at each age tried: of a wing about its own track, of a mass as declared."""
        curve = self.species.curves[column]
        sd = growth.spread(curve, self.days) * self.factor(column).value
        if column == "wing_mm" and self.follows:
            own = wide / np.sqrt(2.0) if wide else float(np.sqrt(self.company.effects.wing_noise))
            sd = sd * (own / float(growth.spread(curve, curve.last_day)))
            # ages are tried in steps, and a wing grows from one to the next
            sd = np.hypot(sd, growth.pace(curve, self.days) * self._step_sd)
        return np.asarray(sd, dtype=np.float64)

    def usual(self, column: str, shift: float, left: float) -> tuple[Floats, Floats]:
        """Give mean and standard deviation of a measure at each age tried, the company's luck included."""
        mean = growth.mean(self.species.curves[column], self.days) * self.factor(column).value
        sd = self._spread(column)
        return (mean + shift * sd, left * sd) if column == "mass_g" else (mean, sd)

    def ceiling(self, column: str) -> tuple[float, float]:
        """Largest size a nestling may have, and how sharply it ends."""
        adult = self.species.adult.get(("", column))
        curve = self.species.curves.get(column)
        margin = self.grain.margin if column == "mass_g" else 1.0
        tops = [] if curve is None else [float(growth.mean(curve, self.days).max()) * margin]
        if adult is not None:
            tops.append(adult.high)
        top = max(tops)
        return top, adult.sd if adult is not None else top / (2 * 2)

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
            sd = np.hypot(sd, np.sqrt(beside) / np.maximum(growth.pace(curve, self.days), 1.0))
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
        sd = np.hypot(np.where(known, expected.age_sd, 1.0), self._step_sd)[:, None]
        shape = np.exp(log_tailed((self.days - mean) / sd, grain.tail_share, grain.tail_width))
        total = shape.sum(axis=1, keepdims=True)
        share = shape / np.maximum(total, np.finfo(np.float64).tiny)
        trust = np.where(expected.told > 0, grain.trust_siblings, grain.trust_lonely)
        trust = np.where(expected.own > 0, grain.trust_own, trust)[:, None]
        # a company far off the ages tried tells nothing
        trust = np.where((total > 0) & known[:, None], trust, 0.0)
        return np.asarray(np.log(trust * share * g + 1 - trust), dtype=np.float64)


def sizes_of(species: Species, birds: Birds, grain: Grain) -> Sizes:
    """Learn from the birds of one species how large they are this season.

    Parameters
    ----------
    birds : Birds
        All of this species.
    """
    oldest = species.number("nestling.oldest_day") or max(
        [curve.last_day for curve in species.curves.values()], default=1.0
    )
    days = np.arange(0.0, oldest + grain.day_step, grain.day_step)
    company, nestling_factor = company_of(species, birds, grain)
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


@dataclass(frozen=True, slots=True)
class Outlook:
    """What is expected of each bird of one species.

    Attributes
    ----------
    birds : Birds
        All of the species, shape (n,).
    expected : Expected
        What the others foretell of each bird, its own measures at this visit left out, shape (n,).
    place : numpy.ndarray of int, shape (n,)
        Where each nestling stands in the company; -1 for other birds.
    """

    sizes: Sizes
    birds: Birds
    expected: Expected
    place: Ints
    _supports: dict[int, tuple[tuple[float, Expected], ...]] = field(
        default_factory=dict, repr=False, compare=False
    )

    def as_typed(self) -> tuple[Floats, Floats, Floats]:
        """Log density of all birds as typed; were the wing not known; were the mass not known."""
        birds, sizes, expected = self.birds, self.sizes, self.expected
        n = len(birds.wing)
        missing = np.full(n, np.nan)
        young = (np.zeros(n), np.zeros(n), np.zeros(n))
        nest = np.flatnonzero(birds.grown != 1)
        if len(nest):
            here = expected.of(nest)
            ages = self.log_ages(nest, here)
            wing = sizes.log_wing(birds.wing[nest], here)
            mass = sizes.log_mass(birds.mass[nest], here, birds.age[nest])
            for found, terms in zip(young, (ages + wing + mass, ages + mass, ages + wing), strict=True):
                found[nest] = log_sum(terms)
        return (
            self._by_class(young[0], birds.wing, birds.mass),
            self._by_class(young[1], missing, birds.mass),
            self._by_class(young[2], birds.wing, missing),
        )

    def distances(self) -> tuple[Floats, Floats]:
        """Tell how far wing and mass lie from what is foretold of them, in standard deviations, shape (n,).

        The least distance of a bird whose sex is not known; missing where nothing is foretold.
        """
        birds = self.birds
        wing, mass = np.full(len(birds.wing), np.nan), np.full(len(birds.wing), np.nan)
        old = birds.grown == 1
        wing[old], mass[old] = self._from_adults(old)
        nest = self.sizes.company.rows
        if len(nest):
            wing[nest], mass[nest] = self._from_company(nest)
        return wing, mass

    def _from_adults(self, old: Flags) -> tuple[Floats, Floats]:
        found = []
        for column, value in (("wing_mm", self.birds.wing[old]), ("mass_g", self.birds.mass[old])):
            least = np.full(len(value), np.nan)
            for sex in ("", "M", "F"):
                size = self.sizes.adult_range(sex, column)
                if size is not None:
                    z = np.log(value / size[0]) / size[1]
                    fits = (self.birds.sex[old] == sex) | (self.birds.sex[old] == "")
                    nearer = fits & ~(np.abs(z) >= np.abs(least))
                    least = np.where(nearer, z, least)
            found.append(least)
        return found[0], found[1]

    def _from_company(self, nest: Ints) -> tuple[Floats, Floats]:
        sizes, birds, expected = self.sizes, self.birds, self.expected.of(nest)
        if not sizes.follows:
            return (
                (np.log(birds.wing[nest]) - expected.log_wing) / expected.log_wing_sd,
                (np.log(birds.mass[nest]) - expected.log_mass) / expected.log_mass_sd,
            )
        return (
            sizes.company.wing_distances(birds.wing[nest], expected),
            sizes.company.mass_distances(birds.mass[nest], expected),
        )

    def _by_class(self, young: Floats, wing: Floats, mass: Floats) -> Floats:
        grown = self.birds.grown
        old = self.sizes.adult_evidence(wing, mass, self.birds.sex)
        old = old + self.sizes.log_any_age(self.birds.age)
        either = np.logaddexp(young, old) - np.log(2.0)
        return np.where(np.isnan(grown), either, np.where(grown == 1, old, young))

    def evidence(self, rows: NDArray[Any], wing: Floats, mass: Floats, grown: Floats) -> Floats:
        """Log density of recorded age, wing and mass of the birds at `rows`, were they of class `grown`."""
        young = self.as_nestling(rows, wing, mass)
        old = self.sizes.adult_evidence(wing, mass, self.birds.sex[rows])
        old = old + self.sizes.log_any_age(self.birds.age[rows])
        either = np.logaddexp(young, old) - np.log(2.0)
        return np.where(np.isnan(grown), either, np.where(grown == 1, old, young))

    def as_nestling(
        self,
        rows: NDArray[Any],
        wing: Floats,
        mass: Floats,
        *,
        heed_age: bool = True,
        heed_siblings: bool = True,
    ) -> Floats:
        """Log density of the birds at `rows` as nestlings, with or without what age and company say.

        The bird's other visits may be wrong themselves, or those of another bird: what they say is mixed with
        what would be expected without them.
        """
        if not heed_siblings:
            expected = Expected.nothing(len(rows), self.sizes.company.effects.mass_sd)
            return self._dense(rows, wing, mass, expected, heed_age=heed_age)
        found = np.empty(len(rows))
        for row in np.unique(rows):
            same = rows == row
            found[same] = self._of_one(int(row), wing[same], mass[same], heed_age=heed_age)
        return found

    def _of_one(self, row: int, wing: Floats, mass: Floats, *, heed_age: bool) -> Floats:
        here = np.array([row])
        found = [
            np.log(chance) + self._dense(here, wing, mass, expected, heed_age=heed_age)
            for chance, expected in self.supports(row)
        ]
        return log_sum(np.stack(found, axis=1))

    def _dense(
        self, rows: NDArray[Any], wing: Floats, mass: Floats, expected: Expected, *, heed_age: bool
    ) -> Floats:
        """Log density; one row may be given for many wings and masses."""
        sizes, age = self.sizes, self.birds.age[rows]
        recorded = (
            sizes.log_recorded(age, self.birds.age_sd[rows]) if heed_age else sizes.log_any_age(age)[:, None]
        )
        ages = recorded + sizes.log_company(expected) - np.log(len(sizes.days))
        told = age if heed_age else np.full(len(rows), np.nan)
        if len(rows) > 1:
            return log_sum(ages + sizes.log_wing(wing, expected) + sizes.log_mass(mass, expected, told))
        # many wings and masses of one bird are put together of few that differ
        (wings, of_wing), (masses, of_mass) = _distinct(wing), _distinct(mass)
        by_wing = ages + sizes.log_wing(wings, expected)
        by_mass = sizes.log_mass(masses, expected, told)
        pairs, of_pair = np.unique(of_wing * len(masses) + of_mass, return_inverse=True)
        one, other = np.divmod(pairs, len(masses))
        return log_sum(by_wing[one] + by_mass[other])[of_pair]

    def log_ages(self, rows: NDArray[Any], expected: Expected) -> Floats:
        """Log probability of each age tried, by recorded age and company, shape (k, g)."""
        recorded = self.sizes.log_recorded(self.birds.age[rows], self.birds.age_sd[rows])
        ages: Floats = recorded + self.sizes.log_company(expected) - np.log(len(self.sizes.days))
        return ages

    def most_likely(self, row: int) -> Expected:
        """Say what is expected of one bird, other visits that are rather wrong left out, shape (1,)."""
        _, expected = max(self.supports(row), key=lambda pair: pair[0])
        return expected

    def quantiles(self, row: int, column: str, levels: Floats) -> Floats:
        """Foretell a measure of one nestling from everything but itself.

        Parameters
        ----------
        row : int
            Which bird of the outlook.
        column : {'wing_mm', 'mass_g'}
        levels : numpy.ndarray, shape (q,)
            Between 0 and 1.

        Returns
        -------
        numpy.ndarray, shape (q,)
            In the unit of the measure.
        """
        top, soft = self.sizes.ceiling(column)
        values = np.linspace(0.0, top + 2 * soft, int(self.sizes.grain.sizes_tried) + 1)[1:]
        other = self.birds.mass[row] if column == "wing_mm" else self.birds.wing[row]
        beside = np.full(len(values), other)
        pair = (values, beside) if column == "wing_mm" else (beside, values)
        dense = self._of_one(row, *pair, heed_age=True)
        share = np.cumsum(np.exp(dense - dense.max()))
        return np.interp(levels, share / share[-1], values)

    def supports(self, row: int) -> tuple[tuple[float, Expected], ...]:
        """Say what is foretold of a nestling, and how likely: as typed, or were its other visits wrong."""
        if row not in self._supports:
            self._supports[row] = self._weigh_support(row)
        return self._supports[row]

    def _weigh_support(self, row: int) -> tuple[tuple[float, Expected], ...]:
        company, place = self.sizes.company, int(self.place[row])
        as_typed = self.expected.of(np.array([row]))
        if place < 0:
            return ((1.0, as_typed),)
        support = company.supporters(place)
        support = support[np.isfinite(company.wing[support]) | np.isfinite(company.mass[support])]
        if not len(support):
            return ((1.0, as_typed),)
        own = support[company.kin.bird[support] == company.kin.bird[place]]
        ring = company.ring_doubt(place, own)
        among = np.append(support, place)
        right = np.prod([1 - np.array(self._wrong(int(other), among)) for other in support], axis=0)
        wing, mass = 1 - right
        none = support[:0]
        found = [
            ((1 - ring) * (1 - wing) * (1 - mass), as_typed),
            ((1 - ring) * wing * (1 - mass), company.expect_without(place, support, none)),
            ((1 - ring) * (1 - wing) * mass, company.expect_without(place, none, support)),
            (ring + (1 - ring) * wing * mass, company.expect_without(place, support, support)),
        ]
        return tuple((float(chance), expected) for chance, expected in found if chance > 0)

    def _wrong(self, other: int, among: Ints) -> tuple[float, float]:
        """Probability that wing, and that mass, of a nestling is wrong, by all but those of its own bird."""
        company, sizes = self.sizes.company, self.sizes
        beside = among[among != other]
        expected = company.expect_without(other, beside, beside)
        rows = company.rows[[other]]
        wing, mass, gone = company.wing[[other]], company.mass[[other]], np.array([np.nan])
        fine = float(self._dense(rows, wing, mass, expected, heed_age=True)[0])
        odds = []
        for column, value, rest in (("wing_mm", wing, (gone, mass)), ("mass_g", mass, (wing, gone))):
            one = 0.0
            if np.isfinite(value[0]):
                anything = float(log_any(sizes, column, value)[0])
                left = float(self._dense(rows, rest[0], rest[1], expected, heed_age=True)[0])
                one = float(np.exp(min(np.log(sizes.grain.slip) + anything + left - fine, _SURE)))
            odds.append(one)
        return odds[0] / (1 + sum(odds)), odds[1] / (1 + sum(odds))


def _distinct(values: Floats) -> tuple[Floats, Ints]:
    """Return the values that differ, missing ones as one of them, and which of these each is."""
    some, at = np.unique(values, return_inverse=True)
    return some, np.asarray(at, dtype=np.int64)


def log_any(sizes: Sizes, column: str, value: Floats) -> Floats:
    """Log density of a value typed for no known reason: any size, the larger the less likely."""
    scale = sizes.ceiling(column)[0]
    density = 2 / (np.pi * scale * (1 + (value / scale) ** 2))
    return np.where(np.isnan(value), -np.inf, np.log(density))


def outlook_of(sizes: Sizes, birds: Birds) -> Outlook:
    """Say what is expected of each bird of one species; full-grown birds in the box lend nothing."""
    company = sizes.company
    n = len(birds.wing)
    expected = Expected.nothing(n, company.effects.mass_sd)
    place = np.full(n, -1, dtype=np.int64)
    if len(company.rows):
        expected.put(company.rows, company.expect())
        place[company.rows] = np.arange(len(company.rows))
        # of a bird coded full-grown, the nestlings beside it tell what it would be if it were one of them
        beside = np.flatnonzero((birds.grown == 1) & np.isin(birds.visit, birds.visit[company.rows]))
        expected.put(beside, company.expect_beside(birds.visit[beside]))
    return Outlook(sizes, birds, expected, place)
