"""Gross, bag and net must agree: names the one that does not, and what was meant."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.models import weighing
from audit.models.mass_balance import imbalance
from audit.models.mass_causes import CAUSES
from audit.models.slip_kinds import KINDS
from audit.models.written_number import slack
from audit.rules.case import At
from audit.rules.heeded import WEIGHINGS
from audit.rules.plain import plain_text
from audit.rules.rule import Rule
from audit.rules.tare_words import BAG, GROSS, MASS_NAMES, NET, broken_words, sum_says
from audit.rules.weighings import MASSES, weighings_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from audit.findings import Finding, NotRun
    from audit.models.weighing import Verdicts
    from audit.rules.case import Case
    from audit.rules.weighings import Weighings

    Flags = NDArray[np.bool_]
    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["RULE", "check"]

_TEN = 10
_GRAMS_PER_KG = 1000

#: Which cells are wrong under each cause.
_WRONG: dict[str, tuple[int, ...]] = {
    "gross": (GROSS,),
    "bag": (BAG,),
    "net": (NET,),
    "not_subtracted": (NET,),
    "subtracted_twice": (NET,),
    "added": (NET,),
    "gross_net_exchanged": (GROSS, NET),
    "gross_bag_exchanged": (GROSS, BAG),
    "bag_net_exchanged": (BAG, NET),
    "bag_carried": (BAG, NET),
    "all_ten_times": (GROSS, BAG, NET),
    "all_a_tenth": (GROSS, BAG, NET),
    "all_kilograms": (GROSS, BAG, NET),
    "bird_kilograms": (GROSS, NET),
    "fine": (),
}


def check(case: Case) -> Iterator[Finding | NotRun]:
    """Compare gross, bag and net of each handling, and name the one that is wrong."""
    present = [case.season.has("handlings", field) for field in MASSES]
    if not (present[GROSS] and present[BAG]):
        yield case.not_run("arithmetic", "Net mass alone cannot show a bag that was not subtracted.")
        if sum(present) < len(("bag", "net")):
            return
    weighings = weighings_of(case)
    gross, bag, net = weighings.triples.T
    known = np.isfinite(weighings.triples)
    if present[GROSS] and present[BAG] and not (known[:, GROSS] & known[:, BAG]).any():
        yield case.not_run("arithmetic", "Net mass alone cannot show a bag that was not subtracted.")
    whole = known.all(axis=1)
    room = weighings.room(case)
    broken = whole & (np.abs(imbalance(gross, bag, net)) > room.allowed)
    slight = broken & room.one_unit
    yield from _slight(case, weighings, np.flatnonzero(slight))
    crossed = _crossed(case, weighings, broken & ~slight, room.allowed)
    yield from _say_crossed(case, weighings, np.flatnonzero(crossed))
    yield from _broken(case, weighings, np.flatnonzero(broken & ~slight & ~crossed), room.allowed)
    sunk = known[:, GROSS] & known[:, BAG] & ~known[:, NET] & (gross <= bag)
    yield from _sunk(case, weighings, np.flatnonzero(sunk))
    # a bag of 0 g says that the balance was set to zero with the bag on it
    weighed = known[:, BAG] & (bag != 0)
    bagged = weighed & (known[:, GROSS] | known[:, NET])
    yield from _balanced(case, weighings, np.flatnonzero(bagged & ~broken & ~sunk))
    bagless = known[:, GROSS] & ~known[:, BAG] & known[:, NET]
    yield from _without_bag(case, weighings, np.flatnonzero(bagless))


def _slight(case: Case, weighings: Weighings, rows: Ints) -> Iterator[Finding]:
    for row in rows:
        yield case.blame(
            "rounding",
            [At(weighings.labels[row], "net_g")],
            f"{sum_says(weighings.triples[row])}: one unit off, which may be rounding.",
            weighings.witnesses(row, GROSS, BAG),
        )


def _crossed(case: Case, weighings: Weighings, broken: Flags, allowed: Floats) -> Flags:
    """Rows whose wing is the net mass that gross and bag leave, and whose net could be a wing."""
    if not case.season.has("handlings", "wing_mm"):
        return np.zeros_like(broken)
    wing = case.sure("handlings")["wing_mm"].to_numpy(dtype=np.float64)
    gross, bag, net = weighings.triples.T
    left = np.abs(gross - bag - wing) <= allowed + slack(gross)
    sound = wing[~broken & np.isfinite(wing)]
    if not sound.size:
        return np.zeros_like(broken)
    crossed: Flags = broken & left & (net >= sound.min()) & (net <= sound.max())
    return crossed


def _say_crossed(case: Case, weighings: Weighings, rows: Ints) -> Iterator[Finding]:
    for row in rows:
        gross, bag, net = (plain_text(value) for value in weighings.triples[row])
        label = weighings.labels[row]
        wing = plain_text(case.frame("handlings").loc[label, "wing_mm"])
        yield case.blame(
            "wing_exchanged",
            [At(label, "net_g", wing), At(label, "wing_mm", net)],
            f"Gross {gross} g less bag {bag} g is {wing} g, which stands as the wing, and net says {net}: "
            "net and wing are exchanged.",
            weighings.witnesses(row, GROSS, BAG),
        )


def _broken(case: Case, weighings: Weighings, rows: Ints, allowed: Floats) -> Iterator[Finding]:
    if not len(rows):
        return
    doubt = np.ones((len(rows), len(MASSES)))
    if case.doubted:
        times = case.limit("doubted_times")
        for i, row in enumerate(rows):
            for cell, field in enumerate(MASSES):
                if case.in_doubt(weighings.labels[row], field):
                    doubt[i, cell] = times
    verdicts = weighing.explain_broken(
        weighings.triples[rows],
        rows,
        weighings.bags,
        weighings.prior.of(rows),
        weighings.shares,
        allowed=allowed[rows],
        above=weighings.above[rows],
        doubt=doubt,
    )
    for i, row in enumerate(rows):
        yield _say_broken(case, weighings, int(row), verdicts, i)


def _say_broken(case: Case, weighings: Weighings, row: int, verdicts: Verdicts, i: int) -> Finding:
    typed = weighings.triples[row]
    posterior = verdicts.posterior[i]
    best = CAUSES[int(posterior.argmax())]
    meant = _meant(typed, verdicts.implied[i])
    chance_wrong = [
        float(sum(posterior[CAUSES.index(cause)] for cause, cells in _WRONG.items() if cell in cells))
        for cell in range(len(MASSES))
    ]
    cells = _blamed_cells(case, best, chance_wrong)
    kinds = [KINDS[int(kind)] for kind in verdicts.kinds[i]]
    suspects = []
    for cell in cells:
        value, p_fix = _likeliest(meant, posterior, cell, best if len(_WRONG[best]) > 1 else "")
        if best in MASS_NAMES and kinds[cell] == "unknown":
            p_fix *= case.limit("p_fix_unknown")
        suggested = plain_text(value) if value > 0 or (cell == BAG and value == 0) else ""
        suspects.append(At(weighings.labels[row], MASSES[cell], suggested, chance_wrong[cell], p_fix))
    outcome, message = broken_words(typed, best, cells, kinds, verdicts.implied[i])
    others = [cell for cell in range(len(MASSES)) if cell not in cells]
    return case.blame(outcome, suspects, message, weighings.witnesses(row, *others))


def _blamed_cells(case: Case, best: str, chance_wrong: list[float]) -> list[int]:
    if len(_WRONG[best]) > 1:
        return list(_WRONG[best])
    ranked = sorted(range(len(MASSES)), key=lambda cell: -chance_wrong[cell])
    if chance_wrong[ranked[0]] >= case.limit("blame_one_from"):
        return ranked[:1]
    return [
        cell for cell in ranked if cell == ranked[0] or chance_wrong[cell] >= case.limit("blame_other_from")
    ]


def _meant(typed: Floats, implied: Floats) -> dict[str, dict[int, float]]:
    """Return the value of each wrong cell under each cause."""
    gross, bag, net = (float(value) for value in typed)
    implied_net = {NET: float(implied[NET])}
    return {
        "gross": {GROSS: float(implied[GROSS])},
        "bag": {BAG: float(implied[BAG])},
        "net": implied_net,
        "not_subtracted": implied_net,
        "subtracted_twice": implied_net,
        "added": implied_net,
        "gross_net_exchanged": {GROSS: net, NET: gross},
        "gross_bag_exchanged": {GROSS: bag, BAG: gross},
        "bird_kilograms": {GROSS: gross * _GRAMS_PER_KG, NET: net * _GRAMS_PER_KG},
    }


def _likeliest(
    meant: dict[str, dict[int, float]], posterior: Floats, cell: int, only: str
) -> tuple[float, float]:
    chances: dict[float, float] = {}
    for cause, values in meant.items():
        if cell in values and (not only or cause == only):
            chance = float(posterior[CAUSES.index(cause)])
            chances[values[cell]] = chances.get(values[cell], 0.0) + chance
    return max(chances.items(), key=lambda item: item[1])


def _balanced(case: Case, weighings: Weighings, rows: Ints) -> Iterator[Finding]:
    if not len(rows):
        return
    gross, bag, net = weighings.triples[rows].T
    triples = np.stack(
        [np.where(np.isfinite(gross), gross, bag + net), bag, np.where(np.isfinite(net), net, gross - bag)],
        axis=1,
    )
    verdicts = weighing.explain_balanced(
        triples, rows, weighings.bags, weighings.prior.of(rows), weighings.shares
    )
    fine = CAUSES.index("fine")
    for i in np.flatnonzero(verdicts.posterior[:, fine] < 1 - case.limit("balanced_note_from")):
        row = int(rows[i])
        if case.in_doubt(weighings.labels[row], *MASSES):
            continue
        posterior = verdicts.posterior[i].copy()
        posterior[fine] = 0.0
        best, chance = CAUSES[int(posterior.argmax())], float(posterior.max())
        if chance >= case.limit("balanced_blame_from"):
            yield _say_balanced(case, weighings, row, best, (chance, verdicts.implied[i]))
        elif best == "bag_carried":
            bag_g, usual = plain_text(weighings.triples[row, BAG]), plain_text(verdicts.implied[i, BAG])
            message = f"Bag {bag_g} g is unlike the {usual} g written beside it; a second bag is normal."
            yield case.blame("bag_drift", [At(weighings.labels[row], "bag_g", "", chance)], message)


def _say_balanced(
    case: Case, weighings: Weighings, row: int, best: str, found: tuple[float, Floats]
) -> Finding:
    chance, implied = found
    typed = weighings.triples[row]
    gross, bag, net = (plain_text(value) for value in typed)
    if best == "bag_net_exchanged":
        outcome = "exchanged"
        meant = np.array([typed[GROSS], typed[NET], typed[BAG]])
        message = f"A bag of {bag} g with a bird of {net} g is unlikely: bag and net are exchanged."
    elif best == "bag_carried":
        outcome, meant = "bag_range", implied
        message = (
            f"Bag {bag} g is far from the {plain_text(implied[BAG])} g written beside it,"
            " and net was taken from it."
        )
    elif best == "all_kilograms":
        outcome, meant = "unit", typed * _GRAMS_PER_KG
        message = f"Gross {gross}, bag {bag} and net {net} look like kilograms."
    else:
        outcome, meant = "decimal", typed * _TEN if best == "all_a_tenth" else typed / _TEN
        message = f"Gross {gross} g, bag {bag} g and net {net} g are all out by ten."
    written = [cell for cell in _WRONG[best] if np.isfinite(typed[cell])]
    others = [cell for cell in range(len(MASSES)) if cell not in written]
    suspects = [
        At(weighings.labels[row], MASSES[cell], plain_text(meant[cell]), chance, chance) for cell in written
    ]
    return case.blame(outcome, suspects, message, weighings.witnesses(row, *others))


def _sunk(case: Case, weighings: Weighings, rows: Ints) -> Iterator[Finding]:
    for row in rows:
        gross, bag, _ = (plain_text(value) for value in weighings.triples[row])
        label = weighings.labels[row]
        message = f"Gross {gross} g is no more than bag {bag} g: nothing is left for the bird."
        yield case.blame("negative", [At(label, "gross_g"), At(label, "bag_g")], message)


def _without_bag(case: Case, weighings: Weighings, rows: Ints) -> Iterator[Finding]:
    """Rows without a bag: gross less net must leave one."""
    gross, _, net = weighings.triples[rows].T
    left = gross - net
    for i in np.flatnonzero(left <= 0):
        yield from _say_without_bag(case, weighings, int(rows[i]), float(left[i]))


def _say_without_bag(case: Case, weighings: Weighings, row: int, left: float) -> Iterator[Finding]:
    label = weighings.labels[row]
    gross, _, net = (plain_text(value) for value in weighings.triples[row])
    both = [At(label, "gross_g"), At(label, "net_g")]
    if left < 0:
        yield case.blame(
            "negative", both, f"Net {net} g is more than gross {gross} g, which includes the bag."
        )
    elif weighings.bags.mates(np.array([row]))[0] > 0:
        message = f"Gross and net are both {gross} g and no bag is written: was the bag subtracted?"
        yield case.blame("no_bag", [At(label, "net_g")], message, weighings.witnesses(row, GROSS))


RULE = Rule(
    slug="tare",
    needs={"handlings": ()},
    check=check,
    heeds=WEIGHINGS,
)
