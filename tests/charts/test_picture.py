"""A picture is announced by name, whatever stands in it."""

from __future__ import annotations

import xml.etree.ElementTree as ET

import altair as alt

from fallow.charts.picture import picture
from fallow.charts.theme import dressed, register

SVG = "{http://www.w3.org/2000/svg}"


def test_title_and_description_are_escaped_and_come_first():
    chart = dressed(alt.Chart(alt.InlineData([{"x": 1}])).mark_point().encode(x="x:Q"))
    shown = picture(chart, title='Rye < 20 % & "white"', description="one <dot>")
    root = ET.fromstring(shown.svg)
    assert root.attrib["role"] == "img"
    assert [child.tag for child in root][:2] == [f"{SVG}title", f"{SVG}desc"]
    assert root[0].text == 'Rye < 20 % & "white"'
    assert root[1].text == "one <dot>"


def test_a_notebook_gets_svg_and_words():
    chart = alt.Chart(alt.InlineData([{"x": 1}])).mark_point().encode(x="x:Q")
    bundle = picture(chart, title="A", description="b")._repr_mimebundle_()
    assert set(bundle) == {"image/svg+xml", "text/plain"}
    assert bundle["text/plain"] == "A: b"


def test_charts_are_svg_only_once_asked_for():
    before = alt.renderers.active
    assert before != "svg"
    with alt.renderers.enable(before):
        register()
        assert alt.renderers.active == "svg"
    assert alt.renderers.active == before
