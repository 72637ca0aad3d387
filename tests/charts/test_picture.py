"""A picture is announced by name, whatever stands in it."""

from __future__ import annotations

import urllib.parse
import xml.etree.ElementTree as ET
from html.parser import HTMLParser

import altair as alt

from fallow.charts.picture import Picture, picture
from fallow.charts.theme import dressed, register

SVG = "{http://www.w3.org/2000/svg}"


class HTMLParserOfOne(HTMLParser):
    """The attributes of the only element of a text, read by Python's own reader of HTML."""

    def __init__(self, text):
        super().__init__()
        self.attributes = {}
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        assert (tag, self.attributes) == ("img", {})
        self.attributes = dict(attrs)


def test_title_and_description_are_escaped_and_come_first():
    chart = dressed(alt.Chart(alt.InlineData([{"x": 1}])).mark_point().encode(x="x:Q"))
    shown = picture(chart, title='Rye < 20 % & "white"', description="one <dot>")
    root = ET.fromstring(shown.svg)
    assert root.attrib["role"] == "img"
    assert [child.tag for child in root][:2] == [f"{SVG}title", f"{SVG}desc"]
    assert root[0].text == 'Rye < 20 % & "white"'
    assert root[1].text == "one <dot>"


def test_a_notebook_gets_an_image_that_is_the_drawing_itself_and_words():
    chart = alt.Chart(alt.InlineData([{"x": 1}])).mark_point().encode(x="x:Q")
    shown = picture(chart, title='A "1:5" & <B>', description="b")
    bundle = shown._repr_mimebundle_()
    assert set(bundle) == {"text/html", "text/plain"}
    assert bundle["text/plain"] == 'A "1:5" & <B>: b'
    image = HTMLParserOfOne(bundle["text/html"]).attributes
    kind, drawing = image["src"].split(",", 1)
    assert kind == "data:image/svg+xml"
    assert urllib.parse.unquote(drawing) == shown.svg
    assert image["alt"] == bundle["text/plain"]


def test_an_outside_address_inside_the_drawing_stays_readable_in_the_image():
    assert "http://a.example/x" in Picture(svg='<svg href="http://a.example/x">', description="").img


def test_charts_are_svg_only_once_asked_for():
    before = alt.renderers.active
    assert before != "svg"
    with alt.renderers.enable(before):
        register()
        assert alt.renderers.active == "svg"
    assert alt.renderers.active == before
