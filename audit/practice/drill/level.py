"""Levels of a drill: found by number or name, and the next one to practise."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol, TypeVar

from audit.refusal import Refusal

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audit.declarations import Declarations
    from audit.practice.exercise.drill_record import DrillRecord

__all__ = ["DrillLevel", "declared_levels", "level_named", "next_level"]


class DrillLevel(Protocol):
    """How hard a round is."""

    @property
    def number(self) -> int:
        """Counted from 1, easiest first."""

    @property
    def slug(self) -> str:
        """Its name in declarations and codes."""

    @property
    def title(self) -> str:
        """What it is called."""

    @property
    def says(self) -> str:
        """What is asked at it, in a sentence."""


_Level = TypeVar("_Level", bound=DrillLevel)


def declared_levels(declared: Declarations, drill: str) -> tuple[str, ...]:
    """List the names of the declared levels of a drill, easiest first."""
    branch = f"practice.{drill}.levels."
    keys = (key.removeprefix(branch) for key in declared.settings if key.startswith(branch))
    return tuple(dict.fromkeys(key.partition(".")[0] for key in keys))


def level_named(levels: Sequence[_Level], wish: str | int, drill: str, why_not: str = "") -> _Level:
    """Find a level by its number or name.

    Parameters
    ----------
    why_not : str
        Why there are not more, to end a sentence with.

    Raises
    ------
    audit.refusal.Refusal
        There is no such level.
    """
    for level in levels:
        if str(wish) in (level.slug, str(level.number)):
            return level
    names = ", ".join(f"{level.number} {level.slug}" for level in levels)
    raise Refusal(
        f"The {drill} drill has no level '{wish}'{why_not}.", where="level", cure=f"Name one of: {names}."
    )


def next_level(
    levels: Sequence[_Level], records: Sequence[DrillRecord], declared: Declarations, drill: str
) -> _Level:
    """Choose the first level whose last round went less well than is declared, else the last level.

    Parameters
    ----------
    records : sequence of DrillRecord
        Rounds of the trainee, the last one last.
    """
    settled = float(declared.settings[f"practice.{drill}.settled"].value)
    last = {one.level: one.right / one.asked for one in records if one.asked}
    return next((level for level in levels if last.get(level.slug, -1.0) < settled), levels[-1])
