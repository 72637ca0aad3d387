"""Mean bias-reducing adjusted scores, live against R's brglm2, and what they change beside the Jeffreys penalty."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pandas as pd
import pytest
from scipy.stats import binom

from fallow.stats.bias_reduction import bias_reduced
from fallow.stats.recovery import LOGIT, fit_recovery

RunR = Callable[[str], str]


def invented(seed: int, rows: int = 60) -> pd.DataFrame:
    rng = np.random.default_rng(seed)
    feed, x = rng.integers(1, 4, rows), rng.normal(size=rows).round(2)
    chance = -np.expm1(-np.exp(-0.6 + 0.4 * np.log(feed) + 0.7 * x))
    return pd.DataFrame(
        {"jar": range(rows), "feed": feed, "x": x, "recovered": (rng.random(rows) < chance).astype(int)}
    )


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_brglm2_solves_the_same_equations(seed: int, run_r: RunR) -> None:
    table = invented(seed)
    script = f"""library(brglm2); d <- read.csv(text="{table.to_csv(index=False)}")
      f <- glm(recovered ~ factor(feed) + x, binomial("cloglog"), d, method="brglmFit", type="AS_mean",
               control=brglmControl(epsilon=1e-10, maxit=1000))
      cat(sprintf("%.12g", c(coef(f), summary(f)$coefficients[, 2])))"""
    theirs = [float(value) for value in run_r(script).split()]
    ours = bias_reduced(fit_recovery(table, "C(feed) + x", jeffreys=True))
    assert ours.settled
    assert ours.coefficients["estimate"].to_numpy() == pytest.approx(theirs[:4], abs=1e-6)
    assert ours.coefficients["se"].to_numpy() == pytest.approx(theirs[4:], rel=1e-5)


def test_with_the_logit_it_is_the_jeffreys_penalty() -> None:
    """Firth 1993: for a canonical link the adjusted score is the slope of the penalised likelihood."""
    fit = fit_recovery(invented(4), "C(feed) + x", jeffreys=True, link=LOGIT)
    assert bias_reduced(fit).coefficients["estimate"].to_numpy() == pytest.approx(
        fit.coefficients["estimate"].to_numpy(), abs=1e-7
    )


@pytest.mark.parametrize("events", [[0, 6], [6, 6], [0, 0], [3, 6]])
def test_it_is_finite_where_plain_likelihood_is_not(events: list[int]) -> None:
    rows = [(f"{x}-{i}", 1, x, int(i < e)) for x, e in enumerate(events) for i in range(6)]
    table = pd.DataFrame(rows, columns=["jar", "feed", "x", "recovered"])
    found = bias_reduced(fit_recovery(table, "x", jeffreys=True))
    assert found.settled
    assert np.isfinite(found.coefficients.to_numpy()).all()


def test_the_bias_goes_summed_over_every_possible_trial() -> None:
    """Forty jars, one feed, chance 0.45: no simulation, every outcome with its own chance. Jeffreys overshoots here."""
    size, truth, mean = 40, np.log(-np.log(0.55)), np.zeros(2)
    for events in range(size + 1):
        table = pd.DataFrame({"jar": range(size), "feed": 1, "recovered": [1] * events + [0] * (size - events)})
        fit = fit_recovery(table, "1", jeffreys=True)
        found = float((fit.design.back @ fit.peak.beta)[0]), float(bias_reduced(fit).coefficients["estimate"].iloc[0])
        mean += binom.pmf(events, size, 0.45) * np.array(found)
    jeffreys, adjusted = mean - truth
    # first order, derived: leverage/2 * (0.67 - 0.40) / information = 0.0081
    assert jeffreys == pytest.approx(0.5 * (0.6716 - 0.4022) / (size * 0.4368), rel=0.15)
    assert abs(adjusted) < 0.1 * jeffreys


def test_the_chance_is_corrected_by_the_bend_of_what_is_told() -> None:
    fit = fit_recovery(invented(5), "C(feed) + x", jeffreys=True)
    found, new = bias_reduced(fit), pd.DataFrame({"x": [0.3]})
    told = found.log_totals(new, feeds=2)
    plain = fit.target(new, np.array([1, 2])).at(np.repeat(found.beta[None, :], 2, axis=0))[0]
    # by feed 1 ln(-ln(1 - P)) is a straight sum of coefficients, by feed 2 it bends upward
    assert told[0] == pytest.approx(plain[0], abs=1e-12)
    assert told[1] < plain[1]
