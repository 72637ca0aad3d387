"""How fast counts are fitted, as ratios in one run: printed, never asserted. Answers are asserted, times are not."""

from __future__ import annotations

from collections.abc import Callable
from time import perf_counter

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm
import statsmodels.formula.api as smf
from pytest_benchmark.fixture import BenchmarkFixture

from fallow.maths.growth import gompertz
from fallow.stats.recovery import fit_recovery, risk_table
from fallow.stats.rise import fit_rise

JARS, FEEDS = 100_000, 8
WIDE = "C(feed) + np.log1p(days_held) + rye_fraction + place_temp_c + hold_temp_c + hours_between_feeds + C(culture)"


def made_up(jars: int, *, seed: int = 1) -> pd.DataFrame:
    """Invented jars in forty patterns: ten holds, with and without rye, two cultures."""
    rng = np.random.default_rng(seed)
    days, rye, culture = (
        rng.choice(np.arange(4, 64, 6), jars),
        rng.choice([0, 1 / 3], jars),
        rng.choice(["a", "b"], jars),
    )
    eta = (-1 - 0.01 * days + 0.5 * rye)[:, None] + 0.5 * np.log(np.arange(1, FEEDS + 1))
    hit = rng.random((jars, FEEDS)) < -np.expm1(-np.exp(eta))
    feed, recovered = np.where(hit.any(axis=1), hit.argmax(axis=1) + 1, FEEDS), hit.any(axis=1)
    when = {"feeds_to_recovery": np.where(recovered, feed, np.nan), "feeds_observed": feed, "recovered": recovered}
    covariates = {"days_held": days, "rye_fraction": rye, "culture": culture}
    extra = {name: rng.normal(20, 4, jars).round(2) for name in ("place_temp_c", "hold_temp_c", "hours_between_feeds")}
    return risk_table(pd.DataFrame({"jar": [f"j{i}" for i in range(jars)], **when, **covariates, **extra}))


@pytest.fixture(scope="module")
def many() -> pd.DataFrame:
    return made_up(JARS)


@pytest.fixture
def say(capsys: pytest.CaptureFixture[str]) -> Callable[[str], None]:
    """Print past pytest's capture: a ratio nobody sees is none."""

    def past_the_capture(line: str) -> None:
        with capsys.disabled():
            print(f"\n{line}")

    return past_the_capture


def test_a_hundred_thousand_jars_in_forty_patterns(benchmark: BenchmarkFixture, many: pd.DataFrame) -> None:
    def whole() -> pd.DataFrame:
        return fit_recovery(many, "C(feed) + days_held + rye_fraction + C(culture)", jeffreys=True).coefficients

    assert np.isfinite(benchmark(whole).to_numpy()).all()


def test_beside_statsmodels_with_one_row_a_jar_and_feed(
    benchmark: BenchmarkFixture, many: pd.DataFrame, say: Callable[[str], None]
) -> None:
    family = sm.families.Binomial(sm.families.links.CLogLog())
    start = perf_counter()
    theirs = smf.glm("recovered ~ C(feed) + days_held", many, family=family).fit()
    whole = perf_counter() - start
    fit = benchmark(lambda: fit_recovery(many, "C(feed) + days_held", jeffreys=False))
    assert fit.coefficients["estimate"].to_numpy() == pytest.approx(theirs.params.to_numpy(), abs=1e-5)
    if benchmark.stats:
        say(
            f"statsmodels {whole:.2f} s, ours {benchmark.stats['min']:.3f} s: {whole / benchmark.stats['min']:.0f} times"
        )


def test_the_forecast_under_a_slider(benchmark: BenchmarkFixture) -> None:
    """A hundred and eleven jars, thirteen coefficients, six feeds with their profile intervals."""
    table = made_up(111)
    fit = fit_recovery(table, WIDE)
    assert len(benchmark(lambda: fit.ready_by(table.iloc[[0]]))) == 6


def test_the_feeds_for_nine_jars_in_ten(benchmark: BenchmarkFixture) -> None:
    table = made_up(111)
    fit = fit_recovery(table, WIDE)
    assert benchmark(lambda: fit.feeds_for(table.iloc[[0]])) >= 1


def test_one_rise_curve(benchmark: BenchmarkFixture) -> None:
    hours = np.arange(0, 35, 0.5)
    height = gompertz(hours=hours, rise=285.0, rate_per_hour=28.0, lag_hours=10.0)
    noisy = height + np.random.default_rng(1).normal(0, 2, len(hours))
    assert benchmark(lambda: fit_rise(hours=hours, height=noisy)).identified
