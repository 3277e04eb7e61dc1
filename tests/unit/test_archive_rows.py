"""Rows of an archive laid out: days, numbers, sums and sizes; on two engines."""

from __future__ import annotations

import datetime as dt

import narwhals as nw
import numpy as np
import pandas as pd
import pytest
from archive_rows import (
    BIRD,
    DECLARED,
    ENGINES,
    TABLE,
    frame_of,
    kept,
    marks_of,
    raw_of,
    relation,
    rows_of,
    worked_out,
)
from hypothesis import given, settings
from hypothesis import strategies as st

from audit.archive.days import day_of_date, day_of_parts, parts_of_text
from audit.archive.laid_out import laid_out
from audit.archive.row_checks import breaches, cell_checks, stored_as_declared
from audit.archive.sieve import sieve_limits
from audit.archive.sizes import odd_sizes
from audit.archive.sums import broken_sums, missed_sums
from audit.archive.travels import on_the_globe
from audit.archive.yardsticks import yardsticks_of
from audit.models import growth
from audit.models.great_circle import distance_km

pytestmark = pytest.mark.parametrize("engine", ENGINES)
NAN = float("nan")
EPOCH = dt.date(1970, 1, 1)


def days_of_texts(texts, engine):
    rows = relation(pd.DataFrame({"at": range(len(texts)), "text": pd.Series(texts, dtype="str")}), engine)
    year, month, day = parts_of_text(nw.col("text"))
    told = kept(rows.with_columns(year.alias("y"), month.alias("m"), day.alias("d")))
    number = day_of_parts(nw.col("y"), nw.col("m"), nw.col("d"))
    return worked_out(told.select("at", number.alias("day")))["day"].tolist()


def test_days_are_those_of_the_calendar(engine):
    """Against `datetime` of the standard library: proleptic Gregorian, ISO 8601 texts."""

    @settings(max_examples=10, deadline=None)
    @given(st.lists(st.dates(dt.date(1, 1, 1), dt.date(9999, 12, 31)), min_size=1, max_size=30))
    def check(dates):
        expected = [(date - EPOCH).days for date in dates]
        assert days_of_texts([date.isoformat() for date in dates], engine) == expected
        dotted = [f"{date.day}.{date.month}.{date.year:04}" for date in dates]
        assert days_of_texts(dotted, engine) == expected

    check()


def test_days_that_never_were_are_missing(engine):
    never = ["2019-02-29", "1900-02-29", "2019-04-31", "2019-13-01", "2019-00-10", "31.6.2019", "0.1.2019"]
    others = ["", "soon", "2019", "5/6/2019", "2019-5-1"]
    assert np.isnan(days_of_texts([*never, *others], engine)).all()
    real = ["2020-02-29", "2000-02-29", "2019-12-31T23:59", "1.1.2019"]
    assert days_of_texts(real, engine) == [
        (date - EPOCH).days
        for date in (dt.date(2020, 2, 29), dt.date(2000, 2, 29), dt.date(2019, 12, 31), dt.date(2019, 1, 1))
    ]


def test_days_of_moments_are_the_same(engine):
    moments = pd.to_datetime(["2019-05-31T23:59", "1969-12-31T00:00", "2000-03-01T12:30"]).astype(
        "datetime64[us]"
    )
    rows = relation(pd.DataFrame({"at": range(3), "when": moments}), engine)
    told = worked_out(rows.select("at", day_of_date(nw.col("when")).alias("day")))["day"].tolist()
    assert told == [(moment.date() - EPOCH).days for moment in moments]


def test_the_straight_way_is_no_longer_than_that_over_the_ground(engine):
    del engine
    rng = np.random.default_rng(4)
    lat, lon = rng.uniform([[-90], [-180]], [[90], [180]], size=(2, 50))
    there = on_the_globe(lat, lon, 6371.0)
    straight = np.linalg.norm(there[1:] - there[:-1], axis=1)
    ground = distance_km(lat[:-1], lon[:-1], lat[1:], lon[1:], 6371.0)
    assert (straight <= ground + 1e-6).all()
    near = ground < 1000
    assert (straight[near] > 0.998 * ground[near]).all()


def broken(rows, checks):
    told = worked_out(breaches(rows, checks)).to_dict("records")
    return {(int(row["at"]), check.name) for row in told for check in checks if bool(row[check.name])}


def test_cells_break_the_same_checks_as_stored_and_laid_out(engine):
    """Blanks around a text, blanks alone, nothing at all, and what is no number."""
    frame = frame_of(
        {},
        {"box": "  ", "sex": "X", "net_g": -1.0},
        {"box": "\t", "sex": "", "bag_g": NAN},
        {"box": " SL-1 ", "sex": " M ", "event": " was seen", "wing_mm": -0.5},
    ).drop(columns="date")
    raw = raw_of(frame, engine)
    assert stored_as_declared(TABLE, raw.stored)
    assert not stored_as_declared(TABLE, {**raw.stored, "date": "text"})
    laid = laid_out(raw.rows, raw.stored, TABLE)
    there = list(raw.stored)
    found = broken(raw.rows, cell_checks(TABLE, present=there, as_stored=True))
    assert found == broken(laid, cell_checks(TABLE, present=there))
    assert found == {
        *((1, "box required"), (1, "sex enum"), (1, "net_g minimum")),
        *((2, "box required"), (3, "event enum"), (3, "wing_mm minimum")),
    }


def sums(engine, *rows):
    laid = rows_of(frame_of(*rows), engine)
    found = worked_out(broken_sums(kept(missed_sums(laid)), laid, habit_share=0.03, habit_rows=3))
    return set(found["at"].astype(int))


def triple(gross, bag, net):
    return {"gross_g": gross, "bag_g": bag, "net_g": net}


def test_sums_that_do_not_come_out(engine):
    assert sums(engine, triple(395, 22, 373), triple(395, 22, 395), triple(395, 22, 374)) == {1, 2}
    assert sums(engine, triple(20, 22, NAN), triple(395, NAN, 396), triple(395, NAN, NAN)) == {0, 1}


def test_a_net_rounded_from_tenths_comes_out(engine):
    assert sums(engine, triple(20.4, 8.1, 12), triple(20.4, 8.1, 12.3), triple(20.4, 8.1, 13)) == {2}


def test_a_team_that_rounds_each_mass_may_be_one_unit_off(engine):
    rounded = [triple(395, 22, 374)] * 3
    assert sums(engine, *rounded, triple(395, 22, 373), triple(395, 22, 383)) == {4}


def sizes(engine, *rows):
    marks = marks_of(frame_of(*rows), engine)
    sticks = yardsticks_of(DECLARED.species, margin=1.2, sibling_days=2.0)
    tables = [relation(frame, engine) for frame in (sticks.by_wing, sticks.by_age, sticks.by_kind)]
    found = worked_out(
        kept(odd_sizes(marks, marks, *tables, sieve_limits(DECLARED), lambda told, _: kept(told)))
    )
    return set(found["at"].astype(int))


def owl(wing, mass, **more):
    return {**triple(NAN, NAN, mass), "wing_mm": wing, "ring": f"SV{int(wing):05}", **more}


def test_a_brood_as_it_should_be(engine):
    curves = DECLARED.species["barn_owl"].curves
    wings = [150.0, 165.0, 180.0, 190.0]
    masses = growth.mass_for_wing(curves["mass_g"], curves["wing_mm"], wings).mean.round()
    brood = [owl(wing, mass) for wing, mass in zip(wings, masses, strict=True)]
    assert sizes(engine, *brood) == set()
    # one weighed with its bag, one whose wing lost a digit
    assert sizes(engine, *brood[:3], owl(190.0, 2 * masses[3])) == {3}
    assert 3 in sizes(engine, *brood[:3], owl(19.0, masses[3]))


def test_full_grown_birds_are_as_large_as_their_species(engine):
    grown = {"age": "6", "event": "re-encountered"}
    assert sizes(engine, owl(290.0, 320.0, **grown), owl(29.0, 320.0, **grown)) == {1}
    assert sizes(engine, owl(290.0, 320.0, **grown), owl(291.0, 700.0, **grown)) == {1}


def test_a_wing_that_became_shorter(engine):
    later = {"ring": BIRD["ring"], "date": "2019-06-15", "event": "re-encountered"}
    first = owl(180.0, NAN, ring=BIRD["ring"])
    assert sizes(engine, first, {**owl(230.0, NAN), **later}) == set()
    assert 1 in sizes(engine, first, {**owl(160.0, NAN), **later})
