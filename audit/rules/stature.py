"""What size a bird should have, as far as species, age, siblings and the season's other birds tell."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from audit.declarations.species import species_index
from audit.models import growth

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.declarations.species import Range, Species
    from audit.rules.case import Case

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Flags = NDArray[np.bool_]
    Words = NDArray[np.object_]

__all__ = ["Birds", "Grain", "Outlook", "Sizes", "birds_of", "log_sum", "outlook_of", "sizes_of", "wing_age"]

_LOG_ROOT_TAU = float(np.log(np.sqrt(2 * np.pi)))
_NOTHING = -np.inf


@dataclass(frozen=True, slots=True)
class Birds:
    """The handlings as columns of plain arrays, one entry per row of the sheet.

    Attributes
    ----------
    labels : numpy.ndarray of str
        Row labels.
    slug : numpy.ndarray of str
        Species; empty where the text means none.
    grown : numpy.ndarray
        1 full-grown, 0 nestling, missing where the age code is.
    wing, mass : numpy.ndarray
        Millimetres; grams: net, or gross less bag where net is missing or in doubt.
    mass_field : numpy.ndarray of str
        Where the mass stands: ``net_g``, ``gross_g`` or nothing.
    balanced : numpy.ndarray of bool
        Gross less bag is net: a slip in one of the three would have broken that.
    age, age_sd, age_field : numpy.ndarray
        Days since hatching as recorded, how sure they are, and the column they come from.
    visit : numpy.ndarray of int
        One number per box, date and species.
    sex : numpy.ndarray of str
        ``M``, ``F`` or nothing.
    """

    labels: Words
    slug: Words
    grown: Floats
    wing: Floats
    mass: Floats
    mass_field: Words
    balanced: Flags
    age: Floats
    age_sd: Floats
    age_field: Words
    visit: Ints
    sex: Words

    def of(self, rows: NDArray[Any]) -> Birds:
        """Return some of the birds."""
        return Birds(**{name: getattr(self, name)[rows] for name in self.__dataclass_fields__})


def birds_of(case: Case, *, fallback: str) -> Birds:
    """Take the handlings apart; cells in doubt are missing.

    Parameters
    ----------
    fallback : str
        Species of the whole sheet when it has no such column.
    """
    frame = case.sure("handlings")
    n = len(frame)

    def numbers(name: str) -> Floats:
        if name not in frame.columns:
            return np.full(n, np.nan)
        return frame[name].to_numpy(dtype=np.float64, na_value=np.nan)

    def words(name: str) -> pd.Series:
        if name not in frame.columns:
            return pd.Series("", index=frame.index, dtype="str")
        return frame[name].fillna("").astype("str").str.strip()

    if "species" in frame.columns:
        index = species_index(case.declared.species)
        texts = words("species")
        meaning = {text: index.resolve(text) or "" for text in texts.unique()}
        slug = texts.map(meaning).to_numpy(dtype=object)
    else:
        slug = np.full(n, fallback, dtype=object)

    net, gross, bag = numbers("net_g"), numbers("gross_g"), numbers("bag_g")
    rest = gross - bag
    from_net = np.isfinite(net)
    mass = np.where(from_net, net, rest)
    field = np.where(from_net, "net_g", np.where(np.isfinite(rest), "gross_g", "")).astype(object)
    balanced = from_net & (np.abs(rest - net) <= _declared(case, "balance_room"))
    mass = np.where(mass > 0, mass, np.nan)
    wing = numbers("wing_mm")
    wing = np.where(wing > 0, wing, np.nan)

    code = words("age").str.upper()
    pullus = code.isin([str(word) for word in _declared(case, "pullus_codes")]).to_numpy()
    grown = np.where(code.eq("").to_numpy(), np.nan, np.where(pullus, 0.0, 1.0))

    age, age_sd, age_field = _recorded_age(case, frame, numbers("age_days"))
    # as numbers, since a missing date is a number too
    key = pd.MultiIndex.from_arrays([words("box"), frame["date"].astype("int64"), slug])
    visit, _ = pd.factorize(key)
    sex = words("sex").str.upper()
    return Birds(
        labels=frame.index.to_numpy(dtype=object),
        slug=slug,
        grown=grown,
        wing=wing,
        mass=mass,
        mass_field=field,
        balanced=balanced,
        age=age,
        age_sd=age_sd,
        age_field=age_field,
        visit=np.asarray(visit, dtype=np.int64),
        sex=sex.where(sex.isin(["M", "F"]), "").to_numpy(dtype=object),
    )


def _declared(case: Case, name: str) -> Any:  # noqa: ANN401 - a limit may be a number or a list
    """Return a number of the growth declaration, whichever rule asks."""
    return case.declared.rules["growth"].limits[name].value


def _recorded_age(case: Case, frame: pd.DataFrame, stated: Floats) -> tuple[Floats, Floats, Words]:
    """Age in days: from the hatching date where it was seen, else as estimated in the field."""
    n = len(frame)
    seen = np.full(n, np.nan)
    if "hatch_date" in frame.columns:
        seen = (frame["date"] - frame["hatch_date"]).dt.days.to_numpy(dtype=np.float64, na_value=np.nan)
    from_hatch = np.isfinite(seen)
    age = np.where(from_hatch, seen, stated)
    sd = np.where(from_hatch, _declared(case, "hatch_date_sd"), _declared(case, "field_age_sd"))
    field = np.where(from_hatch, "hatch_date", np.where(np.isfinite(stated), "age_days", "")).astype(object)
    return age, sd.astype(np.float64), field


@dataclass(frozen=True, slots=True)
class Grain:
    """How measures scatter about what is expected: numbers shared by all species.

    Attributes
    ----------
    runt_share, runt_centre, runt_sd : float
        Nestlings that starve: share of birds, and their place and spread in standard deviations of mass.
    tail_share, tail_width : float
        Share of wings and of adult measures that scatter more widely, and how many times more.
    shared : float
        Share of the variance of mass that siblings at one visit have in common.
    clip : float
        A sibling further off than this many standard deviations counts no more than one at this distance.
    trust_siblings, trust_wings : float
        Share of siblings that can be relied on, for the age and for wings of species without a curve.
    day_step : float
        Ages are tried in steps of so many days.
    margin : float
        A nestling may be so many times as heavy as the top of its curve.
    wing_like_sd : float
        Spread of the logarithm of wings among siblings, for species without a curve.
    mass_factor_sd, mass_brood_sd, wing_factor_sd, wing_bird_sd : float
        Spread of the logarithm among populations, and among broods or birds of one population.
    """

    runt_share: float
    runt_centre: float
    runt_sd: float
    tail_share: float
    tail_width: float
    shared: float
    clip: float
    trust_siblings: float
    trust_wings: float
    day_step: float
    margin: float
    wing_like_sd: float
    mass_factor_sd: float
    mass_brood_sd: float
    wing_factor_sd: float
    wing_bird_sd: float

    @classmethod
    def from_case(cls, case: Case) -> Grain:
        """Read the numbers from the growth declaration."""
        return cls(**{name: float(_declared(case, name)) for name in cls.__dataclass_fields__})


def _log_normal(z: Floats) -> Floats:
    return -z * z / 2 - _LOG_ROOT_TAU


def _log_tailed(z: Floats, share: float, width: float) -> Floats:
    """Log density of a normal with a share that scatters more widely."""
    # the wide part stands in front, so that one exponential and one logarithm do
    wide = -z * z / (2 * width * width)
    core = np.exp(-z * z * (1 - 1 / width**2) / 2)
    result: Floats = wide + np.log(share / width + (1 - share) * core) - _LOG_ROOT_TAU
    return result


def _log_runty(z: Floats, grain: Grain) -> Floats:
    """Log density of a normal with a share of starving young, who are light; none is as heavy."""
    usual = np.log1p(-grain.runt_share) - z * z / 2
    off = (z - grain.runt_centre) / grain.runt_sd
    runt = np.log(grain.runt_share) - np.log(grain.runt_sd) - off * off / 2
    result: Floats = np.maximum(usual, runt) + np.log1p(np.exp(-np.abs(usual - runt))) - _LOG_ROOT_TAU
    return result


def _log_between(value: Floats, low: float, high: float, soft: float) -> Floats:
    """Log density of a value that may be anything between two bounds, fading beyond them."""
    beyond: Floats = np.maximum(np.maximum(low - value, value - high), 0.0) / soft
    faded: Floats = -np.log(high - low + soft) - beyond * beyond / 2
    return faded


@dataclass(frozen=True, slots=True)
class Sizes:
    """What sizes the birds of one species have this season.

    Attributes
    ----------
    days : numpy.ndarray, shape (g,)
        Ages that are tried, days since hatching.
    nestling_factor, adult_factor, wing_factor : growth.Factor
        How this season's birds differ from the declared ones: mass of nestlings and adults, wing of adults.
    """

    species: Species
    grain: Grain
    days: Floats
    nestling_factor: growth.Factor
    adult_factor: growth.Factor
    wing_factor: growth.Factor

    # --- what an age says about a measure -------------------------------------------------------------

    def log_wing(self, wing: Floats, siblings: Floats | None = None) -> Floats:
        """Log density of wings at each age tried, shape (n, g); nothing is said of a missing wing.

        Parameters
        ----------
        wing : numpy.ndarray, shape (n,)
        siblings : numpy.ndarray, shape (n, m), optional
            Wings of the siblings of the same visit, for species without a curve.
        """
        if "wing_mm" in self.species.curves:
            return self._log_at_ages("wing_mm", wing, None, None)
        known = np.isfinite(wing)
        value = np.where(known, wing, 1.0)
        top, soft = self.ceiling("wing_mm")
        anywhere = _log_between(value, 0.0, top, soft)
        if siblings is not None and siblings.shape[1]:
            told = np.isfinite(siblings).sum(axis=1)
            wide = self.grain.wing_like_sd
            z = (np.log(value)[:, None] - np.log(np.where(np.isfinite(siblings), siblings, np.inf))) / wide
            near = np.exp(_log_normal(z)).sum(axis=1) / np.maximum(told, 1) / (wide * value)
            # of two birds that differ neither can say which one is wrong
            trust = np.where(told >= 2, self.grain.trust_wings, 0.0)  # noqa: PLR2004 - a pair
            # a wing far beyond every bird has no density at all, but still a logarithm
            density = trust * near + (1 - trust) * np.exp(anywhere)
            anywhere = np.log(np.maximum(density, np.finfo(np.float64).tiny))
        flat = np.where(known, anywhere, 0.0)
        return np.broadcast_to(flat[:, None], (len(wing), len(self.days)))

    def log_mass(self, mass: Floats, shift: Floats | None = None, left: Floats | None = None) -> Floats:
        """Log density of masses at each age tried, shape (n, g), given what the siblings say."""
        return self._log_at_ages("mass_g", mass, shift, left)

    def _log_at_ages(self, column: str, typed: Floats, shift: Floats | None, left: Floats | None) -> Floats:
        known = np.isfinite(typed)
        value = np.where(known, typed, 0.0)[:, None]
        curve = self.species.curves.get(column)
        top, soft = self.ceiling(column)
        if curve is None:
            flat = np.where(known, _log_between(typed, 0.0, top, soft), 0.0)
            return np.broadcast_to(flat[:, None], (len(typed), len(self.days)))
        factor = self.nestling_factor.value if column == "mass_g" else 1.0
        centre = growth.mean(curve, self.days) * factor
        sd = growth.spread(curve, self.days) * factor
        if column == "mass_g":
            # a factor that few broods support leaves room on both sides
            sd = np.hypot(sd, centre * self.nestling_factor.sd)
        z = (value - centre) / sd
        if shift is not None and left is not None:
            z = (z - shift[:, None]) / left[:, None]
            sd = sd * left[:, None]
        shape = (
            _log_runty(z, self.grain)
            if column == "mass_g"
            else _log_tailed(z, self.grain.tail_share, self.grain.tail_width)
        )
        first, last = np.searchsorted(self.days, [curve.first_day, curve.last_day])
        adult = self.species.adult.get(("", column))
        floor = min(centre[last], adult.low * factor) if adult else centre[last]
        # younger than the curve: anything smaller than its first value; older: from its last value upwards
        result = shape - np.log(sd)
        result[:, :first] = _log_between(value, 0.0, centre[first], soft)
        result[:, last + 1 :] = _log_between(value, floor, top * factor, soft)
        result[~known] = 0.0
        return result

    def log_track(self, wing: Floats, own_sd: float, share: float, width: float) -> Floats:
        """Log density of wings at each age of a bird that keeps to its own track, shape (n, g)."""
        curve = self.species.curves["wing_mm"]
        known = np.isfinite(wing)
        sd = np.minimum(growth.spread(curve, self.days), own_sd)
        z = (np.where(known, wing, 0.0)[:, None] - growth.mean(curve, self.days)) / sd
        result = _log_tailed(z, share, width) - np.log(sd)
        result[~known] = 0.0
        return result

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
            one = _log_tailed(z, self.grain.tail_share, self.grain.tail_width) - np.log(size[1] * known)
            total += np.where(np.isnan(value), 0.0, one)
        return total

    # --- nestlings ------------------------------------------------------------------------------------

    def log_recorded(self, age: Floats, age_sd: Floats) -> Floats:
        """Log probability of the recorded age at each age tried, shape (n, g); 0 where none was recorded."""
        result = np.zeros((len(age), len(self.days)))
        known = np.isfinite(age)
        if not known.any():
            return result
        step = self.grain.day_step
        # a recorded age is a whole number of days
        sd = np.hypot(age_sd[known], step)[:, None]
        z = (age[known, None] - self.days) / sd
        result[known] = _log_tailed(z, self.grain.tail_share, self.grain.tail_width) - np.log(sd)
        return result

    def log_any_age(self, age: Floats) -> Floats:
        """Log probability of a recorded age that has nothing to do with the bird, shape (n,)."""
        return np.where(np.isnan(age), 0.0, -np.log(self.days[-1] + 1))

    def nestling_evidence(
        self,
        prior: Floats,
        wing: Floats,
        mass: Floats,
        *,
        shift: Floats | None = None,
        left: Floats | None = None,
        siblings: Floats | None = None,
    ) -> Floats:
        """Log density of nestlings over all ages, shape (n,)."""
        return log_sum(prior + self.log_wing(wing, siblings) + self.log_mass(mass, shift, left))

    def log_siblings(self, own: Floats, nest: Ints, visit: Ints) -> Floats:
        """Say how much likelier each age becomes by the ages of the nestlings of the same visit.

        Parameters
        ----------
        own : numpy.ndarray, shape (k, g)
            Log probability of each age given a nestling's own recorded age, wing and mass.
        nest : numpy.ndarray of int, shape (k,)
            Which of the birds are nestlings.
        visit : numpy.ndarray of int, shape (n,)
            Visits of all birds.

        Returns
        -------
        numpy.ndarray, shape (n, g)
            Log ratio to an age that nothing is known about; 0 for a bird without siblings.
        """
        n, g = len(visit), len(self.days)
        gap = self.species.number("nestling.sibling_sd_days")
        if gap is None:
            return np.zeros((n, g))
        places = np.exp(own - log_sum(own)[:, None])
        apart = (self.days[:, None] - self.days) / gap
        kernel = np.exp(-apart * apart / 2)
        kernel /= kernel.sum(axis=1, keepdims=True)
        moved = places @ kernel
        _, code = np.unique(visit, return_inverse=True)
        order = nest[np.argsort(code[nest], kind="stable")]
        position = np.argsort(code[nest], kind="stable")
        starts = np.flatnonzero(np.r_[True, np.diff(code[order]) > 0])
        total = np.zeros((int(code.max()) + 1, g))
        total[code[order[starts]]] = np.add.reduceat(moved[position], starts, axis=0)
        others = total[code]
        others[nest] -= moved
        count = np.bincount(code[nest], minlength=len(total))[code]
        count[nest] -= 1
        share = np.maximum(others, 0.0) / np.maximum(count, 1)[:, None]
        trust = np.where(count == 0, 0.0, self.grain.trust_siblings)[:, None]
        weight: Floats = np.log(trust * share * g + 1 - trust)
        return weight


def log_sum(values: Floats) -> Floats:
    """Logarithm of the sum of exponentials along each row."""
    top = values.max(axis=1)
    return np.asarray(top + np.log(np.exp(values - top[:, None]).sum(axis=1)), dtype=np.float64)


def sizes_of(species: Species, birds: Birds, grain: Grain) -> Sizes:
    """Fit the season's own factors of one species.

    Parameters
    ----------
    birds : Birds
        All of this species.
    """
    oldest = species.number("nestling.oldest_day") or max(
        [curve.last_day for curve in species.curves.values()], default=1.0
    )
    days = np.arange(0.0, oldest + grain.day_step, grain.day_step)
    none = growth.Factor(1.0, 0.0, 0)
    plain = Sizes(species, grain, days, none, none, none)
    young, old = birds.of(birds.grown == 0), birds.of(birds.grown == 1)
    ratio = np.log(young.mass / _expected(plain, young)) if "mass_g" in species.curves else np.array([])
    nestling_factor = growth.population_factor(
        ratio,
        young.visit if len(ratio) else np.array([]),
        prior_sd=grain.mass_factor_sd,
        group_sd=grain.mass_brood_sd,
        clip=grain.clip,
    )
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
    return Sizes(species, grain, days, nestling_factor, adult["mass_g"], adult["wing_mm"])


def _expected(sizes: Sizes, young: Birds) -> Floats:
    """Mass to expect of a nestling from its wing and recorded age alone; missing where neither is known."""
    curve = sizes.species.curves["mass_g"]
    age = wing_age(sizes, young)
    inside = (age >= curve.first_day) & (age <= curve.last_day)
    return np.where(inside, growth.mean(curve, age), np.nan)


def wing_age(sizes: Sizes, young: Birds) -> Floats:
    """Age of a nestling from its wing and its recorded age; missing where neither is known."""
    if not len(young.wing):
        return np.array([])
    places = sizes.log_recorded(young.age, young.age_sd) + sizes.log_wing(young.wing)
    return _likely_age(sizes, young, places)


def _likely_age(sizes: Sizes, birds: Birds, places: Floats) -> Floats:
    told = np.isfinite(birds.age)
    if "wing_mm" in sizes.species.curves:
        told = told | np.isfinite(birds.wing)
    chance = np.exp(places - places.max(axis=1, keepdims=True))
    return np.where(told, chance @ sizes.days / chance.sum(axis=1), np.nan)


@dataclass(frozen=True, slots=True)
class Outlook:
    """What is expected of each bird of one species.

    Attributes
    ----------
    birds : Birds
        All of the species, shape (n,).
    log_recorded, log_siblings : numpy.ndarray, shape (n, g)
        What the recorded age, and the siblings, say about each age tried.
    shift, left : numpy.ndarray, shape (n,)
        Deviation of mass that the siblings foretell, and the standard deviation left, both in units of
        the spread.
    wings : numpy.ndarray, shape (n, m)
        Wings of the siblings of the same visit, the bird's own left out.
    log_wing, log_mass : numpy.ndarray, shape (n, g)
        What wing and mass as typed say about each age tried.
    """

    sizes: Sizes
    birds: Birds
    log_recorded: Floats
    log_siblings: Floats
    shift: Floats
    left: Floats
    wings: Floats
    log_wing: Floats
    log_mass: Floats

    def as_typed(self) -> tuple[Floats, Floats, Floats]:
        """Log density of all birds as typed; were the wing not known; were the mass not known."""
        birds, sizes = self.birds, self.sizes
        ages = self.log_recorded + self.log_siblings - np.log(len(sizes.days))
        missing = np.full(len(birds.wing), np.nan)
        wing, mass = ages + self.log_wing, ages + self.log_mass
        return (
            self._by_class(log_sum(wing + self.log_mass), birds.wing, birds.mass),
            self._by_class(log_sum(mass), missing, birds.mass),
            self._by_class(log_sum(wing), birds.wing, missing),
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
        """Log density of the birds at `rows` as nestlings, with or without what age and siblings say."""
        ages = self.log_recorded[rows] if heed_age else self.sizes.log_any_age(self.birds.age[rows])[:, None]
        if heed_siblings:
            ages = ages + self.log_siblings[rows]
        prior = ages - np.log(len(self.sizes.days))
        if prior.shape[1] == 1:
            prior = np.broadcast_to(prior, (len(rows), len(self.sizes.days)))
        wings = self.wings[rows] if heed_siblings else None
        return self.sizes.nestling_evidence(
            prior, wing, mass, shift=self.shift[rows], left=self.left[rows], siblings=wings
        )


def outlook_of(sizes: Sizes, birds: Birds) -> Outlook:
    """Say what is expected of each bird of one species.

    Siblings lend their ages and their common luck to each other; full-grown birds in the box lend nothing.
    """
    n = len(birds.wing)
    recorded = sizes.log_recorded(birds.age, birds.age_sd)
    nest = np.flatnonzero(birds.grown == 0)
    shift, left = np.zeros(n), np.ones(n)
    wings = np.full((n, 0), np.nan)
    if "wing_mm" not in sizes.species.curves and len(nest):
        among = _among_siblings(birds.wing[nest], birds.visit[nest])
        wings = np.full((n, among.shape[1]), np.nan)
        wings[nest] = among
    log_wing = sizes.log_wing(birds.wing, wings)
    curve = sizes.species.curves.get("mass_g")
    if curve is not None and len(nest):
        factor = sizes.nestling_factor.value
        age = _likely_age(sizes, birds, recorded + log_wing)[nest]
        centre, spread = growth.mean(curve, age) * factor, growth.spread(curve, age) * factor
        inside = (age >= curve.first_day) & (age <= curve.last_day)
        deviation = np.where(inside, (birds.mass[nest] - centre) / spread, np.nan)
        shift[nest], left[nest] = growth.sibling_shift(
            deviation, birds.visit[nest], shared=sizes.grain.shared, clip=sizes.grain.clip
        )
    log_mass = sizes.log_mass(birds.mass, shift, left)
    siblings = np.zeros(recorded.shape)
    if len(nest):
        own = recorded[nest] + log_wing[nest] + log_mass[nest]
        siblings = sizes.log_siblings(own, nest, birds.visit)
    return Outlook(sizes, birds, recorded, siblings, shift, left, wings, log_wing, log_mass)


def _among_siblings(value: Floats, visit: Ints) -> Floats:
    """Values of the other birds of the same visit, one row per bird, padded with missing."""
    _, code = np.unique(visit, return_inverse=True)
    order = np.argsort(code, kind="stable")
    starts = np.r_[0, np.cumsum(np.bincount(code))]
    place = np.empty(len(code), dtype=np.int64)
    place[order] = np.arange(len(code)) - starts[code[order]]
    by_visit = np.full((len(starts) - 1, int(place.max()) + 1), np.nan)
    by_visit[code, place] = value
    others = by_visit[code].copy()
    others[np.arange(len(code)), place] = np.nan
    return others
