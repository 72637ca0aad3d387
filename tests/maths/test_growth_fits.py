"""Our growth and rate functions under scipy's least squares, against the estimates that published fits print."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import scipy.optimize

from fallow.maths.growth import baranyi, gompertz
from fallow.maths.rates import cardinal_rate

LN10 = np.log(10.0)
Row = dict[str, Any]


def fit(model: Callable[..., Any], x: Any, y: Any, guess: list[float]) -> tuple[Any, Any, float]:
    found, spread = scipy.optimize.curve_fit(model, x, y, guess, bounds=([1e-9] * len(guess), np.inf), xtol=1e-14)
    return found, np.sqrt(np.diag(spread)), float(np.sum((model(np.asarray(x), *found) - y) ** 2))


def baranyi_log10(t: Any, lag: float, mu: float, start: float, ceiling: float) -> Any:
    return baranyi(hours=t, start=start * LN10, ceiling=ceiling * LN10, rate_per_hour=mu, lag_hours=lag) / LN10


def gompertz_log10(t: Any, lag: float, mu: float, start: float, ceiling: float) -> Any:
    return start + gompertz(hours=t, rise=ceiling - start, rate_per_hour=mu / LN10, lag_hours=lag)


FORMS = {"baranyi": baranyi_log10, "gompertz": gompertz_log10}


def read_columns(path: Path, *names: str) -> list[np.ndarray]:
    rows = list(csv.DictReader(io.StringIO(path.read_text(encoding="utf-8"))))
    return [np.array([float(row[name]) for row in rows]) for name in names]


def held_against(row: Row, found: Any, spread: Any, rss: float, tolerance: float) -> None:
    assert found == pytest.approx(row["out"]["estimates"], rel=tolerance)
    for ours, printed in zip(spread, row["out"]["standard_errors"], strict=True):
        if printed is not None:  # not printed for every estimate
            assert ours == pytest.approx(printed, rel=10 * tolerance)
    assert rss == pytest.approx(row["out"]["rss"], rel=tolerance)


def test_the_published_fits_of_two_growth_curves(reference: Any, shared_data: Callable[[str], Path]) -> None:
    """nlsMicrobio growthcurve1 and 4, R's nls: estimates to 1e-4, standard errors to 1e-3."""
    published = reference("growth_fits.json")
    for row in published["rows"]:
        hours, log10 = read_columns(shared_data(row["in"]["data"]), "t", "LOG10N")
        found, spread, rss = fit(FORMS[row["in"]["form"]], hours, log10, row["in"]["guess"])
        held_against(row, found, spread, rss, published["tolerance"]["rel"])


def test_the_ten_point_fit_that_a_vignette_prints(reference: Any) -> None:
    """P8, R package biogrowth: printed to four and more digits; rate there in log10 per hour."""
    row = reference("growth_fit_ten_points.json")["rows"][0]
    hours, log10 = (np.array(row["in"][name], dtype=float) for name in ("hours", "log10_n"))
    found, spread, rss = fit(
        lambda t, start, mu10, lag, ceiling: baranyi_log10(t, lag, mu10 * LN10, start, ceiling),
        hours,
        log10,
        [1.0, 0.1, 10.0, 4.0],
    )
    assert found == pytest.approx(row["out"]["estimates"], abs=2e-4)
    assert spread == pytest.approx(row["out"]["standard_errors"], abs=2e-4)
    assert np.sqrt(rss / 6) == pytest.approx(row["out"]["residual_se"], abs=1e-4)


def test_a_rate_in_log10_is_not_a_rate_in_ln(reference: Any) -> None:
    """biogrowth's own unit trap: without the factor 2.302585 the printed curve is missed by more than half a log10."""
    row = reference("growth_fit_ten_points.json")["rows"][0]
    start, mu10, lag, ceiling = row["out"]["estimates"]
    right = baranyi_log10(35.0, lag, mu10 * LN10, start, ceiling)
    swapped = baranyi_log10(35.0, lag, mu10, start, ceiling)
    assert abs(right - 3.3) < 0.2
    assert abs(swapped - right) > 0.5


def test_the_published_fit_of_a_cardinal_model(reference: Any, shared_data: Callable[[str], Path]) -> None:
    """Ross et al. 2003 E. coli, author salter, aw 0.997 (n 27), square root of the rate fitted; R's nls = scipy."""
    row = reference("cardinal_fit_ross.json")["rows"][0]
    with shared_data(row["in"]["data"]).open(encoding="utf-8") as file:
        chosen = [r for r in csv.DictReader(file) if r["author"] == "salter" and float(r["aw"]) == 0.997]
    temp, root = (np.array([float(r[name]) for r in chosen]) for name in ("T", "sqrtmumax"))
    assert len(chosen) == row["in"]["n"]

    def model(t: Any, best: float, low: float, opt: float, high: float) -> Any:
        return np.sqrt(cardinal_rate(temp_c=t, min_c=low, opt_c=opt, max_c=high, opt_per_hour=best))

    found, spread = scipy.optimize.curve_fit(model, temp, root, row["in"]["guess"], xtol=1e-14)
    rss = float(np.sum((model(temp, *found) - root) ** 2))
    held_against(row, found, np.sqrt(np.diag(spread)), rss, 1e-4)
