"""Masses and wings beside the rows that they may belong to."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from audit.models.alignment import best_blocks
from audit.models.ring_number import bare
from audit.models.written_number import slack
from audit.rules.birds import birds_of
from audit.rules.scatter import log_sum
from audit.rules.slid_column import OFFSETS, SlidColumn, with_ends, within
from audit.rules.species_outlook import species_outlook
from audit.rules.weighings import MASSES, weighings_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from audit.rules.birds import Birds
    from audit.rules.case import Case
    from audit.rules.outlook import Outlook
    from audit.rules.slid_column import Slots

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]
    Ints = NDArray[np.int64]

__all__ = ["mass_columns", "wing_column"]

_GROSS, _BAG, _NET = range(len(MASSES))


def mass_columns(case: Case, slots: Slots) -> Iterator[SlidColumn]:
    """Lay gross, bag and net beside the sums that they belong to."""
    if not all(case.season.has("handlings", field) for field in MASSES):
        return
    weigher = replace(case, rule=case.declared.rules["tare"])
    weighings = weighings_of(weigher)
    triples = weighings.triples
    allowed = weighings.room(weigher).allowed
    gross, bag, net = triples.T
    implied = np.column_stack([net + bag, gross - net, gross - bag])
    for cell, field in enumerate(MASSES):
        value = triples[:, cell]
        if not np.isfinite(value).any():
            continue
        stays = _balanced(case, value, implied[:, cell], allowed)
        fits = np.column_stack(
            [_balanced(case, value, *_beside(offset, implied[:, cell], allowed)) for offset in OFFSETS]
        )
        # the sums of a row are broken by any of the three
        yield _column(case, slots, field, value, stays, fits, [(f"mass {label}",) for label in slots.labels])


def _balanced(case: Case, value: Floats, implied: Floats, allowed: Floats) -> Floats:
    """Log likelihood of a mass by the sum of its row; any mass goes with a row that has no sum."""
    anything = -np.log(case.limit("masses_apart"))
    slips = np.log(case.share("rates.field") * len(MASSES)) + anything
    holds = np.abs(value - implied) <= allowed + slack(np.where(np.isfinite(value), value, 1.0))
    found = np.where(holds, 0.0, slips)
    return np.where(np.isfinite(value) & np.isfinite(implied), found, anything)


def _beside(offset: int, *columns: Floats) -> list[Floats]:
    """Return of each row what stands so many rows further down; missing beyond the ends."""
    found = []
    for column in columns:
        moved = np.full(len(column), np.nan)
        if offset > 0:
            moved[:-offset] = column[offset:]
        else:
            moved[-offset:] = column[:offset]
        found.append(moved)
    return found


def wing_column(case: Case, slots: Slots) -> Iterator[SlidColumn]:
    """Lay the wings beside the birds whose other visits and siblings foretell them."""
    if not case.season.has("handlings", "wing_mm"):
        return
    grower = replace(case, rule=case.declared.rules["growth"])
    birds = birds_of(grower, fallback=str(grower.setting("season.species.default_species")))
    if not np.isfinite(birds.wing).any():
        return
    moved = [birds.wing, *(_beside(-offset, birds.wing)[0] for offset in OFFSETS)]
    told = [np.full(len(birds.wing), np.nan) for _ in moved]
    outlooks = []
    for slug in dict.fromkeys(birds.slug.tolist()):
        if slug in case.declared.species:
            rows = np.flatnonzero(birds.slug == slug)
            own = birds.of(rows)
            outlooks.append((rows, species_outlook(grower, slug, own)))
    near = _worth_a_look(case, slots, birds, outlooks)
    if not near.any():
        return
    for rows, outlook in outlooks:
        here = rows[near[rows]]
        for found, dense in zip(told, _dense(outlook, near[rows], [w[rows] for w in moved]), strict=True):
            found[here] = dense
    # a wing may be wrong for another reason, and a bird of which nothing is known tells nothing
    anything = -np.log(case.limit("wings_apart"))
    slip = case.share("rates.field")
    log = [
        np.where(
            np.isnan(one),
            anything,
            np.logaddexp(np.log1p(-slip) + np.nan_to_num(one), np.log(slip) + anything),
        )
        for one in told
    ]
    # what is told of a wing in another row stands there: bring it back to the cell
    back = [log[0], *(_beside(offset, one)[0] for offset, one in zip(OFFSETS, log[1:], strict=True))]
    filled = np.where(np.isnan(back), anything, back)
    stays, fits = filled[0], filled[1:].T.copy()
    fits[~near] = -np.inf
    # rings in the wrong rows give a bird the wings of another
    rings = [
        (bare(text),) if isinstance(text, str) else () for text in case.sure("handlings")["ring"].tolist()
    ]
    yield _column(case, slots, "wing_mm", birds.wing, stays, fits, rings)


def _worth_a_look(case: Case, slots: Slots, birds: Birds, outlooks: Sequence[tuple[Ints, Outlook]]) -> Flags:
    """Rows around which wings go better with the rows beside theirs, by their distances alone."""
    far = float(case.limit("far_enough"))
    wings = [birds.wing, *(_beside(-offset, birds.wing)[0] for offset in OFFSETS)]
    cost = np.zeros((len(wings), len(birds.wing)))
    for rows, outlook in outlooks:
        for k, wing in enumerate(wings):
            cost[k, rows] = np.minimum(np.nan_to_num(_off(outlook, wing[rows])) ** 2, far**2) / 2
    near = np.zeros(len(birds.wing), dtype=bool)
    none = np.zeros(len(near))
    for k, offset in enumerate(OFFSETS):
        gain = cost[0] - np.nan_to_num(_beside(offset, cost[k + 1])[0])
        gain[~slots.follows(offset)] = -np.inf
        score, begins = best_blocks(gain, none, none)
        for end in np.flatnonzero(score > case.limit("look_at_wings")).tolist():
            near[begins[end] : end + 1] = True
    return within(near, int(case.limit("look_around")))


def _off(outlook: Outlook, wing: Floats) -> Floats:
    """Tell how far wings lie from what is foretold of the birds, in standard deviations."""
    company, birds = outlook.sizes.company, outlook.birds
    found = np.full(len(wing), np.nan)
    size = outlook.sizes.adult_range("", "wing_mm")
    if size is not None:
        old = (birds.grown == 1) & np.isfinite(wing)
        found[old] = np.log(wing[old] / size[0]) / size[1]
    nest = company.rows
    if len(nest):
        expected = outlook.expected.of(nest)
        if outlook.sizes.follows:
            found[nest] = company.wing_distances(wing[nest], expected)
        else:
            found[nest] = (np.log(wing[nest]) - expected.log_wing) / expected.log_wing_sd
    return found


def _dense(outlook: Outlook, near: Flags, wings: Sequence[Floats]) -> Iterator[Floats]:
    """Log density of other wings of some birds, by masses, siblings and other visits; missing for none."""
    birds, sizes = outlook.birds, outlook.sizes
    nothing = np.full(len(birds.wing), np.nan)
    nest = np.flatnonzero((birds.grown == 0) & near)
    here = outlook.expected.of(nest)
    ages = outlook.log_ages(nest, here) + sizes.log_mass(birds.mass[nest], here, birds.age[nest])
    beside = log_sum(ages) if len(nest) else np.zeros(0)
    for wing in wings:
        found = nothing.copy()
        old = np.flatnonzero((birds.grown == 1) & np.isfinite(wing) & near)
        if len(old) and sizes.knows("wing_mm"):
            found[old] = sizes.adult_evidence(wing[old], nothing[old], birds.sex[old])
        if len(nest):
            found[nest] = log_sum(ages + sizes.log_wing(wing[nest], here)) - beside
            found[nest[np.isnan(wing[nest])]] = np.nan
        yield found[near]


def _written(case: Case, field: str) -> Flags:
    """Whether anything stands in each cell of a column, be it a dash."""
    typed = case.season.tables["handlings"].typed
    if field not in typed.columns:
        return np.zeros(len(typed), dtype=bool)
    return np.array([bool(str(text).strip()) for text in typed[field].fillna("").tolist()], dtype=bool)


def _column(
    case: Case,
    slots: Slots,
    field: str,
    value: Floats,
    stays: Floats,
    fits: Floats,
    ties: Sequence[tuple[str, ...]],
) -> SlidColumn:
    n = len(value)
    # who writes that something was not measured has not left the cell out
    empty = np.isnan(value) & ~_written(case, field)
    for k, offset in enumerate(OFFSETS):
        fits[~slots.follows(offset), k] = -np.inf
    same = np.zeros(n, dtype=bool)
    same[1:] = value[1:] == value[:-1]
    weight = case.limit("habit_weight")
    # the one in question is no habit
    none = (max(empty.sum() - 1, 0) + weight * case.limit("missing")) / (n + weight)
    twice = (max(same.sum() - 1, 0) + weight * case.share("copied.above")) / (n + weight)
    opens, closes = with_ends(
        case,
        slots,
        empty=empty,
        same=same,
        missing=np.full(n, np.log(none)),
        doubled=np.full(n, np.log(twice)),
        lost=np.zeros(n),
    )
    return SlidColumn(field, value.tolist(), stays, fits, opens, closes, {}, ties)
