"""The picture of a plan is the plan's own arithmetic: its hours of ripe, its nights, its trips to the cold."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from scipy.integrate import quad
from tests.plans.cases import evenings_only

from fallow.charts.ledger_tables import chain_ledger, nights
from fallow.charts.planned import moments, planned_feeds
from fallow.charts.time_axis import Fold, TimeAxis
from fallow.maths.defaults import Spread
from fallow.maths.rates import GAENZLE_1998_LAB, GAENZLE_1998_YEAST
from fallow.panels.one_jar.asked import Asked
from fallow.panels.one_jar.picture import holiday
from fallow.plans.bring_back import bring_back
from fallow.plans.clock import hours_between
from fallow.plans.draws import Culture
from fallow.plans.plan import BringBack

HOME, MIX = "2026-05-15T19:00+02:00", "2026-05-17T09:00+02:00"
# Pace and constants certain, the place known to a hair: the median of the draws is one plain integral.
SURE = Culture(pace=Spread(middle=1.0, sd=1e-9), ripening_doublings=Spread(middle=1.4, sd=1e-9))
DAY_C, NIGHT_C = 23.0, 15.0


@pytest.fixture(scope="module")
def two_temperatures() -> BringBack:
    return bring_back(home_at=HOME, mix_at=MIX, places={"kitchen": (DAY_C, NIGHT_C)}, culture=SURE)


@pytest.fixture(scope="module")
def with_trips() -> BringBack:
    plan = evenings_only()
    assert plan.trips > 0, "evenings only: a feed waits in the cold"
    return plan


def drawn(plan):
    axis = TimeAxis(start=plan.setting.start, hours=plan.setting.hours + 2)
    feeds = planned_feeds(plan)
    asleep = nights(axis, asleep_from=plan.setting.awake.end, asleep_to=plan.setting.awake.start)
    return chain_ledger(feeds, axis=axis, asleep=asleep, moments=moments(plan, feeds, axis=axis))


def same_hours(ledger, plan):
    for row, feed in zip(ledger.feeds.itertuples(), plan.feeds.itertuples(), strict=True):
        at = hours_between(ledger.axis.start, feed.ripe_at)
        if at <= ledger.axis.hours:
            assert row.ripe_hours == pytest.approx(at, abs=1e-3)
        assert row.ripe_low_hours == pytest.approx(hours_between(ledger.axis.start, feed.ripe_low), abs=1e-3)


def test_diamonds_are_the_plan_s_own_hours(two_temperatures, with_trips):
    for plan in (two_temperatures, with_trips):
        same_hours(drawn(plan), plan)


def test_lines_are_the_published_curve_s_integral_by_day_and_by_night(two_temperatures):
    # Oracle: scipy's quadrature over a day of two temperatures written out here; cold mixes warm up by the plan's rule.
    plan = two_temperatures
    ledger = drawn(plan)
    feed, row = next((f, r) for f, r in zip(plan.steps, ledger.feeds.itertuples(), strict=True) if np.isnan(f.mix_c))
    line = ledger.earned[ledger.earned["feed"] == row.feed]
    start = plan.setting.start + pd.Timedelta(hours=feed.at)
    edges = [hours_between(start, start.normalize() + pd.Timedelta(hours=h)) for h in (7, 22.5, 31, 46.5)]
    for clock, curve in (("yeast", GAENZLE_1998_YEAST), ("sour", GAENZLE_1998_LAB)):

        def rate(t, curve=curve):
            hour = (start + pd.Timedelta(hours=t)).hour + (start + pd.Timedelta(hours=t)).minute / 60
            return float(curve.per_hour(temp_c=DAY_C if 7 <= hour < 22.5 else NIGHT_C)) / np.log(2)

        for hours, seen in line[["hours", clock]].iloc[[5, 20, -1]].to_numpy():
            since = hours - row.at_hours
            cuts = [edge for edge in edges if 0 < edge < since]
            expected = quad(rate, 0, since, points=cuts or None, limit=200)[0]
            # The place is uncertain by 0.6 degC: the middle of a bent curve's values is not the curve at the middle.
            assert seen == pytest.approx(expected, abs=0.05, rel=0.01), (clock, since)


def test_nights_of_another_temperature_show_on_the_page_of_one_jar(two_temperatures):
    start = two_temperatures.setting.start
    asked = Asked(
        now=start,
        fed_at=start - pd.Timedelta(days=14),
        days_away=13,
        hold_temp_c=4.0,
        mix_at=two_temperatures.setting.mix,
    )
    ledger = holiday(asked, planned_feeds(two_temperatures), plan=two_temperatures)
    assert ledger.feeds["feed"].tolist()[:2] == ["last feed", "feed 1"]
    same_hours(replace(ledger, feeds=ledger.feeds.iloc[1:]), two_temperatures)
    assert ledger.feeds["place"].iloc[1] == "kitchen, 23 °C by day and 15 °C by night"


def test_a_feed_sent_to_the_cold_says_when_and_hardly_grows_there(with_trips):
    ledger = drawn(with_trips)
    step = next(step for step in with_trips.steps if np.isfinite(step.cold_at))
    at = with_trips.setting.start + pd.Timedelta(hours=step.cold_at)
    assert f"to the cold {at:%H:%M}" in ledger.moments["label"].tolist()
    name = f"feed {with_trips.steps.index(step) + 1}"
    line = ledger.earned[ledger.earned["feed"] == name]
    warm = line[line["hours"] <= step.cold_at]
    cold = line[line["hours"] > step.cold_at + 6]
    pace_warm = np.diff(warm["yeast"]).mean() / np.diff(warm["hours"]).mean()
    assert len(cold) > 2
    assert np.diff(cold["yeast"]).mean() / np.diff(cold["hours"]).mean() < 0.1 * pace_warm


def test_nights_are_cut_where_a_fold_begins_and_ends():
    fold = Fold(from_hours=4, to_hours=80, label="days")
    axis = TimeAxis(start=pd.Timestamp("2026-05-16 20:00"), hours=100, folds=(fold,))
    assert nights(axis, asleep_from=22.5, asleep_to=7).to_numpy().tolist() == [[2.5, 4.0], [80.0, 83.0], [98.5, 100.0]]
