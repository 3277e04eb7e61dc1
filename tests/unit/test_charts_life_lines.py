"""Life lines: what belongs together is one line, what parts is drawn as such, every season survives."""

from __future__ import annotations

import pytest
from lxml import etree
from marked_examples import found
from typed_season import typed_season

from audit.charts import life_lines, ring_order
from audit.charts.box_lives import boxes_by_doubt, lives_of_box
from audit.charts.life_words import shortened
from audit.charts.meeting_links import conflicts
from audit.charts.still import still
from audit.findings import Report
from audit.handover.conflicts_table import conflicts_text

EMPTY = Report("none", ())
DAYS = ("2026-06-01", "2026-06-13", "2026-06-27")


def met(visit, bird, tag=None, box="SL-07", **more):
    """One handling: bird 1 has ring SV01001 and a tag that ends in 6801."""
    return {
        "date": DAYS[visit],
        "box": box,
        "ring": f"SV0100{bird}",
        "tag": f"99910419006680{bird if tag is None else tag}" if tag != "" else None,
        "event": "ringed" if visit == 0 else "re-encountered",
    } | more


def season_of(rows, declared=None):
    return typed_season(declared, handlings=rows)


def rows_of(chart, *keys):
    return [
        row
        for values in chart.to_dict()["datasets"].values()
        for row in values
        if all(key in row for key in keys)
    ]


def links_of(season, box="SL-07", report=EMPTY):
    return sorted(
        (link.kind, link.earlier.ring, link.later.ring) for link in lives_of_box(season, report, box).links
    )


def exchanged():
    return season_of(
        [met(0, 1), met(0, 2), met(0, 3), met(1, 1, tag=2), met(1, 2, tag=1), met(1, 3)],
    )


def report_on_exchange(season):
    at = [("handlings!5", "tag", "999104190066801"), ("handlings!6", "tag", "999104190066802")]
    return Report("x", (found(season, "tag_twice.exchanged", "error", at, "They were exchanged."),))


def test_ring_and_tag_that_stay_together_are_one_line():
    season = season_of([met(0, 1), met(0, 2), met(1, 1), met(1, 2), met(2, 1)])
    assert links_of(season) == [
        ("together", "SV01001", "SV01001"),
        ("together", "SV01001", "SV01001"),
        ("together", "SV01002", "SV01002"),
    ]


def test_tags_exchanged_jump_and_their_rings_part():
    assert links_of(exchanged()) == [
        ("jump", "SV01001", "SV01002"),
        ("jump", "SV01002", "SV01001"),
        ("parted", "SV01001", "SV01001"),
        ("parted", "SV01002", "SV01002"),
        ("together", "SV01003", "SV01003"),
    ]


def test_a_tag_not_written_is_no_conflict():
    season = season_of([met(0, 1), met(1, 1, tag="")])
    assert links_of(season) == [("alone", "SV01001", "SV01001")]
    assert conflicts(season, EMPTY) == ()


def test_a_bird_without_a_tag_has_a_line_of_its_ring_alone():
    season = season_of([met(0, 1, tag=""), met(1, 1, tag="")])
    assert links_of(season) == [("alone", "SV01001", "SV01001")]


def test_a_tag_typed_twice_at_a_later_visit_jumps_to_the_other_ring_only():
    season = season_of([met(0, 1), met(0, 2), met(1, 1), met(1, 2, tag=1)])
    jumps = [link for link in links_of(season) if link[0] == "jump"]
    # inside the visit and from the one before
    assert jumps == [("jump", "SV01001", "SV01002")] * 2


def test_the_same_tag_written_another_way_is_the_same_tag():
    # the worked example of tests/reference/iso_tag_vectors.csv, first line
    written = [met(0, 1) | {"tag": "528140000795552"}, met(1, 1) | {"tag": "210.2098B29BA0"}]
    kinds = {link.kind for link in lives_of_box(season_of(written), EMPTY, "SL-07").links}
    assert kinds == {"together"}


def test_a_bird_is_followed_into_another_box():
    season = season_of([met(0, 1), met(0, 2), met(1, 1, box="SL-09")])
    lives = lives_of_box(season, EMPTY, "SL-07")
    assert lives.visits == ((DAYS[0], "SL-07"), (DAYS[1], "SL-09"))
    assert "in SL-09" in str(life_lines.chart(season, None, EMPTY, "SL-07").to_dict())


def test_a_bird_of_an_earlier_season_is_followed_and_others_are_not(declared):
    old = [met(0, 1, date="2024-06-03", box="SL-03"), met(0, 8, date="2024-06-03")]
    season = typed_season(declared, handlings=[met(1, 1), met(1, 2)], earlier=old)
    lives = lives_of_box(season, EMPTY, "SL-07")
    assert lives.visits == (("2024-06-03", "SL-03"), (DAYS[1], "SL-07"))
    assert lives.lives == ("SV01001", "SV01002")
    assert [one.box for one in boxes_by_doubt(season, EMPTY)] == ["SL-07"]
    words = " ".join(etree.fromstring(still(life_lines.chart(season, declared, EMPTY)).encode()).itertext())
    assert "3 Jun 2024" in words


def test_what_parted_in_earlier_seasons_is_not_asked_about(declared):
    old = [met(0, 1, date="2023-06-03"), met(0, 1, date="2024-06-03", tag=2)]
    season = typed_season(declared, handlings=[met(1, 1, tag=3)], earlier=old)
    assert [(link.earlier.day, link.later.day) for link in conflicts(season, EMPTY)] == [
        ("2024-06-03", DAYS[1])
    ]


def test_a_tag_twice_in_one_visit_jumps_inside_it():
    season = season_of([met(0, 1), met(0, 2, tag=1)])
    assert links_of(season) == [("jump", "SV01001", "SV01002")]


def test_a_ring_twice_in_one_visit_stands_side_by_side(declared):
    chart = life_lines.chart(season_of([met(0, 1), met(0, 1, tag=2)]), declared, EMPTY)
    places = [(point["x"], point["y"]) for point in rows_of(chart, "event")]
    assert len(set(places)) == 2
    assert len({y for _, y in places}) == 1


def test_a_bird_that_a_tag_jumps_to_stands_below_the_other():
    season = season_of([met(0, 1), met(0, 2), met(0, 3), met(1, 1), met(1, 9, tag=2), met(1, 3)])
    assert lives_of_box(season, EMPTY, "SL-07").lives == ("SV01001", "SV01002", "SV01009", "SV01003")


def test_a_bird_without_a_ring_is_known_by_its_tag(declared):
    season = season_of([met(0, 1), met(1, 1, ring=None)])
    assert links_of(season) == [("jump", "SV01001", "")]
    svg = still(life_lines.chart(season, declared, EMPTY))
    assert "no ring, tag …6801" in " ".join(etree.fromstring(svg.encode()).itertext())


def test_findings_mark_points_and_jumps_by_shape_and_word(declared):
    season = exchanged()
    chart = life_lines.chart(season, declared, report_on_exchange(season))
    points = {point["row"]: point for point in rows_of(chart, "event")}
    assert points["handlings, row 5"]["severity"] == "ERROR"
    assert points["handlings, row 5"]["message"] == "They were exchanged."
    assert points["handlings, row 2"]["severity"] == "no finding"
    assert [line["severity"] for line in rows_of(chart, "kind") if line["kind"] == "jump"] == ["ERROR"] * 2
    texts = [row["text"] for row in rows_of(chart, "text")]
    assert texts.count("ERROR") == 2
    assert "6802 → 6801" in texts


def test_first_ringings_are_filled_and_later_meetings_hollow(declared):
    points = rows_of(life_lines.chart(exchanged(), declared, EMPTY), "event")
    fills = {(point["event"], point["fill"]) for point in points}
    assert len(fills) == 2
    assert ("met again", "#ffffff") in fills


def test_a_note_on_one_row_marks_nothing_one_on_two_rows_does(declared):
    season = season_of([met(0, 1), met(1, 1, tag=5)])
    alone = found(season, "a.b", "note", [("handlings!3", "tag", "")], "Alone.")
    both = found(
        season, "a.b", "note", [("handlings!3", "tag", "")], "New.", witnesses=[("handlings!2", "tag")]
    )
    for finding, word in ((alone, "no finding"), (both, "NOTE")):
        points = rows_of(life_lines.chart(season, declared, Report("x", (finding,))), "event")
        assert points[-1]["severity"] == word


def test_a_remark_is_shown_where_nothing_else_says_why(declared):
    """A tag that was lost and replaced is no slip: what was remarked stands in the picture and the table."""
    season = season_of([met(0, 1), met(1, 1, tag=5, remarks="tag ring lost, new tag fitted"), met(0, 2)])
    texts = [row["text"] for row in rows_of(life_lines.chart(season, declared, EMPTY), "text")]
    assert "“tag ring lost, new tag fitted”" in texts
    assert "Remark: tag ring lost, new tag fitted" in conflicts_text(conflicts(season, EMPTY))


def test_many_jumps_side_by_side_have_one_word(declared):
    birds = range(1, 7)
    rows = [met(0, i) for i in birds] + [met(1, i, tag=i % 6 + 1) for i in birds]
    season = season_of(rows)
    at = [(f"handlings!{8 + i}", "tag", "") for i in range(6)]
    report = Report("x", (found(season, "a.slid", "error", at, "The column slid."),))
    texts = [row["text"] for row in rows_of(life_lines.chart(season, declared, report), "text")]
    assert texts.count("6 × ERROR") == 1
    assert "ERROR" not in texts


def test_codes_are_shown_by_as_few_signs_as_tell_them_apart():
    assert shortened([]) == {}
    assert shortened(["1", "22222"]) == {"1": "1", "22222": "2222"}
    assert set(shortened(["9991234567890", "9990234567890"]).values()) == {"34567890"}


def test_a_slip_in_the_middle_of_a_tag_is_shown_there(declared):
    season = season_of([met(0, 1) | {"tag": "999904190066801"}])
    finding = found(season, "a.b", "error", [("handlings!2", "tag", "999104190066801")], "It cannot be.")
    texts = [
        row["text"] for row in rows_of(life_lines.chart(season, declared, Report("x", (finding,))), "text")
    ]
    assert "99990…6801 → 99910…6801" in texts


def test_boxes_are_listed_by_doubt_then_by_name():
    rows = [met(0, 1, box="SL-10"), met(0, 2, box="SL-9"), met(0, 3, box="SL-2"), met(0, 4, box=None)]
    season = season_of(rows)
    finding = found(season, "a.b", "suspect", [("handlings!2", "ring", "")], "Odd.")
    listed = boxes_by_doubt(season, Report("x", (finding,)))
    assert [one.box for one in listed] == ["SL-10", "SL-2", "SL-9", ""]
    assert listed[0].marked == 1


def test_the_most_doubtful_box_is_drawn_unless_one_is_named(declared):
    season = season_of([met(0, 5, box="SL-01"), met(0, 1), met(1, 1, tag=2)])
    finding = found(season, "a.b", "suspect", [("handlings!4", "tag", "")], "Odd.")
    report = Report("x", (finding,))
    assert "SL-07" in life_lines.chart(season, declared, report).description
    assert "SL-01" in life_lines.chart(season, declared, report, "SL-01").description
    assert life_lines.chart(season, declared, report, "SL-99") is None


def test_conflicts_of_all_boxes_are_listed():
    listed = conflicts(exchanged(), EMPTY)
    assert [(link.kind, link.later.ring) for link in listed] == [
        ("parted", "SV01001"),
        ("jump", "SV01001"),
        ("jump", "SV01002"),
        ("parted", "SV01002"),
    ]


def test_more_visits_than_have_room_are_counted_aloud(declared):
    rows = [met(0, 1, date=f"2026-06-{day:02d}") for day in range(1, 13)]
    chart = life_lines.chart(season_of(rows), declared, EMPTY)
    assert len(rows_of(chart, "event")) == 8
    assert "4 handlings at further visits not drawn" in str(chart.to_dict()["title"])


def test_more_birds_than_have_room_are_counted_aloud(declared):
    rows = [met(0, 1, ring=f"SV0{i}", tag=f"{i}") for i in range(1000, 1030)]
    chart = life_lines.chart(season_of(rows), declared, EMPTY)
    assert len(rows_of(chart, "event")) == 24
    assert "6 more birds not drawn" in str(chart.to_dict()["title"])


@pytest.mark.parametrize(
    "rows",
    [
        [{"date": "2026-06-04", "box": "SL-01"}],
        [{"date": None, "box": None, "ring": "SV01001", "tag": "1"}],
        [{"date": "2026-06-04", "box": "SL-01", "ring": None, "tag": None}],
    ],
)
def test_a_season_without_rings_and_dates_has_no_chart(rows, declared):
    season = season_of(rows)
    assert life_lines.chart(season, declared, EMPTY) is None
    assert boxes_by_doubt(season, EMPTY) == ()
    assert conflicts(season, EMPTY) == ()


def test_no_handlings_no_chart(declared):
    assert (
        life_lines.chart(typed_season(visits=[{"date": "2026-06-04", "box": "SL-01"}]), declared, EMPTY)
        is None
    )


def test_odd_codes_are_drawn(declared):
    rows = [
        {"date": "2026-06-04", "box": "²", "ring": "٣٤", "tag": "²"},
        {"date": "2026-06-05", "ring": "9" * 400},
    ]
    season = season_of(rows)
    assert [one.box for one in boxes_by_doubt(season, EMPTY)] == ["²", ""]
    for one in boxes_by_doubt(season, EMPTY):
        still(life_lines.chart(season, declared, EMPTY, one.box))


def test_signs_that_cannot_be_shown_do_not_end_the_drawing(declared):
    """The drawing program would take the whole process with it."""
    rows = [met(visit, bird, box="S\x00", ring=f"R\x00{bird}") for visit in (0, 1) for bird in (1, 2)]
    season = season_of(rows)
    for chart in (life_lines.chart(season, declared, EMPTY), ring_order.chart(season, declared, EMPTY)):
        words = " ".join(etree.fromstring(still(chart).encode()).itertext())
        assert "R\N{REPLACEMENT CHARACTER}1" in words


def test_a_still_picture_says_all_in_words(declared):
    season = exchanged()
    chart = life_lines.chart(season, declared, report_on_exchange(season))
    svg = still(chart, "one")
    words = " ".join(etree.fromstring(svg.encode()).itertext())
    assert "Did ring and tag stay together? Box SL-07" in words
    assert "3 birds, 2 visits; 2 jumps of a tag to another ring, 2 marked" in words
    assert "12 days later" in words
    for line in ("ring and tag stay together", "same ring, another tag", "same tag, another ring"):
        assert line in words
    assert "<script" not in svg
    assert chart.description == (
        "Life lines of box SL-07: 3 birds, 2 visits; 2 jumps of a tag to another ring, 2 marked."
    )
