"""How the season itself writes a species."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.declarations.species import species_index

if TYPE_CHECKING:
    from audit.rules.case import Case

__all__ = ["as_written"]


def as_written(case: Case, slug: str) -> str:
    """Write a species as most rows of the season write it, else by its English name."""
    if case.season.has("handlings", "species"):
        index = species_index(case.declared.species)
        for text in case.frame("handlings")["species"].value_counts().index:
            if index.resolve(text) == slug:
                return str(text)
    species = case.declared.species.get(slug)
    return species.english if species else slug
