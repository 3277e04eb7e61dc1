"""Charts: one question each, all seasons survive, marked birds are marked."""

from __future__ import annotations

import json

import numpy as np
import pytest
from invented import invented_season, large_style
from lxml import etree
from marked_examples import found, small_report, small_season
from typed_season import typed_season

from audit.charts import bag_day, mass_wing, ring_order
from audit.charts.marked import MOST_MARKED
from audit.charts.still import still
from audit.findings import Report

CHARTS = {
    "mass_wing": lambda s, d, r, **k: mass_wing.chart(s, d, r, "barn_owl", **k),
    "ring_order": ring_order.chart,
    "bag_day": bag_day.chart,
}
EMPTY = Report("none", ())


def layers(chart, key="severity"):
    """Rows of all data behind a chart that have a key."""
    return [row for rows in chart.to_dict()["datasets"].values() for row in rows if key in row]


@pytest.fixture(scope="module")
def large(declared):
    return typed_season(declared, handlings=invented_season(3, large_style(5000))["handlings"])


@pytest.mark.parametrize("name", CHARTS)
def test_marked_birds_are_marked_and_named(name, declared):
    season = small_season()
    marked = layers(CHARTS[name](season, declared, small_report(season)))
    expected = {
        "mass_wing": [("ERROR", "handlings, row 3"), ("SUSPECT", "handlings, row 6")],
        "ring_order": [("SUSPECT", "handlings, row 7")],
        "bag_day": [],
    }[name]
    assert [(row["severity"], row["row"]) for row in marked] == expected
    assert all(row["box"] and row["ring"] and row["message"] for row in marked)


@pytest.mark.parametrize("name", CHARTS)
def test_a_still_picture_needs_nothing(name, declared):
    season = small_season()
    svg = still(CHARTS[name](season, declared, small_report(season)), "one")
    root = etree.fromstring(svg.encode())
    assert root.get("role") == "img"
    assert root.get("aria-label")
    assert "<script" not in svg
    assert all(str(one).startswith("one-") for one in root.xpath("//@id"))


def test_two_pictures_in_one_page_do_not_share_identities(declared, large):
    svg = still(mass_wing.chart(large, declared, EMPTY, "barn_owl"), "two")
    identities = etree.fromstring(svg.encode()).xpath("//@id")
    assert identities
    assert all(str(one).startswith("two-") for one in identities)
    assert all(f"url(#{one})" in svg for one in identities)


@pytest.mark.parametrize("name", CHARTS)
@pytest.mark.parametrize(
    "rows",
    [
        [{"date": "2026-06-04", "box": "SL-01"}],
        [{"date": None, "box": None, "ring": None, "bag_g": None, "net_g": None, "wing_mm": None}],
        [{"date": "2026-06-04", "box": "SL-01", "wing_mm": 120, "species": "barn owl"}],
    ],
)
def test_a_season_without_the_columns_has_no_chart(name, rows, declared):
    assert CHARTS[name](typed_season(declared, handlings=rows), declared, EMPTY) is None


@pytest.mark.parametrize("name", CHARTS)
def test_one_bird_is_enough_or_no_chart(name, declared):
    row = {"date": "2026-06-04", "box": "SL-01", "ring": "SV01001", "bag_g": 20, "net_g": 300, "wing_mm": 120}
    season = typed_season(declared, handlings=[{**row, "species": "barn owl"}])
    chart = CHARTS[name](season, declared, EMPTY)
    assert (chart is None) == (name == "ring_order")
    if chart is not None:
        still(chart)


@pytest.mark.parametrize("name", CHARTS)
def test_a_large_season_is_counted_not_drawn(name, declared, large):
    chart = CHARTS[name](large, declared, EMPTY)
    assert sum(len(rows) for rows in chart.to_dict()["datasets"].values()) < 2500
    assert len(json.dumps(chart.to_dict())) < 300_000


def test_counts_add_up(declared, large):
    drawn = layers(mass_wing.chart(large, declared, EMPTY, "barn_owl"), "n")
    frame = large.frame("handlings")
    birds = frame[
        frame["species"].str.contains("owl", case=False) & frame["net_g"].notna() & frame["wing_mm"].notna()
    ]
    assert sum(row["n"] for row in drawn) == len(birds)


def test_too_many_marked_birds_are_counted_aloud(declared, large):
    labels = list(large.frame("handlings").index)
    findings = tuple(
        found(large, "x.y", "suspect" if i % 3 else "error", [(label, "bag_g", "")], "m")
        for i, label in enumerate(labels[: MOST_MARKED + 50])
    )
    chart = bag_day.chart(large, declared, Report("x", findings))
    marked = layers(chart)
    assert len(marked) == MOST_MARKED
    assert sum(row["severity"] == "ERROR" for row in marked) == (MOST_MARKED + 50) / 3
    assert "50 more marked birds are not drawn" in json.dumps(chart.to_dict())


def test_a_marked_bird_far_out_does_not_squeeze_the_others(declared):
    season = small_season()
    tree = mass_wing.chart(season, declared, small_report(season), "barn_owl").to_dict()
    domains = [layer["encoding"]["x"]["scale"]["domain"] for layer in tree["layer"]]
    assert all(low > 100 for low, _ in domains)  # the wing of 12.9 mm stands at the edge
    assert "beyond the axes, at the edge" in tree["title"]["subtitle"]


def test_band_follows_the_declared_curves(declared):
    # The curves of schemas/species/barn_owl.yaml, written out a second time: wing and mass at 30 days.
    wing = 9 + (313.6 - 9) * np.exp(-np.exp(-0.0537 * (30 - 28.44)))
    mass = (9.65 + (380.2 - 9.65) * np.exp(-np.exp(-0.1016 * (30 - 13.81)))) * (
        1 - 0.185 / (1 + np.exp(-(30 - 62.5) / 8))
    )
    band = layers(mass_wing.chart(small_season(), declared, EMPTY, "barn_owl"), "low2")
    curve = sorted(
        (row["x"], row["y"], row["low2"], row["high2"]) for row in {r["x"]: r for r in band}.values()
    )
    lengths, centre, low, high = (np.array(column) for column in zip(*curve, strict=True))
    assert lengths.min() < wing < lengths.max()
    assert np.interp(wing, lengths, centre) == pytest.approx(mass, abs=1)
    assert np.interp(wing, lengths, low) < mass < np.interp(wing, lengths, high)


def test_re_encountered_birds_are_not_in_the_order_of_rings(declared):
    rows = [
        {"date": "2026-06-04", "box": "SL-01", "ring": f"SV0100{i}", "event": event}
        for i, event in enumerate(["ringed", "re-encountered", "ringed", None])
    ]
    chart = ring_order.chart(typed_season(declared, handlings=rows), declared, EMPTY)
    assert [row["ring"] for row in layers(chart, "ring")] == ["SV01000", "SV01002", "SV01003"]


def test_species_present_are_resolved(declared):
    rows = [
        {"date": "2026-06-04", "box": "SL-01", "species": name}
        for name in ("Barn Owl", "Schleiereule", "kestrel or other")
    ]
    assert mass_wing.species_present(typed_season(declared, handlings=rows), declared) == ("barn_owl",)


def test_rings_climb_by_number_not_by_spelling(declared):
    rings = ["SV9", "SV10", "SV11", "SV100", "AA7"]
    rows = [{"date": "2026-06-04", "box": "SL-01", "ring": ring} for ring in rings]
    drawn = layers(ring_order.chart(typed_season(declared, handlings=rows), declared, EMPTY), "ring")
    assert {row["ring"]: row["y"] for row in drawn} == {"AA7": 1, "SV9": 2, "SV10": 3, "SV11": 4, "SV100": 5}


def test_birds_stand_inside_their_day_in_the_order_of_the_sheet(declared):
    season = small_season()
    drawn = layers(bag_day.chart(season, declared, EMPTY), "ring")
    assert [row["x"] for row in drawn] == [0.25, 0.5, 0.75, 1.25, 1.5, 1.75]
