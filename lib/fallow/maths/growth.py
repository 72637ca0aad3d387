"""Growth over time: every primary model in one place to import from, and the two simplest of them."""

from __future__ import annotations

import numpy as np

from fallow.maths.arguments import FloatOrArray, Number, finite, not_negative, plain, positive
from fallow.maths.baranyi import (
    awake_fraction,
    baranyi,
    baranyi_efolds_to_share,
    baranyi_history,
    baranyi_hours_to_share,
    dead_as_lag_efolds,
)
from fallow.maths.sigmoids import gompertz, logistic, richards

__all__ = [
    "awake_fraction",
    "baranyi",
    "baranyi_efolds_to_share",
    "baranyi_history",
    "baranyi_hours_to_share",
    "dead_as_lag_efolds",
    "gompertz",
    "logistic",
    "richards",
    "three_phase",
    "three_phase_hours_to_ceiling",
    "verhulst",
]


def verhulst(*, hours: Number, start_amount: Number, ceiling_amount: Number, rate_per_hour: Number) -> FloatOrArray:
    """Return the amount after ``hours`` of growth that slows towards a ceiling: N = K/[1 + (K/N0 - 1) exp(-mu t)].

    Parameters
    ----------
    hours
        Time since the start, zero or more.
    start_amount, ceiling_amount
        N0 and K as plain amounts, not logarithms, both above zero.
    rate_per_hour
        mu, per hour (natural log), zero or more.

    Notes
    -----
    Source: Verhulst 1838 (textbook logistic growth). It is ``baranyi`` without a lag. Check P12 (1e6, 1e8, 0.4):

    >>> round(verhulst(hours=10, start_amount=1e6, ceiling_amount=1e8, rate_per_hour=0.4))
    35546099
    """
    first, top = positive("start_amount", start_amount), positive("ceiling_amount", ceiling_amount)
    since = not_negative("rate_per_hour", rate_per_hour) * not_negative("hours", hours)
    # K N0/(N0 + (K - N0) exp(-mu t)), whose denominator lies between N0 and K whatever the time.
    return plain(np.asarray(first * (top / (first + (top - first) * np.exp(-since)))))


def three_phase(
    *, hours: Number, start: Number, ceiling: Number, rate_per_hour: Number, lag_hours: Number
) -> FloatOrArray:
    """Return three straight lines: flat to the end of the lag, a slope, flat at the ceiling.

    y = start, then start + mu (t - lag), then ceiling.

    Parameters
    ----------
    hours, lag_hours
        Time since the start, and lag, hours.
    start, ceiling, rate_per_hour
        Levels and slope on one additive scale (all ln, or all log10); ``ceiling`` is not below ``start``.

    Notes
    -----
    Source: Buchanan, Whiting & Damert 1997, Food Microbiol. 14:313-326. Check (3 to 8 log10, slope 0.2,
    lag 3 h):

    >>> three_phase(hours=10, start=3, ceiling=8, rate_per_hour=0.2, lag_hours=3)
    4.4
    """
    first, top = _levels(start, ceiling)
    rate, lag = positive("rate_per_hour", rate_per_hour), not_negative("lag_hours", lag_hours)
    growing = np.maximum(not_negative("hours", hours) - lag, 0.0)
    return plain(np.asarray(np.minimum(first + rate * growing, top)))


def three_phase_hours_to_ceiling(
    *, start: Number, ceiling: Number, rate_per_hour: Number, lag_hours: Number
) -> FloatOrArray:
    """Return when the slope of ``three_phase`` meets the ceiling: lag + (ceiling - start)/mu.

    Source: Buchanan, Whiting & Damert 1997, Food Microbiol. 14:313-326; check as there:

    >>> three_phase_hours_to_ceiling(start=3, ceiling=8, rate_per_hour=0.2, lag_hours=3)
    28.0
    """
    first, top = _levels(start, ceiling)
    rate, lag = positive("rate_per_hour", rate_per_hour), not_negative("lag_hours", lag_hours)
    return plain(np.asarray(lag + (top - first) / rate))


def _levels(start: Number, ceiling: Number) -> tuple[np.ndarray, np.ndarray]:
    first, top = finite("start", start), finite("ceiling", ceiling)
    if np.any(top < first):
        message = (
            f"ceiling is {np.ravel(top)[0]:g} and start {np.ravel(first)[0]:g}; a ceiling is not below its start. "
            "Check the two levels."
        )
        raise ValueError(message)
    return first, top
