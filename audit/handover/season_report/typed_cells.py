"""How many cells each person wrote, and in how many of them a slip was found."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.models.interval import exact

if TYPE_CHECKING:
    from audit.handover.clean.decided_season import DecidedSeason
    from audit.models.interval import Share

__all__ = ["Typed", "typed_cells"]

_WRITERS = ("scribe", "ringer")


@dataclass(frozen=True, slots=True)
class Typed:
    """Cells of the handlings that bear one person's initials.

    Attributes
    ----------
    who : str
        Initials; empty for rows that name nobody.
    found : Share
        Cells changed by decision, of those written; a cell that had been left empty and was filled counts as
        written.
    slips : int
        Decisions that changed them: one slip may move many cells.
    """

    who: str
    found: Share
    slips: int


def typed_cells(decided: DecidedSeason) -> tuple[str, tuple[Typed, ...]]:
    """Count cells and slips by scribe, or by ringer where no scribe was written.

    Returns
    -------
    column : str
        ``scribe``, ``ringer``, or nothing where neither was written.
    counts : tuple of Typed
        In the order of the alphabet, rows that name nobody last. The interval is the exact one of
        `audit.models.interval`.
    """
    season, typed = decided.clean, decided.typed.tables["handlings"]
    column = next((name for name in _WRITERS if _is_written(decided, name)), "")
    frame = season.frame("handlings")
    if column:
        who = frame[column].fillna("").astype("str").reindex(typed.typed.index, fill_value="")
    else:
        who = frame["ring"].map(lambda _: "").reindex(typed.typed.index, fill_value="")
    fields = [name for name in frame.columns if name in typed.typed.columns]
    written = typed.typed[fields].fillna("").astype("str").map(lambda text: bool(text.strip()))
    changed, slips = _changed(decided, {str(label): str(name) for label, name in who.items()})
    place = {label: row for row, label in enumerate(written.index)}
    cells = written.to_numpy(dtype=bool, copy=True)
    for label, field in changed:
        if field in fields:
            cells[place[label], fields.index(field)] = True
    per_row = cells.sum(axis=1)
    names = who.to_numpy(dtype=object)
    confidence = float(decided.declared.settings["season_report.confidence"].value)
    counts = []
    for name in sorted(set(names.tolist()), key=lambda one: (not one, one)):
        total = int(per_row[np.asarray(names == name, dtype=bool)].sum())
        hits = sum(person == name for (_, field), person in changed.items() if field in fields)
        counts.append(Typed(name, exact(hits, total, confidence), len(slips.get(name, ()))))
    return column, tuple(counts)


def _is_written(decided: DecidedSeason, name: str) -> bool:
    return decided.clean.has("handlings", name) and bool(decided.clean.frame("handlings")[name].notna().any())


def _changed(
    decided: DecidedSeason, who: dict[str, str]
) -> tuple[dict[tuple[str, str], str], dict[str, set[str]]]:
    """List changed cells of the handlings with the person of the row, and decisions by person."""
    changed: dict[tuple[str, str], str] = {}
    slips: dict[str, set[str]] = {}
    for one in decided.replayed.applied:
        if one.label in who:
            name = who[one.label]
            changed[one.label, one.field] = name
            slips.setdefault(name, set()).add(one.choices[0][0].identity)
    return changed, slips
