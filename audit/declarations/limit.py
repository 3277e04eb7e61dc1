"""A number that a rule uses, with its unit, source and grade."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from audit.declarations.document import Document

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from pathlib import Path

    from audit.declarations.shape import Trail

__all__ = ["GRADES", "Limit", "limits_in", "name_team_as_source"]

GRADES = ("read", "computed", "common practice", "memory")


@dataclass(frozen=True, slots=True)
class Limit:
    """One declared number (or word, or short list).

    Attributes
    ----------
    value : float, int, str, bool or list
        The value, in `unit`.
    source : str
        Where it comes from.
    grade : {'read', 'computed', 'common practice', 'memory'}
        How well it is known.
    """

    value: Any
    source: str
    grade: str
    unit: str = ""


def limits_in(tree: Mapping[str, Any], prefix: str = "") -> Iterator[tuple[str, Limit]]:
    """Walk a declaration and yield every limit under its dotted key."""
    for key, value in tree.items():
        here = f"{prefix}.{key}" if prefix else key
        if not isinstance(value, dict):
            continue
        if {"value", "source", "grade"} <= set(value):
            yield here, Limit(value["value"], value["source"], value["grade"], value.get("unit", ""))
        else:
            yield from limits_in(value, here)


def name_team_as_source(document: Document, own: Path) -> Document:
    """Where a team wrote a value without a source of its own, name the team's file as the source.

    The shipped source stands for another number.

    Parameters
    ----------
    document : Document
        A shipped document with a team's one laid over it.
    own : Path
        The team's folder.
    """

    def is_own(trail: Trail) -> bool:
        return document.place(*trail)[0].is_relative_to(own)

    def told(tree: dict[str, Any], trail: Trail) -> dict[str, Any]:
        if {"value", "source", "grade"} <= set(tree):
            if is_own((*trail, "value")) and not is_own((*trail, "source")):
                path, line = document.place(*trail, "value")
                return {**tree, "source": f"{path.name}, line {line}; no source given", "grade": "memory"}
            return tree
        return {
            key: told(value, (*trail, key)) if isinstance(value, dict) else value
            for key, value in tree.items()
        }

    return Document(told(document.tree, ()), document.places)
