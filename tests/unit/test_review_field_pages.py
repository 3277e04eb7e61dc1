from __future__ import annotations

import pandas as pd
import pytest

from audit.checking import read_season
from audit.review.field_pages import lay_pages, natural
from audit.review.look_for import look_for


def row(date, box, ring, time="", **more):
    return {"date": date, "box": box, "ring": ring, "time": time, **more}


def season(rows, **tables):
    frames = {name: pd.DataFrame(lines) for name, lines in {"handlings": rows, **tables}.items()}
    return read_season({name: frame.astype("str") for name, frame in frames.items()})


def order(pages, labels):
    return sorted(labels, key=lambda label: pages.place_of(label).order)


def labels(n, sheet="handlings"):
    return [f"{sheet}!{i}" for i in range(2, n + 2)]


def test_days_come_first_then_boxes_as_visited_then_birds_as_typed():
    pages = lay_pages(
        season(
            [
                row("2026-06-14", "SL-02", "SV01001", "09:00"),
                row("2026-06-13", "SL-10", "SV01002", "11:30"),
                row("2026-06-13", "SL-10", "SV01003", "11:34"),
                row("2026-06-13", "SL-9", "SV01004", "09:30"),
            ]
        )
    )
    assert order(pages, labels(4)) == ["handlings!5", "handlings!3", "handlings!4", "handlings!2"]


def test_without_times_the_order_of_the_sheet_is_that_of_the_visits():
    rows = [row("2026-06-13", "SL-10", "SV01002"), row("2026-06-13", "SL-09", "SV01004")]
    assert order(lay_pages(season(rows)), labels(2)) == labels(2)


def test_a_visit_without_a_time_follows_the_one_above_it():
    rows = [
        row("2026-06-13", "SL-01", "SV01001", "12:00"),
        row("2026-06-13", "SL-02", "SV01002"),
        row("2026-06-13", "SL-03", "SV01003", "09:00"),
    ]
    assert order(lay_pages(season(rows)), labels(3)) == ["handlings!4", "handlings!2", "handlings!3"]


def test_the_list_of_visits_knows_when_a_visit_began():
    rows = [
        row("2026-06-13", "SL-01", "SV01001", "09:30"),
        row("2026-06-13", "SL-02", "SV01002", "10:30"),
    ]
    visits = [
        {"date": "2026-06-13", "box": "SL-01", "time": "11:00"},
        {"date": "2026-06-13", "box": "SL-02", "time": "10:15"},
    ]
    pages = lay_pages(season(rows, visits=visits))
    assert order(pages, [*labels(2), *labels(2, "visits")]) == [
        "visits!3",
        "handlings!3",
        "visits!2",
        "handlings!2",
    ]
    assert pages.place_of("visits!3").bird == 0
    assert pages.place_of("handlings!3").visit.time == "10:15"


def test_a_time_in_doubt_does_not_tell_the_order():
    rows = [
        row("2026-06-13", "SL-01", "SV01001", "19:30"),
        row("2026-06-13", "SL-01", "SV01002", "09:34"),
        row("2026-06-13", "SL-02", "SV01003", "10:30"),
    ]
    assert order(lay_pages(season(rows)), labels(3))[0] == "handlings!4"
    assert order(lay_pages(season(rows), [("handlings!2", "time")]), labels(3)) == labels(3)


def test_a_bird_is_told_by_its_place_in_the_brood_and_by_its_neighbours():
    rows = [row("2026-06-13", "SL-01", f"SV0100{i}", ringer="AB", scribe="IP") for i in range(1, 4)]
    place = lay_pages(season(rows)).place_of("handlings!3")
    assert (place.bird, place.visit.birds) == (2, 3)
    assert (place.above, place.ring, place.below) == ("SV01001", "SV01002", "SV01003")
    assert (place.visit.ringers, place.visit.scribes) == ("AB", "IP")


@pytest.mark.parametrize("field", ["date", "box"])
def test_a_row_whose_day_or_box_is_in_doubt_is_looked_for_among_its_neighbours(field):
    rows = [row("2026-06-13", "SL-01", f"SV0100{i}") for i in range(1, 4)]
    rows[1][field] = {"date": "2026-03-16", "box": "SL-11"}[field]
    pages = lay_pages(season(rows), [("handlings!3", field)])
    assert pages.place_of("handlings!3").visit == pages.place_of("handlings!2").visit
    assert pages.place_of("handlings!3").bird == 2
    assert lay_pages(season(rows)).place_of("handlings!3").visit.birds == 1


def test_a_row_between_two_visits_stays_where_it_was_typed():
    rows = [row("2026-06-13", f"SL-0{i}", f"SV0100{i}") for i in range(1, 4)]
    pages = lay_pages(season(rows), [("handlings!3", "box")])
    assert pages.place_of("handlings!3").visit.box == "SL-02"


def test_a_day_that_cannot_be_read_is_shown_as_typed_and_follows_the_row_above():
    rows = [
        row("2026-06-13", "SL-01", "SV01001"),
        row("2026-02-31", "SL-02", "SV01002"),
        row("2026-06-14", "SL-03", "SV01003"),
    ]
    pages = lay_pages(season(rows))
    assert pages.place_of("handlings!3").visit.day == "2026-02-31"
    assert order(pages, labels(3)) == labels(3)


def test_what_is_no_visit_stands_in_a_list_behind_all_visits():
    rows = [row("2026-06-13", "SL-01", "SV01001")]
    stock = [{"prefix": "SV", "first": "01001", "last": "01100"}]
    pages = lay_pages(season(rows, ring_stock=stock))
    assert pages.place_of("ring_stock!2").visit.sheet == "ring_stock"
    assert order(pages, ["ring_stock!2", "handlings!2"]) == ["handlings!2", "ring_stock!2"]


def test_boxes_sort_by_their_numbers():
    assert sorted(["SL-10", "sl-9", "", "SL-2b", "SL-02"], key=natural) == [
        "SL-02",
        "SL-2b",
        "sl-9",
        "SL-10",
        "",
    ]


def test_what_to_look_for_depends_on_the_column():
    assert look_for("net_g", in_a_visit=True) == (
        "gross, bag and net of this line, the units, and the bag on the lines beside it"
    )
    assert look_for("ring", in_a_visit=False) == "the ring number on the list, sign by sign"
    assert look_for("own column", in_a_visit=True) == "the entry for this column, sign by sign"
