"""Pictures drawn by a process beside this one."""

from __future__ import annotations

import psutil
import pytest

from audit.charts import beside
from audit.charts.beside import begin_drawing, drawing_beside

BAR = {
    "data": {"values": [{"a": 3}]},
    "mark": "bar",
    "encoding": {"x": {"field": "a", "type": "quantitative"}},
}
VERSION = "6.1"


def children():
    return {child.pid for child in psutil.Process().children(recursive=True)}


def test_the_other_process_draws_what_this_one_would(monkeypatch):
    here = begin_drawing(BAR, VERSION)()
    before = children()
    with drawing_beside():
        assert len(children() - before) == 1
        # this process must not draw now
        monkeypatch.setattr(beside, "_drawn_here", None)
        begun = [begin_drawing(BAR, VERSION) for _ in range(3)]
        assert [picture() for picture in begun] == [here] * 3
    assert children() <= before
    assert here.startswith("<svg")


def test_where_the_other_process_ends_this_one_draws():
    here = begin_drawing(BAR, VERSION)()
    with drawing_beside():
        beside._running[-1][0].kill()
        assert begin_drawing(BAR, VERSION)() == here


@pytest.mark.parametrize("python", ["", "/nowhere/python"])
def test_where_none_can_be_started_this_one_draws(monkeypatch, python):
    monkeypatch.setattr(beside.sys, "executable", python)
    with drawing_beside():
        assert not beside._running
        assert begin_drawing(BAR, VERSION)().startswith("<svg")


def test_a_chart_that_cannot_be_drawn_is_an_error_here_as_there():
    with drawing_beside(), pytest.raises(ValueError, match="Vega-Lite"):
        begin_drawing({"mark": {"type": "no such mark"}}, VERSION)()


def test_a_refusal_meanwhile_leaves_no_process():
    before = children()
    with pytest.raises(RuntimeError), drawing_beside():
        raise RuntimeError
    assert children() <= before
