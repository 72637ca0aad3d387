"""The second picture: steps, diamonds and one dot a jar, and 'invented data' said where it is so."""

from __future__ import annotations

import pandas as pd
import pytest

from fallow.charts.picture import drawn
from fallow.charts.recovery import WIDTH_PX, Recovery, recovery_chart, recovery_rows


def recovery(*, invented=True, jars=23):
    counts = pd.DataFrame(
        {
            "feed": [1, 2, 3],
            "chance": [0.4, 0.7, 0.9],
            "low": [0.3, 0.5, 0.8],
            "high": [0.5, 0.8, 0.95],
            "extrapolated": [False, False, True],
        }
    )
    ledger = pd.DataFrame({"feed": [1, 2, 4], "chance": [0.2, 0.9, 1.0], "low": [0.1, 0.6, 0.9], "high": [0.4, 1, 1]})
    seen = pd.DataFrame(
        {"feed": 2, "recovered": [True] * (jars - 3) + [False] * 3, "alike": [False] * (jars - 2) + [True] * 2}
    )
    return Recovery(counts=counts, ledger=ledger, jars=seen, invented=invented)


def test_one_dot_a_jar_none_on_another():
    dots = recovery_rows(recovery())["jars"]
    assert len({(dot["x"], dot["y"]) for dot in dots}) == 23
    assert sum(dot["kind"].endswith("not yet") for dot in dots) == 3
    assert sum(dot["kind"].startswith("alike") for dot in dots) == 2
    assert all(abs(dot["x"] - 2) < 0.5 for dot in dots)
    assert max(dot["y"] for dot in dots) < 0


def test_steps_cover_their_feed_and_pale_beyond_the_record():
    steps = recovery_rows(recovery())["counts"]
    assert [(step["from"], step["to"]) for step in steps] == [(0.5, 1.5), (1.5, 2.5), (2.5, 3.5)]
    assert steps[2]["shade"] < steps[1]["shade"]


def test_the_ledger_stops_where_the_counts_stop():
    assert [row["feed"] for row in recovery_rows(recovery())["ledger"]] == [1, 2]


@pytest.mark.parametrize("invented", [True, False])
def test_invented_data_is_said_in_the_drawing_itself(invented):
    assert ("invented data" in drawn(recovery_chart(recovery(invented=invented)))) is invented


def test_diamonds_are_open_and_the_words_fit():
    spec = recovery_chart(recovery()).to_dict()
    diamonds = [layer["mark"] for layer in spec["layer"] if layer["mark"].get("shape") == "diamond"]
    assert {mark["fill"] for mark in diamonds} == {"#ffffff"}
    texts = [
        layer for layer in spec["layer"] if layer["mark"]["type"] == "text" and "value" in layer["encoding"]["text"]
    ]
    assert all(layer["encoding"]["x"]["value"] < WIDTH_PX for layer in texts)
