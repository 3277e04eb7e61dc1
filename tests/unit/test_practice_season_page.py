"""Invented pages for practice: whole, plausible, and clean in the eyes of the audit."""

from __future__ import annotations

from functools import cache

import numpy as np
import pandas as pd
import pytest

from audit.checking import check
from audit.declarations import load_declarations
from audit.practice.exercise.season_page import PageWish, practice_species, season_page
from audit.refusal import Refusal

shipped = cache(load_declarations)
SMALL = "great_tit"


def page(species="barn_owl", seed=1, **wish):
    return season_page(species, shipped(), np.random.default_rng(seed), PageWish(**wish))


def column(tables, field, table="handlings"):
    return [row[field] for row in tables[table]]


@pytest.mark.parametrize("seed", range(10))
def test_the_audit_has_nothing_to_say_of_a_page(seed):
    species = ("barn_owl", practice_species(shipped())[seed])[seed % 2]
    tables = page(species, seed, broods=1 + seed % 3, visits=1 + seed // 5, reader=True, strings=True)
    report = check({name: pd.DataFrame(rows) for name, rows in tables.items()}, schemas=shipped())
    assert report.above_notes == ()
    assert report.rows_read[0] == ("handlings", len(tables["handlings"]))


@pytest.mark.parametrize("species", ["barn_owl", SMALL])
def test_a_page_holds_what_a_day_in_the_field_holds(species):
    tables = page(species, broods=2, visits=2, reader=True, strings=True)
    rows = tables["handlings"]
    assert 8 <= len(rows) <= 25
    assert set(column(tables, "ringer")) <= {"AB", "IP", "MK"}
    assert all(box.startswith("SL-") for box in column(tables, "box"))
    # ISO 11784: the country code 999 is kept for tests; 15 digits in all
    assert all(tag.startswith("999") and len(tag) == 15 and tag.isdigit() for tag in column(tables, "tag"))
    assert sorted(set(column(tables, "tag"))) == sorted(set(column(tables, "tag", "tag_reads")))
    assert len(set(column(tables, "ring"))) == len(set(column(tables, "tag"))) == len(rows) / 2
    first = column(tables, "ring")[: len(rows) // 2]
    numbers = [int(ring[2:]) for ring in first]
    assert numbers == list(range(numbers[0], numbers[0] + len(numbers)))
    for row in rows:
        assert float(row["gross_g"]) == pytest.approx(float(row["bag_g"]) + float(row["net_g"]))
    strings = tables["ring_stock"]
    assert int(strings[0]["first"]) <= numbers[0]
    assert numbers[-1] <= int(strings[-1]["last"])


def test_a_brood_has_a_line_for_each_young():
    for row in (rows := page(broods=3)["handlings"]):
        assert int(row["brood_size"]) == sum(other["box"] == row["box"] for other in rows)


def test_a_species_without_a_curve_of_wings_has_none_on_its_page():
    assert "wing_mm" in page()["handlings"][0]
    assert "wing_mm" not in page("common_kestrel")["handlings"][0]


def test_young_grow_from_one_visit_to_the_next():
    wings = {}
    for row in page(broods=2, visits=2)["handlings"]:
        wings.setdefault(row["ring"], []).append(int(row["wing_mm"]))
    assert all(later > earlier for earlier, later in wings.values())


def test_the_same_seed_gives_the_same_page_and_another_one_another():
    assert page(seed=3) == page(seed=3)
    assert page(seed=3) != page(seed=4)


def test_only_wished_for_columns_are_shown():
    assert list(page(columns=("ring", "date"))["handlings"][0]) == ["date", "ring"]


def test_a_species_that_is_not_declared_is_refused():
    with pytest.raises(Refusal) as told:
        page("phoenix")
    assert "barn_owl" in told.value.cure
