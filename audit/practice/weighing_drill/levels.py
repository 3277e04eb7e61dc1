"""Levels of the weighing drill: which ways of weighing come, and the mix of the next round."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.practice.drill.level import declared_levels, level_named
from audit.practice.drill.mix import next_mix
from audit.practice.weighing_drill.weighing import DRILL, WAYS
from audit.refusal import DeclarationRefusal

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audit.declarations import Declarations
    from audit.practice.exercise.drill_record import DrillRecord

__all__ = ["WeighingLevel", "mix_for", "weighing_levels"]


@dataclass(frozen=True, slots=True)
class WeighingLevel:
    """One level.

    Attributes
    ----------
    number : int
        From 1, easiest first.
    slug, title, says : str
    ways : tuple of str
        Ways of weighing that come, some of `WAYS`.
    """

    number: int
    slug: str
    title: str
    says: str
    ways: tuple[str, ...]


def weighing_levels(declared: Declarations) -> tuple[WeighingLevel, ...]:
    """List the declared levels, easiest first.

    Raises
    ------
    audit.refusal.DeclarationRefusal
        A team's own level names a way of weighing that is not known.
    """
    return tuple(
        _level(number, slug, declared) for number, slug in enumerate(declared_levels(declared, DRILL), 1)
    )


def _level(number: int, slug: str, declared: Declarations) -> WeighingLevel:
    branch = f"practice.{DRILL}.levels.{slug}"
    title, says, ways = (declared.settings[f"{branch}.{name}"].value for name in ("title", "says", "ways"))
    if not isinstance(ways, list) or not ways or any(way not in WAYS for way in ways):
        raise DeclarationRefusal(
            "A level of the weighing drill has something odd under 'ways'.",
            where=f"practice.yaml, {branch.removeprefix('practice.')}.ways",
            cure=f"Write a list of some of: {', '.join(WAYS)}.",
        )
    return WeighingLevel(number, slug, str(title), str(says), tuple(way for way in WAYS if way in ways))


def mix_for(slug: str, records: Sequence[DrillRecord], declared: Declarations) -> tuple[int, ...]:
    """Divide the next round of a level among its ways of weighing, in the order of `WAYS`.

    Raises
    ------
    audit.refusal.Refusal
        There is no such level.
    """
    level = level_named(weighing_levels(declared), slug, DRILL)
    questions, memory = (
        int(declared.settings[f"practice.{DRILL}.{name}"].value) for name in ("weighings", "memory")
    )
    mix = next_mix(level.ways, "ways", records, questions=questions, memory=memory)
    return tuple(mix.get(way, 0) for way in WAYS)
