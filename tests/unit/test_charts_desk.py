"""The desks that choose what a picture is about: one chart widget, a still picture behind it."""

from __future__ import annotations

import pytest
from marked_examples import found
from typed_season import typed_season

from audit.charts.desk import PictureDesk
from audit.charts.picture import BEING_DRAWN
from audit.desk import download_desk, life_line_desk
from audit.findings import Report
from audit.review.download_visits import NO_DOWNLOAD

WIDGET = "application/vnd.jupyter.widget-view+json"


def season_of_two_boxes(declared):
    rows = [
        {"date": f"2026-06-{day:02d}", "box": box, "ring": f"SV0100{i}", "tag": f"99910419006680{i}"}
        for box, first in (("SL-01", 1), ("SL-02", 4))
        for day in (1, 13)
        for i in range(first, first + 3)
    ]
    reads = [{"read_at": f"{row['date']} 09:0{i % 6}:00", "tag": row["tag"]} for i, row in enumerate(rows)]
    return typed_season(declared, handlings=rows, tag_reads=reads)


@pytest.fixture
def season(declared):
    return season_of_two_boxes(declared)


@pytest.fixture
def report(season):
    return Report("x", (found(season, "a.b", "suspect", [("handlings!9", "tag", "")], "Odd tag."),))


def drawn(desk):
    return desk.children[2].children[0]


def test_the_most_doubtful_box_is_shown_first_and_another_can_be_chosen(season, report, declared):
    desk = life_line_desk(season, report, schemas=declared)
    assert [label for label, _ in desk.choice.options] == [
        "SL-02: 3 birds, 2 visits, 1 marked",
        "SL-01: 3 birds, 2 visits",
    ]
    before = drawn(desk)
    assert "Box SL-02" in str(before.spec)
    desk.choice.value = "SL-01"
    assert drawn(desk) is before
    assert "Box SL-01" in str(before.spec)


def test_no_former_picture_stands_below_another_choice(season, report, declared):
    desk = life_line_desk(season, report, schemas=declared)
    pane, show, meanwhile = desk.children[2], desk._show, []

    def slowly(choice):
        meanwhile.append((desk.told.value, pane.layout.display))
        return show(choice)

    desk._show = slowly
    desk.choice.value = "SL-01"
    assert meanwhile == [(BEING_DRAWN, "none")]
    assert (desk.told.value, pane.layout.display) == ("", "")


def test_what_is_chosen_stands_still_too(season, report, declared):
    desk = life_line_desk(season, report, schemas=declared)
    desk.choice.value = "SL-01"
    bundle = desk._repr_mimebundle_()
    assert WIDGET in bundle
    assert "Life lines of box SL-01" in bundle["text/html"]
    assert bundle["text/plain"].startswith("Life lines of box SL-01")


def test_the_download_of_a_visit_has_its_table_below(season, report, declared):
    desk = download_desk(season, report, schemas=declared)
    assert desk.choice.options[0][0] == "2026-06-01 SL-02: 3 rows, 1 marked"
    assert "Odd tag." in desk.below.value
    desk.choice.value = ("2026-06-13", "SL-01")
    assert "2026-06-13, SL-01" in desk.below.value
    assert "2026-06-13, SL-01" in str(drawn(desk).spec)
    assert desk.below.value in desk._repr_mimebundle_()["text/html"]


def test_nothing_to_choose_is_said(declared):
    season = typed_season(declared, handlings=[{"date": "2026-06-01", "box": "SL-01"}])
    report = Report("x", ())
    for desk, words in (
        (life_line_desk(season, report, schemas=declared), "No ring and no tag"),
        (download_desk(season, report, schemas=declared), NO_DOWNLOAD),
    ):
        assert isinstance(desk, PictureDesk)
        assert words in desk.told.value
        bundle = desk._repr_mimebundle_()
        assert words in bundle["text/plain"]
        assert "text/html" not in bundle
