"""Wings and masses that the rules of a season have to be asked about: a sieve, wide on purpose."""

from __future__ import annotations

from dataclasses import dataclass
from functools import reduce
from operator import or_
from typing import TYPE_CHECKING

from audit.archive.clashes import below, with_before

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from narwhals import Expr
    from narwhals.typing import LazyFrameT

__all__ = ["SieveLimits", "odd_sizes"]

_TEAM = ("season", "scheme", "team", "kind")
_VISIT = ("season", "scheme", "team", "box", "day", "kind")
_USED = (
    "at",
    "season",
    "scheme",
    "team",
    "box",
    "day",
    "kind",
    "pullus",
    "grown",
    "wing",
    "mass",
    "age_days",
)
#: What nestlings of one visit share.
_YOUNG = ("lean", "young_age", "young_wing", "young_mass")
#: More than what is lost in the last digits of a sum.
_SLACK = 1e-9
_LIFE = ("season", "scheme", "ring")


@dataclass(frozen=True, slots=True)
class SieveLimits:
    """From where on a size is looked at.

    Attributes
    ----------
    population_sd : float
        Standard deviations from what its species and population have.
    brood_log, brood_days : float
        How far the mass of a nestling, given its wing, lies from that of its siblings, as a logarithm; how
        far the age of its wing, in standard deviations of siblings.
    like_log : float
        How far mass or wing lies from those of the siblings where no curve tells, as a logarithm.
    shrinks_mm, adult_change : float
        A wing became shorter; the wing of a full-grown bird changed, as a share.
    own_days : float
        Between two visits the wing of a nestling grew by so many days more, or less, than went by.
    cut : float
        Residuals count no more than this when a population is learnt from them, as a logarithm.
    """

    population_sd: float
    brood_log: float
    brood_days: float
    like_log: float
    shrinks_mm: float
    adult_change: float
    own_days: float
    cut: float


def odd_sizes(
    birds: LazyFrameT,
    again: LazyFrameT,
    by_wing: LazyFrameT,
    by_age: LazyFrameT,
    by_kind: LazyFrameT,
    limits: SieveLimits,
    keep: Callable[[LazyFrameT, str], LazyFrameT],
) -> LazyFrameT:
    """Find the birds whose sizes are unlike those of their species, population, brood or own past.

    Parameters
    ----------
    birds : frame
        Of `marks.marked`; all visits of a brood together.
    again : frame
        Those of rings that are told of more than once.
    by_wing, by_age, by_kind : frame
        Of `yardsticks.Yardsticks`.
    limits : SieveLimits
    keep : callable
        Keeps a relation that several questions use, under a name.

    Returns
    -------
    frame
        ``at`` of each such row, once.
    """
    sized = _laid(birds, by_wing, by_age, by_kind)
    visits = keep(_visits(sized, limits), "visits")
    alone, among = _odd_alone(sized, visits, limits), _odd_among(sized, visits, by_kind, limits)
    return below([alone, among, _own_past(again, by_wing, by_kind, limits)]).unique()


def _laid(birds: LazyFrameT, by_wing: LazyFrameT, by_age: LazyFrameT, by_kind: LazyFrameT) -> LazyFrameT:
    """Put beside each bird that was measured what it should measure."""
    import narwhals as nw

    wing, mass = nw.col("wing"), nw.col("mass")
    sized = birds.filter(~wing.is_null() | ~mass.is_null()).select(*_USED)
    laid = sized.with_columns(
        nw.col("kind").fill_null(""),
        wing.floor().alias("wing_at"),
        nw.col("age_days").floor().alias("age_at"),
        wing.log().alias("log_wing"),
        mass.log().alias("log_mass"),
    )
    laid = laid.join(by_wing, on=["kind", "wing_at"], how="left")
    laid = laid.join(by_age, on=["kind", "age_at"], how="left").join(by_kind, on="kind", how="left")
    young = nw.col("pullus")
    return laid.with_columns(
        nw.when(young).then(nw.col("log_mass") - nw.col("mass_for_wing").log()).alias("lean"),
        nw.when(young).then(nw.col("wing_age")).alias("young_age"),
        nw.when(young).then(nw.col("log_wing")).alias("young_wing"),
        nw.when(young).then(nw.col("log_mass")).alias("young_mass"),
    )


def _visits(sized: LazyFrameT, limits: SieveLimits) -> LazyFrameT:
    """Tell of each visit how far its nestlings lie apart, and what they add to their population's mean."""
    import narwhals as nw

    young, lean = nw.col("pullus"), nw.col("lean")
    told = sized.with_columns(
        lean.clip(-limits.cut, limits.cut).alias("shift"),
        (young & nw.col("wing_age").is_null()).cast(nw.Float64).alias("bare_wing"),
        (young & lean.is_null()).cast(nw.Float64).alias("bare_mass"),
        (~lean.is_null()).cast(nw.Float64).alias("shifts"),
    )
    return told.group_by(*_VISIT).agg(
        *(nw.col(name).min().alias(f"{name}_least") for name in _YOUNG),
        *(nw.col(name).max().alias(f"{name}_most") for name in _YOUNG),
        *(nw.col(name).max() for name in ("bare_wing", "bare_mass")),
        *(nw.col(name).sum() for name in ("shift", "shifts")),
    )


def _odd_alone(sized: LazyFrameT, visits: LazyFrameT, limits: SieveLimits) -> LazyFrameT:
    """Rows whose sizes are unlike those of their species and population."""
    import narwhals as nw

    wing, mass, young = nw.col("wing"), nw.col("mass"), nw.col("pullus")
    shifts = visits.group_by(*_TEAM).agg(nw.col("shift").sum(), nw.col("shifts").sum())
    shifts = shifts.filter(nw.col("shifts") > 0).select(*_TEAM, nw.col("shift") / nw.col("shifts"))
    laid = sized.join(shifts, on=list(_TEAM), how="left")
    odd = [
        (nw.col("lean") - nw.col("shift")).abs() > limits.population_sd * nw.col("log_sd"),
        young & ((wing - nw.col("wing_for_age")).abs() > limits.population_sd * nw.col("wing_age_sd")),
        young & ((mass - nw.col("mass_for_age")).abs() > limits.population_sd * nw.col("mass_age_sd")),
        nw.col("grown")
        & ((wing - nw.col("wing_grown")).abs() > limits.population_sd * nw.col("wing_grown_sd")),
        nw.col("grown")
        & ((mass - nw.col("mass_grown")).abs() > limits.population_sd * nw.col("mass_grown_sd")),
        wing > nw.col("wing_most"),
        mass > nw.col("mass_most"),
    ]
    return laid.filter(_any_of(odd)).select("at")


def _odd_among(sized: LazyFrameT, visits: LazyFrameT, by_kind: LazyFrameT, limits: SieveLimits) -> LazyFrameT:
    """Nestlings that are unlike their siblings: windows over those visits only that lie far enough apart."""
    import narwhals as nw

    def apart(name: str) -> Expr:
        # what differs from the mean of others differs from one of them by no less
        return nw.col(f"{name}_most") - nw.col(f"{name}_least") + _SLACK

    wide = [
        apart("lean") > limits.brood_log,
        apart("young_age") > limits.brood_days * nw.col("sibling_days"),
        (nw.col("bare_wing") == 1) & (apart("young_wing") > limits.like_log),
        (nw.col("bare_mass") == 1) & (apart("young_mass") > limits.like_log),
    ]
    few = visits.join(by_kind, on="kind", how="left").filter(_any_of(wide)).select(*_VISIT)
    near = sized.join(few, on=list(_VISIT), how="semi")
    near = near.with_columns(*(_of_others(name).alias(f"{name}_others") for name in _YOUNG))

    def off(name: str) -> Expr:
        return (nw.col(name) - nw.col(f"{name}_others")).abs()

    odd = [
        off("lean") > limits.brood_log,
        off("young_age") > limits.brood_days * nw.col("sibling_days"),
        nw.col("wing_age").is_null() & (off("young_wing") > limits.like_log),
        nw.col("lean").is_null() & (off("young_mass") > limits.like_log),
    ]
    return near.filter(_any_of(odd)).select("at")


def _any_of(odd: Sequence[Expr]) -> Expr:
    return reduce(or_, (one.fill_null(value=False) for one in odd))


def _of_others(name: str) -> Expr:
    """Mean of a column over the other rows of the same visit; missing where there is none."""
    import narwhals as nw

    value = nw.col(name)
    some = value.count().over(*_VISIT) - 1
    rest = (value.sum().over(*_VISIT) - value) / some
    return nw.when((some > 0) & ~value.is_null()).then(rest)


def _own_past(birds: LazyFrameT, by_wing: LazyFrameT, by_kind: LazyFrameT, limits: SieveLimits) -> LazyFrameT:
    """Rows whose wing does not follow from that of the same ring before, in the same season."""
    import narwhals as nw

    there = birds.filter(
        ~nw.any_horizontal(nw.col("ring", "day", "wing").is_null(), ignore_nulls=True)
    ).with_columns(nw.col("grown").cast(nw.Float64).alias("full"))
    there = there.with_columns(nw.col("wing").floor().alias("wing_at"))
    there = there.join(by_wing.select("kind", "wing_at", "wing_age"), on=["kind", "wing_at"], how="left")
    there = with_before(there, ("day", "wing", "full", "wing_age", "season"), _LIFE)
    there = there.filter(~nw.col("wing_before").is_null()).join(by_kind, on="kind", how="left")
    wing, before = nw.col("wing"), nw.col("wing_before")
    grown = nw.col("full") * nw.col("full_before") == 1
    days = nw.max_horizontal(nw.col("day") - nw.col("day_before"), nw.lit(1.0))
    odd = [
        wing < before - limits.shrinks_mm,
        grown & ((wing - before).abs() > limits.adult_change * before),
        (nw.col("full") + nw.col("full_before") == 0) & (wing - before > nw.col("wing_pace") * days),
        (nw.col("full") + nw.col("full_before") == 0)
        & (nw.col("season") == nw.col("season_before"))
        & ((nw.col("wing_age") - nw.col("wing_age_before") - days).abs() > limits.own_days),
    ]
    return there.filter(_any_of(odd)).select("at")
