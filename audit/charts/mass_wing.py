"""Does each mass go with its wing? A chart."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.charts.layers import Axis, subtitle
from audit.charts.marked import MOST_POINTS, crowded, points, room
from audit.charts.outline import Outline
from audit.declarations.species import species_index
from audit.models.growth import mass_for_wing, mean

if TYPE_CHECKING:
    import altair as alt
    import pandas as pd

    from audit.declarations import Declarations
    from audit.declarations.species import Species
    from audit.findings import Report
    from audit.season import Season

__all__ = ["chart", "expected_band", "outline", "species_present"]

_FIELDS = ("net_g", "gross_g", "bag_g", "wing_mm")
_STEPS = 80


def species_present(season: Season, declared: Declarations) -> tuple[str, ...]:
    """Slugs of the declared species in the handlings, most frequent first."""
    if not season.has("handlings", "species"):
        return ()
    counts = _resolved(season, declared).value_counts()
    return tuple(str(slug) for slug in counts.index)


def _resolved(season: Season, declared: Declarations) -> pd.Series:
    index = species_index(declared.species)
    text = season.frame("handlings")["species"]
    return text.map({word: index.resolve(word) for word in text.dropna().unique()})


def chart(
    season: Season,
    declared: Declarations,
    report: Report,
    species: str | None = None,
    *,
    most_points: int = MOST_POINTS,
) -> alt.LayerChart | None:
    """Draw net mass against wing, with the mass that a nestling of that wing should have.

    Parameters
    ----------
    species : str, optional
        Slug of a declared species; without one, all birds and no curve.
    most_points : int, optional
        With more birds than this, counts are drawn instead of points.

    Returns
    -------
    altair.LayerChart or None
        None where the season has no wings and masses of this species. Grams against millimetres; the bands
        are one and two standard deviations, hence hold about 68 and 95 in 100 sound birds.
    """
    shown = outline(season, declared, report, species, most_points=most_points)
    return None if shown is None else shown.draw()


def outline(
    season: Season,
    declared: Declarations,
    report: Report,
    species: str | None = None,
    *,
    most_points: int = MOST_POINTS,
) -> Outline | None:
    """Work out what `chart` draws."""
    if not season.has("handlings", "wing_mm"):
        return None
    frame = season.frame("handlings")
    if season.has("handlings", "net_g"):
        mass = frame["net_g"]
    elif season.has("handlings", "gross_g", "bag_g"):
        mass = frame["gross_g"] - frame["bag_g"]
    else:
        return None
    wing = frame["wing_mm"]
    if species is not None:
        if not season.has("handlings", "species"):
            return None
        of_species = (_resolved(season, declared) == species).to_numpy()
        mass, wing = mass[of_species], wing[of_species]
    shown = points(season, report, wing, mass, _FIELDS)
    one = declared.species.get(species) if species else None
    band = expected_band(one)
    sound = shown.plain or shown.marked
    x_room = room([point["x"] for point in sound])
    near = [row for row in band if x_room is not None and x_room[0] <= row["x"] <= x_room[1]]
    y_room = room([point["y"] for point in sound], [row["y"] for row in near])
    if x_room is None or y_room is None:
        return None
    x = Axis("wing, mm", x_room)
    y = Axis("net mass, g", y_room)
    band_below, line_above = ([("band", near)], [("centre", near)]) if near else ([], [])
    layers = [
        *band_below,
        crowded(shown.plain, x.room, y.room, most_points),
        *line_above,
        ("marked", shown.marked),
    ]
    name = one.english if one else "all birds"
    below = subtitle(
        shown,
        x,
        y,
        f"{name}, {len(shown.plain) + len(shown.marked) + shown.left_out:,} handlings",
        "line and bands: expected mass of a nestling, one and two standard deviations" if near else "",
    )
    description = (
        f"Net mass in grams against wing in millimetres, {name}: {len(shown.plain):,} handlings without and "
        f"{len(shown.marked) + shown.left_out:,} with a finding in mass or wing."
    )
    return Outline("Does each mass go with its wing?", below, description, x, y, layers, 640)


def expected_band(one: Species | None) -> list[dict[str, float]]:
    """Mass of a nestling of each wing: ``x`` mm, ``y`` g, and one and two standard deviations."""
    if one is None or not {"mass_g", "wing_mm"} <= set(one.curves):
        return []
    wing, mass = one.curves["wing_mm"], one.curves["mass_g"]
    days = np.linspace(
        max(wing.first_day, mass.first_day), min(wing.last_day, mass.last_day), _STEPS, dtype=float
    )
    lengths = mean(wing, days)
    expected = mass_for_wing(mass, wing, lengths)
    return [
        {
            "x": round(float(length), 1),
            "y": round(float(centre), 1),
            "low1": round(float(centre - sd), 1),
            "high1": round(float(centre + sd), 1),
            "low2": round(float(centre - 2 * sd), 1),
            "high2": round(float(centre + 2 * sd), 1),
        }
        for length, centre, sd in zip(lengths, expected.mean, expected.sd, strict=True)
    ]
