"""What a nestling's company foretells of it: own other visits, siblings, the season's other broods."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from audit.models import effects, growth
from audit.models.effects import Prior, shrunk
from audit.models.kinship import Kin, Shares, foretell, kin_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.declarations.species import Species
    from audit.models.growth import Curve
    from audit.rules.birds import Birds
    from audit.rules.scatter import Grain

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["Company", "Effects", "Expected", "company_of", "follows_wings"]


@dataclass(frozen=True, slots=True)
class Expected:
    """What is expected of each bird, its own measures at this visit left out; shape (n,), missing if nothing.

    Attributes
    ----------
    age, age_sd : numpy.ndarray
        Days since hatching, as told by wings; where wings tell none, how sure recorded ages are.
    shift, left : numpy.ndarray
        Deviation of mass given wing, and its standard deviation, in declared spreads.
    log_wing, log_wing_sd, log_mass, log_mass_sd : numpy.ndarray
        Logarithms, for species whose wings tell no age.
    told, own : numpy.ndarray of float
        How many others of the brood were measured; how many of them are other visits of the bird.
    """

    age: Floats
    age_sd: Floats
    shift: Floats
    left: Floats
    log_wing: Floats
    log_wing_sd: Floats
    log_mass: Floats
    log_mass_sd: Floats
    told: Floats
    own: Floats

    @classmethod
    def nothing(cls, n: int, left: float) -> Expected:
        """Say nothing of n birds, but how widely masses scatter."""
        missing = {name: np.full(n, np.nan) for name in cls.__dataclass_fields__}
        known = {"shift": np.zeros(n), "left": np.full(n, left), "told": np.zeros(n), "own": np.zeros(n)}
        return cls(**{**missing, **known})

    def of(self, rows: NDArray[np.generic]) -> Expected:
        """Return what is expected of some birds."""
        return Expected(**{name: getattr(self, name)[rows] for name in self.__dataclass_fields__})

    def put(self, rows: NDArray[np.generic], other: Expected) -> None:
        """Take over what another says of some birds."""
        for name in self.__dataclass_fields__:
            getattr(self, name)[rows] = getattr(other, name)


@dataclass(frozen=True, slots=True)
class Effects:
    """How much the birds of this season differ: learnt from them, drawn towards what is declared.

    Attributes
    ----------
    wing_factor : growth.Factor
        How many times longer wings of nestlings are than the curve says.
    wing_noise, wing_visit : float
        Variance of wings about the bird's own track, and of what the birds of one visit have in common, mm2.
    first_age, age_between, age_within : float
        Usual age at the first visit to a brood, days; variances between broods and within them.
    mass : Shares
        Variances of mass given wing, in declared variances.
    mass_noise : float
    log_wing, log_mass : effects.OneWay
        Logarithms of species whose wings tell no age.
    """

    wing_factor: growth.Factor
    wing_noise: float
    wing_visit: float
    first_age: float
    age_between: float
    age_within: float
    mass: Shares
    mass_noise: float
    log_wing: effects.OneWay
    log_mass: effects.OneWay

    @property
    def track_sd(self) -> float:
        """Standard deviation of a wing about what the bird's own earlier wing foretells, mm."""
        return float(np.sqrt(2 * (self.wing_noise + self.wing_visit)))

    @property
    def mass_sd(self) -> float:
        """Standard deviation of mass given wing among all birds, in declared spreads."""
        shares = self.mass
        return float(np.sqrt(shares.brood + shares.bird + shares.visit + self.mass_noise))


def follows_wings(species: Species) -> bool:
    """Whether the curve of wings covers enough of a nestling's life to tell ages."""
    curve = species.curves.get("wing_mm")
    oldest = species.number("nestling.oldest_day")
    if curve is None or "mass_g" not in species.curves:
        return False
    return oldest is None or curve.last_day - curve.first_day > oldest / 2


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
        among = np.flatnonzero(self.kin.brood == self.kin.brood[place])
        kin = kin_of(
            self.kin.brood[among], self.kin.bird[among], self.kin.visit[among], most=int(self.grain.most)
        )
        wing, mass = self.wing[among].copy(), self.mass[among].copy()
        wing[np.isin(among, wings)] = np.nan
        mass[np.isin(among, masses)] = np.nan
        found = self._expect(kin, wing, mass, among)
        return found.of(np.flatnonzero(among == place))

    def expect_beside(self, visits: Ints) -> Expected:
        """Say what a further nestling would be like at each of these visits, shape (len(visits),)."""
        known = self.effects
        found = Expected.nothing(len(visits), known.mass_sd)
        told = np.isfinite(self.wing) | np.isfinite(self.mass)
        found.told[:] = _per_visit(told.astype(np.float64), self.kin.visit, visits) > 0
        if follows_wings(self.species):
            age, _ = self.ages()
            found.age[:] = _per_visit(np.where(np.isfinite(self.wing), age, np.nan), self.kin.visit, visits)
            found.age_sd[:] = np.sqrt(2 * known.age_within)
            return found
        for value, spread, mean, sd in (
            (self.wing, known.log_wing, found.log_wing, found.log_wing_sd),
            (self.mass, known.log_mass, found.log_mass, found.log_mass_sd),
        ):
            mean[:] = _per_visit(np.log(value), self.kin.visit, visits)
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
        z, vague = _deviations(self.species, self.mass_factor, mass, age, age_sd)
        return np.asarray((z - expected.shift) / np.sqrt(expected.left**2 + vague), dtype=np.float64)

    def told(self) -> Floats:
        """How many others of its brood were measured, for each nestling."""
        return _others(self.kin.brood, self.wing, self.mass)

    def _expect(self, kin: Kin, wing: Floats, mass: Floats, among: Ints) -> Expected:
        found = Expected.nothing(len(wing), self.effects.mass_sd)
        found.told[:] = _others(kin.brood, wing, mass)
        found.own[:] = _others(kin.bird, wing, mass)
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
        track = _track(self.species, self.grain, known.wing_factor.value, kin, wing, day, known.first_age)
        noise = known.wing_noise * track.room**2
        wings = foretell(
            track.hatched - known.first_age,
            noise / track.pace**2,
            1 / track.pace,
            kin,
            Shares(known.age_between, known.age_within, known.wing_visit),
            odd=self.grain.odd,
        )
        found.age[:] = wings.mean + known.first_age + track.since
        found.age_sd[:] = wings.sd
        return _best_age(track, found, noise, self.grain.odd)

    def _expect_masses(self, found: Expected, kin: Kin, mass: Floats, age: Floats, age_sd: Floats) -> None:
        z, more = _deviations(self.species, self.mass_factor, mass, age, age_sd)
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
            scatter = _scatter_by_visit(np.log(value), kin.visit, known.within, self.grain)
            foretold = foretell(
                np.log(value) - known.mean,
                own * scatter,
                np.ones(len(value)),
                kin,
                Shares(0.0, known.within * stays, known.between),
                odd=self.grain.odd,
            )
            told = (found.told > 0) | (known.between_dof > self.grain.between_worth)
            mean[:] = np.where(told, foretold.mean + known.mean, np.nan)
            # in a brood that scatters, the birds themselves do
            wide = foretold.sd**2 + own + known.within * (scatter - 1)
            sd[:] = np.where(told, np.sqrt(wide), np.nan)


def company_of(species: Species, birds: Birds, grain: Grain) -> tuple[Company, growth.Factor]:
    """Learn from the nestlings of one species how much they differ, and how heavy they are."""
    rows = np.flatnonzero((birds.grown == 0) & np.isfinite(birds.day))
    young = birds.of(rows)
    kin = kin_of(young.brood, young.ring, young.visit, most=int(grain.most))
    wing = np.where(young.wing > _longest(species), np.nan, young.wing)
    learnt = _Season(species, grain, kin, wing, young)
    known, factor = learnt.by_ages() if follows_wings(species) else learnt.by_logs()
    company = _gathered(species, grain, rows, kin, wing, young, known, factor.value)
    return company, factor


def _gathered(
    species: Species,
    grain: Grain,
    rows: Ints,
    kin: Kin,
    wing: Floats,
    young: Birds,
    known: Effects,
    mass_factor: float,
) -> Company:
    measured = (wing, young.mass, young.day, young.tag, young.age, young.age_sd)
    return Company(species, grain, rows, kin, *measured, known, mass_factor)


def _longest(species: Species) -> float:
    """No wing is longer than this, whatever the bird."""
    adult, curve = species.adult.get(("", "wing_mm")), species.curves.get("wing_mm")
    if adult is not None:
        return adult.high + 2 * adult.sd
    return np.inf if curve is None else float(growth.mean(curve, curve.last_day)) * 2


@dataclass(frozen=True, slots=True)
class _Season:
    """The nestlings of one species, to learn from."""

    species: Species
    grain: Grain
    kin: Kin
    wing: Floats
    young: Birds

    def by_logs(self) -> tuple[Effects, growth.Factor]:
        """Learn logarithms, for species whose wings tell no age; masses where ages were recorded."""
        grain = self.grain
        logs = [
            _drawn(
                np.log(value),
                self.kin.visit,
                grain,
                # broods are visited at any age, so that a few of them tell more than what is declared
                Prior(grain.log_between_sd**2, 1.0),
                Prior(within**2, grain.log_worth),
            )
            for value, within in ((self.wing, grain.wing_like_sd), (self.young.mass, grain.mass_like_sd))
        ]
        mass = Shares(grain.mass_brood, grain.mass_bird, grain.mass_visit)
        none = growth.Factor(1.0, grain.wing_factor_sd, 0)
        known = Effects(none, 0.0, 0.0, 0.0, 0.0, 0.0, mass, grain.mass_noise, logs[0], logs[1])
        if "mass_g" not in self.species.curves:
            return known, growth.Factor(1.0, grain.mass_factor_sd, 0)
        return self._masses(known, self.young.age, self.young.age_sd, self._meetings())

    def by_ages(self) -> tuple[Effects, growth.Factor]:
        """Learn wings about their own tracks, ages of broods, and masses given wings."""
        grain = self.grain
        earlier, later, together = self._meetings()
        factor = self._wing_factor(earlier, later, together)
        own = self._own_sd() ** 2
        share = grain.wing_visit_share
        track = _drawn(
            self._off_track(factor.value, earlier, later),
            together,
            grain,
            Prior(own * share, grain.between_worth),
            Prior(own * (1 - share), grain.prior_worth),
        )
        # two wings, and two visits, make one difference
        noise, visit = track.within / 2, track.between / 2
        first_age, between, within = self._ages(factor.value, noise)
        mass = Shares(grain.mass_brood, grain.mass_bird, grain.mass_visit)
        nothing = effects.OneWay(0.0, 0.0, 0.0, 0.0, 0.0)
        known = Effects(
            factor, noise, visit, first_age, between, within, mass, grain.mass_noise, nothing, nothing
        )
        rows = np.arange(len(self.wing))
        company = _gathered(self.species, grain, rows, self.kin, self.wing, self.young, known, 1.0)
        age, age_sd = company.ages()
        told = np.isfinite(self.wing) | (company.told() > 0)
        return self._masses(known, np.where(told, age, np.nan), age_sd, (earlier, later, together))

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

    def _off_track(self, factor: float, earlier: Ints, later: Ints) -> Floats:
        """Millimetres by which wings differ from what the earlier wing of the bird foretells."""
        curve = self.species.curves["wing_mm"]
        gap = self.young.day[later] - self.young.day[earlier]
        age = np.minimum(growth.age_of(curve, self.wing[earlier] / factor) + gap, curve.last_day)
        return np.asarray(self.wing[later] - factor * growth.mean(curve, age), dtype=np.float64)

    def _wing_factor(self, earlier: Ints, later: Ints, together: Ints) -> growth.Factor:
        """Try factors in small steps: the wings of one bird, and recorded ages, tell which one fits."""
        grain, curve = self.grain, self.species.curves["wing_mm"]
        steps = np.linspace(-grain.clip, grain.clip, int(grain.factors_tried)) * grain.wing_factor_sd
        cost = (steps / grain.wing_factor_sd) ** 2 / 2
        own = self._own_sd()
        share = grain.wing_visit_share
        age = self.young.age
        told = (age >= curve.first_day) & (age <= curve.last_day)
        at = np.where(told, age, curve.first_day)
        wide = np.hypot(growth.spread(curve, at), growth.pace(curve, at) * self.young.age_sd)
        for k, step in enumerate(steps):
            factor = float(np.exp(step))
            off = self._off_track(factor, earlier, later) / own
            cost[k] += _misfit(off, together, share, grain.clip)
            beside = np.where(told, (self.wing - factor * growth.mean(curve, at)) / wide, np.nan)
            cost[k] += _misfit(beside, self.kin.brood, share, grain.clip)
        chance = np.exp(cost.min() - cost)
        chance /= chance.sum()
        middle = float(chance @ steps)
        sd = float(np.sqrt(chance @ (steps - middle) ** 2))
        return growth.Factor(float(np.exp(middle)), sd, len(np.unique(together)))

    def _ages(self, factor: float, noise: float) -> tuple[float, float, float]:
        """Usual age at the first visit to a brood, and its variance between broods and within them."""
        grain, species = self.grain, self.species
        curve = species.curves["wing_mm"]
        gap = species.number("nestling.sibling_sd_days")
        alike = grain.age_within_sd**2 if gap is None else gap**2 / 2
        youngest, oldest = (species.number(f"ringing.{name}_day") for name in ("youngest", "oldest"))
        usual = (
            (curve.first_day + curve.last_day) / 2
            if youngest is None or oldest is None
            else (youngest + oldest) / 2
        )
        track = _track(species, grain, factor, self.kin, self.wing, self.young.day, usual)
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
        return middle, found.between, max(within, grain.least_share * alike)

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
        z, _ = _deviations(species, factor.value, np.where(inside, young.mass, np.nan), at, age_sd)
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


def _others(group: Ints, wing: Floats, mass: Floats) -> Floats:
    measured = (np.isfinite(wing) | np.isfinite(mass)).astype(np.float64)
    _, code = np.unique(group, return_inverse=True)
    return np.asarray(np.bincount(code, weights=measured)[code] - measured, dtype=np.float64)


def _misfit(off: Floats, group: Ints, share: float, clip: float) -> float:
    """How badly the means of groups fit 0, as minus a log density; no group weighs without end."""
    known = np.isfinite(off)
    if not known.any():
        return 0.0
    _, code = np.unique(group[known], return_inverse=True)
    n = np.bincount(code).astype(np.float64)
    mean = np.bincount(code, weights=np.clip(off[known], -clip, clip)) / n
    z2 = mean**2 / (share + (1 - share) / n)
    return float(np.minimum(z2, clip**2).sum() / 2)


def _drawn(values: Floats, group: Ints, grain: Grain, between: Prior, within: Prior) -> effects.OneWay:
    """Split a variance, wild values cut and both parts drawn towards what is known."""
    found = effects.one_way(values, group, clip=grain.clip, between=between, within=within)
    return replace(
        found,
        between=shrunk(found.between, found.between_dof, between),
        within=shrunk(found.within, found.within_dof, within),
    )


@dataclass(frozen=True, slots=True)
class _Track:
    """Wings as ages, shape (n,).

    Attributes
    ----------
    age, hatched : numpy.ndarray
        Age that the wing tells; the same at the first visit to the brood.
    since : numpy.ndarray
        Days from that visit.
    pace : numpy.ndarray
        Millimetres a day at that age.
    room : numpy.ndarray
        How widely wings scatter at that age, as a share of the widest.
    """

    age: Floats
    hatched: Floats
    since: Floats
    pace: Floats
    room: Floats


def _track(
    species: Species, grain: Grain, factor: float, kin: Kin, wing: Floats, day: Floats, usual: float
) -> _Track:
    curve: Curve = species.curves["wing_mm"]
    _, code = np.unique(kin.brood, return_inverse=True)
    first = np.full(int(code.max(initial=-1)) + 1, np.inf)
    np.minimum.at(first, code, day)
    since = day - first[code]
    age = growth.age_of(curve, wing / factor)
    # a wild wing must not tell the pace
    middle = np.where(np.isfinite(age), age, np.nan)
    by_visit = _medians_beside(middle, kin.visit)
    by_visit = np.where(np.isfinite(by_visit), by_visit, usual + since)
    reach = grain.age_between_sd
    near = np.clip(np.where(np.isfinite(age), age, by_visit), by_visit - reach, by_visit + reach)
    near = np.clip(near, curve.first_day, curve.last_day)
    widest = float(growth.spread(curve, curve.last_day))
    # a wing that hardly grows any more tells hardly any age
    slowest = float(growth.pace(curve, curve.last_day))
    pace = np.maximum(growth.pace(curve, near), slowest) * factor
    return _Track(age, age - since, since, pace, growth.spread(curve, near) / widest)


def _medians_beside(values: Floats, group: Ints) -> Floats:
    """Median of the group of each value; missing where none is known."""
    result = np.full(len(values), np.nan)
    known = np.isfinite(values)
    if known.any():
        codes, code = np.unique(group[known], return_inverse=True)
        medians = growth.group_medians(values[known], code)
        place = np.clip(np.searchsorted(codes, group), 0, len(codes) - 1)
        result = np.where(codes[place] == group, medians[place], np.nan)
    return result


def _per_visit(values: Floats, group: Ints, visits: Ints) -> Floats:
    """Median of the values at each visit; missing where none is known."""
    found = _medians_beside(np.r_[values, np.full(len(visits), np.nan)], np.r_[group, visits])
    return found[len(values) :]


def _best_age(track: _Track, found: Expected, noise: Floats, odd: float) -> tuple[Floats, Floats]:
    """Age by own wing and company; by company alone where the wing does not suit it."""
    own = noise / track.pace**2
    off = track.age - found.age
    both = found.age_sd**2 + own
    suits = np.isfinite(off) & (off**2 < odd**2 * both)
    age = np.where(suits, found.age + np.where(suits, off, 0.0) * found.age_sd**2 / both, found.age)
    sd = np.where(suits, np.sqrt(found.age_sd**2 * own / both), found.age_sd)
    return age, sd


def _deviations(
    species: Species, factor: float, mass: Floats, age: Floats, age_sd: Floats
) -> tuple[Floats, Floats]:
    """Deviation of masses from the curve in declared spreads, and the variance that a vague age adds."""
    curve = species.curves["mass_g"]
    inside = (age >= curve.first_day) & (age <= curve.last_day)
    at = np.where(inside, age, curve.first_day)
    spread = growth.spread(curve, at)
    z = (mass / factor - growth.mean(curve, at)) / spread
    return np.where(inside, z, np.nan), (growth.pace(curve, at) * age_sd / spread) ** 2


def _scatter_by_visit(logs: Floats, visit: Ints, within: float, grain: Grain) -> Floats:
    """How many times more than usual the birds of a visit differ, the oddest of them left out; at least 1."""
    known = np.isfinite(logs)
    result = np.ones(len(logs))
    if not known.any():
        return result
    codes, code = np.unique(visit[known], return_inverse=True)
    off = (logs[known] - growth.group_medians(logs[known], code)[code]) ** 2 / within
    n = np.bincount(code)
    oddest = np.zeros(len(codes))
    np.maximum.at(oddest, code, off)
    rest = np.bincount(code, weights=off) - oddest
    few = grain.between_worth
    factor = np.maximum(1.0, (few + rest) / (few + np.maximum(n - 2, 0)))
    result[known] = factor[code]
    return result
