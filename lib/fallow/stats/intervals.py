"""What an interval between two looks says: its likelihood, without loss in the tails, and a line fitted through intervals."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.optimize import minimize
from scipy.special import ndtr

from fallow.maths.arguments import Array

SMALLEST_CHANCE = 1e-300
# Minus a log likelihood below this: every interval is as good as certain, which no error of a size above nothing makes.
CERTAIN = 1e-6


def between(low: npt.ArrayLike, high: npt.ArrayLike) -> Array:
    """Return the chance that a standard normal number lies between ``low`` and ``high`` (inf allowed).

    Phi(high) - Phi(low), taken in the lower tail where both are above zero, so that nothing cancels (derived).

    >>> float(between(-1.0, 1.0).round(4)), bool(between(20.0, 21.0) > 0)
    (0.6827, True)
    """
    lower, upper = np.asarray(low, dtype=float), np.asarray(high, dtype=float)
    sign = np.where(lower > 0, -1.0, 1.0)
    return np.asarray(sign * (ndtr(sign * upper) - ndtr(sign * lower)))


def log_between(low: npt.ArrayLike, high: npt.ArrayLike) -> Array:
    """Return the natural log of ``between``, never below that of 1e-300."""
    return np.asarray(np.log(np.maximum(between(low, high), SMALLEST_CHANCE)))


@dataclass(frozen=True, kw_only=True)
class IntervalLine:
    """A line through intervals: coefficients with their covariance (last row: log of sd), sd, log likelihood."""

    coefficients: Array
    covariance: Array
    sd: float
    loglike: float


def fit_interval_line(*, design: npt.ArrayLike, low: npt.ArrayLike, high: npt.ArrayLike) -> IntervalLine:
    """Return the line whose normal error makes the intervals likeliest (maximum likelihood).

    y = X b + sd * z,  likelihood = product of Phi((high - X b)/sd) - Phi((low - X b)/sd); an interval may be open.
    Source: interval-censored Gaussian regression as in R's survreg(type = "interval2"), which it is checked against.

    Raises
    ------
    ValueError
        When there are fewer intervals than coefficients, an interval runs backwards, or one line passes through all of
        them (its error would be nothing).
    """
    rows, lower, upper = np.atleast_2d(np.asarray(design, float)), np.asarray(low, float), np.asarray(high, float)
    _check(rows, lower, upper)

    def minus(x: Array) -> tuple[float, Array]:
        return _minus_loglike(x, rows, lower, upper)

    found = minimize(minus, _start(rows, lower, upper), jac=True, method="BFGS", options={"gtol": 1e-8})
    if found.fun < CERTAIN:
        message = (
            "one line passes between all the looks; its error cannot be told from them. Look more often or record more."
        )
        raise ValueError(message)
    return IntervalLine(
        coefficients=found.x[:-1],
        covariance=np.asarray(np.linalg.inv(_curvature(lambda x: minus(x)[1], found.x))),
        sd=float(np.exp(found.x[-1])),
        loglike=-float(found.fun),
    )


def _minus_loglike(x: Array, rows: Array, low: Array, high: Array) -> tuple[float, Array]:
    """Return minus the log likelihood and its slope in the coefficients and the log of the sd."""
    fitted, sd = rows @ x[:-1], np.exp(x[-1])
    a, b = (low - fitted) / sd, (high - fitted) / sd
    chance = np.maximum(between(a, b), SMALLEST_CHANCE)
    at_low, at_high = _density(a), _density(b)
    by_fitted = (at_low - at_high) / (sd * chance)
    by_log_sd = (np.where(np.isfinite(a), a, 0.0) * at_low - np.where(np.isfinite(b), b, 0.0) * at_high) / chance
    return -float(np.log(chance).sum()), -np.append(by_fitted @ rows, by_log_sd.sum())


def _density(z: Array) -> Array:
    return np.asarray(np.exp(-0.5 * z**2) / np.sqrt(2 * np.pi))


def _start(rows: Array, low: Array, high: Array) -> Array:
    middle = np.where(np.isfinite(low), low, high)
    both = np.isfinite(low) & np.isfinite(high)
    middle[both] = (low[both] + high[both]) / 2
    first = np.linalg.lstsq(rows, middle, rcond=None)[0]
    widths = (high - low)[both]
    floor = float(np.median(widths)) / 4 if len(widths) else 0.1
    return np.append(first, np.log(max(float(np.std(middle - rows @ first)), floor, 1e-3)))


def _curvature(slope: Callable[[Array], Array], at: Array) -> Array:
    steps = 1e-5 * np.maximum(np.abs(at), 1.0)
    rows = [(slope(at + step) - slope(at - step)) / (2 * step.max()) for step in np.diag(steps)]
    whole = np.array(rows)
    return np.asarray((whole + whole.T) / 2)


def _check(rows: Array, low: Array, high: Array) -> None:
    if len(low) < rows.shape[1]:
        message = (
            f"{len(low)} intervals for {rows.shape[1]} coefficients; a line needs at least as many. "
            "Record more feeds or ask for less."
        )
        raise ValueError(message)
    if not (low < high).all():
        wrong = int(np.argmin(low < high))
        message = (
            f"interval {wrong} runs from {low[wrong]:g} to {high[wrong]:g}; its low end must lie below its high end. "
            "Correct the hour of the look."
        )
        raise ValueError(message)
