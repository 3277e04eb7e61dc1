"""Wings and masses that the rules of a season have to be asked about: a sieve, wide on purpose."""

from __future__ import annotations

from dataclasses import dataclass
from functools import reduce
from operator import or_
from typing import TYPE_CHECKING

from audit.archive.clashes import below, with_before

if TYPE_CHECKING:
    from narwhals import Expr
    from narwhals.typing import LazyFrameT

__all__ = ["SieveLimits", "odd_sizes"]

_TEAM = ("scheme", "team", "kind")
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
    cut : float
        Residuals count no more than this when a population is learnt from them, as a logarithm.
    """

    population_sd: float
    brood_log: float
    brood_days: float
    like_log: float
    shrinks_mm: float
    adult_change: float
    cut: float


def odd_sizes(
    birds: LazyFrameT, by_wing: LazyFrameT, by_age: LazyFrameT, by_kind: LazyFrameT, limits: SieveLimits
) -> LazyFrameT:
    """Find the birds whose sizes are unlike those of their species, population, brood or own past.

    Parameters
    ----------
    birds : frame
        Of `marks.marked`; all visits of a brood together.
    by_wing, by_age, by_kind : frame
        Of `yardsticks.Yardsticks`.
    limits : SieveLimits

    Returns
    -------
    frame
        ``at`` of each such row, once.
    """
    import narwhals as nw

    wing, mass = nw.col("wing"), nw.col("mass")
    sized = birds.filter(~wing.is_null() | ~mass.is_null()).select(*_USED)
    laid = sized.with_columns(
        wing.floor().alias("wing_at"),
        nw.col("age_days").floor().alias("age_at"),
        wing.log().alias("log_wing"),
        mass.log().alias("log_mass"),
    )
    laid = laid.join(by_wing, on=["kind", "wing_at"], how="left")
    laid = laid.join(by_age, on=["kind", "age_at"], how="left").join(by_kind, on="kind", how="left")
    young = nw.col("pullus")
    laid = laid.with_columns(
        nw.when(young).then(nw.col("log_mass") - nw.col("mass_for_wing").log()).alias("lean"),
        nw.when(young).then(nw.col("wing_age")).alias("young_age"),
        nw.when(young).then(nw.col("log_wing")).alias("young_wing"),
        nw.when(young).then(nw.col("log_mass")).alias("young_mass"),
    )
    shifts = laid.with_columns(nw.col("lean").clip(-limits.cut, limits.cut).alias("shift"))
    shifts = shifts.group_by(*_TEAM).agg(nw.col("shift").mean())
    laid = laid.join(shifts, on=list(_TEAM), how="left")
    laid = laid.with_columns(
        *(
            _of_others(name).alias(f"{name}_others")
            for name in ("lean", "young_age", "young_wing", "young_mass")
        )
    )
    odd = [
        (nw.col("lean") - nw.col("shift")).abs() > limits.population_sd * nw.col("log_sd"),
        (nw.col("lean") - nw.col("lean_others")).abs() > limits.brood_log,
        (nw.col("young_age") - nw.col("young_age_others")).abs() > limits.brood_days * nw.col("sibling_days"),
        nw.col("wing_age").is_null()
        & ((nw.col("young_wing") - nw.col("young_wing_others")).abs() > limits.like_log),
        nw.col("lean").is_null()
        & ((nw.col("young_mass") - nw.col("young_mass_others")).abs() > limits.like_log),
        young & ((wing - nw.col("wing_for_age")).abs() > limits.population_sd * nw.col("wing_age_sd")),
        young & ((mass - nw.col("mass_for_age")).abs() > limits.population_sd * nw.col("mass_age_sd")),
        nw.col("grown")
        & ((wing - nw.col("wing_grown")).abs() > limits.population_sd * nw.col("wing_grown_sd")),
        nw.col("grown")
        & ((mass - nw.col("mass_grown")).abs() > limits.population_sd * nw.col("mass_grown_sd")),
        wing > nw.col("wing_most"),
        mass > nw.col("mass_most"),
    ]
    far = laid.filter(reduce(or_, (one.fill_null(value=False) for one in odd))).select("at")
    return below([far, _own_past(birds, by_kind, limits)]).unique()


def _of_others(name: str) -> Expr:
    """Mean of a column over the other rows of the same visit; missing where there is none."""
    import narwhals as nw

    value = nw.col(name)
    some = value.count().over(*_VISIT) - 1
    rest = (value.sum().over(*_VISIT) - value) / some
    return nw.when((some > 0) & ~value.is_null()).then(rest)


def _own_past(birds: LazyFrameT, by_kind: LazyFrameT, limits: SieveLimits) -> LazyFrameT:
    """Rows whose wing does not follow from that of the same ring before, in the same season."""
    import narwhals as nw

    there = birds.filter(
        ~nw.any_horizontal(nw.col("ring", "day", "wing").is_null(), ignore_nulls=True)
    ).with_columns(nw.col("grown").cast(nw.Float64).alias("full"))
    there = with_before(there, ("day", "wing", "full"), _LIFE)
    there = there.filter(~nw.col("wing_before").is_null()).join(by_kind, on="kind", how="left")
    wing, before = nw.col("wing"), nw.col("wing_before")
    grown = nw.col("full") * nw.col("full_before") == 1
    days = nw.max_horizontal(nw.col("day") - nw.col("day_before"), nw.lit(1.0))
    odd = [
        wing < before - limits.shrinks_mm,
        grown & ((wing - before).abs() > limits.adult_change * before),
        (nw.col("full") + nw.col("full_before") == 0) & (wing - before > nw.col("wing_pace") * days),
    ]
    return there.filter(reduce(or_, (one.fill_null(value=False) for one in odd))).select("at")
