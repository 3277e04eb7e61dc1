"""The levels of practice: what each adds, and what helps at it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.refusal import Refusal

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audit.declarations import Declarations

__all__ = ["HIDDEN", "Level", "level_named", "levels_of"]

#: The kind of slip of which nothing is seen.
HIDDEN = "hard_to_read"

_BRANCH = "practice.levels."


@dataclass(frozen=True, slots=True)
class Level:
    """One level, and with it one kind of slip.

    Attributes
    ----------
    number : int
        Counted from 1.
    slug, title, says : str
        Name, heading, and what to look for in words for a beginner.
    ways : tuple of str
        Slips of this kind, such as ``net_g.added``; none where all kinds of the levels before are mixed.
    slips : (int, int)
        Fewest and most on one sheet.
    broods, visits : int
        Size of the page.
    columns, aids : tuple of str
        What the page shows, and what helps.
    """

    number: int
    slug: str
    title: str
    says: str
    ways: tuple[str, ...]
    slips: tuple[int, int]
    broods: int
    visits: int
    columns: tuple[str, ...]
    aids: tuple[str, ...]


def levels_of(declared: Declarations) -> tuple[Level, ...]:
    """List the declared levels, easiest first."""
    settings = declared.settings
    slugs = dict.fromkeys(
        key.removeprefix(_BRANCH).partition(".")[0] for key in settings if key.startswith(_BRANCH)
    )
    found = []
    for number, slug in enumerate(slugs, 1):
        value = {
            name: settings[f"{_BRANCH}{slug}.{name}"].value
            for name in ("title", "says", "ways", "slips", "page", "columns", "aids")
        }
        fewest, most = value["slips"]
        broods, visits = value["page"]
        found.append(
            Level(
                number=number,
                slug=slug,
                title=str(value["title"]),
                says=str(value["says"]),
                ways=tuple(value["ways"]),
                slips=(int(fewest), int(most)),
                broods=int(broods),
                visits=int(visits),
                columns=tuple(value["columns"]),
                aids=tuple(value["aids"]),
            )
        )
    return tuple(found)


def level_named(levels: Sequence[Level], name: str | int) -> Level:
    """Find a level by number or name.

    Raises
    ------
    audit.refusal.Refusal
        There is no such level.
    """
    for level in levels:
        if str(name) in (str(level.number), level.slug):
            return level
    known = ", ".join(f"{level.number} ({level.slug})" for level in levels)
    raise Refusal(f"There is no level '{name}'.", where="level", cure=f"Name one of {known}.")
