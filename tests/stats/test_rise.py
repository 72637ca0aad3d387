"""Rise curves: one published fit, all 129 published curves, R's nls live, and every reason to refuse."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fallow.maths.growth import gompertz, logistic
from fallow.stats.rise import GOMPERTZ, LOGISTIC, count_kinds, fit_all, fit_rise

Reference = Callable[[str], dict[str, Any]]


@pytest.fixture(scope="module")
def published(shared_data: Callable[[str], Path]) -> dict[str, tuple[np.ndarray, np.ndarray]]:
    table = pd.read_csv(shared_data("landis_rise_30min.csv"))
    minutes = [name for name in table if name[0] == "m" and name[1:].isdigit()]
    hours = np.array([int(name[1:]) / 60 for name in minutes])
    names = table["batch"].astype(str) + "/" + table["starter"].astype(str) + "/" + table["rep"].astype(str)
    names = names + "/" + table["tube"].astype(str)
    return {name: (hours, heights) for name, heights in zip(names, table[minutes].to_numpy(float), strict=True)}


def test_starter_307_c_gives_the_published_curve_fit_by_r(
    published: dict[str, tuple[np.ndarray, np.ndarray]], reference: Reference
) -> None:
    rows = {row["id"]: row["out"] for row in reference("rise_fits.json")["rows"]}
    (curve,) = [pair for name, pair in published.items() if name.startswith("1/307/c/")]
    fit = fit_rise(hours=curve[0], height=curve[1], models=(GOMPERTZ,))
    wanted = rows["Gompertz"]
    ours = (fit.peak, fit.rate_per_hour, fit.lag_hours, fit.rss)
    assert ours == pytest.approx(
        (wanted["rise"], wanted["rate_per_hour"], wanted["lag_hours"], wanted["rss"]), rel=1e-6
    )
    half = np.array(
        [fit.peak_high - fit.peak, fit.rate_per_hour_high - fit.rate_per_hour, fit.lag_hours_high - fit.lag_hours]
    )
    assert half / 1.667916 == pytest.approx(wanted["standard_errors"], rel=1e-4)  # Student's t, 67 degrees, 95 %
    straight = fit_rise(hours=curve[0], height=curve[1], models=(LOGISTIC,))
    assert straight.rss == pytest.approx(rows["logistic"]["rss"], rel=1e-7)
    assert fit_rise(hours=curve[0], height=curve[1]).model == "gompertz"


def test_each_of_the_129_published_curves_is_fitted_or_refused_with_a_reason(
    published: dict[str, tuple[np.ndarray, np.ndarray]],
) -> None:
    fits = fit_all(published, progress=False)
    assert len(fits) == 129
    highest = np.array([np.nanmax(heights, initial=0.0) for _, heights in published.values()])
    told = fits["identified"].to_numpy()
    assert (fits["peak"].to_numpy()[told] <= 3 * highest[told]).all()
    assert (fits["peak_high"].to_numpy()[told] <= 3 * highest[told]).all()
    assert (fits["why"][told] == "").all()
    assert (fits["why"][~told].str.len() > 20).all()
    assert fits["rate_per_hour"][~told].isna().all()
    assert np.isfinite(fits[["peak", "rate_per_hour", "lag_hours", "rss"]][told].to_numpy()).all()
    counted = count_kinds(fits)
    assert counted["curves"].sum() == 129
    assert told.sum() >= 80


def test_live_r_finds_the_same_minimum(run_r: Callable[[str], str]) -> None:
    """R's nls on noisy made-up rises (seeded), Gompertz and logistic."""
    rng = np.random.default_rng(5)
    hours = np.arange(0, 16, 0.5)
    for model, curve, formula in (
        (GOMPERTZ, gompertz, "A*exp(-exp(m*exp(1)*(l-t)/A+1))"),
        (LOGISTIC, logistic, "A/(1+exp(4*m*(l-t)/A+2))"),
    ):
        height = curve(hours=hours, rise=48.0, rate_per_hour=9.0, lag_hours=2.5) + rng.normal(0, 0.6, len(hours))
        height[0] = 0.0
        script = f"""t <- c({",".join(map(str, hours))}); y <- c({",".join(f"{v:.12g}" for v in height)})
        f <- nls(y ~ {formula}, start=list(A=50, m=8, l=2), control=nls.control(tol=1e-7, minFactor=1e-12))
        cat(sprintf("%.10g", c(coef(f), summary(f)$coefficients[, 2], deviance(f))))"""
        theirs = [float(v) for v in run_r(script).split()]
        fit = fit_rise(hours=hours, height=height, models=(model,))
        assert (fit.peak, fit.rate_per_hour, fit.lag_hours) == pytest.approx(theirs[:3], rel=1e-6)
        assert fit.rss == pytest.approx(theirs[6], rel=1e-9)
        reach = np.array([fit.peak_high - fit.peak, fit.rate_per_hour_high - fit.rate_per_hour])
        assert reach / 1.699127 == pytest.approx(theirs[3:5], rel=1e-5)  # Student's t, 29 degrees, 95 %


@given(
    rise=st.floats(5, 400),
    rate=st.floats(0.5, 40),
    lag=st.floats(0, 6),
    start=st.floats(0, 100),
    unit=st.floats(0.01, 100),
)
@settings(max_examples=25, deadline=None)
def test_a_clean_rise_is_recovered_in_any_unit(rise: float, rate: float, lag: float, start: float, unit: float) -> None:
    hours = np.linspace(0, lag + 3 * rise / rate, 40)
    above = gompertz(hours=hours, rise=rise, rate_per_hour=rate, lag_hours=lag)
    fit = fit_rise(
        hours=hours,
        height=unit * (start + above - above[0] + gompertz(hours=0.0, rise=rise, rate_per_hour=rate, lag_hours=lag)),
        models=(GOMPERTZ,),
    )
    assert fit.identified
    assert fit.peak == pytest.approx(unit * (start + rise), rel=0.05)


HOURS = np.arange(0, 12, 0.5)
RISING = gompertz(hours=HOURS, rise=50.0, rate_per_hour=12.0, lag_hours=2.0)


@pytest.mark.parametrize(
    ("hours", "height", "kind"),
    [
        (HOURS, np.zeros(24), "flat"),
        (HOURS, 3 + np.random.default_rng(1).normal(0, 1, 24), "flat"),
        (HOURS, -RISING, "flat"),
        (HOURS[:4], RISING[:4] + 1, "too few readings"),
        ([], [], "no readings"),
        (HOURS, np.full(24, np.nan), "no readings"),
        (HOURS[:9], np.exp(0.4 * HOURS[:9]) - 1, "still rising"),
        (HOURS, 2.0 * HOURS, "still rising"),
        (HOURS, np.where(HOURS > 5.9, 40.0, 0.0), "between two looks"),
        (HOURS, RISING + 18 * np.sin(1.5 * HOURS), "no smooth rise"),
    ],
)
def test_what_is_not_told_is_refused_with_a_sentence(hours: Any, height: Any, kind: str) -> None:
    fit = fit_rise(hours=hours, height=height)
    assert not fit.identified
    assert fit.kind == kind
    assert fit.why.endswith(".")
    assert np.isnan(fit.rate_per_hour)


def test_the_hour_of_the_peak_lies_between_the_looks_that_are_clearly_lower() -> None:
    height = np.concatenate([RISING, RISING[-1] * np.array([1.0, 0.9, 0.8])])
    fit = fit_rise(hours=np.arange(len(height)) / 2, height=height)
    assert fit.hours_to_peak_low < fit.hours_to_peak <= fit.hours_to_peak_high
    assert fit.readings == len(RISING) + 1


def test_missing_heights_and_order_change_nothing() -> None:
    shuffled = np.random.default_rng(2).permutation(len(HOURS))
    with_gaps = np.append(RISING[shuffled], np.nan)
    plain = fit_rise(hours=HOURS, height=RISING)
    mixed = fit_rise(hours=np.append(HOURS[shuffled], 3.3), height=with_gaps)
    assert mixed.rate_per_hour == pytest.approx(plain.rate_per_hour, rel=1e-9)


@pytest.mark.parametrize(
    ("hours", "height", "said"),
    [([0, 1], [0], "go in pairs"), ([0, -1], [0, 1], "zero or more"), ([0, np.nan], [0, 1], "Correct the time")],
)
def test_wrong_hours_are_refused(hours: Any, height: Any, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        fit_rise(hours=hours, height=height)


def test_the_progress_bar_counts_every_curve(capsys: pytest.CaptureFixture[str]) -> None:
    fit_all({"a": (HOURS, RISING), "b": (HOURS, RISING)})
    assert "2/2" in capsys.readouterr().err
