"""What is wrong with a text before it is taken into a cell."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.findings import SEVERITIES
from audit.review.code_objections import of_ring, of_tag
from audit.review.declared_objections import of_declarations, of_emptying, of_reading, of_signs
from audit.review.row_objections import of_box, of_day, of_species, of_sum
from audit.review.typed_cell import Objection, typed_cell

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from audit.declarations import Declarations
    from audit.review.typed_cell import TypedCell
    from audit.season import Season

__all__ = ["Objection", "objections"]

#: Who is asked, in order; the next is asked only where none before says that the text cannot be taken.
_ASKED: tuple[Callable[[TypedCell], Iterable[Objection]], ...] = (
    of_signs,
    of_emptying,
    of_reading,
    of_declarations,
    of_ring,
    of_tag,
    of_sum,
    of_day,
    of_box,
    of_species,
)


def objections(
    season: Season, declared: Declarations, label: str, field: str, typed: str
) -> tuple[Objection, ...]:
    """Say what speaks against a text, read as the season would read it in that cell.

    Parameters
    ----------
    season : Season
        As it stands now; not changed.
    declared : Declarations
    label, field : str
        Row label and canonical column, or the own header of a column that means none.
    typed : str
        What a person typed; nothing but blanks empties the cell.

    Returns
    -------
    tuple of Objection
        Errors first: with one of them the text cannot be taken. Suspects are read by the person, who may
        take the text all the same. Notes say how it was understood. Empty where it is plain and fits.

    Raises
    ------
    audit.refusal.SeasonRefusal
        The season has no such row, or its sheet no such column.

    Examples
    --------
    >>> import pandas as pd
    >>> from audit.checking import read_season
    >>> from audit.declarations import load_declarations
    >>> row = {"date": "2026-05-04", "box": "SL-01", "ring": "SV01001", "wing_mm": "201"}
    >>> season = read_season({"handlings": pd.DataFrame([row])})
    >>> for told in objections(season, load_declarations(), "handlings!2", "wing_mm", "-20"):
    ...     print(told.severity, told.message)
    error -20 mm is below 0 mm, the least that 'wing_mm' can be: look again.
    """
    cell = typed_cell(season, declared, label, field, typed)
    told: list[Objection] = []
    for ask in _ASKED:
        told += ask(cell)
        if any(one.severity == "error" for one in told):
            break
    return tuple(sorted(told, key=lambda one: SEVERITIES.index(one.severity)))
