"""How the questions of the next round are divided among kinds: most of what was missed."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeVar

import numpy as np

from audit.practice.drill.round_code import Coded, made_again

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from audit.declarations import Declarations
    from audit.practice.drill.round_code import RoundCode
    from audit.practice.exercise.drill_record import DrillRecord

__all__ = ["MISSED", "made_of_mix", "mix_in", "mix_text", "next_mix"]

#: Where a record counts the questions of each kind that were missed.
MISSED = "missed"
_TINY = 1e-9

_Round = TypeVar("_Round", bound=Coded)

if TYPE_CHECKING:
    #: Trainee, number, species, level, mix and declarations -> a round.
    MakeOfMix = Callable[[str, int, str, str, Sequence[int], Declarations], _Round]


def next_mix(
    kinds: Sequence[str], asked: str, records: Sequence[DrillRecord], *, questions: int, memory: int
) -> dict[str, int]:
    """Divide questions among kinds: one of each at least, the rest by what was missed.

    Parameters
    ----------
    kinds : sequence of str
    asked : str
        Where a record counts the questions of each kind that were asked.
    records : sequence of DrillRecord
        Rounds of the trainee, the last one last; only the last `memory` of them count.
    questions : int
        Of the whole round.

    References
    ----------
    Share missed by Laplace's rule of succession, ``(missed + 1) / (asked + 2)``; largest remainders.
    """
    last = records[-memory:]
    times, missed = (
        np.array([sum(one.counts.get(part, {}).get(kind, 0) for one in last) for kind in kinds], float)
        for part in (asked, MISSED)
    )
    weight = (missed + 1) / (times + 2)
    spare = max(0, questions - len(kinds))
    share = spare * weight / weight.sum()
    whole = np.floor(share + _TINY).astype(int)
    whole[np.argsort(-(share - whole), kind="stable")[: spare - int(whole.sum())]] += 1
    return {kind: int(number) + 1 for kind, number in zip(kinds, whole, strict=True)}


def made_of_mix(code: str, drill: str, kinds: int, make: MakeOfMix[_Round], declared: Declarations) -> _Round:
    """Make a round again whose code holds species, level and a mix of so many kinds.

    Raises
    ------
    audit.refusal.Refusal
        As for `audit.practice.drill.round_code.made_again`.
    """

    def made(told: RoundCode) -> _Round:
        species, level, mix = told.wishes
        return make(told.trainee, told.number, species, level, mix_in(mix, kinds), declared)

    return made_again(code, drill, 3, made)


def mix_text(mix: Sequence[int]) -> str:
    """Write a mix as it stands in a code.

    Examples
    --------
    >>> mix_text((3, 0, 2)), mix_in("3-0-2", 3)
    ('3-0-2', (3, 0, 2))
    """
    return "-".join(map(str, mix))


def mix_in(text: str, kinds: int) -> tuple[int, ...]:
    """Read a mix of so many kinds.

    Raises
    ------
    ValueError
        It is none.
    """
    mix = tuple(int(part) for part in text.split("-"))
    if len(mix) != kinds:
        raise ValueError(text)
    return mix
