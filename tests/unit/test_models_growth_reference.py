"""The declared curves against published equations, tables and printed broods.

Sources and grades stand beside every value in tests/reference/barn_owl_growth.csv, nestling_growth.csv and
grown_pairs.csv.
"""

from __future__ import annotations

import csv
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from audit.models.growth import age_of, mass_for_wing, mean, pace

if TYPE_CHECKING:
    from audit.declarations import Declarations

REFERENCE = Path(__file__).parent.parent / "reference"


def rows(name: str) -> list[dict[str, str]]:
    with (REFERENCE / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.mark.parametrize(
    "row", rows("barn_owl_growth.csv"), ids=lambda row: f"{row['check']}-{row['at']}-{row['expected']}"
)
def test_barn_owl_against_published_values(declared: Declarations, row: dict[str, str]) -> None:
    curves = declared.species["barn_owl"].curves
    wing, mass, at = curves["wing_mm"], curves["mass_g"], float(row["at"])
    found = {
        "wing_at_age": lambda: mean(wing, at),
        "mass_at_age": lambda: mean(mass, at),
        "age_of_wing": lambda: age_of(wing, at),
        "mass_for_wing": lambda: mass_for_wing(mass, wing, at).mean,
        "spread_for_wing": lambda: mass_for_wing(mass, wing, at).sd,
        "wing_pace": lambda: pace(wing, at),
    }[row["check"]]()
    assert float(found) == pytest.approx(float(row["expected"]), abs=float(row["tolerance"])), row["source"]


@pytest.mark.parametrize(
    "row", rows("nestling_growth.csv"), ids=lambda row: f"{row['species']}-{row['measure']}-{row['age_d']}"
)
def test_other_species_against_published_means(declared: Declarations, row: dict[str, str]) -> None:
    curve = declared.species[row["species"]].curves[row["measure"]]
    found = float(mean(curve, float(row["age_d"])))
    assert float(row["low"]) <= found <= float(row["high"]), row["source"]


@pytest.mark.parametrize("row", rows("grown_pairs.csv"), ids=lambda row: f"{row['wing_mm']}-{row['net_g']}")
def test_real_birds_are_plausible(declared: Declarations, row: dict[str, str]) -> None:
    species = declared.species[row["species"]]
    wing, mass = float(row["wing_mm"]), float(row["net_g"])
    if row["age_code"] == "1":
        expected = mass_for_wing(species.curves["mass_g"], species.curves["wing_mm"], wing)
        assert abs(mass - expected.mean) < 2.5 * expected.sd, row["source"]
    else:
        for column, value in (("wing_mm", wing), ("mass_g", mass)):
            usual = species.adult["", column]
            assert usual.low <= value <= usual.high, row["source"]


def test_an_unsubtracted_bag_lies_deep_inside_the_band(declared: Declarations) -> None:
    """With a wing of 205 mm both 373 g and 343 g are ordinary: biology cannot find a bag left on."""
    curves = declared.species["barn_owl"].curves
    expected = mass_for_wing(curves["mass_g"], curves["wing_mm"], 205)
    assert abs(373 - expected.mean) < expected.sd
    assert abs(343 - expected.mean) < expected.sd
