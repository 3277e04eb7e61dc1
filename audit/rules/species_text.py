"""How the season itself writes a species."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.declarations.species import species_index

if TYPE_CHECKING:
    from audit.rules.case import Case

__all__ = ["as_written"]


def as_written(case: Case, slug: str) -> str:
    """Write a species as most rows of the season write it, else by its English name."""
    heeds = case.layouts.all_of("handlings", ("species",))
    written: dict[str, str] = case.layouts.get("species as written", lambda: _written(case), heeds)
    species = case.declared.species.get(slug)
    return written.get(slug, species.english if species else slug)


def _written(case: Case) -> dict[str, str]:
    if not case.season.has("handlings", "species"):
        return {}
    index = species_index(case.declared.species)
    found: dict[str, str] = {}
    for text in case.frame("handlings")["species"].value_counts().index:
        found.setdefault(index.resolve(text) or "", str(text))
    return found
