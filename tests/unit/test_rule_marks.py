"""Who is who in a brood: shares of birds by ring, tag and wing, and what wings tell."""

from __future__ import annotations

import datetime as dt
import math
from functools import cache

import numpy as np
import pytest
from clean_round import broods, seen_again
from hypothesis import given, settings
from hypothesis import strategies as st
from typed_season import typed_season

from audit.declarations import load_declarations
from audit.models.slip_kinds import CODE_KINDS
from audit.rules.case import Case
from audit.rules.marks import Marks, Wings, chance_of_ring, numbers_like
from audit.rules.ringings import ringings_of
from audit.rules.tag_book import open_tag_book

shipped = cache(load_declarations)


def marks(rows):
    season = typed_season(shipped(), handlings=rows)
    case = Case(season, shipped(), shipped().rules["ring_order"])
    book = open_tag_book(case) if season.has("handlings", "tag") else None
    return Marks(case, ringings_of(case), book)


def two_visits(**changes):
    rows = broods(3, 5, 4)
    rows += seen_again(rows)
    rows[17] = {**rows[17], **changes}
    return rows


def test_every_bird_of_a_clean_visit_is_itself():
    found = marks(two_visits())
    met = found.met(17)
    assert met is not None
    for row in met.rows:
        bird, p = met.of(row)
        assert bird is not None
        assert found.rings.ring[row] == bird.ring
        assert p > 0.999


def test_shares_of_a_row_make_one():
    met = marks(two_visits(ring="SV01836")).met(17)
    assert met is not None
    assert met.share.sum(axis=1) == pytest.approx(np.ones(len(met.rows)))
    # each bird is one row at most
    assert (met.share[:, :-1].sum(axis=0) <= 1 + 1e-9).all()


def test_a_box_met_once_has_no_brood():
    assert marks(broods(3, 5, 4)).met(5) is None


def test_an_old_bird_is_no_young_of_the_brood():
    rows = two_visits(ring="SV01836", age="4")
    met = marks(rows).met(17)
    assert met is None or met.of(17)[0] is None


def wings(first, second, days=10):
    start = dt.date(2026, 6, 1)
    row = {"box": "SL-01", "ring": "SV01001", "age": "1", "species": "barn_owl", "event": "ringed"}
    rows = [
        {**row, "date": start, "wing_mm": first},
        {**row, "date": start + dt.timedelta(days=days), "wing_mm": second},
    ]
    season = typed_season(shipped(), handlings=rows)
    return Wings.of(Case(season, shipped(), shipped().rules["ring_order"]))


def test_a_wing_that_grew_as_owls_wings_do_is_not_off():
    # offset Gompertz of the wing written out here, as in tests/invented.py: values of
    # schemas/species/barn_owl.yaml
    def owl(age):
        return 9 + 304.6 * math.exp(-math.exp(-0.0537 * (age - 28.44)))

    for age in (20, 30, 40):
        # a wing factor of the season is left to the median of the visit
        assert wings(owl(age), owl(age + 10)).off(1, 0) == pytest.approx(0, abs=0.01)
    assert wings(owl(30), owl(40) + 40).off(1, 0) > 0.1
    assert wings(owl(30), owl(40) - 40).off(1, 0) < -0.1


@pytest.mark.parametrize(("first", "second", "days"), [(np.nan, 180, 10), (120, np.nan, 10), (120, 120, 0)])
def test_what_is_not_known_tells_nothing(first, second, days):
    found = wings(first, second, days)
    off = found.off(1, 0)
    assert math.isnan(off)
    assert found.log_fit(off, 0.0) == 0


def test_a_fitting_wing_speaks_for_the_bird_and_an_odd_one_against_it_but_never_for_certain():
    found = wings(120, 180)
    assert found.log_fit(0.0, 0.0) > 0
    assert found.log_fit(0.15, 0.0) < 0
    assert found.log_fit(9.0, 0.0) > math.log(found.tail) - 1e-9


def test_a_ring_wrong_for_no_reason_keeps_its_letters():
    channel = shipped().slips.channel()
    far = chance_of_ring(channel, "SV91846", "SV01002")
    assert far > chance_of_ring(channel, "QX91846", "SV01002")
    # one slip is likelier than none
    assert chance_of_ring(channel, "SV01003", "SV01002") > 1000 * far
    assert chance_of_ring(channel, "SV01002", "SV01002") == 0
    assert "unknown" in CODE_KINDS
    assert numbers_like("SV01002") == 50_000


@settings(max_examples=25, deadline=None)
@given(st.text("SV0123456789-²٣ ", max_size=9))
def test_any_text_for_a_ring_is_survived(text):
    found = marks(two_visits(ring=text.strip() or None))
    for row in range(len(found.rings.labels)):
        met = found.met(row)
        assert met is None or np.isfinite(met.share).all()
