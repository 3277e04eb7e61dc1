"""What is asked of records before they are sent.

Read is only that an unknown part of a country is written with hyphens and not 00 (manual of 17 May 2010, page
21). All else follows from what the fields mean, as remembered; so it asks, and holds nothing back.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest
from exchanged_rows import ADULT, BOXES, DAY, DECLARED, PULLUS, made
from typed_season import typed_season

from audit.handover.exchange.bird_checks import bird_checks
from audit.handover.exchange.encounter import NAMES
from audit.handover.exchange.reading import read_line
from audit.handover.exchange.record_checks import record_checks
from audit.handover.exchange.round import lay_round
from audit.handover.exchange.season_checks import season_checks

EXCHANGE = DECLARED.exchange
(NESTLING,) = (coded.record for coded in made(PULLUS).coded)
(GROWN,) = (coded.record for coded in made(ADULT).coded)


def asked(record, form=""):
    return {(check, field) for check, field, _ in record_checks(record, EXCHANGE, form)}


@pytest.mark.parametrize("record", [NESTLING, GROWN])
def test_a_sound_record_is_asked_nothing(record):
    assert asked(record) == set()


@pytest.mark.parametrize(
    ("record", "more", "question"),
    [
        (NESTLING, {"place_code": "NL00"}, ("place_code", "place_code")),
        (NESTLING, {"place_code": "12--"}, ("place_code", "place_code")),
        (NESTLING, {"coordinates": "+456000-0295718"}, ("coordinates", "coordinates")),
        (NESTLING, {"coordinates": "+910000-0295718"}, ("coordinates", "coordinates")),
        (NESTLING, {"coordinates": "+000000+0000000"}, ("coordinates", "coordinates")),
        (NESTLING, {"latitude": ""}, ("coordinates", "latitude")),
        (NESTLING, {"latitude": "90.5"}, ("coordinates", "latitude")),
        (NESTLING, {"brood_size": "--"}, ("brood_fields", "brood_size")),
        (NESTLING, {"pullus_age": "30"}, ("pullus_age", "pullus_age")),
        (NESTLING, {"pullus_age_accuracy": "2"}, ("pullus_age", "pullus_age")),
        (NESTLING, {"brood_patch": "2"}, ("nestling_adult_signs", "brood_patch")),
        (NESTLING, {"lures": "A"}, ("nestling_adult_signs", "lures")),
        (NESTLING, {"status": "R"}, ("nestling_adult_signs", "status")),
        (NESTLING, {"elapsed": "00004"}, ("ringing_zero", "elapsed")),
        (NESTLING, {"date": "31062026"}, ("no_such_day", "date")),
        (NESTLING, {"time": "2460"}, ("no_such_time", "time")),
        (NESTLING, {"species_mentioned": "7350"}, ("species_code", "species_mentioned")),
        (NESTLING, {"other_marks": "GX"}, ("unknown_code", "other_marks")),
        (NESTLING, {"condition": "1"}, ("released", "metal_ring")),
        (GROWN, {"brood_size": "03"}, ("brood_fields", "brood_size")),
        (GROWN, {"catching_method": "-"}, ("caught", "catching_method")),
        (GROWN, {"circumstances": "28"}, ("caught", "catching_method")),
        (GROWN, {"catching_method": "-", "circumstances": "01"}, ("released", "condition")),
        (GROWN, {"condition": "2"}, ("released", "condition")),
    ],
)
def test_fields_that_do_not_go_together(record, more, question):
    assert question in asked(replace(record, **more))


def test_two_positions_in_the_form_of_2020():
    assert ("coordinates_twice", "coordinates") in asked(NESTLING, "2020")
    assert ("coordinates_twice", "coordinates") not in asked(NESTLING, "2000+")


def test_an_unknown_code_that_was_read_is_asked_about_and_kept():
    line = "|".join(getattr(replace(NESTLING, catching_method="Q"), name) for name in NAMES[:60])
    record = read_line(line, EXCHANGE)
    assert record.catching_method == "Q"
    assert ("unknown_code", "catching_method") in asked(record)


# one bird


def of_birds(*records):
    return {(at, check) for at, (check, _, _) in bird_checks(records, EXCHANGE)}


RETRAP = replace(NESTLING, metal_ring="4", date="26062026", elapsed="00014")


@pytest.mark.parametrize(
    ("second", "questions"),
    [
        (RETRAP, set()),
        (replace(NESTLING, date="26062026"), {(1, "metal_ring")}),
        (replace(RETRAP, date="11062026"), {(1, "before_ringing")}),
        # a day earlier, but known to a week only
        (replace(RETRAP, date="11062026", date_accuracy="3"), set()),
        (replace(RETRAP, date="12062026"), {(1, "same_day")}),
        (replace(RETRAP, species_mentioned="03040"), {(1, "species_differs")}),
        # ages as years of hatching: ringed as a nestling of 2026
        (replace(RETRAP, age_mentioned="3"), set()),
        (replace(RETRAP, age_mentioned="4"), {(1, "hatching_years")}),
        (replace(RETRAP, age_mentioned="5", date="26062027"), set()),
        (replace(RETRAP, age_mentioned="6", date="26062027"), {(1, "hatching_years")}),
        (replace(RETRAP, date="26062027"), {(1, "hatching_years")}),
    ],
)
def test_two_records_of_one_ring(second, questions):
    assert of_birds(NESTLING, second) == questions


def test_sex_tags_and_death():
    first = replace(NESTLING, other_marks="GB", sex_mentioned="M", condition="8")
    second = replace(RETRAP, other_marks="GB", sex_mentioned="F")
    assert of_birds(first, second) == {(1, "tag_once"), (1, "sex_differs")}
    dead = replace(RETRAP, condition="1")
    alive = replace(RETRAP, date="27062026")
    assert of_birds(first, dead, alive) == {(2, "after_death")}


def test_a_brood_may_be_in_the_nest_over_new_year():
    first = {**PULLUS, "date": dt.date(2025, 12, 20)}
    later = {**PULLUS, "event": "re-encountered", "date": dt.date(2026, 1, 6)}
    assert made(first, later).cautions == ()
    (caution,) = made(first, {**later, "date": dt.date(2026, 5, 6)}).cautions
    assert caution.check == "hatching_years"


def test_questions_name_a_ring_as_it_is_read():
    said = [caution.said for caution in made(PULLUS, PULLUS).cautions]
    assert "Ring SV03001 was put on before." in said
    assert not [one for one in said if "SV..." in one]


def test_ages_of_earlier_seasons_count():
    earlier = [{**PULLUS, "date": DAY.replace(year=2025), "age": "4"}]
    row = {**PULLUS, "event": "re-encountered"}
    (caution,) = made(row, earlier=earlier).cautions
    assert caution.check == "hatching_years"
    assert caution.said == "Age '1' does not go with earlier ages: hatched not before 2026, and by 2024."


# the season


def test_a_brood_smaller_than_the_birds_in_the_hand():
    rows = [{**PULLUS, "ring": f"SV0300{i}"} for i in range(1, 5)]
    (caution,) = made(*rows).cautions
    assert (caution.check, caution.label) == ("brood_size", "handlings!2")
    assert caution.said == "4 nestlings of SL-01 were in the hand on 2026-06-12, from a brood of 3."


def test_nest_mates_with_two_sizes():
    records = made(PULLUS, {**PULLUS, "ring": "SV03002", "brood_size": 4})
    assert [caution.check for caution in records.cautions] == ["nest_mates"]


def test_a_record_that_lies_beside_its_box():
    season = typed_season(DECLARED, handlings=[PULLUS], boxes=BOXES)
    around = lay_round(season, DECLARED)
    (coded,) = made(PULLUS).coded
    moved = replace(coded, record=replace(coded.record, coordinates="+450212-0295718"))
    (caution,) = season_checks([moved], around)
    # a minute of latitude on the declared sphere
    assert caution.said == "The co-ordinates lie 1.85 km from box SL-01."
    assert list(season_checks([coded], around)) == []
