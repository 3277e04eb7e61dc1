"""Declared states of a nestling's feathers, and the ages at which they are seen."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from audit.refusal import DeclarationRefusal

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audit.declarations.document import Document

__all__ = ["Plumage", "plumages_from"]


@dataclass(frozen=True, slots=True)
class Plumage:
    """One state of the feathers.

    Attributes
    ----------
    says : str
        What is seen, in a sentence.
    first_day, last_day : float
        Ages in days since hatching between which a usual nestling looks so.
    source, grade : str
        Where that comes from, and how well it is known.
    """

    says: str
    first_day: float
    last_day: float
    source: str
    grade: str


def plumages_from(rows: Sequence[dict[str, Any]], document: Document) -> tuple[Plumage, ...]:
    """Build the states of a species, youngest first.

    Raises
    ------
    audit.refusal.DeclarationRefusal
        They leave days out, overlap, or end before they begin: with file, line and cure.
    """
    states = tuple(
        Plumage(
            " ".join(str(row["says"]).split()),
            float(row["from_day"]),
            float(row["to_day"]),
            str(row["source"]),
            str(row["grade"]),
        )
        for row in rows
    )
    for place, state in enumerate(states):
        if state.last_day <= state.first_day:
            raise DeclarationRefusal(
                f"This state of the feathers ends on day {state.last_day:g} and begins on day "
                f"{state.first_day:g}.",
                where=document.where("plumage", place, "to_day"),
                cure="Write a later day.",
            )
    for place, (earlier, later) in enumerate(pairwise(states), 1):
        if later.first_day != earlier.last_day:
            raise DeclarationRefusal(
                f"This state of the feathers begins on day {later.first_day:g}, and the one before it ends "
                f"on day {earlier.last_day:g}.",
                where=document.where("plumage", place, "from_day"),
                cure="Let each state begin on the day on which the one before it ends, the youngest first.",
            )
    return states
