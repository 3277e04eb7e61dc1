"""Boxes that are too small, broods that are too large."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

import numpy as np

from audit.rules.broods.words import whole
from audit.rules.case import At

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from audit.findings import Finding
    from audit.rules.broods.visits import BroodVisits


__all__ = ["full_boxes"]


def full_boxes(seen: BroodVisits) -> Iterator[Finding]:
    """Brood sizes and counts beyond what the box holds or the species lays."""
    case, sheet = seen.case, seen.sheet
    capacity, labels, usual = _capacities(seen)
    clutch = {slug: s.number("breeding.clutch.high") for slug, s in case.declared.species.items()}
    most = np.array([clutch.get(slug) or np.inf for slug in sheet.slug], dtype=np.float64)
    # where nobody said what a box holds, it holds what the species lays
    likely = np.where(np.isfinite(most), np.maximum(most, usual), usual)
    stated = np.array([capacity.get(str(box), np.nan) for box in sheet.boxes], dtype=np.float64)
    room = np.where(np.isfinite(stated), stated, likely)
    small: set[str] = set()
    for row in np.flatnonzero((sheet.size > room) | (sheet.size > most)):
        label, size, box = sheet.labels[row], sheet.size[row], str(sheet.boxes[row])
        doubted = not seen.blamed.isdisjoint({(label, "brood_size"), (label, "species")})
        if doubted or box in small:
            continue
        typed = whole(size)
        meant = _meant_size(seen, int(row))
        if size > room[row]:
            if box in labels and size <= usual and room[row] < usual:
                small.add(box)
                yield seen.blame(
                    "capacity",
                    [At(labels[box], "capacity", whole(usual))],
                    f"Box {box} is said to hold {whole(room[row])}, but had a brood of {typed};"
                    f" other boxes hold {whole(usual)}.",
                    [(label, "brood_size")],
                )
                continue
            message = f"Brood size {typed}, but box {box} holds {whole(room[row])}."
            yield seen.blame("over_capacity", [At(label, "brood_size", meant)], message)
        else:
            name = case.declared.species[sheet.slug[row]].english
            message = f"Brood size {typed}: clutches of the {name} have {whole(most[row])} eggs at most."
            yield seen.blame("above_species", [At(label, "brood_size", meant)], message)
    trusted = {box: room for box, room in capacity.items() if box not in small}
    yield from _full_counts(seen, trusted, float(likely.max(initial=usual)))


def _full_counts(seen: BroodVisits, capacity: Mapping[str, float], usual: float) -> Iterator[Finding]:
    for (day, box), (count, label) in seen.counts.alive.items():
        room = capacity.get(box, usual)
        if count > room and (label, "alive") not in seen.blamed:
            yield seen.blame(
                "over_capacity",
                [At(label, "alive")],
                f"{whole(count)} young counted on {day.date().isoformat()},"
                f" but box {box} holds {whole(room)}.",
            )


def _capacities(seen: BroodVisits) -> tuple[dict[str, float], dict[str, str], float]:
    """Capacity and row of each box, and the capacity that most boxes have."""
    stated = float(seen.case.limit("capacity_if_unstated"))
    if not seen.case.season.has("boxes", "capacity"):
        return {}, {}, stated
    frame = seen.case.sure("boxes")
    frame = frame[frame["box"].notna() & frame["capacity"].notna()]
    capacity = {str(box): float(room) for box, room in zip(frame["box"], frame["capacity"], strict=True)}
    labels = {str(box): str(label) for box, label in zip(frame["box"], frame.index, strict=True)}
    common = Counter(capacity.values()).most_common(1)
    enough = common and common[0][1] >= seen.case.limit("boxes_for_a_usual_capacity")
    return capacity, labels, common[0][0] if enough else stated


def _meant_size(seen: BroodVisits, row: int) -> object:
    """Say what the count or the birds handled give instead."""
    visit = seen.visit(int(seen.sheet.visit[row]))
    if np.isfinite(visit.alive) and visit.alive >= max(visit.handled, 1):
        return whole(visit.alive)
    return visit.handled if visit.handled > 1 else ""
