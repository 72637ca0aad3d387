"""How fast a plan is made and made again: printed, never asserted. Answers are asserted, times are not."""

from __future__ import annotations

import pandas as pd
import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from fallow.plans.bring_back import bring_back
from fallow.plans.put_away import put_away
from fallow.plans.replan import replan

USUAL = {"home_at": "2026-05-15T19:00+02:00", "places": {"kitchen": (22, 20), "warm box": 28}}
WINDOWS = {"24 h": "2026-05-16T19:00+02:00", "38 h": "2026-05-17T09:00+02:00", "a week": "2026-05-22T09:00+02:00"}


@pytest.mark.parametrize("window", WINDOWS)
def test_a_plan(benchmark: BenchmarkFixture, window: str) -> None:
    plan = benchmark(lambda: bring_back(**USUAL, mix_at=WINDOWS[window]))
    assert plan.reason == ""


@pytest.mark.parametrize("scale_g", [1, 5])
def test_a_plan_weighed_on_a_finer_or_a_coarser_scale(benchmark: BenchmarkFixture, scale_g: float) -> None:
    plan = benchmark(lambda: bring_back(**USUAL, mix_at=WINDOWS["a week"], days_held=2, scale_g=scale_g))
    assert plan.reason == ""


def test_a_plan_with_a_trip_to_the_cold(benchmark: BenchmarkFixture) -> None:
    evenings = {**USUAL, "awake": ("17:30", "22:30"), "mix_at": "2026-05-17T21:00+02:00"}
    plan = benchmark(lambda: bring_back(**evenings))
    assert plan.trips == 1


def test_a_wish_that_cannot_be_met_with_its_nearest(benchmark: BenchmarkFixture) -> None:
    plan = benchmark(lambda: bring_back(**USUAL, mix_at="2026-05-16T09:00+02:00").nearest)
    assert plan is not None


def test_a_plan_made_again_after_a_look(benchmark: BenchmarkFixture) -> None:
    plan = bring_back(**USUAL, mix_at=WINDOWS["38 h"])
    at = plan.feeds["at"].iloc[0] + pd.Timedelta(hours=6)
    again = benchmark(lambda: replan(plan, look_at=at, height=80, start_height=50, peak_height=100))
    assert len(again.feeds)


def test_a_put_away_plan(benchmark: BenchmarkFixture) -> None:
    plan = benchmark(
        lambda: put_away(
            leave_at="2026-05-01T18:00+02:00",
            return_at="2026-05-22T18:00+02:00",
            kitchen_temp_c=22,
            fridge_temp_c=4,
        )
    )
    assert plan.reason == ""
