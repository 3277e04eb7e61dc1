"""The section on growth: still pictures of the decided season, species by species."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.declarations.species import species_index
from audit.handover.season_report.content import Drawing, Heading, Words

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from audit.charts.wing_days import Wing
    from audit.declarations import Declarations
    from audit.handover.clean.decided_season import DecidedSeason
    from audit.handover.season_report.content import Block
    from audit.season import Season

__all__ = ["growth_section"]

#: With more birds than this a picture shows counts, to keep the report small.
_MOST_POINTS = 600
#: Species with pictures of their own, the most frequent ones.
_SPECIES = 4


def growth_section(decided: DecidedSeason) -> Iterator[Block]:
    """Draw mass against wing and wing against day of each species."""
    from audit.charts import mass_wing, wing_days
    from audit.charts.still import description_of, still

    season, declared = decided.clean, decided.declared
    present: Sequence[str | None] = mass_wing.species_present(season, declared) or (None,)
    drawn = []
    for species in present[:_SPECIES]:
        drawn.append(mass_wing.chart(season, declared, decided.report, species, most_points=_MOST_POINTS))
        kind = declared.species.get(species) if species else None
        wings = list(_wings(season, declared, species))
        drawn.append(wing_days.chart(wings, kind.english if kind else "all birds"))
    charts = [chart for chart in drawn if chart is not None]
    yield Heading("Growth")
    if not charts:
        yield Words("No bird has both a wing and a mass, or wings on two days, so there is nothing to draw.")
        return
    yield Words(
        "Of the season as decided. Points that still stand out are marked; the tables of the season hold "
        "every value."
    )
    for number, chart in enumerate(charts, 1):
        yield Drawing(still(chart, f"g{number}"), description_of(chart))
    if len(present) > _SPECIES:
        yield Words(f"Not drawn: {len(present) - _SPECIES:,} more species, each with fewer birds.")


def _wings(season: Season, declared: Declarations, species: str | None) -> Iterator[Wing]:
    """Wings of birds that are not told to be full-grown."""
    from audit.charts.wing_days import Wing

    if not season.has("handlings", "wing_mm"):
        return
    frame = season.frame("handlings")
    kept = frame["wing_mm"].notna() & frame["date"].notna()
    if species is not None and "species" in frame.columns:
        index = species_index(declared.species)
        kept &= (
            frame["species"].map({text: index.resolve(text) for text in frame["species"].dropna().unique()})
            == species
        )
    if "age" in frame.columns:
        codes = [str(code) for code in declared.rules["brood"].limits["pullus_codes"].value]
        kept &= frame["age"].isna() | frame["age"].str.strip().isin(codes)
    some = frame[kept]
    days = some["date"].to_numpy().astype("datetime64[D]").astype(np.int64)
    rings = some["ring"].fillna("").tolist()
    for ring, day, mm in zip(rings, days.tolist(), some["wing_mm"].tolist(), strict=True):
        yield Wing(str(ring), int(day), float(mm))
