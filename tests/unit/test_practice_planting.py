"""Planted slips: what changes is what the key says, and nothing else."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from functools import cache
from itertools import combinations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from invented import Style, invented_season
from pandas.testing import assert_frame_equal
from robustness.other_rounds import TEAMS, other_season
from typed_season import typed_season

from audit.checking import read_season
from audit.declarations import load_declarations
from audit.practice.kinds import KINDS, ways_of
from audit.practice.planting import Planter, plant, restore
from audit.rules.plain import plain_text

shipped = cache(load_declarations)
SEEDS = st.integers(0, 2**32 - 1)
NAMES = [way.name for way in ways_of()]


@cache
def clean(boxes=24):
    return typed_season(shipped(), **invented_season(7, Style(boxes=boxes, second_visit=0.8)))


def rng(seed=1):
    return np.random.default_rng(seed)


def cells(season):
    """Value and text of every cell."""
    table = season.tables["handlings"]
    return {
        (label, field): (plain_text(value), text)
        for field in table.frame.columns
        for label, value, text in zip(table.frame.index, table.frame[field], table.typed[field], strict=True)
    }


def same(one, other):
    assert one.tables.keys() == other.tables.keys()
    for name, table in one.tables.items():
        assert_frame_equal(table.frame, other.tables[name].frame)
        assert_frame_equal(table.typed, other.tables[name].typed)
    assert sorted(one.readings, key=repr) == sorted(other.readings, key=repr)


def only(name, season=None, seed=1, **more):
    """Plant one slip of one kind."""
    planted, key = plant(season or clean(), shipped(), rng(seed), kinds=[name], number=1, **more)
    assert len(key) == 1, name
    return planted, key.slips[0]


# the key


@settings(max_examples=12, deadline=None)
@given(seed=SEEDS, alone=st.booleans())
def test_only_the_cells_of_the_key_change(seed, alone):
    before = cells(clean())
    planted, key = plant(clean(), shipped(), rng(seed), alone=alone, apart=1)
    assert len(key) > (10 if alone else 40)
    after = cells(planted)
    changed = {place for place in before if before[place] != after[place]}
    assert changed == set(key.changes)
    for place, change in key.changes.items():
        assert before[place] == (change.meant, change.stood)
        assert after[place][1] == change.typed
        read = [reading.kind for reading in planted.readings if (reading.label, reading.field) == place]
        assert change.meant != after[place][0] or read, "a cell that still says what was meant"


@settings(max_examples=8, deadline=None)
@given(seed=SEEDS)
def test_the_season_given_is_not_touched_and_the_key_brings_it_back(seed):
    season = typed_season(shipped(), **invented_season(7, Style(boxes=12)))
    planted, key = plant(season, shipped(), rng(seed))
    same(season, typed_season(shipped(), **invented_season(7, Style(boxes=12))))
    same(restore(planted, shipped(), key), season)


@settings(max_examples=5, deadline=None)
@given(seed=SEEDS)
def test_the_same_chance_gives_the_same_slips(seed):
    one, key = plant(clean(), shipped(), rng(seed), number=15)
    other, again = plant(clean(), shipped(), rng(seed), number=15)
    assert key == again
    same(one, other)


@settings(max_examples=6, deadline=None)
@given(seed=SEEDS)
def test_text_and_value_agree_when_the_sheet_is_read_again(seed):
    planted, key = plant(clean(), shipped(), rng(seed), alone=False, apart=1)
    table = planted.tables["handlings"]
    stored = table.typed.astype("object").mask(table.typed == "", None)
    for field in ("gross_g", "bag_g", "net_g", "wing_mm", "brood_size"):
        # a spreadsheet stores what looks like a number as a number
        stored[field] = stored[field].map(lambda text: None if text is None else float(text))
    again = read_season({"handlings": stored.reset_index(drop=True)}, schemas=shipped())
    for label, field in key.changes:
        row = int(label.partition("!")[2]) - 2
        here, there = table.frame.loc[label, field], again.frame("handlings")[field].iloc[row]
        assert plain_text(here) == plain_text(there), (label, field)


def test_types_stay_as_they_were():
    planted, _ = plant(clean(), shipped(), rng(), alone=False, apart=1)
    frame = clean().frame("handlings")
    assert (planted.frame("handlings").dtypes == frame.dtypes).all()


@pytest.mark.parametrize(
    "name", ["hex_tags", "net_only", "no_tags", "first_row_only", "names_of_species", "trapping", "bare"]
)
def test_seasons_of_other_habits(name):
    season = typed_season(shipped(), **other_season(3, replace(TEAMS[name], boxes=10)))
    planted, key = plant(season, shipped(), rng(), each=2, alone=False, apart=0)
    assert len(key) > 20
    before, after = cells(season), cells(planted)
    assert {place for place in before if before[place] != after[place]} == set(key.changes)
    same(restore(planted, shipped(), key), season)


# apart


@settings(max_examples=8, deadline=None)
@given(seed=SEEDS, apart=st.integers(1, 6), kinds=st.sampled_from([None, ("box.other", "ring", "tag")]))
def test_no_two_slips_meet(seed, apart, kinds):
    season = clean(60)
    frame = season.frame("handlings")
    row = {label: i for i, label in enumerate(frame.index)}
    rank = {label: i for i, label in enumerate(frame["ring"].sort_values(kind="stable").index)}
    _, key = plant(season, shipped(), rng(seed), apart=apart, kinds=kinds)
    rows = [{row[label] for label in slip.labels} for slip in key]
    ranks = [{rank[label] for label in slip.labels} for slip in key]
    codes = frame[["box", "ring", "tag"]]
    ties = [{code for code in codes.loc[list(slip.labels)].to_numpy().flat if pd.notna(code)} for slip in key]
    for i, j in combinations(range(len(rows)), 2):
        assert min(abs(a - b) for a in rows[i] for b in rows[j]) > apart
        assert min(abs(a - b) for a in ranks[i] for b in ranks[j]) > apart
        assert not ties[i] & ties[j]
    for slip in key:
        for change in slip.changes:
            if change.field in ("box", "ring", "tag"):
                owners = set(frame.index[frame[change.field] == change.typed]) - set(slip.labels)
                assert not owners & (key.labels - set(slip.labels)), (
                    "a slip that lands on another slip's bird"
                )


def test_closed_rows_hold_no_slip():
    labels = list(clean().frame("handlings").index)
    _, key = plant(clean(), shipped(), rng(), alone=False, apart=0, closed=labels[10:])
    assert key.slips
    assert key.labels <= set(labels[:10])


# the kinds


def test_every_kind_says_what_happened_and_has_its_own_name():
    assert len(set(NAMES)) == len(NAMES)
    for kind in KINDS:
        assert kind.says
        assert kind.says == kind.says.strip(".")
    fields = set(shipped().tables["handlings"].names)
    assert all(set(way.needs) <= fields for way in ways_of())


@pytest.mark.parametrize("name", [name for name in NAMES if name != "tag.nought_lost"])
def test_every_kind_finds_room_in_a_full_season(name):
    _, slip = only(name)
    assert slip.name == name
    assert slip.changes[0].field == slip.field


def row(**more):
    return {
        "date": dt.date(2026, 6, 3),
        "box": "SL-04",
        "species": "barn_owl",
        "ring": "SV01120",
        "ring_leg": "R",
        "tag": "999104000000130",
        "gross_g": 395.0,
        "bag_g": 22.0,
        "net_g": 373.0,
        "wing_mm": 205.0,
        "brood_size": 3,
        "event": "ringed",
    } | more


def few(*rows):
    return typed_season(shipped(), handlings=list(rows))


@pytest.mark.parametrize(
    ("name", "typed"),
    [
        ("net_g.not_subtracted", ["395"]),
        ("net_g.subtracted_twice", ["351"]),
        ("net_g.added", ["417"]),
        ("net_g.tenfold", ["3730"]),
        ("net_g.tenth", ["37.3"]),
        ("net_g.kilograms", ["0.373"]),
        ("wing_mm.centimetres", ["20.5"]),
        ("net_g.exchanged_with_wing", ["205", "373"]),
        ("gross_g.exchanged_with_net", ["373", "395"]),
        ("bag_g.exchanged_with_net", ["373", "22"]),
        ("gross_g.exchanged_with_bag", ["22", "395"]),
        ("date.day_month", ["2026-03-06"]),
        ("ring.exchanged_with_tag", ["999104000000130", "SV01120"]),
        ("tag.power", ["9.99104E+14"]),
        ("tag.rounded", ["999104000000000"]),
        ("ring_leg.other", ["L"]),
        ("event.other", ["re-encountered"]),
    ],
)
def test_worked_examples(name, typed):
    _, slip = only(name, few(row()))
    assert [change.typed for change in slip.changes] == typed


def test_sizes_are_told():
    _, slip = only("net_g.not_subtracted", few(row()))
    assert slip.size == 22
    assert slip.relative == pytest.approx(22 / 373)
    _, slip = only("date.day_month", few(row()))
    assert (slip.size, slip.relative) == (-89, None)
    _, slip = only("ring.digit", few(row()))
    assert (slip.size, slip.relative) == (None, None)


def test_a_misread_balance_is_carried_through():
    planted, slip = only("gross_g.carried", few(row()))
    frame = planted.frame("handlings")
    assert [change.field for change in slip.changes] == ["gross_g", "net_g"]
    assert (frame["gross_g"] - frame["bag_g"] == frame["net_g"]).all()


def test_a_column_slides_within_its_visit():
    tags = [f"99910400000013{i}" for i in range(4)]
    season = few(*(row(ring=f"SV0112{i}", tag=tag) for i, tag in enumerate(tags)), row(box="SL-05", tag=None))
    planted, slip = only("tag.slid", season, seed=2)
    after = list(planted.frame("handlings")["tag"][:4])
    assert after in (tags[1:] + tags[:1], tags[-1:] + tags[:-1])
    assert len(slip.changes) == 4


def test_rows_without_a_day_are_no_siblings():
    rows = [row(ring=f"SV0112{i}", tag=f"99910400000013{i}", date=None) for i in range(4)]
    _, key = plant(few(*rows), shipped(), rng(), kinds=["sibling", "slid", "series"])
    assert not key.slips


def test_a_series_counts_on_from_the_row_above():
    tags = ["999104000000130", "999104000000417", "999104000000288"]
    season = few(*(row(ring=f"SV0112{i}", tag=tag) for i, tag in enumerate(tags)))
    seen = {tuple(only("tag.series", season, seed)[0].frame("handlings")["tag"]) for seed in range(8)}
    assert seen == {
        ("999104000000130", "999104000000131", "999104000000132"),
        ("999104000000130", "999104000000417", "999104000000418"),
    }


def test_the_last_visit_is_the_birds_own():
    season = few(
        row(date=dt.date(2026, 5, 20), wing_mm=120.0),
        row(date=dt.date(2026, 5, 20), wing_mm=99.0, ring="SV01121"),
        row(wing_mm=205.0),
    )
    _, slip = only("wing_mm.last_visit", season)
    assert [(change.label, change.typed) for change in slip.changes] == [("handlings!4", "120")]


def test_leading_noughts_are_lost_where_there_are_some():
    season = few(row(tag="0012345678"), row(box="SL-05"))
    planted, key = plant(season, shipped(), rng(), kinds=["nought_lost"], each=2)
    # the intake puts them back where only one form fits, and then nothing has changed
    for change in key.changes.values():
        assert change.typed == "12345678"
    assert len(key) + key.short.get("tag.nought_lost", 0) == 2
    assert len(planted.frame("handlings")) == 2


def test_nothing_is_planted_where_it_would_change_nothing():
    season = few(row(), row(ring="SV01121", tag="999104000000131"))
    _, key = plant(season, shipped(), rng(), kinds=["gross_g.above", "ring.series", "sex"], each=1)
    assert not key.slips
    assert key.short == {"gross_g.above": 1, "ring.series": 1, "sex.other": 1}


def test_a_letter_in_a_tag_is_a_slip_though_it_can_be_read():
    planted, slip = only("tag.letter", few(row()))
    (change,) = slip.changes
    assert planted.frame("handlings")["tag"].iloc[0] == change.meant
    assert [reading.kind for reading in planted.readings] == ["letter_in_code"]


def test_readings_of_a_changed_cell_come_and_go():
    frames = {"handlings": pd.DataFrame([row(wing_mm="20.5 cm"), row(ring="SV01121", wing_mm="204")])}
    season = read_season(frames, schemas=shipped())
    assert [reading.kind for reading in season.readings] == ["unit_converted"]
    labels = list(season.frame("handlings").index)
    planted, key = plant(season, shipped(), rng(), kinds=["wing_mm.tenfold"], number=1, closed=labels[1:])
    assert key.slips[0].changes[0].stood == "20.5 cm"
    assert planted.readings == ()
    same(restore(planted, shipped(), key), season)


# how many


def test_numbers_rates_and_shares():
    _, key = plant(clean(60), shipped(), rng(), number=20, kinds={"digit": 1, "tag": 3})
    names = [slip.name for slip in key]
    assert len(names) + sum(key.short.values()) == 20
    assert sum(name.startswith("tag.") for name in names) > 8
    rows = len(clean(60).frame("handlings"))
    _, key = plant(clean(60), shipped(), rng(), rate=0.05, alone=False, apart=0)
    assert 0.02 * rows < len(key) + sum(key.short.values()) < 0.08 * rows
    _, key = plant(clean(), shipped(), rng(), rate=0.0)
    assert len(key) == 0


def test_unknown_names_and_too_many_wishes_are_refused():
    with pytest.raises(ValueError, match="'moon'"):
        plant(clean(), shipped(), rng(), kinds=["moon"])
    with pytest.raises(ValueError, match="one of each"):
        plant(clean(), shipped(), rng(), number=1, each=1)


def test_a_planter_makes_no_slip_twice():
    planter = Planter(few(row(), row(ring="SV01121", box="SL-05", sex=None)), shipped(), rng(), 0)
    (way,) = ways_of(("ring_leg.other",))
    seen = set()
    for _ in range(3):
        planter.begin()
        slip = planter.add(way, but=seen)
        if slip:
            seen.add(tuple((*change.place, change.typed) for change in slip.changes))
    assert len(seen) == 2
    assert planter.slips == []


@pytest.mark.parametrize("rows", [1, 2, 3])
def test_tiny_seasons(rows):
    season = few(*(row(ring=f"SV0112{i}", box=f"SL-0{i}") for i in range(rows)))
    planted, key = plant(season, shipped(), rng(), apart=0)
    assert 1 <= len(key) <= rows
    assert len(planted.frame("handlings")) == rows
