from __future__ import annotations

import base64
import re

import altair as alt
from lxml import etree

from audit.charts.living import Living
from audit.charts.still import still


def test_a_living_chart_carries_its_still_picture() -> None:
    chart = alt.layer(
        alt.Chart(alt.InlineData([{"x": 1}])).mark_point().encode(x="x:Q"), description="One point."
    )
    bundle = Living(chart)._repr_mimebundle_()
    assert "application/vnd.jupyter.widget-view+json" in bundle
    assert bundle["image/svg+xml"].startswith("<svg role=")
    assert bundle["text/plain"] == "One point."


def test_an_untrusted_notebook_has_the_picture_as_an_image() -> None:
    """Such a notebook shows neither widgets nor SVG, and drops style sheets; an image it shows."""
    chart = alt.layer(
        alt.Chart(alt.InlineData([{"x": 1}])).mark_point().encode(x="x:Q"), description='One "point" & more.'
    )
    page = Living(chart)._repr_mimebundle_()["text/html"]
    image = etree.fromstring(page.replace('">', '"/>'))
    assert image.get("alt") == 'One "point" & more.'
    kind, _, picture = image.get("src").partition(",")
    assert kind == "data:image/svg+xml;base64"
    assert base64.b64decode(picture).decode() == still(chart)


def test_places_are_cut_to_hundredths_and_words_are_not() -> None:
    chart = alt.layer(
        alt.Chart(alt.InlineData([{"x": 0, "t": "0.123456789"}, {"x": 3, "t": ""}, {"x": 9.87, "t": ""}]))
        .mark_text()
        .encode(x="x:Q", text="t:N")
    )
    svg = still(chart)
    assert "0.123456789" in svg
    assert not re.search(r'transform="[^"]*\.[0-9]{3}', svg)


def test_signs_that_no_xml_may_hold_do_not_break_the_picture() -> None:
    chart = alt.layer(
        alt.Chart(alt.InlineData([{"x": 0, "t": "a\x1fb\x00c"}])).mark_text().encode(x="x:Q", text="t:N")
    )
    words = " ".join(etree.fromstring(still(chart).encode()).itertext())
    assert "a\N{REPLACEMENT CHARACTER}b" in words


def test_nothing_to_draw_is_said() -> None:
    assert Living(None, "No wing was measured.")._repr_mimebundle_() == {
        "text/plain": "No wing was measured."
    }
