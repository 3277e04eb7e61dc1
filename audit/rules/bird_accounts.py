"""Accounts of what else may be wrong with a bird: its age, its age code, its sex, its species, its box."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from audit.rules.moves import said_moved

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from numpy.typing import NDArray

    from audit.rules.birds import Birds
    from audit.rules.case import Case
    from audit.rules.outlook import Outlook
    from audit.rules.sizes import Sizes

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["Account", "accounts_about_birds"]


@dataclass(frozen=True, slots=True)
class Account:
    """One thing that may have gone wrong in a row: cause, kind of slip, log weight and value meant."""

    cause: str
    kind: str
    log_weight: float
    meant: float | str = np.nan


def accounts_about_birds(
    case: Case,
    outlook: Outlook,
    outlooks: Mapping[str, Outlook],
    rows: Sequence[int],
    both_steps: Sequence[float],
) -> list[list[Account]]:
    """Age, age code, sex or species may be wrong instead of the measures, or the bird is of another brood.

    Parameters
    ----------
    rows : sequence of int
        Which birds of the outlook, each once.
    both_steps : sequence of float
        What the steps weigh to which wing and mass of each were written.

    Returns
    -------
    list of list of Account
        One list for each of `rows`.
    """
    found: list[list[Account]] = [[] for _ in rows]
    of_rows = np.array(rows, dtype=np.int64)
    for part in (_age, _place, _code, _sex, _species):
        for k, account in part(case, outlook, outlooks, of_rows):
            found[k].append(replace(account, log_weight=account.log_weight + both_steps[k]))
    return found


def _age(case: Case, outlook: Outlook, _: Mapping[str, Outlook], rows: Ints) -> Iterator[tuple[int, Account]]:
    birds = outlook.birds
    some = np.flatnonzero((birds.grown[rows] == 0) & np.isfinite(birds.age[rows]))
    if not len(some):
        return
    here = rows[some]
    age_slip = np.log(float(case.limit("age_slip")))
    dense = outlook.as_nestling(here, birds.wing[here], birds.mass[here], heed_age=False)
    for k, found in zip(some.tolist(), dense, strict=True):
        yield k, Account("age", "", float(age_slip + found))


def _place(
    case: Case, outlook: Outlook, _: Mapping[str, Outlook], rows: Ints
) -> Iterator[tuple[int, Account]]:
    birds = outlook.birds
    young = np.bincount(birds.visit[birds.grown == 0], minlength=int(birds.visit.max(initial=0)) + 1)
    # a bird of another brood differs in age; without a curve a wing tells no age, only that it is odd
    tells_age = ~np.isfinite(birds.wing[rows]) | ("wing_mm" in outlook.sizes.species.curves)
    # nor is a bird a stranger that was in this box on another day
    stranger = ~(outlook.expected.own[rows] > 0)
    some = np.flatnonzero((birds.grown[rows] == 0) & tells_age & stranger & (young[birds.visit[rows]] > 1))
    if not len(some):
        return
    here = rows[some]
    slip, said = float(case.limit("place_slip")), float(case.limit("place_said"))
    chance = np.log([said if said_moved(case, [str(label)]) else slip for label in birds.labels[here]])
    dense = outlook.as_nestling(here, birds.wing[here], birds.mass[here], heed_siblings=False)
    for k, one, found in zip(some.tolist(), chance, dense, strict=True):
        yield k, Account("place", "", float(one + found))


def _code(
    case: Case, outlook: Outlook, _: Mapping[str, Outlook], rows: Ints
) -> Iterator[tuple[int, Account]]:
    birds = outlook.birds
    code_slip = np.log(float(case.limit("code_slip")))
    some = np.flatnonzero(np.isfinite(birds.grown[rows]))
    if not len(some):
        return
    here = rows[some]
    dense = outlook.evidence(here, birds.wing[here], birds.mass[here], 1 - birds.grown[here])
    for k, row, found in zip(some.tolist(), here.tolist(), dense, strict=True):
        grown = float(birds.grown[row])
        # a nestling coded full-grown is likelier where there are ten nestlings to one adult
        of_class, of_other = (birds.grown == grown).sum() + 1, (birds.grown == 1 - grown).sum() + 1
        odds = np.log(of_other / of_class) + _log_sexed_odds(birds, row)
        yield k, Account("code", "", float(code_slip + odds + found))


def _sex(case: Case, outlook: Outlook, _: Mapping[str, Outlook], rows: Ints) -> Iterator[tuple[int, Account]]:
    birds, sizes = outlook.birds, outlook.sizes
    if not any(key[0] for key in sizes.species.adult):
        return
    code_slip = np.log(float(case.limit("code_slip")))
    some = np.flatnonzero((birds.grown[rows] == 1) & (birds.sex[rows] != ""))
    if not len(some):
        return
    here = rows[some]
    other = np.where(birds.sex[here] == "M", "F", "M").astype(object)
    dense = sizes.adult_evidence(birds.wing[here], birds.mass[here], other)
    dense = dense + sizes.log_any_age(birds.age[here])
    for k, sex, found in zip(some.tolist(), other.tolist(), dense, strict=True):
        yield k, Account("sex", "", float(code_slip + found), sex)


def _species(
    case: Case, outlook: Outlook, outlooks: Mapping[str, Outlook], rows: Ints
) -> Iterator[tuple[int, Account]]:
    birds, sizes = outlook.birds, outlook.sizes
    others = [slug for slug in outlooks if slug != sizes.species.slug]
    if not others or not case.season.has("handlings", "species"):
        return
    code_slip = np.log(float(case.limit("code_slip")))
    together = np.bincount(birds.visit)
    measured = np.isfinite(birds.wing[rows]) & np.isfinite(birds.mass[rows])
    some = np.flatnonzero(measured & ((birds.grown[rows] != 0) | (together[birds.visit[rows]] == 1)))
    if not len(some):
        return
    here = rows[some]
    any_age = sizes.log_any_age(birds.age[here])
    for slug in others:
        dense = _as_other_species(outlooks[slug].sizes, birds, here) + any_age
        for k, found in zip(some.tolist(), dense, strict=True):
            yield k, Account("species", "", float(code_slip - np.log(len(others)) + found), slug)


def _as_other_species(sizes: Sizes, birds: Birds, rows: Ints) -> Floats:
    """Log density of the measures of birds, were they of another species; they keep sex and age class."""
    wing, mass, grown = birds.wing[rows], birds.mass[rows], birds.grown[rows]
    young, old = np.zeros(len(rows)), np.zeros(len(rows))
    nest, full = np.flatnonzero(grown != 1), np.flatnonzero(grown != 0)
    if len(nest):
        young[nest] = sizes.nestling_evidence(wing[nest], mass[nest])
    if len(full):
        old[full] = sizes.adult_evidence(wing[full], mass[full], birds.sex[rows][full])
    either = np.logaddexp(young, old) - np.log(2.0)
    return np.where(np.isnan(grown), either, np.where(grown == 1, old, young))


def _log_sexed_odds(birds: Birds, row: int) -> float:
    """How much better it fits the other age class that a sex was written for this bird, or none."""
    alike = (birds.sex != "") == (birds.sex[row] != "")
    grown = float(birds.grown[row])
    # one bird more of each kind, so that a class of few birds says little
    ours, others = (
        ((alike & (birds.grown == kind)).sum() + 1) / ((birds.grown == kind).sum() + 2)
        for kind in (grown, 1 - grown)
    )
    return float(np.log(others / ours))
