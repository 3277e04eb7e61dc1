"""Sizes moved by so many standard deviations of their age: what growth alone can tell."""

from __future__ import annotations

from typing import TYPE_CHECKING

from benchmarks.planting import Changed, Slip

if TYPE_CHECKING:
    import numpy as np
    from benchmarks.scoring import Place
    from benchmarks.seasons import Made

__all__ = ["STEPS", "measured_cells", "plant_outliers"]

#: Standard deviations of the size at its age, as the generator draws it.
STEPS = (2, 3, 4, 5, 6, 8)
#: One nestling in so many is moved, never two of one brood.
RARE = 30

MASSES = ("gross_g", "net_g")


def plant_outliers(made: Made, rng: np.random.Generator) -> list[Slip]:
    """Move wings and masses of some nestlings; gross and net move together, so that no sum is broken."""
    rows = made.tables["handlings"]
    planted: list[Slip] = []
    taken: set[tuple[str, str]] = set()
    wanted = max(1, len(rows) // RARE)
    for place in rng.permutation(len(rows)):
        i, truth = int(place), made.truth[int(place)]
        if len(planted) == wanted:
            break
        if not truth.pullus or truth.brood in taken:
            continue
        step, sign = int(rng.choice(STEPS)), float(rng.choice([-1.0, 1.0]))
        what = str(rng.choice(["wing", "mass"]))
        fields, sd = (("wing_mm",), truth.wing_sd) if what == "wing" else (MASSES, truth.mass_sd)
        present = [name for name in fields if rows[i].get(name) is not None]
        if not present:
            continue
        true = {name: float(rows[i][name]) for name in present}
        # gross and net by the very same amount, or the sum would tell
        by = round(sign * step * sd, max(len(f"{value:g}".partition(".")[2]) for value in true.values()))
        cells = [
            Changed(i, name, rows[i][name], f"{round(value + by, 2):g}")
            for name, value in true.items()
            if by and value + by > 0
        ]
        if len(cells) == len(present):
            planted.append(Slip(f"{what} {step} SD", "outliers", tuple(cells)))
            taken.add(truth.brood)
    return planted


def measured_cells(made: Made) -> dict[Place, str]:
    """Every cell of a size of a nestling, with what it measures."""
    return {
        (f"handlings!{i + 2}", name): "wing" if name == "wing_mm" else "mass"
        for i, (row, truth) in enumerate(zip(made.tables["handlings"], made.truth, strict=True))
        if truth.pullus
        for name in ("wing_mm", "gross_g", "net_g")
        if row.get(name) is not None
    }
