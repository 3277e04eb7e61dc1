"""From weighed accounts to a finding: which cells are blamed, what is suggested, how sure both are."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from audit.explain.sentences import Said, say_either, say_one
from audit.explain.surroundings import MEASURES, far_masses, far_wings
from audit.rules.case import At
from audit.rules.plain import plain_text

if TYPE_CHECKING:
    from audit.explain.account import Account, Posterior
    from audit.explain.surroundings import Surroundings
    from audit.findings import Finding

__all__ = ["findings_of"]

_GROSS, _BAG, _NET, _WING = MEASURES


def findings_of(around: Surroundings, row: int, posterior: Posterior) -> list[Finding] | None:
    """Put the weighed accounts of one row into findings.

    Returns
    -------
    list of Finding or None
        Empty where nothing is said; None where the blame lies outside the measures, so that the rules'
        own findings stand.
    """
    case = around.weigher
    wrong = 1 - posterior.nothing
    grown = around.birds.grown[row] == 1
    if wrong < case.setting(f"explain.say.blame_{'grown_' if grown else ''}from"):
        # what is expected of a full-grown bird was declared, not learnt from its company
        return [] if grown else _far_off(around, row, posterior)
    ranked = posterior.by_cells()
    cells, share = ranked[0]
    if share >= case.setting("explain.say.lead") * wrong or len(ranked) == 1:
        if not cells <= set(MEASURES):
            return None
        account, _ = posterior.leading(cells)
        if account.parts:
            return [_one(around, row, posterior, part, {cells, part.wrong}) for part in account.parts]
        return [_one(around, row, posterior, account, {cells})]
    named = [(cells, share)]
    named += [(s, p) for s, p in ranked[1:2] if p >= case.setting("explain.say.share_from")]
    sets = [s for s, _ in named]
    if any(not s <= set(MEASURES) for s in sets):
        return None
    # two accounts that share a cell agree at least about that one
    agreed = frozenset.intersection(*sets)
    if agreed and posterior.wrong(min(agreed)) >= case.setting("explain.say.lead"):
        account = max((posterior.leading(s) for s in sets), key=lambda pair: pair[1])[0]
        return [_one(around, row, posterior, _part_of(account, agreed), set(sets))]
    return [_either(around, row, posterior, sets)]


def _far_off(around: Surroundings, row: int, posterior: Posterior) -> list[Finding]:
    """Name a measure that no bird of this kind should have, though no slip is likely enough to be sure."""
    sets = [
        cells
        for cells, _ in posterior.by_cells()
        if (far_wings(around)[row] and cells == {_WING})
        or (
            far_masses(around)[row]
            and _WING not in cells
            and cells & {_NET, _GROSS}
            and cells <= set(MEASURES)
        )
    ]
    # far from what a wrong cell elsewhere foretells is no reason to ask here
    if not sets or max(map(posterior.wrong, sets[0])) < around.weigher.setting("explain.far.least_chance"):
        return []
    account, _ = posterior.leading(sets[0])
    return [_one(around, row, posterior, account, {sets[0]})]


def _part_of(account: Account, cells: frozenset[str]) -> Account:
    """Return the account of some of its cells only."""
    kept = tuple((field, value) for field, value in account.meant if field in cells)
    same = next((part for part in account.parts if part.wrong == cells), None)
    return same or replace(account, kind="keyed", meant=kept, parts=())


def _one(
    around: Surroundings, row: int, posterior: Posterior, account: Account, among: set[frozenset[str]]
) -> Finding:
    fields = [field for field in MEASURES if field in account.wrong]
    suspects = [_at(around, row, posterior, field, among) for field in fields]
    offered = {at.field: plain_text(at.suggested) for at in suspects}
    return _blame(around, row, suspects, say_one(around, row, account, offered))


def _either(around: Surroundings, row: int, posterior: Posterior, sets: list[frozenset[str]]) -> Finding:
    fields = [field for field in MEASURES if any(field in cells for cells in sets)]
    fields.sort(key=lambda field: -posterior.wrong(field))
    suspects = [_at(around, row, posterior, field, set(sets)) for field in fields]
    offered = {at.field: plain_text(at.suggested) for at in suspects}
    return _blame(around, row, suspects, say_either(around, row, fields, offered))


def _at(around: Surroundings, row: int, posterior: Posterior, field: str, among: set[frozenset[str]]) -> At:
    value, p_fix = posterior.likeliest(field, among)
    least = around.weigher.setting("explain.say.suggest_from") * posterior.wrong(field)
    suggested = "" if value is None or p_fix < least else plain_text(value)
    return At(
        around.labels[row],
        field,
        suggested,
        posterior.wrong(field),
        p_fix if suggested else None,
        list(posterior.values(field).items()),
    )


def _blame(around: Surroundings, row: int, suspects: list[At], said: Said) -> Finding:
    case = around.weigher if said.rule == "tare" else around.grower
    blamed = {at.field for at in suspects}
    label = around.labels[row]
    there = [field for field, value in zip(MEASURES, around.typed[row], strict=True) if np.isfinite(value)]
    witnesses = [(label, field) for field in there if field not in blamed]
    if said.rule == "tare":
        witnesses = [(label, field) for _, field in witnesses if field != _WING]
    return case.blame(said.outcome, suspects, f"{said.text}.", witnesses)
