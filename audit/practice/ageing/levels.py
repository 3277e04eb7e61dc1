"""Levels of the ageing drill: nestlings, whole broods, broods near the first or last day, feathers alone."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.practice.ageing.brood import VERDICTS
from audit.practice.drill.level import declared_levels
from audit.refusal import DeclarationRefusal

if TYPE_CHECKING:
    from audit.declarations import Declarations

__all__ = ["DRILL", "AgeingLevel", "ageing_levels"]

#: Name of the drill.
DRILL = "ageing"


@dataclass(frozen=True, slots=True)
class AgeingLevel:
    """One level.

    Attributes
    ----------
    number : int
        From 1, easiest first.
    slug, title, says : str
    nestlings, broods : int
        How many of them are asked.
    unmeasured : int
        Of how many nestlings nothing but the feathers is shown.
    verdicts : tuple of str
        Answers that come, some of `VERDICTS`.
    """

    number: int
    slug: str
    title: str
    says: str
    nestlings: int
    broods: int
    unmeasured: int
    verdicts: tuple[str, ...]


def ageing_levels(declared: Declarations) -> tuple[AgeingLevel, ...]:
    """List the declared levels, easiest first.

    Raises
    ------
    audit.refusal.DeclarationRefusal
        A team's own level names an answer that is not known, or asks too few nestlings.
    """
    return tuple(
        _level(number, slug, declared) for number, slug in enumerate(declared_levels(declared, DRILL), 1)
    )


def _level(number: int, slug: str, declared: Declarations) -> AgeingLevel:
    branch = f"practice.{DRILL}.levels.{slug}"
    value = {
        name: declared.settings[f"{branch}.{name}"].value
        for name in ("title", "says", "nestlings", "broods", "unmeasured", "verdicts")
    }
    verdicts = value["verdicts"]
    if not isinstance(verdicts, list) or not verdicts or any(one not in VERDICTS for one in verdicts):
        raise DeclarationRefusal(
            "A level of the ageing drill has something odd under 'verdicts'.",
            where=f"practice.yaml, {branch.removeprefix('practice.')}.verdicts",
            cure=f"Write a list of some of: {', '.join(VERDICTS)}.",
        )
    return AgeingLevel(
        number,
        slug,
        str(value["title"]),
        str(value["says"]),
        int(value["nestlings"]),
        int(value["broods"]),
        int(value["unmeasured"]),
        tuple(one for one in VERDICTS if one in verdicts),
    )
