"""The reused chart widget: each pick is told once, lighting up reaches it, late messages do no harm."""

from __future__ import annotations

import altair as alt
import pytest
from altair.jupyter.jupyter_chart import load_js_src

from audit.charts import picked as module
from audit.charts.layers import Axis
from audit.charts.picked import PickedChart
from audit.charts.picture import Picture
from audit.charts.records import Sketch, pictured


def a_picture(*labels):
    sketch = Sketch(Axis("x", (0, 9)), Axis("y", (0, 9)), "error")
    for place, label in enumerate(labels):
        sketch.point("other", (place, place), label, label)
    return pictured(sketch, "What?", ["some"], "Some.", (100, 100), lit=labels[0])


@pytest.fixture
def chart(monkeypatch):
    # the drawing library itself is of no use without a browser, and slow to bundle
    monkeypatch.setattr(module, "_source", lambda: "export default {}")
    return PickedChart()


@pytest.fixture
def heard(chart):
    labels = []
    chart.on_pick(labels.append)
    return labels


def pick(chart, *labels, name="picked"):
    points = [{"label": label} for label in labels]
    chart.widget._vl_selections = {name: {"value": {"vlPoint": {"or": points}}, "store": []}}


def test_a_pick_is_told_and_may_be_repeated(chart, heard):
    chart.show(a_picture("s!2", "s!3"))
    pick(chart, "s!3")
    pick(chart, "s!3")
    pick(chart, "s!3", "s!2")
    assert heard == ["s!3", "s!3", "s!2"]


def test_another_picture_tells_of_no_pick(chart, heard):
    chart.show(a_picture("s!2", "s!3"))
    pick(chart, "s!3")
    chart.show(a_picture("s!3", "s!4"))
    chart.show(None)
    assert heard == ["s!3"]


def test_a_late_pick_in_a_replaced_picture_is_passed_over(chart, heard):
    chart.show(a_picture("s!2"))
    chart.show(a_picture("s!4"))
    pick(chart, "s!2")
    chart.show(None)
    pick(chart, "s!4")
    assert heard == []


def test_lighting_up_reaches_the_drawing(chart):
    chart.show(a_picture("s!2", "s!3"))
    assert chart.widget._params == {"chosen": "s!2"}
    chart.light("s!3")
    assert chart.widget._params == {"chosen": "s!3"}
    chart.light("elsewhere")
    assert chart.widget._params == {"chosen": ""}
    chart.show(a_picture("s!2", "s!3"), lit="s!3")
    assert chart.widget._params == {"chosen": "s!3"}


def test_a_drawing_just_made_does_not_put_out_the_light(chart):
    chart.show(a_picture("s!2", "s!3"))
    chart.light("s!3")
    # what a browser says when it has drawn
    chart.widget._params = {"chosen": "s!2"}
    assert chart.widget._params == {"chosen": "s!3"}


def test_a_chart_without_params_does_no_harm(chart, heard):
    plain = alt.Chart(alt.InlineData(values=[{"a": 1}])).mark_point().encode(x="a:Q")
    chart.show(a_picture("s!2"))
    chart.show(Picture(alt.layer(plain), frozenset({"s!2"}), "What?", "Some."))
    chart.light("s!2")
    pick(chart, "s!2")
    assert heard == []
    assert chart.widget.layout.display == ""
    chart.show(None)
    assert chart.widget.layout.display == "none"


def test_the_place_where_old_drawings_are_let_go_is_still_there():
    assert [load_js_src().count(place) for place in module._MENDED] == [1, 1, 1]
