"""What the cold took against days and degrees: the invented trial's truth, a jar-by-jar record made by hand, too little."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from fallow.maths.decay import BREWING_YEAST_PRIOR
from fallow.records.demo_truth import Truth
from fallow.records.experiment import Experiment
from fallow.stats.cold import fit_cold
from fallow.stats.cold_trend import AT_ONCE, PER_LACKED, ColdTrend, cold_trend


@pytest.fixture(scope="module")
def trend(harbour_rota: Experiment) -> ColdTrend:
    return cold_trend(harbour_rota, fit=fit_cold(harbour_rota))


def test_the_daily_loss_of_the_invented_trial_is_found_again(trend: ColdTrend) -> None:
    for row in trend.per_day.itertuples():
        assert row.low < Truth().decay_per_day(temp_c=row.hold_temp_c) < row.high
        assert row.prior == pytest.approx(BREWING_YEAST_PRIOR.per_day(temp_c=row.hold_temp_c))
    assert trend.per_day["per_day"].is_monotonic_increasing
    assert trend.jars == 111


def test_the_lag_and_the_debt_of_a_young_jar_are_the_laws(trend: ColdTrend) -> None:
    terms = trend.terms.set_index("term")
    for name, truth in ((AT_ONCE, Truth().cold_lag_efolds / math.log(2)), (PER_LACKED, 1.0)):
        assert terms.loc[name, "low"] < truth < terms.loc[name, "high"]
        assert terms.loc[name, "law"] == pytest.approx(truth, rel=1e-6)


def test_the_shape_is_told_with_an_interval_that_holds_one(trend: ColdTrend) -> None:
    assert trend.shape is not None
    estimate, low, high = trend.shape
    assert low <= estimate <= high
    assert low < 1 < high


def test_it_says_what_it_found_beside_the_prior_and_under_which_story(trend: ColdTrend) -> None:
    assert trend.says.startswith("The cold took, in doublings a day, 0.0")
    assert f"prior {trend.per_day.iloc[0]['prior'] / np.log(2):.3f}" in trend.says
    assert trend.cold == "creep"
    assert trend.shape is not None
    assert "The debt grows as days to the power {:.1f} ({:.1f} to {:.1f})".format(*trend.shape) in trend.says


def test_jars_made_on_a_line_give_the_line(kitchen: Callable[..., Any]) -> None:
    made = kitchen()
    rng = np.random.default_rng(2)
    # 1 doubling at once and 0.05 a day, jars differing by a tenth
    for number, days in enumerate([5, 10, 20, 40, 60, 5, 10, 20, 40, 60]):
        owed = (1.0 + 0.05 * days) * (1 + 0.1 * rng.normal())
        made.jar(f"j{number}", [owed], days=days, last=True)
    trend = cold_trend(made.trial, fit=fit_cold(made.trial))
    row = trend.per_day.iloc[0]
    assert trend.terms["term"].tolist() == ["at once", "a day"]
    assert row.per_day / math.log(2) == pytest.approx(0.05, abs=0.01)
    assert row.low < 0.05 * math.log(2) < row.high


def test_too_little_leaves_the_prior_standing(kitchen: Callable[..., Any]) -> None:
    made = kitchen()
    for number in range(3):
        made.jar(f"j{number}", [2.0, 0.0], last=True)
    with pytest.raises(ValueError, match="3 jars at 1 duration; a trend needs 5 jars at 2 durations"):
        cold_trend(made.trial, fit=fit_cold(made.trial))


def test_a_few_jars_give_a_slope_and_take_its_shape_from_the_prior(kitchen: Callable[..., Any]) -> None:
    made = kitchen()
    rng = np.random.default_rng(4)
    for number, days in enumerate([5, 20, 40, 5, 20, 40]):
        made.jar(f"j{number}", [(1.0 + 0.05 * days) * (1 + 0.1 * rng.normal())], days=days, last=True)
    trend = cold_trend(made.trial, fit=fit_cold(made.trial))
    row = trend.per_day.iloc[0]
    assert trend.terms["term"].tolist() == ["at once", "a day"]
    assert trend.shape is None
    assert trend.says.count("at 4 °C") == 1, "all at one temperature"
    assert trend.says.endswith("6 jars tell no curve: every day counts the same, as in the brewing-yeast prior.")
    assert row.low < 0.05 * math.log(2) < row.high
