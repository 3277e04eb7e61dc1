"""Accounts of one bird's measures: what may have gone wrong, each weighed by how well it explains the row."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite
from typing import TYPE_CHECKING

import numpy as np

from audit.models.written_number import step_of
from audit.rules.bird_accounts import Account, accounts_about_birds
from audit.rules.sizes import log_any

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from audit.models.keying import Channel, Source
    from audit.rules.case import Case
    from audit.rules.outlook import Outlook

    Floats = NDArray[np.float64]

__all__ = [
    "Account",
    "accounts_of",
    "log_any",
    "log_step",
    "meant_of",
    "odd_decimals",
    "other_share",
]


def accounts_of(
    case: Case, outlook: Outlook, outlooks: Mapping[str, Outlook], rows: Sequence[int], channel: Channel
) -> list[list[Account]]:
    """Weigh everything that may account for the measures of some birds, each bird on its own.

    What all of it makes likely is asked for all birds at once: each asking costs more than many more values.

    Parameters
    ----------
    outlook : Outlook
        Of the birds' species.
    outlooks : mapping of str to Outlook
        Of all species of the season.
    rows : sequence of int
        Which birds of the outlook, each once.
    channel : Channel
        What becomes of a number in which the hand slips.
    """
    birds = outlook.birds
    thought_of = [_Thought.of(channel, float(birds.wing[row]), float(birds.mass[row])) for row in rows]
    many = [len(one.wings) for one in thought_of]
    where = np.repeat(np.array(rows, dtype=np.int64), many)
    wings = np.concatenate([np.empty(0), *(one.wings for one in thought_of)])
    masses = np.concatenate([np.empty(0), *(one.masses for one in thought_of)])
    dense = outlook.evidence(where, wings, masses, birds.grown[where])
    told = np.split(dense, np.cumsum(many)[:-1])
    decimals = {"wing": _usual_decimals(birds.wing), "mass": _usual_decimals(birds.mass)}
    steps = [_steps(decimals, one) for one in thought_of]
    about = accounts_about_birds(case, outlook, outlooks, rows, [sum(one.values()) for one in steps])
    return [
        [*_accounts_of_measures(case, outlook, row, one, found, step, decimals), *beside]
        for row, one, found, step, beside in zip(rows, thought_of, told, steps, about, strict=True)
    ]


@dataclass(frozen=True, slots=True)
class _Thought:
    """Measures that a bird may have had: as typed; each one otherwise or not known; both exchanged.

    Attributes
    ----------
    meant : mapping of str to sequence of Source
        What may have been meant by the wing and by the mass, where they are there.
    wings, masses : numpy.ndarray, shape (k,)
        As typed; for each measure that is there all that may be meant, then none; last, exchanged.
    """

    wing: float
    mass: float
    meant: Mapping[str, Sequence[Source]]
    wings: Floats
    masses: Floats

    @classmethod
    def of(cls, channel: Channel, wing: float, mass: float) -> _Thought:
        typed = {"wing": wing, "mass": mass}
        meant = {cause: meant_of(channel, value) for cause, value in typed.items() if np.isfinite(value)}
        wings, masses = [wing], [mass]
        for cause, sources in meant.items():
            others = [float(one.meant) for one in sources] + [np.nan]
            wings += others if cause == "wing" else [wing] * len(others)
            masses += others if cause == "mass" else [mass] * len(others)
        if len(meant) == len(typed):
            wings.append(mass)
            masses.append(wing)
        return cls(wing, mass, meant, np.array(wings), np.array(masses))


def _steps(decimals: Mapping[str, float], thought: _Thought) -> dict[str, float]:
    """Weigh the steps to which wing and mass were written: decimals in a column of whole numbers are odd."""
    return {
        "wing": log_step(decimals["wing"], thought.wing),
        "mass": log_step(decimals["mass"], thought.mass),
    }


def _accounts_of_measures(
    case: Case,
    outlook: Outlook,
    row: int,
    thought: _Thought,
    dense: Floats,
    step: Mapping[str, float],
    decimals: Mapping[str, float],
) -> list[Account]:
    """Weigh what may have gone wrong in the measures of a bird, by the density of all that is thought of."""
    slip = float(case.limit("slip"))
    other = other_share(case)
    trust = {
        "wing": 1.0,
        "mass": float(case.limit("balanced_trust")) if outlook.birds.balanced[row] else 1.0,
    }
    both_steps = step["wing"] + step["mass"]
    accounts = [Account("nothing", "", float(dense[0]) + both_steps)]
    anything = {}
    at = 1
    for cause, meant in thought.meant.items():
        value, name, partner = (
            (thought.wing, "wing_mm", "mass") if cause == "wing" else (thought.mass, "mass_g", "wing")
        )
        prior = np.log(slip * trust[cause])
        alone = dense[at + len(meant)]
        for one, log_density in zip(meant, dense[at : at + len(meant)], strict=True):
            # a lost point would have made a whole number of decimals that nobody else writes
            unit = log_step(decimals[cause], float(one.meant))
            weight = float(prior + np.log(one.chance) + log_density + unit + step[partner])
            accounts.append(Account(cause, one.kind, weight, float(one.meant)))
        at += len(meant) + 1
        anything[cause] = float(log_any(outlook.sizes, name, np.array([value]))[0])
        accounts.append(
            Account(cause, "other", float(prior + np.log(other) + anything[cause] + alone) + both_steps)
        )
    if len(anything) > 1:
        prior = np.log(slip * float(case.share("exchanged.net_wing")) * trust["mass"])
        accounts.append(Account("exchanged", "", float(prior + dense[at]) + both_steps))
        any_both = sum(anything.values())
        accounts.append(Account("both", "", float(2 * np.log(slip * other) + any_both) + both_steps))
    return accounts


def meant_of(channel: Channel, value: float) -> list[Source]:
    """List the numbers that one slip of the hand turns into `value`."""
    return [one for one in channel.sources(value) if float(one.meant) > 0]


def other_share(case: Case) -> float:
    """Share of wrong measures that were copied from elsewhere, or are wrong for no known reason."""
    return case.share("measures.copied") + case.share("measures.digit") * case.share("codes.unknown")


def log_step(decimals: float, value: float) -> float:
    """Log of the step that a value was written to, times how usual decimals are in its column."""
    step = step_of(value) if isfinite(value) else 1.0
    return 0.0 if step == 1 else float(np.log(step) + np.log(decimals))


def _usual_decimals(column: Floats) -> float:
    known = column[np.isfinite(column)]
    # the next value may be the first with decimals
    return float(((np.mod(known, 1) > 0).sum() + 1 / 2) / (len(known) + 1))


def odd_decimals(column: Floats, rare: float) -> NDArray[np.bool_]:
    """Which values have decimals, in a column where so small a share has."""
    fraction = np.mod(np.where(np.isfinite(column), column, 0.0), 1) > 0
    return fraction & (_usual_decimals(column) < rare)
