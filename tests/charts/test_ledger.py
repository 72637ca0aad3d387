"""The signature picture says what the law says, in its dictionary and in its rows."""

from __future__ import annotations

import dataclasses

import numpy as np
import pandas as pd
import pytest
from tests.charts.invented import FEEDS, PACES, two_feeds
from tests.charts.lettered import colliding

from fallow.charts import theme
from fallow.charts.ledger import dressed_with, ledger_chart
from fallow.charts.ledger_rows import ledger_rows, no_rows
from fallow.charts.ledger_words import ripe_text
from fallow.charts.picture import drawn
from fallow.charts.time_axis import Fold, TimeAxis


def test_layers_stand_on_each_other_up_to_what_a_feed_needs():
    needs = pd.DataFrame(ledger_rows(two_feeds()).data["needs"])
    first = needs[needs["x"] == 0]
    assert first["what"].tolist() == ["dilution", "owed from the cold", "to visibly ripe"]
    assert first["y"].tolist() == [0.0, 3.0, 4.6]
    assert first["y2"].tolist() == [3.0, 4.6, 6.0]
    assert needs[needs["x"] > 0]["what"].tolist() == ["dilution", "to visibly ripe"]


def test_the_diamond_lies_where_the_solid_line_meets_the_top_layer():
    rows = ledger_rows(two_feeds())
    lines = pd.DataFrame(rows.data["earned"])
    for feed, mark in zip(FEEDS.itertuples(), rows.data["ripe"], strict=True):
        line = lines[(lines["feed"] == feed.feed) & (lines["clock"] == "yeast clock")]
        assert np.interp(mark["x"], line["x"], line["y"]) == pytest.approx(mark["y"], abs=1e-3)
        assert mark["x"] == pytest.approx(feed.at_hours + mark["y"] / PACES[str(feed.feed)])


def test_ripe_carries_both_ends_of_its_interval_in_words():
    axis = TimeAxis(start=pd.Timestamp("2026-05-16 10:30"), hours=24)
    assert ripe_text(axis, ripe=10, low=8.5, high=12) == "ripe 20:30 (19:00 to 22:30)"
    assert ripe_text(axis, ripe=10, low=8.5, high=np.inf) == "ripe 20:30 (19:00 to later than shown)"


def test_a_date_has_dates_for_its_ends_though_the_late_one_is_after_the_cold():
    cold = Fold(from_hours=10, to_hours=490, label="20 days")
    axis = TimeAxis(start=pd.Timestamp("2026-05-16 10:00"), hours=520, folds=(cold,))
    assert ripe_text(axis, ripe=100, low=50, high=495) == "ripe Wed 20 May (18 May to 6 Jun)"


def test_nothing_is_drawn_above_the_ceiling_where_the_words_begin():
    rows = ledger_rows(two_feeds())
    heads = min(row["y"] for row in rows.data["heads"])
    assert max(row["y"] for row in rows.data["earned"]) < heads
    assert max(row["y2"] for row in rows.data["band"]) < heads


def test_words_neither_collide_nor_leave_the_paper():
    look = pd.DataFrame({"hours": [9.0, 9.6], "doublings": [5.0, 5.6], "label": ["look 19:30, domed", "look 20:06"]})
    rows = ledger_rows(two_feeds(looks=look))
    assert len(rows.data["heads"]) == 5
    assert len(rows.data["labels"]) == 4
    assert colliding(rows) == []


def test_a_feed_that_is_not_ripe_has_no_diamond():
    ledger = two_feeds()
    ledger.feeds.loc[:, "ripe_hours"] = [10.0, np.inf]
    try:
        assert len(ledger_rows(ledger).data["ripe"]) == 1
    finally:
        ledger.feeds.loc[:, "ripe_hours"] = [10.0, 18.8]


def test_days_in_the_cold_are_folded_and_say_their_date():
    cold = Fold(from_hours=14, to_hours=20, label="6 h that stand for days")
    rows = ledger_rows(two_feeds(folds=(cold,)))
    fold = rows.data["folds"][0]
    assert (fold["x2"] - fold["x"]) / rows.signals["x_high"] == pytest.approx(0.16, abs=1e-4)
    assert any("16 May" in row["text"] or "17 May" in row["text"] for row in rows.data["labels"])


def test_every_mark_has_its_own_shape_and_the_palette_of_the_design():
    spec = ledger_chart(two_feeds()).to_dict()
    marks = [layer["mark"] for layer in spec["layer"]]
    shapes = {mark["shape"]: mark.get("color") for mark in marks if mark["type"] == "point"}
    assert shapes == {"diamond": theme.YEAST, "triangle-up": theme.SOUR, "square": theme.INK}
    line = next(layer for layer in spec["layer"] if layer["mark"]["type"] == "line")
    assert line["encoding"]["strokeDash"]["scale"]["range"] == [[1, 0], [5, 4]]
    assert line["encoding"]["color"]["scale"]["range"] == ["#00736b", "#b4530a"]
    assert spec["config"]["background"] == "#ffffff"


def test_the_drawing_holds_the_words_and_is_the_same_twice():
    svg = drawn(ledger_chart(two_feeds()))
    assert "ripe 20:30 (19:00 to 22:10)" in svg
    assert "14 g seed · 49 g flour · 49 g water" in svg
    assert svg == drawn(ledger_chart(two_feeds()))


def test_a_moment_stands_upright_at_its_hour_with_its_word():
    dough = pd.DataFrame({"hours": [20.0], "label": ["dough 06:30"]})
    rows = ledger_rows(dataclasses.replace(two_feeds(), moments=dough))
    assert [row["x"] for row in rows.data["moments"]] == [20.0]
    assert "dough 06:30" in {row["text"] for row in rows.data["labels"]}
    assert "dough 06:30" in drawn(ledger_chart(dataclasses.replace(two_feeds(), moments=dough)))
    assert colliding(rows) == []


def test_an_empty_picture_has_every_part_and_no_mark():
    empty, full = no_rows(), ledger_rows(two_feeds())
    assert empty.data == {name: [] for name in full.data}
    assert empty.signals.keys() == full.signals.keys()
    # Held against Vega-Lite's schema here, so that a page need not do it again whenever it begins.
    named = dressed_with(empty).to_dict()["datasets"]
    assert {name: named[name] for name in full.data} == empty.data
