"""The levels of practice: what each adds, and what helps at it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from audit.practice.kinds import ways_of
from audit.refusal import DeclarationRefusal, Refusal

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

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
    """List the declared levels, easiest first.

    Raises
    ------
    audit.refusal.DeclarationRefusal
        A team's own level names a slip that is not known, or has no two whole numbers where it should.
    """
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
        _refuse_odd(slug, value)
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


def _refuse_odd(slug: str, value: Mapping[str, Any]) -> None:
    wrong = {
        name: "two whole numbers above 0, such as [1, 2]"
        for name in ("slips", "page")
        if not isinstance(value[name], list)
        or len(value[name]) != 2  # noqa: PLR2004 - a pair
        or not all(type(one) is int and one > 0 for one in value[name])
    }
    wrong |= {
        name: "a list of words"
        for name in ("ways", "columns", "aids")
        if not isinstance(value[name], list) or not all(isinstance(one, str) for one in value[name])
    }
    if not wrong and value["ways"]:
        known = {way.name for way in ways_of()}
        unknown = [name for name in value["ways"] if name not in known]
        if unknown:
            wrong["ways"] = f"kinds of slip that are known; '{unknown[0]}' is none"
    for name, cure in wrong.items():
        raise DeclarationRefusal(
            f"A level of practice has something odd under '{name}'.",
            where=f"practice.yaml, levels.{slug}.{name}",
            cure=f"Write {cure}.",
        )


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
