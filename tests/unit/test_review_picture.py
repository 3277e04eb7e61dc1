"""A picture for a finding: chosen for its question, small, quick, with the numbers in words."""

from __future__ import annotations

import json
from time import process_time

import numpy as np
import pytest
from invented import invented_season, large_style
from lxml import etree
from marked_examples import found
from typed_season import typed_season

from audit.charts import box_lives
from audit.charts.still import still
from audit.checked import Checked
from audit.findings import Report
from audit.review.picture import lay_out, picture_of
from audit.rules.layouts import Layouts

DAY, LATER = "2026-06-04", "2026-06-18"


def bird(nr, wing, net, day=DAY, box="SL-01", bag=22.0, **more):
    return {
        "date": day,
        "time": f"10:{nr % 60:02d}",
        "box": box,
        "species": "barn owl",
        "ring": f"SV010{nr:02d}",
        "tag": f"9990000001230{nr:02d}",
        "event": "ringed" if day == DAY else "re-encountered",
        "gross_g": net + bag,
        "bag_g": bag,
        "net_g": net,
        "wing_mm": wing,
        "ringer": "AB",
        "age": "1",
    } | more


@pytest.fixture(scope="module")
def season(declared):
    rows = [bird(nr, 130 + 4 * nr, 300 + 5 * nr) for nr in range(1, 6)]
    rows += [bird(nr, 90 + 4 * nr, 200 + 5 * nr, box="SL-02") for nr in range(6, 10)]
    rows += [bird(nr, 200 + 4 * nr, 330 + 2 * nr, LATER) for nr in range(1, 6)]
    return typed_season(
        declared,
        handlings=rows,
        visits=[{"date": DAY, "box": "SL-01"}, {"date": "2026-10-10", "box": "SL-01"}],
        ring_stock=[{"prefix": "SV", "first": "01001", "last": "01100"}],
        ring_losses=[{"ring": "SV01012", "fate": "lost"}],
        tag_reads=[
            {"read_at": f"{DAY} 10:{nr:02d}:00", "tag": f"9990000001230{nr:02d}"} for nr in range(1, 10)
        ],
    )


def drawn(season, declared, rule, cells, severity="error", **more):
    finding = found(season, rule, severity, cells, "Something is wrong.", **more)
    checked = Checked(season, declared, (), (), None, Report("x", (finding,)), Layouts())
    return picture_of(checked, finding)


def spots(picture, role):
    rows = picture.chart.to_dict()["datasets"]["records"]
    return [(row["x"], row["y"]) for row in rows if row["role"] == role]


@pytest.mark.parametrize(
    ("rule", "cells", "asked"),
    [
        ("growth.wing", [("handlings!3", "wing_mm", "142")], "Do wing and mass of SV01002 go together?"),
        (
            "history.wing_pace",
            [("handlings!3", "wing_mm", "142")],
            "Did the wing of SV01002 grow as wings do?",
        ),
        ("tare.arithmetic", [("handlings!3", "bag_g", "21")], "Do gross, bag and net of SV01002 agree"),
        (
            "ring_order.out_of_string",
            [("handlings!3", "ring", "SV01030")],
            "Does ring SV01002 stand in the order",
        ),
        ("ring_stock.used_after_loss", [("ring_losses!2", "ring", "SV01013")], "Does ring SV01012 stand"),
        (
            "tag_twice.exchanged",
            [("handlings!3", "tag", "999000000123004")],
            "Did ring and tag stay together?",
        ),
        ("reader.row_without_read", [("handlings!3", "tag", "")], "Do the tags agree with the reader?"),
        (
            "dates.slip",
            [("handlings!3", "date", "2026-06-14")],
            "Do day and box of SV01002 go with the visits?",
        ),
        ("boxes.among_others", [("handlings!3", "box", "SL-02")], "Do day and box of SV01002 go"),
        (
            "brood.mixed",
            [("handlings!3", "brood_size", "5")],
            "Which birds of box SL-01 were handled, and when?",
        ),
        ("times.order", [("handlings!3", "time", "11:02")], "Does the time of SV01002 stand in the order"),
    ],
)
def test_each_question_has_its_picture(season, declared, rule, cells, asked):
    picture = drawn(season, declared, rule, cells)
    assert picture.question.startswith(asked)
    spec = picture.chart.to_dict()
    assert {param["name"] for param in spec["params"]} == {"picked", "chosen"}
    assert next(param for param in spec["params"] if param["name"] == "chosen")["value"] == cells[0][0]
    assert cells[0][0] in picture.labels
    assert spec["description"] == picture.description
    assert "by keyboard" in picture.description
    assert len(json.dumps(spec)) < 60_000
    root = etree.fromstring(still(picture.chart).encode())
    assert root.get("aria-label") == picture.description


def test_what_was_laid_out_ahead_is_used(season, declared, monkeypatch):
    finding = found(season, "tag_twice.exchanged", "error", [("handlings!3", "tag", "1")], "Exchanged.")
    checked = Checked(season, declared, (), (), None, Report("x", (finding,)), Layouts())
    lay_out(checked)
    monkeypatch.setattr(box_lives, "meetings_in", None)
    assert picture_of(checked, finding).question == "Did ring and tag stay together? Box SL-01"


def test_what_needs_no_picture_has_none(season, declared):
    assert drawn(season, declared, "ring_leg.other_leg", [("handlings!3", "ring_leg", "R")]) is None
    assert drawn(season, declared, "ringer.initials", [("handlings!3", "ringer", "IP")]) is None


def test_a_bird_stands_as_typed_and_as_suggested(season, declared):
    picture = drawn(season, declared, "growth.wing", [("handlings!3", "wing_mm", "142")])
    assert spots(picture, "ERROR, as typed") == [(138.0, 310.0)]
    assert spots(picture, "as suggested") == [(142.0, 310.0)]
    assert sorted(spots(picture, "same brood")) == [
        (134.0, 305.0),
        (142.0, 315.0),
        (146.0, 320.0),
        (150.0, 325.0),
    ]
    assert spots(picture, "this bird at other visits") == [(208.0, 334.0)]
    assert "As typed: wing 138 mm; suggested: wing 142 mm" in picture.description
    assert "The same brood: wing 134 to 150 mm, mass 305 to 325 g." in picture.description


def test_net_without_the_bag_is_seen_in_what_is_left_for_it(declared):
    rows = [bird(nr, 130, 300 + nr) for nr in range(1, 6)]
    rows[2]["net_g"] = rows[2]["gross_g"]
    season = typed_season(declared, handlings=rows)
    picture = drawn(season, declared, "tare.not_subtracted", [("handlings!4", "net_g", "303")])
    assert spots(picture, "ERROR, as typed") == [(3.0, 0.0)]
    assert spots(picture, "as suggested") == [(3.0, 22.0)]
    assert spots(picture, "bag as typed") == [(3.0, 22.0)]


def test_a_mass_ten_times_too_large_stands_at_the_edge_and_the_brood_is_seen(declared):
    rows = [bird(nr, 130 + nr, 300 + nr) for nr in range(1, 6)]
    rows[2] |= {"net_g": 3030.0}
    season = typed_season(declared, handlings=rows)
    picture = drawn(season, declared, "growth.tenfold", [("handlings!4", "net_g", "303")])
    domain = picture.chart.to_dict()["layer"][-1]["encoding"]["y"]["scale"]["domain"]
    assert domain[1] < 1000
    words = [row["text"] for row in picture.chart.to_dict()["datasets"]["words"]]
    assert "typed: net 3030 g (beyond the axis)" in words
    assert "1 point beyond the axes, at the edge" in picture.chart.to_dict()["title"]["subtitle"]


def test_a_loss_stands_beside_the_birds(season, declared):
    picture = drawn(season, declared, "ring_stock.used_after_loss", [("ring_losses!2", "ring", "SV01013")])
    typed, meant = spots(picture, "ERROR, as typed")[0], spots(picture, "as suggested")[0]
    assert typed[0] == meant[0] > max(x for x, _ in spots(picture, "other birds"))
    assert meant[1] - typed[1] == 1
    assert any(
        "SV01001: string begins" in row["text"] for row in picture.chart.to_dict()["datasets"]["words"]
    )


def test_a_large_season_is_counted_not_drawn(declared):
    rows = invented_season(3, large_style(5000))["handlings"]
    season = typed_season(declared, handlings=rows)
    frame = season.frame("handlings")
    owls = np.flatnonzero((frame["wing_mm"].notna() & frame["net_g"].notna()).to_numpy())
    label = str(frame.index[owls[len(owls) // 2]])
    finding = found(season, "growth.wing", "suspect", [(label, "wing_mm", "140")], "Long.")
    checked = Checked(season, declared, (), (), None, Report("x", (finding,)), Layouts())
    picture_of(checked, finding)
    start = process_time()
    picture = picture_of(checked, finding)
    # a few hundredths of a second; a row loop over the season takes far longer
    assert process_time() - start < 1
    assert len(json.dumps(picture.chart.to_dict())) < 60_000
    assert len(picture.labels) < 100
    assert "other birds of the season as counts" in picture.description
