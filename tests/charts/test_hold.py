"""The picture of a whole hold says what the plan says, and its lines are the integral of the published curves."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy.integrate import quad
from tests.charts.lettered import colliding

from fallow.charts.hold import hold_ledger
from fallow.charts.ledger_rows import WIDTH_PX, ledger_rows
from fallow.maths.defaults import Spread
from fallow.maths.rates import GAENZLE_1998_LAB, GAENZLE_1998_YEAST
from fallow.plans.draws import Culture
from fallow.plans.put_away import put_away

LEAVE = "2026-12-03T18:00"
STAYS = {
    "three weeks": {"return_at": "2026-12-24T18:00", "fridge_temp_c": 3.3, "kitchen_temp_c": 22},
    "a long winter": {"return_at": "2027-03-20T12:00", "fridge_temp_c": 5.2, "kitchen_temp_c": (22, 17)},
    "four days, cold": {"return_at": "2026-12-07T07:00", "fridge_temp_c": 1.9, "kitchen_temp_c": 18},
    "a warm fridge": {"return_at": "2026-12-12T18:00", "fridge_temp_c": 8.0, "kitchen_temp_c": 16},
    "a day": {"return_at": "2026-12-04T18:00", "fridge_temp_c": 4.0, "kitchen_temp_c": 24},
    "two years": {"return_at": "2028-12-04T18:00", "fridge_temp_c": 1.0, "kitchen_temp_c": 28},
    "long past ripe when chilled": {
        "return_at": "2026-12-20T18:00",
        "fridge_temp_c": 0.0,
        "kitchen_temp_c": 29,
        "scale_g": 2,
        "flour_g": 20,
    },
    "too warm for a story": {"return_at": "2026-12-20T18:00", "fridge_temp_c": 11.0, "kitchen_temp_c": 22},
    "through the change of clocks": {"return_at": "2027-03-29T18:00", "fridge_temp_c": 3.3, "kitchen_temp_c": 21},
}


def plan(stay, **more):
    return put_away(leave_at=LEAVE, time_zone="Europe/Berlin", **STAYS[stay] | more)


@pytest.fixture(scope="module", params=STAYS)
def drawn(request):
    made = plan(request.param)
    return made, ledger_rows(hold_ledger(made))


def test_words_neither_collide_nor_leave_the_paper(drawn):
    _, rows = drawn
    assert len(rows.data["labels"]) >= 2
    assert colliding(rows) == []


def test_ticks_keep_their_distance_and_days_count_from_chilling(drawn):
    made, rows = drawn
    ticks = pd.DataFrame(rows.data["ticks"])
    px = ticks["x"] / rows.signals["x_high"] * WIDTH_PX
    assert np.all(np.diff(px) >= 45.9)
    for tick in ticks[ticks["clock"].str.startswith("day ")].itertuples():
        date = made.chill_at + pd.Timedelta(days=int(tick.clock.removeprefix("day ")))
        assert tick.day == f"{date.day} {date:%b}"


def test_both_stories_are_named_and_stop_never_runs_above_creep(drawn):
    _, rows = drawn
    words = {row["text"] for row in rows.data["labels"]}
    assert {"creep", "stop"} <= words or "creep and stop alike" in words
    creep, stop = pd.DataFrame(rows.data["earned"]), pd.DataFrame(rows.data["stories"])
    for clock in ("yeast clock", "sour clock"):
        line, other = creep[creep["clock"] == clock], stop[stop["clock"] == clock]
        shared = other[other["x"] <= line["x"].max()]
        assert np.all(shared["y"] <= np.interp(shared["x"], line["x"], line["y"]) + 1e-3)


def test_two_stories_that_run_as_one_are_said_to():
    warm = ledger_rows(hold_ledger(plan("too warm for a story")))
    assert "creep and stop alike" in [row["text"] for row in warm.data["labels"]]
    cold = ledger_rows(hold_ledger(plan("three weeks")))
    assert {"creep", "stop"} <= {row["text"] for row in cold.data["labels"]}


def test_what_is_owed_stands_after_the_return_with_both_ends(drawn):
    made, rows = drawn
    owed = next(row for row in rows.data["needs"] if row["what"] == "owed from the cold")
    [span] = rows.data["spans"]
    assert owed["y2"] - owed["y"] == pytest.approx(made.owed_doublings.estimate, abs=1e-3)
    assert owed["x"] < span["x"] < owed["x2"]
    assert span["y"] == pytest.approx(made.owed_doublings.low, abs=1e-3)
    assert f"owes {made.owed_doublings.estimate:.1f}" in [row["text"] for row in rows.data["labels"]]


def test_ripe_stands_where_creeps_line_meets_the_top_layer():
    rows = ledger_rows(hold_ledger(plan("three weeks")))
    [ripe] = rows.data["ripe"]
    line = pd.DataFrame(rows.data["earned"]).query("clock == 'yeast clock'")
    # Two medians of the same draws: of the doublings at an hour, and of the hour of those doublings.
    assert np.interp(ripe["x"], line["x"], line["y"]) == pytest.approx(ripe["y"], abs=0.1)
    assert ripe["low"] < ripe["x"] < ripe["high"]


def test_what_ripens_after_the_return_has_no_diamond_and_no_hour():
    rows = ledger_rows(hold_ledger(plan("four days, cold")))
    assert rows.data["ripe"] == []
    assert not any(row["text"].startswith("ripe") for row in rows.data["labels"])


def test_an_interval_that_outlasts_the_stay_says_its_date():
    rows = ledger_rows(hold_ledger(plan("three weeks", fridge_temp_c=1.9)))
    [ripe] = rows.data["ripe"]
    assert any("Jan" in row["text"] for row in rows.data["labels"] if "to" in row["text"])
    fold = rows.data["folds"][0]
    assert ripe["high"] <= fold["x2"]


def test_the_lines_are_the_integral_of_the_published_curves():
    # Oracle: scipy's quadrature of the same curve along the jar's temperature; the culture's pace is made certain.
    sure = Culture(pace=Spread(middle=1.0, sd=1e-9))
    made = plan("three weeks", culture=sure, kitchen_temp_c=22)
    ledger = hold_ledger(made)
    warm = (made.chill_at - made.feed_at) / pd.Timedelta(hours=1)
    cold = made.hold.cold(days=made.days_held)
    for clock, curve in (("yeast", GAENZLE_1998_YEAST), ("sour", GAENZLE_1998_LAB)):

        def rate(hours, curve=curve):
            return float(curve.per_hour(temp_c=float(cold.temp_c(hours=hours)))) / np.log(2)

        for hours in (warm, warm + 5, warm + 200):
            start = float(curve.per_hour(temp_c=22)) / np.log(2) * warm
            end = hours - warm
            expected = start + quad(rate, 0, end, points=[p for p in (2, 8, 15) if p < end], limit=200)[0]
            seen = np.interp(hours, ledger.earned["hours"], ledger.earned[clock])
            assert seen == pytest.approx(expected, abs=0.04), (clock, hours)
