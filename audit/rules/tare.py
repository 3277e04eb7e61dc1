"""Gross, bag and net must agree: names the one that does not, and what was meant."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.models import weighing
from audit.models.mass_balance import imbalance
from audit.models.mass_causes import CAUSES
from audit.models.slip_kinds import KINDS
from audit.models.written_number import slack, typed_unit
from audit.rules.case import At
from audit.rules.heeded import WEIGHINGS
from audit.rules.plain import plain_text
from audit.rules.rule import Rule
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

__all__ = ["BAG_SLIPS", "HOW", "RULE", "check", "sum_says"]

_NAMES = ("gross", "bag", "net")
_GROSS, _BAG, _NET = range(len(_NAMES))
_TEN = 10
_GRAMS_PER_KG = 1000

#: Which cells are wrong under each cause.
_WRONG: dict[str, tuple[int, ...]] = {
    "gross": (_GROSS,),
    "bag": (_BAG,),
    "net": (_NET,),
    "not_subtracted": (_NET,),
    "subtracted_twice": (_NET,),
    "added": (_NET,),
    "gross_net_exchanged": (_GROSS, _NET),
    "gross_bag_exchanged": (_GROSS, _BAG),
    "bag_net_exchanged": (_BAG, _NET),
    "bag_carried": (_BAG, _NET),
    "all_ten_times": (_GROSS, _BAG, _NET),
    "all_a_tenth": (_GROSS, _BAG, _NET),
    "all_kilograms": (_GROSS, _BAG, _NET),
    "bird_kilograms": (_GROSS, _NET),
    "fine": (),
}

BAG_SLIPS = {
    "not_subtracted": "the bag was not subtracted",
    "subtracted_twice": "the bag was subtracted twice",
    "added": "the bag was added instead of subtracted",
}

HOW = {
    "digit": "one digit is wrong",
    "neighbours": "two neighbouring digits are exchanged",
    "dropped": "a digit is missing",
    "extra": "there is a digit too many",
    "jump": "two digits are mixed up",
    "twin": "two digits are mixed up",
    "jump_twin": "two digits are mixed up",
    "phonetic": "two digits are mixed up",
    "copied": "it repeats the row above",
}


def check(case: Case) -> Iterator[Finding | NotRun]:
    """Compare gross, bag and net of each handling, and name the one that is wrong."""
    present = [case.season.has("handlings", field) for field in MASSES]
    if not (present[_GROSS] and present[_BAG]):
        yield case.not_run("arithmetic", "Net mass alone cannot show a bag that was not subtracted.")
        if sum(present) < len(("bag", "net")):
            return
    weighings = weighings_of(case)
    gross, bag, net = weighings.triples.T
    known = np.isfinite(weighings.triples)
    if present[_GROSS] and present[_BAG] and not (known[:, _GROSS] & known[:, _BAG]).any():
        yield case.not_run("arithmetic", "Net mass alone cannot show a bag that was not subtracted.")
    whole = known.all(axis=1)
    room = weighings.room(case)
    broken = whole & (np.abs(imbalance(gross, bag, net)) > room.allowed)
    slight = broken & room.one_unit
    yield from _slight(case, weighings, np.flatnonzero(slight))
    crossed = _crossed(case, weighings, broken & ~slight, room.allowed)
    yield from _say_crossed(case, weighings, np.flatnonzero(crossed))
    yield from _broken(case, weighings, np.flatnonzero(broken & ~slight & ~crossed), room.allowed)
    sunk = known[:, _GROSS] & known[:, _BAG] & ~known[:, _NET] & (gross <= bag)
    yield from _sunk(case, weighings, np.flatnonzero(sunk))
    # a bag of 0 g says that the balance was set to zero with the bag on it
    weighed = known[:, _BAG] & (bag != 0)
    bagged = weighed & (known[:, _GROSS] | known[:, _NET])
    yield from _balanced(case, weighings, np.flatnonzero(bagged & ~broken & ~sunk))
    bagless = known[:, _GROSS] & ~known[:, _BAG] & known[:, _NET]
    yield from _without_bag(case, weighings, np.flatnonzero(bagless))


def _slight(case: Case, weighings: Weighings, rows: Ints) -> Iterator[Finding]:
    for row in rows:
        yield case.blame(
            "rounding",
            [At(weighings.labels[row], "net_g")],
            f"{sum_says(weighings.triples[row])}: one unit off, which may be rounding.",
            weighings.witnesses(row, _GROSS, _BAG),
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
            weighings.witnesses(row, _GROSS, _BAG),
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
        if best in _NAMES and kinds[cell] == "unknown":
            p_fix *= case.limit("p_fix_unknown")
        suggested = plain_text(value) if value > 0 or (cell == _BAG and value == 0) else ""
        suspects.append(At(weighings.labels[row], MASSES[cell], suggested, chance_wrong[cell], p_fix))
    outcome, message = _broken_words(typed, best, cells, kinds, verdicts.implied[i])
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
    implied_net = {_NET: float(implied[_NET])}
    return {
        "gross": {_GROSS: float(implied[_GROSS])},
        "bag": {_BAG: float(implied[_BAG])},
        "net": implied_net,
        "not_subtracted": implied_net,
        "subtracted_twice": implied_net,
        "added": implied_net,
        "gross_net_exchanged": {_GROSS: net, _NET: gross},
        "gross_bag_exchanged": {_GROSS: bag, _BAG: gross},
        "bird_kilograms": {_GROSS: gross * _GRAMS_PER_KG, _NET: net * _GRAMS_PER_KG},
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


def _broken_words(
    typed: Floats, best: str, cells: list[int], kinds: list[str], implied: Floats
) -> tuple[str, str]:
    says = sum_says(typed)
    gross, bag, net = (plain_text(value) for value in typed)
    if best in BAG_SLIPS:
        return best, f"{says}: {BAG_SLIPS[best]}."
    if best == "gross_net_exchanged":
        return (
            "exchanged",
            f"Gross {gross} g and bag {bag} g add up to net {net} g: gross and net are exchanged.",
        )
    if best == "gross_bag_exchanged":
        return "exchanged", f"Bag {bag} g less gross {gross} g is net {net} g: gross and bag are exchanged."
    if best == "bird_kilograms":
        return "unit", f"Gross {gross} and net {net} look like kilograms beside a bag of {bag} g."
    first = cells[0]
    value = plain_text(implied[first])
    name, kind = _NAMES[first], kinds[first]
    if len(cells) > 1:
        options = [f"{_NAMES[cell]} {plain_text(implied[cell])} g" for cell in cells if implied[cell] > 0]
        return "arithmetic", f"{says}: it would be right with {' or '.join(options)}."
    if kind == "tenfold":
        return "decimal", f"{says}: the decimal point of {name} slipped, {value} g would be right."
    if kind == "kilograms":
        return "unit", f"{says}: {name} looks like kilograms, {value} g would be right."
    how = f" ({HOW[kind]})" if kind in HOW else ""
    if implied[first] < 0 or (implied[first] == 0 and first != _BAG):
        return "arithmetic", f"{says}: {name} is wrong."
    return "arithmetic", f"{says}: {name} was probably meant to be {value} g{how}."


def sum_says(typed: Floats) -> str:
    """Say that a sum does not come out: ``Gross 395 g less bag 22 g is 373 g, but net says 395 g``."""
    gross, bag, net = (plain_text(value) for value in typed)
    unit = typed_unit(*(np.array([value]) for value in typed))[0]
    difference = plain_text(round((typed[_GROSS] - typed[_BAG]) / unit) * unit)
    return f"Gross {gross} g less bag {bag} g is {difference} g, but net says {net} g"


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
            bag_g, usual = plain_text(weighings.triples[row, _BAG]), plain_text(verdicts.implied[i, _BAG])
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
        meant = np.array([typed[_GROSS], typed[_NET], typed[_BAG]])
        message = f"A bag of {bag} g with a bird of {net} g is unlikely: bag and net are exchanged."
    elif best == "bag_carried":
        outcome, meant = "bag_range", implied
        message = (
            f"Bag {bag} g is far from the {plain_text(implied[_BAG])} g written beside it,"
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
        yield case.blame("no_bag", [At(label, "net_g")], message, weighings.witnesses(row, _GROSS))


RULE = Rule(
    slug="tare",
    needs={"handlings": ()},
    check=check,
    heeds=WEIGHINGS,
)
