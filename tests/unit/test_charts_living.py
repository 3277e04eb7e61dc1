from __future__ import annotations

import altair as alt

from audit.charts.living import Living


def test_a_living_chart_carries_its_still_picture() -> None:
    chart = alt.layer(
        alt.Chart(alt.InlineData([{"x": 1}])).mark_point().encode(x="x:Q"), description="One point."
    )
    bundle = Living(chart)._repr_mimebundle_()
    assert "application/vnd.jupyter.widget-view+json" in bundle
    assert bundle["image/svg+xml"].startswith("<svg role=")
    assert bundle["text/plain"] == "One point."


def test_nothing_to_draw_is_said() -> None:
    assert Living(None, "No wing was measured.")._repr_mimebundle_() == {
        "text/plain": "No wing was measured."
    }
