"""Which slips count as visible: hand cases, and the spreads behind it against the generators' own seasons."""

from __future__ import annotations

import datetime as dt
from functools import cache

import numpy as np
import pytest
from benchmarks.expected import MASS, WING, expect
from benchmarks.planting import Changed, Slip
from benchmarks.seasons import VARIANTS, first_season, other_season
from benchmarks.visibility import Witnesses

VARIANT = {variant.name: variant for variant in VARIANTS}


@cache
def season(variant="all tables"):
    return first_season(7, VARIANT[variant])


def see(made, *changes):
    cells = tuple(
        Changed(row, field, made.tables["handlings"][row][field], typed) for row, field, typed in changes
    )
    return Witnesses(made).see(Slip("x", "own", cells))


def row_of(made, wanted):
    return next(
        i
        for i, (row, truth) in enumerate(zip(made.tables["handlings"], made.truth, strict=True))
        if wanted(row, truth)
    )


def owlet(_row, truth):
    return truth.species == "barn_owl" and truth.pullus and truth.ringed_here


def test_a_gram_is_visible_where_the_sum_tells_and_not_in_the_net_alone():
    made, alone = season(), season("net alone")
    i = row_of(made, owlet)
    typed = f"{made.tables['handlings'][i]['net_g'] + 1:g}"
    seen = see(made, (i, "net_g", typed))
    assert (seen.visible, seen.why, seen.units) == (True, "sum broken", 1)
    assert not see(alone, (i, "net_g", typed)).visible
    assert see(alone, (i, "net_g", "4")).visible


def test_gross_and_net_moved_together_break_no_sum():
    made = season()
    i = row_of(made, owlet)
    row = made.tables["handlings"][i]
    moved = [(i, name, f"{row[name] + 3:g}") for name in ("gross_g", "net_g")]
    assert not see(made, *moved).visible
    assert see(made, *((i, name, f"{row[name] * 2:g}") for name in ("gross_g", "net_g"))).visible


def test_a_date_is_seen_from_the_order_of_the_sheet():
    made = season()
    i = row_of(made, owlet) + 1
    later = made.tables["handlings"][i]["date"] + dt.timedelta(days=200)
    assert see(made, (i, "date", later.isoformat())).visible
    assert see(made, (i, "date", "31 May or so")).why == "no date"


def test_a_tag_needs_a_second_witness():
    one = first_season(7, VARIANT["handlings alone"])
    i = row_of(
        one,
        lambda row, truth: row["tag"] and sum(other.bird == truth.bird for other in one.truth) == 1,
    )
    digit = str((int(one.tables["handlings"][i]["tag"][-1]) + 1) % 10)
    wrong = one.tables["handlings"][i]["tag"][:-1] + digit
    taken = {row["tag"] for row in one.tables["handlings"]}
    assert wrong not in taken
    assert not see(one, (i, "tag", wrong)).visible
    assert see(season(), (i, "tag", wrong)).why == "not in the stock"
    assert see(one, (i, "tag", wrong + "1")).why == "form of the code"


def test_what_was_left_out_is_visible_only_where_it_must_stand():
    made = season()
    i = row_of(made, owlet)
    assert see(made, (i, "date", "")).visible
    assert see(made, (i, "ring", "")).visible
    assert not see(made, (i, "wing_mm", "")).visible


def test_two_rings_of_a_brood_that_changed_places_break_the_order():
    made = season("handlings alone")
    rings = [row["ring"] for row in made.tables["handlings"]]
    i = next(
        i
        for i in range(1, len(rings) - 3)
        if all(made.truth[k].ringed_here and made.truth[k].pullus for k in range(i - 1, i + 3))
        and [int(rings[k][2:]) - int(rings[i][2:]) for k in range(i - 1, i + 3)] == [-1, 0, 1, 2]
    )
    assert see(made, (i, "ring", rings[i + 1]), (i + 1, "ring", rings[i])).visible


@pytest.mark.parametrize("what", [WING, MASS])
@pytest.mark.parametrize("generator", ["first", "other"])
def test_expected_sizes_spread_as_the_seasons_do(generator, what):
    # too narrow, and innocent sizes would count as visible; too wide, and slips would be hidden
    made = season() if generator == "first" else other_season(3, VARIANT["all tables"], "two_species")
    field = "wing_mm" if what == WING else "net_g"
    off = []
    for i, row in enumerate(made.tables["handlings"]):
        if row[field] is not None and made.truth[i].pullus:
            expected = expect(made, i, what, {(i, field)})
            off.append((row[field] - expected.mean) / expected.sd)
    assert abs(np.mean(off)) < 0.3
    assert 0.65 < np.std(off) < 1.35
    assert np.mean(np.abs(off) > 4) < 0.01
