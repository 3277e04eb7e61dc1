"""One young bird of another species than all others of its brood."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

import numpy as np

from audit.declarations.species import species_index
from audit.models.ring_number import bare, split_ring
from audit.rules.case import At
from audit.rules.moves import said_moved

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from audit.findings import Finding
    from audit.rules.broods.visits import BroodVisits

    Ints = NDArray[np.int64]

__all__ = ["other_species"]


def other_species(seen: BroodVisits) -> Iterator[Finding]:
    """Broods in which one bird alone is of another species; also of species that are not declared.

    A bird whose ring neither stands beside those of the brood nor was met in this box at another visit may be
    of another box, and is left to the rules about boxes and rings.
    """
    sheet, case = seen.sheet, seen.case
    if not case.season.has("handlings", "species"):
        return
    typed = case.sure("handlings")["species"].fillna("").to_numpy(dtype=object)[sheet.place]
    index = species_index(case.declared.species)
    meant = {text: index.resolve(text) or str(text).strip().casefold() for text in set(typed.tolist())}
    kinds = np.array([meant[text] for text in typed.tolist()], dtype=object)
    young = sheet.young & (kinds != "")
    for number in _mixed(kinds[young], sheet.visit[young], len(seen.rows_of)):
        rows = seen.rows_of[number]
        rows = rows[young[rows]]
        (_, most), (odd_kind, one), *more = Counter(kinds[rows].tolist()).most_common()
        if more or one > 1 or len(rows) < case.limit("young_to_compare"):
            continue
        odd = int(rows[kinds[rows] == odd_kind][0])
        mates = rows[rows != odd]
        label = sheet.labels[odd]
        if case.in_doubt(label, "box", "date", "ring", "species") or said_moved(case, [label]):
            continue
        if not _at_home(seen, odd, mates):
            continue
        said = Counter(typed[mates].tolist()).most_common(1)[0][0]
        visit = seen.visit(int(number))
        p = case.limit("p_odd")
        yield seen.blame(
            "other_species",
            [At(label, "species", said, p, p)],
            f"Species {typed[odd]}, but the {most} other young of box {visit.box} on {visit.date} are of the "
            f"species {said}: {said} was probably meant.",
            [(sheet.labels[row], "species") for row in mates],
        )


def _mixed(kinds: NDArray[np.object_], visit: Ints, visits: int) -> Ints:
    """Give the numbers of visits with several species."""
    _, code = np.unique(kinds, return_inverse=True)
    low, high = np.full(visits, len(kinds)), np.full(visits, -1)
    np.minimum.at(low, visit, code)
    np.maximum.at(high, visit, code)
    return np.flatnonzero(low < high)


def _at_home(seen: BroodVisits, odd: int, mates: Ints) -> bool:
    """Whether the ring of a bird is next to one of its brood, or was met in this box at another visit."""
    sheet = seen.sheet
    ring = sheet.rings[odd]
    if not isinstance(ring, str):
        return False
    plain = bare(ring)
    stem, digits = split_ring(plain)
    others = [split_ring(bare(other)) for other in sheet.rings[mates] if isinstance(other, str)]
    beside = (
        digits and other_digits and stem == other_stem and abs(int(digits) - int(other_digits)) == 1
        for other_stem, other_digits in others
    )
    if any(beside):
        return True
    here = np.flatnonzero((sheet.boxes == sheet.boxes[odd]) & (sheet.visit != sheet.visit[odd]))
    return any(isinstance(other, str) and bare(other) == plain for other in sheet.rings[here])
