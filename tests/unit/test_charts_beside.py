"""Pictures drawn by a process beside this one."""

from __future__ import annotations

import json
import re

import psutil
import pytest

from audit.charts import beside
from audit.charts.beside import begin_drawing, begin_outline, drawing_beside
from audit.charts.layers import Axis
from audit.charts.outline import Outline

BAR = {
    "data": {"values": [{"a": 3}]},
    "mark": "bar",
    "encoding": {"x": {"field": "a", "type": "quantitative"}},
}
VERSION = "6.1"
ROW = {"x": 1.1, "y": 20.5, "row": "handlings, row 2"}
OUTLINE = Outline(
    "Does each mass go with its wing?",
    "2 birds",
    "Two birds \ud800.",
    Axis("wing, mm", (0.1, 3.3), {"labelAngle": -40}),
    Axis("net mass, g", (0.0, 30.0)),
    [
        ("band", [{"x": 1.0, "low1": 1.5, "high1": 2.5, "low2": 1.0, "high2": 3.0}]),
        ("counts", [{"x": 0.0, "x2": 1.0, "y": 0.0, "y2": 1.0, "n": 3}]),
        ("days", [{**ROW, "day": 1}]),
        ("bags", [{"x": 0.5, "y": 2.0, "low": 1.0, "high": 3.0}]),
        ("plain", [ROW]),
        ("centre", [{"x": 1.0, "y": 2.0}]),
        ("marked", [{**ROW, "severity": "error", "message": "1 g off."}]),
    ],
    300,
)


def children():
    return {child.pid for child in psutil.Process().children(recursive=True)}


def test_the_other_process_draws_what_this_one_would(monkeypatch):
    here, outlined = begin_drawing(BAR, VERSION)(), begin_outline(OUTLINE)()
    before = children()
    # one process for all, since its start costs more than all that it draws
    with drawing_beside():
        assert len(children() - before) == 1
        with monkeypatch.context() as patch:
            # this process must not draw now
            patch.setattr(beside, "_drawn_here", None)
            patch.setattr(beside, "_outline_here", None)
            begun = [begin_drawing(BAR, VERSION) for _ in range(3)]
            assert begin_outline(OUTLINE)() == outlined
            assert [picture() for picture in begun] == [here] * 3
        # what cannot be drawn is an error here as there
        with pytest.raises(ValueError, match="Vega-Lite"):
            begin_drawing({"mark": {"type": "no such mark"}}, VERSION)()
    assert children() <= before
    assert here.startswith("<svg")
    assert "Does each mass go with its wing?" in outlined


def test_the_same_chart_is_the_same_text_however_often_it_is_drawn():
    first, second = begin_outline(OUTLINE)(), begin_outline(OUTLINE)()
    assert first == second
    # the scale of the legend is still filled with what stands in the picture
    filled = set(re.findall(r"url\(#([^)]+)\)", first))
    assert filled
    assert filled <= set(re.findall(r'\bid="([^"]+)"', first))


def test_where_the_other_process_ends_this_one_draws():
    here = begin_drawing(BAR, VERSION)()
    with drawing_beside():
        beside._running[-1][0].kill()
        assert begin_drawing(BAR, VERSION)() == here


@pytest.mark.parametrize("python", ["", "/nowhere/python"])
def test_where_none_can_be_started_this_one_draws(monkeypatch, python):
    monkeypatch.setattr("sys.executable", python)
    with drawing_beside():
        assert not beside._running
        assert begin_drawing(BAR, VERSION)().startswith("<svg")


def test_a_refusal_meanwhile_leaves_no_process():
    before = children()
    with pytest.raises(RuntimeError), drawing_beside():
        raise RuntimeError
    assert children() <= before


def test_an_outline_comes_through_json_as_it_was():
    told = Outline.from_values(json.loads(json.dumps(OUTLINE.as_values())))
    assert told.draw().to_dict() == OUTLINE.draw().to_dict()
