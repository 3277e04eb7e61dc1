"""All figures of repeated measures as rows of one table."""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING

from audit.practice.measuring.words import person

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.practice.measuring.account import Account

__all__ = ["COLUMNS", "PAIR_COLUMNS", "figure_rows", "pair_rows"]

#: Columns of the table of figures, in order.
COLUMNS = ("measure", "figure", "of", "against", "value", "low", "high", "unit", "birds", "values", "how")
#: Columns of the table of pairs, in order.
PAIR_COLUMNS = ("measure", "bird", "of", "against", "first", "second", "difference", "mean", "stands_out")

_EVERYBODY = "all"


def figure_rows(account: Account) -> Iterator[tuple[object, ...]]:
    """Give one row for each figure, in the order of `COLUMNS`; a cell is empty where there is no such end."""
    for figure, *cells in (*_spread(account), *_between(account), *_alike(account), *_needed(account)):
        yield account.repeats.measure.field, figure, *cells


def _spread(account: Account) -> Iterator[tuple[object, ...]]:
    """Give repeatability, errors and biases, each without the name of the measure."""
    unit, names = account.repeats.measure.unit, account.repeats.observers
    whole, error = account.repeatability, account.error
    if whole is not None:
        n = whole.birds, whole.values
        yield (
            "repeatability", _EVERYBODY, "", *_ends(whole.value, whole.low, whole.high), "", *n,
            "one-way analysis of variance; exact interval",
        )  # fmt: skip
    errors = [(_EVERYBODY, error)] if error is not None else []
    for name, one in (*errors, *((person(name), own) for name, own in account.own)):
        n = one.birds, one.values
        ends = _ends(one.value, one.low, one.high)
        yield "technical_error", name, "", *ends, unit, *n, "chi-square interval"
        yield "relative_error", name, "", *_ends(one.relative), "%", *n, "of the mean"
        largest = _ends(one.largest_difference)
        yield "largest_difference", name, "", *largest, unit, *n, "2.77 errors"
    for bias in account.biases:
        against = "others" if bias.against < 0 else person(names[bias.against])
        yield (
            "bias", person(names[bias.observer]), against, *_ends(bias.value, bias.low, bias.high),
            unit, bias.birds, "", f"Bonferroni for {bias.comparisons}; p {bias.p_value:.2g}",
        )  # fmt: skip


def _between(account: Account) -> Iterator[tuple[object, ...]]:
    """Give limits of agreement and slopes."""
    for pairs in account.comparisons:
        whose = person(pairs.first) if pairs.between_people else f"{pairs.who}, {pairs.first}"
        limits = pairs.limits
        for name, end in (
            ("mean_difference", limits.bias),
            ("lower_limit", limits.lower),
            ("upper_limit", limits.upper),
        ):
            ends = _ends(end.value, end.low, end.high)
            how = "t interval" if name == "mean_difference" else "noncentral t interval"
            unit = account.repeats.measure.unit
            yield name, whose, person(pairs.second), *ends, unit, limits.pairs, "", how
        if pairs.slope is not None:
            slope = pairs.slope
            ends = _ends(slope.value, slope.low, slope.high)
            how = f"difference on mean; p {slope.p_value:.2g}"
            yield "slope", whose, person(pairs.second), *ends, "", limits.pairs, "", how


def _alike(account: Account) -> Iterator[tuple[object, ...]]:
    """Give how far observers can stand in for one another, and their last digits."""
    both = account.alike
    if both is not None:
        agreement = _ends(both.agreement, both.agreement_low, both.agreement_high)
        consistency = _ends(both.consistency, both.consistency_low, both.consistency_high)
        n = both.birds, both.birds * both.observers
        yield "icc_2_1", _EVERYBODY, "", *agreement, "", *n, "bias of observers counts as error"
        yield "icc_3_1", _EVERYBODY, "", *consistency, "", *n, "bias of observers set right"
    for name, found in account.digits:
        how = f"chi-square {found.chi_square:.1f}, p {found.p_value:.2g}"
        yield "last_digit_index", person(name), "", *_ends(found.index), "", "", found.n, how


def _needed(account: Account) -> Iterator[tuple[object, ...]]:
    """Give how many measures of a bird must be averaged."""
    for figure, needed in (
        ("measures_for_repeatability", account.needed_for_repeatability),
        ("measures_for_error", account.needed_for_error),
    ):
        if needed is not None:
            yield figure, _EVERYBODY, "", *_ends(needed), "measures", "", "", "averaged"


def pair_rows(account: Account) -> Iterator[tuple[object, ...]]:
    """Give one row for each pair of measures, in the order of `PAIR_COLUMNS`."""
    odd = {one.bird for one in account.odd}
    field, birds = account.repeats.measure.field, account.repeats.birds
    for pairs in account.comparisons:
        whose = person(pairs.first) if pairs.between_people else f"{pairs.who}, {pairs.first}"
        for bird, a, b in zip(pairs.birds.tolist(), pairs.a.tolist(), pairs.b.tolist(), strict=True):
            yield (
                field,
                birds[bird],
                whose,
                person(pairs.second),
                *map(_plain, (a, b, a - b, (a + b) / 2)),
                "yes" if birds[bird] in odd else "",
            )


def _ends(value: float, *ends: float) -> tuple[object, object, object]:
    low, high = ends or (float("nan"), float("nan"))
    return _plain(value), _plain(low), _plain(high)


def _plain(value: float) -> object:
    """Write a number to six digits, whole where it is; nothing where it has no end."""
    return float(f"{value:.6g}") if isfinite(value) else ""
