"""A picture's key: no word touches the next in the widest letters, and all of it stands within the picture."""

from __future__ import annotations

from itertools import pairwise

from tests.charts.invented import two_feeds

from fallow.charts.key import Word, key, stroke
from fallow.charts.ledger import ledger_chart
from fallow.charts.ledger_rows import WIDTH_PX
from fallow.charts.lettering import text_px
from fallow.charts.recovery import recovery_chart
from fallow.charts.time_axis import RIGHT_PX
from fallow.panels.feeds_to_recovery.asked import nothing_yet


def words_of(chart, texts):
    """Where each of these words begins and ends in a chart, in pixels of the widest letters."""
    found = {}
    for layer in chart.to_dict()["layer"]:
        text = layer["encoding"].get("text", {}).get("value")
        if text in texts:
            bold = layer["mark"].get("fontWeight") == "bold"
            left = layer["encoding"]["x"]["value"]
            found[text] = (left, left + text_px(text, size=layer["mark"]["fontSize"], bold=bold))
    return [found[text] for text in texts]


def test_the_ledgers_key_stands_apart_and_within_the_picture():
    texts = ["needed", "dilution", "owed from the cold", "to visibly ripe", "earned", "yeast clock", "sour clock"]
    spans = words_of(ledger_chart(two_feeds()), texts)
    assert all(end < start for (_, end), (start, _) in pairwise(spans))
    assert spans[-1][1] < WIDTH_PX + RIGHT_PX


def test_the_recovery_pictures_key_stands_apart_and_within_the_picture():
    texts = ["counts, 90 % band", "ledger, same schedule", "jars (large: like yours; open: not yet)"]
    spans = words_of(recovery_chart(nothing_yet()), texts)
    assert all(end < start for (_, end), (start, _) in pairwise(spans))
    assert spans[-1][1] < WIDTH_PX


def test_a_mark_stands_before_its_word():
    mark, said = key([Word(text="yeast", marks=(stroke("#000"),))], y_px=-20, gap_px=5)
    line, word = mark.to_dict()["encoding"], said.to_dict()["encoding"]
    assert line["x"]["value"] < line["x2"]["value"] < word["x"]["value"]
    assert line["y"]["value"] == word["y"]["value"] == -20
