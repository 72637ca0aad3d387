"""Pace, c and W: the truth of the invented trial found again, survreg's answer on a wide record, and what must hold always."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import norm

from fallow.records.demo_truth import Truth
from fallow.records.experiment import Experiment
from fallow.stats.clock_posterior import BaselineFeeds, Believed, believe, nothing_known
from fallow.stats.cold import ColdFit, fit_cold
from fallow.stats.intervals import fit_interval_line
from fallow.stats.owed import chance_at_most, measured

BELIEVED = nothing_known(draws=400)
SURE = Believed(pace=np.array([1.0]), ripening=np.array([1.4]), error_sd=np.array([0.0]))


@pytest.fixture(scope="module")
def fit(harbour_rota: Experiment) -> ColdFit:
    return fit_cold(harbour_rota)


def test_the_truth_lies_in_every_interval(fit: ColdFit) -> None:
    for row in fit.cultures.itertuples():
        truth = Truth().cultures[row.culture]
        assert row.pace_low < truth.pace < row.pace_high
        assert row.ripening_low < truth.ripening_doublings < row.ripening_high
        assert row.rise_fraction == pytest.approx(truth.rise_ratio - 1, rel=0.05)
        assert row.pace_high - row.pace_low < 0.35


def test_far_dilutions_hold_the_pace(fit: ColdFit) -> None:
    shares = fit.pulls.groupby("culture")[["holds_pace", "holds_ripening"]].sum().to_numpy()
    assert shares == pytest.approx(np.ones_like(shares))
    heaviest = fit.pulls.sort_values("holds_pace").groupby("culture").tail(2)["cost_doublings"]
    assert set(heaviest.round(2)) <= {round(math.log2(d), 2) for d in (3, 9, 17)}


def in_form(count: int, *, pace: float, ripening: float, sd: float, every: float, seed: int = 1) -> BaselineFeeds:
    rng = np.random.default_rng(seed)
    cost = rng.uniform(1.5, 4.5, count)
    earned = (cost + ripening + rng.normal(0, sd, count)) / pace
    low = np.floor(earned / every) * every
    return BaselineFeeds(cost=cost, earned_low=low, earned_high=low + every)


def test_many_feeds_give_the_line_that_survreg_gives() -> None:
    # earned = (log2 D + c)/pace + error: the interval line checked against R in test_intervals
    feeds = in_form(300, pace=0.9, ripening=1.2, sd=0.2, every=0.4)
    line = fit_interval_line(
        design=np.column_stack([np.ones(300), feeds.cost]), low=feeds.earned_low, high=feeds.earned_high
    )
    ours = believe([feeds], draws=2000)[0]
    assert np.median(ours.pace) == pytest.approx(1 / line.coefficients[1], rel=0.01)
    assert np.median(ours.ripening) == pytest.approx(line.coefficients[0] / line.coefficients[1], abs=0.03)
    # pace's own error by the delta method on survreg's slope
    wanted = math.sqrt(line.covariance[1, 1]) / line.coefficients[1] ** 2
    assert np.std(ours.pace) == pytest.approx(wanted, rel=0.15)


def test_intervals_of_pace_and_c_cover_the_truth_that_often() -> None:
    inside = np.zeros(2)
    trials = 120
    for seed in range(trials):
        believed = believe([in_form(5, pace=1.1, ripening=1.3, sd=0.15, every=0.3, seed=seed)], draws=600)[0]
        for i, (values, truth) in enumerate([(believed.pace, 1.1), (believed.ripening, 1.3)]):
            low, high = np.quantile(values, [0.05, 0.95])
            inside[i] += low < truth < high
    # 90 % intervals; at least 85 % with five baseline feeds
    assert (inside / trials >= 0.85).all()


def test_w_of_a_jar_in_form_covers_nothing_owed_and_is_seldom_called_unrecovered() -> None:
    covered, refused, trials = 0, 0, 120
    rng = np.random.default_rng(5)
    for seed in range(trials):
        believed = believe([in_form(5, pace=1.0, ripening=1.4, sd=0.15, every=0.3, seed=seed + 500)], draws=600)[0]
        earned = math.log2(5) + 1.4 + rng.normal(0, 0.15)
        low = math.floor(earned / 0.3) * 0.3
        ends = {"cost": np.array([math.log2(5)]), "earned_low": np.array([low]), "earned_high": np.array([low + 0.3])}
        low_end, _, high_end = (end[0] for end in measured(believed=believed, **ends))
        covered += low_end < 0 < high_end
        refused += chance_at_most(limit_doublings=0.5, believed=believed, **ends)[0] < 0.5
    assert covered / trials >= 0.85
    assert refused / trials <= 0.05


@pytest.mark.parametrize("between_looks", [0.1, 0.3, 0.6, 1.5])
def test_the_interval_holds_every_debt_whatever_the_looks(between_looks: float) -> None:
    """A clock that is known and peaks that stray by 0.2 doublings: no simulation, every gap between looks with its own chance.

    Of a mid-P test's 90 % interval no single truth may be held less than 80 times in 100 (the two tails may both count 10
    at worst); over all truths it is 90 at least.
    """
    believed = Believed(pace=np.ones(4000), ripening=np.full(4000, 1.4), error_sd=np.full(4000, 0.2))
    looks = np.arange(0.0, 12.0, between_looks)
    gaps = {"cost": np.full(len(looks) - 1, 2.0), "earned_low": looks[:-1], "earned_high": looks[1:]}
    low, _, high = measured(believed=believed, **gaps)
    debts = np.linspace(0.5, 5.0, 400)
    chance = np.diff(norm.cdf(looks, debts[:, None] + 3.4, 0.2), axis=1)
    held = (chance * ((low <= debts[:, None]) & (debts[:, None] <= high))).sum(axis=1)
    assert held.min() >= 0.79
    assert held.mean() >= 0.895


@settings(deadline=None, max_examples=40)
@given(st.floats(0.5, 8), st.floats(0.05, 2), st.floats(0.05, 3))
def test_a_later_peak_is_a_larger_debt(low: float, width: float, later: float) -> None:
    ends = {
        "cost": np.full(2, 2.0),
        "earned_low": np.array([low, low + later]),
        "earned_high": np.array([low, low + later]) + width,
    }
    assert all(later > sooner for sooner, later in measured(believed=BELIEVED, **ends))
    # a theorem only for a clock that is sure: with many believed errors a late peak may be taken for a large error instead
    chance = chance_at_most(limit_doublings=0.5, believed=SURE, **ends)
    assert 0 <= chance[1] <= chance[0] + 1e-12 <= 1 + 1e-11


def test_an_open_peak_has_a_low_end_only() -> None:
    ends = {"cost": np.array([2.0]), "earned_low": np.array([5.0]), "earned_high": np.array([np.inf])}
    low, middle, high = (end[0] for end in measured(believed=BELIEVED, **ends))
    assert np.isfinite(low)
    assert np.isnan(middle)
    assert high == np.inf
    assert chance_at_most(limit_doublings=0.5, believed=BELIEVED, **ends)[0] < 0.2


def test_a_peak_nobody_saw_decides_nothing() -> None:
    ends = {"cost": np.array([2.0]), "earned_low": np.array([0.0]), "earned_high": np.array([np.inf])}
    # with nothing seen the chance is the prior's own: 1 - exp(-0.5)
    assert chance_at_most(limit_doublings=0.5, believed=BELIEVED, **ends)[0] == pytest.approx(
        1 - math.exp(-0.5), abs=1e-6
    )


def test_the_chance_is_the_integral_it_claims() -> None:
    # one belief without error: W lies between 0.2 and 0.8; exp(-w) integrated over it by the trapezoid rule
    ends = {"cost": np.array([2.0]), "earned_low": np.array([3.6]), "earned_high": np.array([4.2])}
    w = np.linspace(0.2, 0.8, 20001)
    below = w <= 0.5
    wanted = np.trapezoid(np.exp(-w[below]), w[below]) / np.trapezoid(np.exp(-w), w)
    assert chance_at_most(limit_doublings=0.5, believed=SURE, **ends)[0] == pytest.approx(wanted, abs=1e-4)


def test_too_few_baselines_give_differences_only(kitchen: Callable[..., Any]) -> None:
    made = kitchen(baselines=2)
    made.jar("a", [2.0, 0.5])
    fit = fit_cold(made.trial)
    assert fit.only_differences == ("gull",)
    assert fit.feeds["owed_doublings"].isna().all()
    assert fit.feeds["owed_difference"].diff().iloc[1] == pytest.approx(-1.5, abs=0.1)
