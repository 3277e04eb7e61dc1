"""Declared ring series: form, species, string length."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.declarations.limit import Limit, limits_in

if TYPE_CHECKING:
    from collections.abc import Mapping

    from audit.declarations.document import Document

__all__ = ["RingDeclarations", "RingSeries", "rings_from"]


@dataclass(frozen=True, slots=True)
class RingSeries:
    """One series: rings of one prefix.

    Attributes
    ----------
    prefix : str
        Letters (or digits and hyphen) in front of the serial number; part of the inscription.
    digits : int
        Digits of the serial number.
    species : tuple of str
        Slugs of the species it fits; empty = any.
    string_length : int
        Rings on one string.
    source, grade : str
        Where the declaration comes from, and how well it is known.
    """

    slug: str
    prefix: str
    digits: int
    species: tuple[str, ...]
    string_length: int
    source: str
    grade: str


@dataclass(frozen=True, slots=True)
class RingDeclarations:
    """All declared series and the numbers that hold for any ring."""

    series: Mapping[str, RingSeries]
    limits: Mapping[str, Limit]

    def leg(self, mark: str) -> str:
        """Leg, ``L`` or ``R``, that is prescribed for ``ring`` or ``tag``; empty where none is."""
        declared = self.limits.get(f"legs.{mark}")
        return str(declared.value) if declared else ""


def rings_from(document: Document) -> RingDeclarations:
    """Build ring series from a document that fits the form ``rings``."""
    tree = document.tree
    limits = dict(limits_in(tree))
    usual_length = limits["string_length"].value
    return RingDeclarations(
        series={
            slug: RingSeries(
                slug=slug,
                prefix=str(body["prefix"]),
                digits=int(body["digits"]),
                species=tuple(body.get("species", ())),
                string_length=int(body.get("string_length", usual_length)),
                source=str(body.get("source", "declared by the team")),
                grade=str(body.get("grade", "common practice")),
            )
            for slug, body in (tree.get("series") or {}).items()
        },
        limits=limits,
    )
