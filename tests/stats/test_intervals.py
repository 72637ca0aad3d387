"""The interval likelihood against R's survreg (type interval2), live, and against its own definition."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from fallow.stats.intervals import between, fit_interval_line


def r_vector(values: np.ndarray) -> str:
    return "c(" + ",".join("NA" if not np.isfinite(v) else f"{v:.17g}" for v in values) + ")"


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_line_through_intervals_is_survregs(seed: int, run_r: Callable[[str], str]) -> None:
    rng = np.random.default_rng(seed)
    x = rng.uniform(1.5, 4.5, 24)
    y = 1.1 + 0.9 * x + rng.normal(0, 0.25, 24)
    low, high = np.floor(y / 0.6) * 0.6, np.floor(y / 0.6) * 0.6 + 0.6
    high[:4] = np.inf
    ours = fit_interval_line(design=np.column_stack([np.ones(24), x]), low=low, high=high)
    printed = run_r(
        f"library(survival); x <- {r_vector(x)}; l <- {r_vector(low)}; h <- {r_vector(high)};"
        'f <- survreg(Surv(l, h, type="interval2") ~ x, dist="gaussian", control=list(rel.tolerance=1e-12, maxiter=100));'
        'cat(sprintf("%.10f ", c(coef(f), f$scale, f$loglik[2], sqrt(diag(f$var)))))'
    )
    intercept, slope, sd, loglike, *errors = (float(v) for v in printed.split())
    assert ours.coefficients == pytest.approx([intercept, slope], rel=1e-5)
    assert ours.sd == pytest.approx(sd, rel=1e-5)
    assert ours.loglike == pytest.approx(loglike, abs=1e-6)
    assert np.sqrt(np.diag(ours.covariance)) == pytest.approx(errors, rel=1e-4)


@given(st.floats(-8, 8), st.floats(0.01, 5))
def test_between_is_a_difference_of_distribution_functions(low: float, width: float) -> None:
    assert float(between(low, low + width)) == pytest.approx(norm.cdf(low + width) - norm.cdf(low), abs=1e-12)


def test_far_in_the_upper_tail_nothing_cancels() -> None:
    # 1 - Phi(z) from scipy's survival function
    assert float(between(12.0, np.inf)) == pytest.approx(norm.sf(12.0), rel=1e-10)
    assert float(between(-np.inf, np.inf)) == 1.0


def test_backwards_or_too_few_is_refused() -> None:
    with pytest.raises(ValueError, match="interval 1 runs from 3 to 2; its low end must lie below"):
        fit_interval_line(design=np.ones((2, 1)), low=[1, 3], high=[2, 2])
    with pytest.raises(ValueError, match="1 intervals for 2 coefficients"):
        fit_interval_line(design=np.ones((1, 2)), low=[1], high=[2])


def test_a_line_between_all_the_looks_is_refused_in_a_sentence() -> None:
    x = np.arange(5.0)
    with pytest.raises(ValueError, match="one line passes between all the looks"):
        fit_interval_line(design=np.column_stack([np.ones(5), x]), low=x - 0.5, high=x + 0.5)
