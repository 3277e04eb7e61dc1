"""A number that a rule uses, with its unit, source and grade."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

__all__ = ["GRADES", "Limit", "limits_in"]

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
