"""Baranyi-Roberts fits against printed and independently computed ones."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

from fallow.stats.baranyi_fit import LN10, fit_baranyi

Reference = Callable[[str], dict[str, Any]]


def test_the_ten_points_give_what_biogrowth_prints(reference: Reference) -> None:
    """Printed with about five figures, from another optimiser (vignette v02 of the R package biogrowth 1.0.8)."""
    row = reference("growth_fit_ten_points.json")["rows"][0]
    fit = fit_baranyi(hours=row["in"]["hours"], log10_count=row["in"]["log10_n"])
    ours = [fit.start_log10, fit.rate_per_hour / LN10, fit.lag_hours, fit.ceiling_log10]
    errors = [fit.start_log10_se, fit.rate_per_hour_se / LN10, fit.lag_hours_se, fit.ceiling_log10_se]
    assert ours == pytest.approx(row["out"]["estimates"], abs=2e-4)
    assert errors == pytest.approx(row["out"]["standard_errors"], rel=1e-3)
    assert np.sqrt(fit.rss / 6) == pytest.approx(row["out"]["residual_se"], abs=5e-5)


def test_a_rate_in_log10_is_not_mistaken_for_one_in_ln(reference: Reference) -> None:
    row = reference("growth_fit_ten_points.json")["rows"][0]
    fit = fit_baranyi(hours=row["in"]["hours"], log10_count=row["in"]["log10_n"])
    assert fit.rate_per_hour == pytest.approx(2.302585 * row["out"]["estimates"][1], rel=1e-4)


@pytest.mark.parametrize("name", ["growthcurve1, Baranyi", "growthcurve4, Baranyi"])
def test_published_growth_curves(name: str, reference: Reference, shared_data: Callable[[str], Path]) -> None:
    """R 4.2.2 nls on nlsMicrobio's data (Delignette-Muller & Baty): estimates to 1e-4, standard errors to 1e-3."""
    row = next(r for r in reference("growth_fits.json")["rows"] if r["id"] == name)
    table = pd.read_csv(shared_data(row["in"]["data"]))
    fit = fit_baranyi(hours=table["t"], log10_count=table["LOG10N"])
    lag, rate, start, ceiling = row["out"]["estimates"]
    ours = [fit.lag_hours, fit.rate_per_hour, fit.start_log10, fit.ceiling_log10]
    assert ours == pytest.approx([lag, rate, start, ceiling], rel=1e-4)
    assert fit.rss == pytest.approx(row["out"]["rss"], rel=1e-4)
    given = [error for error in row["out"]["standard_errors"][:2] if error is not None]
    assert [fit.lag_hours_se, fit.rate_per_hour_se][: len(given)] == pytest.approx(given, rel=1e-3)


@pytest.mark.parametrize(
    ("hours", "counts", "said"),
    [([0, 1, 2], [1, 2, 3], "5 pairs"), ([0, 1, 2, 3, 4], [1, 2, 3, 4, float("nan")], "not a finite number")],
)
def test_what_cannot_be_fitted_is_refused_in_a_sentence(hours: list[float], counts: list[float], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        fit_baranyi(hours=hours, log10_count=counts)
