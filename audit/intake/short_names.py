"""Names of species that are written short, such as "B. Owl": what they are read as is said."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.declarations.species import species_index
from audit.intake.answer import quoted
from audit.intake.wording import counted

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.declarations import Declarations
    from audit.season import Table

__all__ = ["short_names"]


def short_names(handlings: Table, declared: Declarations) -> Iterator[str]:
    """Yield a notice for each short name of a declared species.

    Parameters
    ----------
    handlings : Table
    declared : Declarations
    """
    if "species" not in handlings.frame:
        return
    index = species_index(declared.species)
    for text, rows in handlings.frame["species"].value_counts().items():
        slug = index.resolve_short(str(text))
        if slug is not None:
            yield (
                f"{quoted(str(text))} was read as {declared.species[slug].english} "
                f"({counted(int(rows), 'row', 'rows')}); no other declared name is shortened to it."
            )
