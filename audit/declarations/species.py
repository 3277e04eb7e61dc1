"""Declared species: names, growth curves, breeding numbers and cautions."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.declarations.limit import Limit, limits_in

if TYPE_CHECKING:
    from collections.abc import Mapping

    from audit.declarations.document import Document

__all__ = ["Species", "species_from"]


@dataclass(frozen=True, slots=True)
class Species:
    """One declared species."""

    slug: str
    names: tuple[str, ...]
    limits: Mapping[str, Limit]


def species_from(slug: str, document: Document) -> Species:
    """Build a species from a document that fits the form ``species``."""
    tree = document.tree
    return Species(slug=slug, names=tuple(tree.get("names", ())), limits=dict(limits_in(tree)))
