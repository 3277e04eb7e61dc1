"""How hard a number is to read: the levels of the drill."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.practice.drill.level import declared_levels

if TYPE_CHECKING:
    from audit.declarations import Declarations

__all__ = ["ReadingLevel", "reading_levels"]

_BRANCH = "practice.reading.levels."


@dataclass(frozen=True, slots=True)
class ReadingLevel:
    """One level.

    Attributes
    ----------
    number : int
        From 1, easiest first.
    slug, title, says : str
    worn : float
        Share of each stroke that is worn away, 0 to 1.
    turned, curved : float
        Shares of rings that stand upside down, and that are seen on the leg, 0 to 1.
    hidden : float
        Share of the height of some signs that a toe hides, 0 to 1.
    dirt : int
        Specks on a ring.
    grouped, dead : float
        Shares of displays with digits in groups, and with a dead segment, 0 to 1.
    """

    number: int
    slug: str
    title: str
    says: str
    worn: float
    turned: float
    curved: float
    hidden: float
    dirt: int
    grouped: float
    dead: float


def reading_levels(declared: Declarations) -> tuple[ReadingLevel, ...]:
    """List the declared levels, easiest first."""
    slugs = declared_levels(declared, "reading")
    return tuple(_level(number, slug, declared) for number, slug in enumerate(slugs, 1))


def _level(number: int, slug: str, declared: Declarations) -> ReadingLevel:
    value = {
        name: declared.settings[f"{_BRANCH}{slug}.{name}"].value
        for name in ("title", "says", "worn", "turned", "curved", "hidden", "dirt", "grouped", "dead")
    }
    return ReadingLevel(
        number=number,
        slug=slug,
        title=str(value["title"]),
        says=str(value["says"]),
        worn=float(value["worn"]),
        turned=float(value["turned"]),
        curved=float(value["curved"]),
        hidden=float(value["hidden"]),
        dirt=int(value["dirt"]),
        grouped=float(value["grouped"]),
        dead=float(value["dead"]),
    )
