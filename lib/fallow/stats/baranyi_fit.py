"""Counts of cells against time: the Baranyi-Roberts curve fitted to them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from fallow.maths.growth import baranyi
from fallow.stats.least_squares import LeastSquaresFit, fit_curve

Floats = npt.NDArray[np.float64]
LN10 = float(np.log(10.0))
FEWEST = 5


@dataclass(frozen=True)
class BaranyiFit:
    """Four estimates with standard errors; counts in log10, ``rate_per_hour`` on the natural-log scale."""

    start_log10: float
    ceiling_log10: float
    rate_per_hour: float
    lag_hours: float
    start_log10_se: float
    ceiling_log10_se: float
    rate_per_hour_se: float
    lag_hours_se: float
    rss: float


def fit_baranyi(*, hours: npt.ArrayLike, log10_count: npt.ArrayLike) -> BaranyiFit:
    """Fit the Baranyi-Roberts curve to log10 counts by least squares on the log10 scale.

    A rate printed in log10 per hour is ``rate_per_hour`` / ln 10. Baranyi & Roberts 1994, IJFM 23:277-294. Raises
    ValueError for fewer than five pairs, or for values that are not finite.

    The ten points of the biogrowth vignette (printed: lag 13.2555, start 1.0988, ceiling 4.2696, 0.11041 log10/h):

    >>> fit = fit_baranyi(hours=[0, 10, 15, 20, 25, 30, 35, 40, 45, 50],
    ...                   log10_count=[1.2, 1, 1.7, 1.9, 2.3, 3.1, 3.3, 3.8, 4.3, 4.1])
    >>> round(fit.lag_hours, 2), round(fit.start_log10, 4), round(fit.rate_per_hour / LN10, 4)
    (13.26, 1.0988, 0.1104)
    """
    when, seen = _pairs(hours, log10_count)
    low, top, span = float(seen.min()), float(seen.max()), float(np.ptp(when))
    steep = max(float(np.max(np.gradient(seen, when))), 1e-3) * LN10

    def curve(values: Floats) -> Floats:
        start, rise, rate, lag = values
        grown = baranyi(
            hours=when, start=start * LN10, ceiling=(start + rise) * LN10, rate_per_hour=rate, lag_hours=lag
        )
        return np.asarray(grown) / LN10

    starts = [(low, top - low, steep * share, span * wait) for share in (0.6, 1.0) for wait in (0.05, 0.25)]
    room = max(top - low, 0.1)
    limits = {"low": (low - 3 * room, 1e-3, 1e-6, 0.0), "high": (top, 6 * room, 50 * steep, span)}
    fit = fit_curve(curve, seen, starts=starts, **limits)
    return _named(fit)


def _pairs(hours: npt.ArrayLike, log10_count: npt.ArrayLike) -> tuple[Floats, Floats]:
    when, seen = np.asarray(hours, dtype=float), np.asarray(log10_count, dtype=float)
    if when.shape != seen.shape or when.ndim != 1 or len(when) < FEWEST:
        message = f"{when.size} hours and {seen.size} counts; a fit needs {FEWEST} pairs or more. Add readings."
        raise ValueError(message)
    if not (np.isfinite(when).all() and np.isfinite(seen).all()):
        message = "A pair of hour and count is not a finite number; each must be. Leave that pair out."
        raise ValueError(message)
    order = np.argsort(when, kind="stable")
    return when[order], seen[order]


def _named(fit: LeastSquaresFit) -> BaranyiFit:
    start, rise, rate, lag = fit.estimates
    error = fit.standard_errors
    ceiling_error = float(np.sqrt(fit.covariance[:2, :2].sum()))
    values = (start, start + rise, rate, lag, error[0], ceiling_error, error[2], error[3], fit.rss)
    return BaranyiFit(*(float(value) for value in values))
