"""Rows of the clean season as records: what each field holds, what is asked, what is left out."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest
from exchanged_rows import ADULT, DAY, DECLARED, PULLUS, SHIPPED, made, with_sender
from hypothesis import given, settings
from hypothesis import strategies as st

from audit.declarations.limit import Limit
from audit.declarations.sender import Place


def one(row, **more):
    """The record of a single row, with what was asked of it."""
    records = made(row, **more)
    (coded,) = records.coded
    return coded.record, {caution.check: caution.said for caution in records.cautions}


# a plain row


def test_a_nestling_with_its_ring():
    record, asked = one(PULLUS)
    assert asked == {}
    told = {
        "scheme": "XSL", "method": "A0", "ring": "SV...03001", "ring_verified": "0", "metal_ring": "2",
        "other_marks": "ZZ", "species_mentioned": "07350", "species_concluded": "07350", "manipulated": "N",
        "moved_before": "0", "catching_method": "N", "lures": "N", "sex_mentioned": "U", "age_mentioned": "1",
        "age_concluded": "1", "status": "U", "brood_size": "03", "pullus_age": "99",
        "pullus_age_accuracy": "9", "date": "12062026", "date_accuracy": "0", "time": "0930",
        "place_code": "XS--", "coordinates": "+450112-0295718", "coordinates_accuracy": "0", "condition": "8",
        "circumstances": "20", "presumed": "0", "code_identifier": "4", "distance": "00000",
        "direction": "000", "elapsed": "00000", "wing": "138.0", "mass": "305.0",
        "place_name": "Sallow Levels, SL-01", "remarks": "", "reference": "SV03001-20260612",
        "latitude": "45.02000", "longitude": "-29.95500",
    }  # fmt: skip
    assert {name: getattr(record, name) for name in told} == told


def test_a_full_grown_bird_from_elsewhere():
    record, asked = one(ADULT)
    told = (record.brood_size, record.pullus_age, record.pullus_age_accuracy, record.catching_method)
    assert told == ("--", "--", "-", "H")
    assert (record.metal_ring, record.sex_mentioned, record.status) == ("4", "F", "U")
    # nobody told of its ringing
    assert (record.distance, record.direction, record.elapsed) == ("-----", "---", "-----")
    assert asked == {}


def test_a_full_grown_bird_in_a_box_with_young_or_eggs_is_nesting():
    records = made(PULLUS, ADULT)
    assert records.coded[1].record.status == "N"
    eggs = [{"date": DAY, "box": "SL-01", "eggs": 4}]
    assert one(ADULT, visits=eggs)[0].status == "N"


def test_a_mass_from_gross_and_bag():
    row = {**PULLUS, "net_g": None, "gross_g": 329.1, "bag_g": 24.2}
    assert one(row)[0].mass == "304.9"


# rings and tags

TAG, OTHER_TAG = "999104190065688", "999104190065317"


def test_a_tag_is_put_on_once_and_is_there_afterwards():
    later = {**PULLUS, "date": DAY + dt.timedelta(14), "event": "re-encountered"}
    records = made(
        {**PULLUS, "tag": TAG},
        {**later, "tag": TAG, "wing_mm": 200.0},
        {**later, "date": DAY + dt.timedelta(20), "tag": OTHER_TAG},
        {**later, "date": DAY + dt.timedelta(25)},
    )
    assert [coded.record.other_marks for coded in records.coded] == ["GB", "GC", "GE", "ZZ"]
    assert [coded.record.elapsed for coded in records.coded] == ["00000", "00014", "00020", "00025"]
    assert records.coded[0].record.remarks == f"tag {TAG}"
    assert [caution.check for caution in records.cautions] == ["tag_not_told"]


def test_a_tag_of_an_earlier_season_was_there():
    earlier = [{**PULLUS, "date": dt.date(2025, 6, 12), "tag": TAG}]
    row = {**PULLUS, "event": "re-encountered", "age": "5", "brood_size": None, "tag": TAG}
    records = made(row, earlier=earlier)
    record = records.coded[0].record
    assert (record.other_marks, record.elapsed, record.distance) == ("GC", "00365", "00000")


@pytest.mark.parametrize(
    ("stock", "code"), [([{"tag": TAG}], "GB"), ([{"tag": OTHER_TAG}], "GC"), ([], "GC")]
)
def test_a_tag_on_a_bird_of_unknown_past(stock, code):
    tables = {"tag_stock": stock} if stock else {}
    record, asked = one({**ADULT, "tag": TAG}, **tables)
    assert record.other_marks == code
    assert ("tag_unknown_before" in asked) is (code == "GC")


def test_one_tag_on_two_rings_is_asked_about():
    records = made({**PULLUS, "tag": TAG}, {**PULLUS, "ring": "SV03002", "tag": TAG})
    assert [caution.check for caution in records.cautions] == ["tag_once", "tag_once"]


def test_a_ring_that_took_the_place_of_another():
    records = made(
        {**PULLUS, "tag": TAG},
        {
            **PULLUS,
            "date": DAY + dt.timedelta(14),
            "ring": "SV03002",
            "tag": TAG,
            "remarks": "ring worn, new ring",
        },
    )
    record = records.coded[1].record
    assert (record.metal_ring, record.other_marks, record.elapsed) == ("5", "GC", "-----")
    assert record.remarks == f"ring worn, new ring; tag {TAG}; old ring SV03001"
    assert "the old one is SV03001" in next(c.said for c in records.cautions if c.check == "ring_replaced")


def test_a_new_ring_on_a_bird_that_its_tag_knows():
    later = {
        **PULLUS,
        "date": DAY + dt.timedelta(14),
        "event": "re-encountered",
        "ring": "SV03002",
        "tag": TAG,
    }
    records = made({**PULLUS, "tag": TAG}, later, {**later, "date": DAY + dt.timedelta(20)})
    assert [coded.record.metal_ring for coded in records.coded] == ["2", "5", "4"]
    asked = {c.check: c.said for c in records.cautions}
    assert asked["ring_replaced"].startswith(
        "The tag tells that the bird got another ring; the old one is SV03001"
    )


def test_a_remark_on_a_new_ring_that_the_event_does_not_tell_is_asked_about():
    record, asked = one({**ADULT, "remarks": "old ring SV00777 worn, replaced"})
    assert record.metal_ring == "4"
    assert asked["ring_replaced"].endswith("it is written as there already, as the event says.")
    # of a bird met before, its remark tells of a ring that is there
    again = {**PULLUS, "date": DAY + dt.timedelta(14), "event": "re-encountered", "remarks": "ring worn"}
    assert "ring_replaced" not in {c.check for c in made(PULLUS, again).cautions}


def test_a_bird_met_again_on_the_day_of_its_ringing_at_an_unknown_time():
    later = {**PULLUS, "event": "re-encountered", "time": None}
    records = made(later, PULLUS)
    assert [coded.record.elapsed for coded in records.coded] == ["00000", "00000"]
    assert [coded.record.metal_ring for coded in records.coded] == ["4", "2"]


def test_without_events_the_first_row_of_a_ring_is_its_ringing():
    row = {name: value for name, value in PULLUS.items() if name != "event"}
    records = made(row, {**row, "date": DAY + dt.timedelta(14)})
    assert [coded.record.metal_ring for coded in records.coded] == ["2", "4"]
    assert [caution.check for caution in records.cautions] == ["event_not_told"]


# the brood


def test_an_age_from_the_day_of_hatching():
    row = {**PULLUS, "hatch_date": DAY - dt.timedelta(30), "age_days": 33}
    later = {**PULLUS, "date": DAY + dt.timedelta(5), "event": "re-encountered"}
    first, second = (coded.record for coded in made(row, later).coded)
    assert (first.pullus_age, first.pullus_age_accuracy) == ("30", "0")
    # a bird hatches once: its other rows know it, too
    assert (second.pullus_age, second.pullus_age_accuracy) == ("35", "0")


def test_an_age_as_estimated_has_the_declared_accuracy():
    record, _ = one({**PULLUS, "age_days": 33})
    assert (record.pullus_age, record.pullus_age_accuracy) == ("33", "3")


@settings(max_examples=10)
@given(st.floats(10, 300, allow_nan=False))
def test_no_age_is_read_from_the_wing(wing):
    record, _ = one({**PULLUS, "wing_mm": wing})
    assert (record.pullus_age, record.pullus_age_accuracy) == ("99", "9")


@pytest.mark.parametrize("more", [{"age_days": 120}, {"hatch_date": DAY + dt.timedelta(2)}])
def test_an_impossible_age_goes_out_as_not_known(more):
    record, asked = one({**PULLUS, **more})
    assert record.pullus_age == "99"
    assert "age_in_days" in asked


def test_two_days_of_hatching_are_asked_about():
    row = {**PULLUS, "hatch_date": DAY - dt.timedelta(30)}
    later = {**row, "date": DAY + dt.timedelta(5), "event": "re-encountered"}
    records = made(row, {**later, "hatch_date": DAY - dt.timedelta(20)})
    assert {coded.record.pullus_age for coded in records.coded} == {"99"}
    assert {caution.check for caution in records.cautions} == {"hatched_twice"}


def test_a_size_of_brood_comes_from_the_visit_where_the_row_has_none():
    visits = [{"date": DAY, "box": "SL-01", "alive": 4}]
    row = {**PULLUS, "brood_size": None}
    assert one(row, visits=visits)[0].brood_size == "04"
    assert one(row)[0].brood_size == "99"


@pytest.mark.parametrize("size", [0, 51, 88])
def test_a_size_with_another_meaning_goes_out_as_not_known(size):
    record, asked = one({**PULLUS, "brood_size": size})
    assert (record.brood_size, "brood_count" in asked) == ("99", True)


# fates


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("dead", "1"), ("Found dead.", "1"), ("tot", "1"), ("freshly dead", "2"), ("skeleton", "3"),
        ("injured", "5"), ("good", "8"), ("", "8"),
    ],
)  # fmt: skip
def test_a_condition_that_says_nothing_else(text, code):
    record, asked = one({**ADULT, "condition": text})
    assert record.condition == code
    assert "condition_text" not in asked
    if code in "123":
        assert (record.catching_method, record.lures, record.circumstances) == ("-", "-", "01")
        assert asked == {}


def test_a_longer_text_on_death_is_asked_about():
    record, asked = one({**ADULT, "condition": "weak, died next day"})
    assert record.condition == "0"
    assert asked["condition_text"].startswith("The condition 'weak, died next day' may mean a dead bird")
    # a code of the exchange code, or a score of the body: only a person can say
    record, asked = one({**ADULT, "condition": "2"})
    assert (record.condition, "condition_text" in asked) == ("0", True)
    record, asked = one({**ADULT, "remarks": "one dead sibling in the box"})
    assert (record.condition, "condition_text" in asked) == ("8", True)
    # words that only begin like one
    assert "condition_text" not in one({**ADULT, "remarks": "total of 3, deadline kept"})[1]


def test_a_nestling_in_another_box_is_asked_about():
    later = {**PULLUS, "date": DAY + dt.timedelta(5), "event": "re-encountered", "box": "SL-02"}
    records = made(PULLUS, later)
    assert [caution.check for caution in records.cautions] == ["moved"]
    # 0.48 degrees of latitude on a sphere of 6371.0088 km are 53.4 km, due north
    record = records.coded[1].record
    assert (record.distance, record.direction, record.elapsed) == ("00053", "000", "00005")


def test_the_way_back_is_south():
    first = {**PULLUS, "box": "SL-02"}
    later = {**PULLUS, "date": DAY + dt.timedelta(5), "event": "re-encountered"}
    record = made(first, later).coded[1].record
    assert (record.distance, record.direction) == ("00053", "180")


# places


def test_a_box_without_coordinates():
    records = made({**PULLUS, "box": "SL-03"}, PULLUS | {"ring": "SV03002"})
    record = records.coded[0].record
    assert (record.coordinates, record.coordinates_accuracy, record.latitude) == ("." * 15, "9", "")
    assert [caution.said for caution in records.cautions] == ["Box SL-03 has no co-ordinates: 1 record."]


@pytest.mark.parametrize(
    ("metres", "code"),
    # to the second, else by the radii of the list (from memory)
    [(20, "0"), (31, "0"), (32, "1"), (5000, "1"), (5001, "2"), (90_000, "5"), (2_000_000, "9"), (0, "1")],
)
def test_the_accuracy_of_coordinates(metres, code):
    declared = with_sender(limits={"uncertainty_m": Limit(metres, "test", "memory")})
    assert one(PULLUS, declared=declared)[0].coordinates_accuracy == code


def test_boxes_of_another_place():
    declared = with_sender(boxes={"SL-01": Place("XS07", "Sallow Hill")})
    record, _ = one(PULLUS, declared=declared)
    assert (record.place_code, record.place_name) == ("XS07", "Sallow Hill, SL-01")


def test_without_a_place_code_the_place_is_not_known_and_told_once():
    records = made(PULLUS, PULLUS | {"ring": "SV03002"}, declared=with_sender(place=Place()))
    assert {coded.record.place_code for coded in records.coded} == {"----"}
    assert records.cautions == ()
    assert (
        "No place code is declared, so the place goes out as not known: write place: code into sender.yaml "
        "of your own folder." in records.told
    )


def test_a_place_beyond_the_globe():
    record, asked = one(PULLUS, boxes=[{"box": "SL-01", "latitude": 145.0, "longitude": 3.0}])
    assert record.coordinates == "." * 15
    assert asked["coordinates"] == "Box SL-01 lies at 145, 3: no such place."
    # where other boxes lie on earth, too, it is not called missing as well
    both = [
        {"box": "SL-01", "latitude": 145.0, "longitude": 3.0},
        {"box": "SL-02", "latitude": 45.0, "longitude": 3.0},
    ]
    records = made(PULLUS, {**PULLUS, "box": "SL-02", "ring": "SV03002"}, boxes=both)
    assert [caution.check for caution in records.cautions] == ["coordinates"]


# what is left out or changed


@pytest.mark.parametrize(
    ("more", "why"),
    [
        ({"ring": None}, "No ring is written."),
        ({"ring": "SV123456789"}, "The ring 'SV123456789' has 11 characters, and the code holds 10."),
        ({"ring": "SV?1"}, "The ring 'SV?1' has signs other than letters A to Z and digits."),
        ({"date": None}, "No day is written, or it could not be read."),
        ({"species": "heron"}, "No species code is declared for 'heron'."),
        # in the tables, but without a code
        ({"species": "tree swallow"}, "No species code is declared for 'tree swallow'."),
    ],
)
def test_rows_without_a_record(more, why):
    records = made({**PULLUS, **more})
    assert records.coded == ()
    (left,) = records.left_out
    assert left.why.startswith(why)
    assert (left.label, left.box) == ("handlings!2", "SL-01")
    assert "so there is no record for the scheme" in records.told[0]


def test_texts_stay_inside_their_field():
    record, asked = one({**PULLUS, "remarks": "left wing |\nstiff\tfeather"})
    assert record.remarks == "left wing / stiff feather"
    assert "text_changed" in asked


def test_what_is_rounded_is_told():
    record, asked = one({**PULLUS, "wing_mm": 138.25, "net_g": 0.0})
    assert (record.wing, record.mass) == ("138.2", "")
    assert asked == {
        "rounded": "A wing of 138.25 mm is written as 138.2 mm.",
        "measure": "A net mass of 0 g is no measure; the field stays empty.",
    }


@pytest.mark.parametrize(
    ("time", "text"), [("9:05", "0905"), ("23:59:30", "2359"), ("", "----"), ("25:00", "----")]
)
def test_times(time, text):
    assert one({**PULLUS, "time": time})[0].time == text


def test_an_age_that_is_no_code():
    record, asked = one({**PULLUS, "age": None})
    assert (record.age_mentioned, record.brood_size, "age_not_told" in asked) == ("0", "--", True)


def test_two_rows_of_one_day_have_references_of_their_own():
    records = made(PULLUS, PULLUS, PULLUS)
    assert [coded.record.reference for coded in records.coded] == [
        "SV03001-20260612", "SV03001-20260612-2", "SV03001-20260612-3",
    ]  # fmt: skip
    assert {"same_day", "metal_ring"} <= {caution.check for caution in records.cautions}


def test_references_do_not_hang_on_the_order_of_the_sheet():
    rows = [PULLUS, {**PULLUS, "ring": "SV03002"}, {**ADULT}]
    forth, back = made(*rows), made(*rows[::-1])
    assert [c.record for c in forth.coded] == [c.record for c in back.coded][::-1]


def test_what_the_scheme_concludes_can_be_left_open():
    choices = {**SHIPPED.exchange.choices, "concluded": Limit("open", "our scheme", "read")}
    declared = replace(DECLARED, exchange=replace(SHIPPED.exchange, choices=choices))
    record, _ = one({**ADULT}, declared=declared)
    assert (record.species_concluded, record.sex_concluded, record.age_concluded) == ("00000", "U", "0")
    assert (record.species_mentioned, record.sex_mentioned, record.age_mentioned) == ("07350", "F", "6")
