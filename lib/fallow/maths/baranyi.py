"""Baranyi & Roberts 1994: growth with a lag and a ceiling, forwards, backwards, and for any temperature history."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from fallow.maths.arguments import Array, FloatOrArray, Number, finite, not_negative, plain, positive


def baranyi(*, hours: Number, start: Number, ceiling: Number, rate_per_hour: Number, lag_hours: Number) -> FloatOrArray:
    """Return the natural log of the number of cells after ``hours`` at one temperature.

    ln N = ln N0 + mu A - ln[1 + (exp(mu A) - 1)/exp(ln Nmax - ln N0)],
    A = t + (1/mu) ln[exp(-mu t) + exp(-h0) - exp(-mu t - h0)],  h0 = mu lag.

    Parameters
    ----------
    hours
        Time since the start, zero or more.
    start, ceiling
        Natural logs of the first number and of the largest: multiply a log10 by 2.302585. A culture that starts above
        its ceiling falls back to it.
    rate_per_hour
        mu, natural log: a rate in log10 per hour times 2.302585.
    lag_hours
        Lag, zero or more.

    Notes
    -----
    Source: Baranyi & Roberts 1994, Int. J. Food Microbiol. 23:277-294, with m = 1 and v = mu. Check P4 (N0 1e6, ceiling
    1e8, mu 0.4, lag 3 h: log10 N after 12 h):

    >>> ten = 2.302585092994046
    >>> round(baranyi(hours=12, start=6 * ten, ceiling=8 * ten, rate_per_hour=0.4, lag_hours=3) / ten, 5)
    7.43719
    """
    rate = not_negative("rate_per_hour", rate_per_hour)
    with np.errstate(over="ignore"):  # as many e-folds as there are: at the ceiling, or never begun
        earned, work = rate * not_negative("hours", hours), rate * not_negative("lag_hours", lag_hours)
    return plain(_history(earned, finite("start", start), finite("ceiling", ceiling), work))


def baranyi_history(*, earned_efolds: Number, start: Number, ceiling: Number, lag_efolds: Number) -> FloatOrArray:
    """Return the natural log of the number of cells after any temperature history.

    E = 1 + exp(-h0) (exp(M) - 1),  N = Nmax E/(E - 1 + Nmax/N0).  Exact: time enters through M alone.

    Parameters
    ----------
    earned_efolds
        M, the integral of mu(T(t)) dt: earned doublings times ln 2.
    start, ceiling
        Natural logs of the first number and of the largest.
    lag_efolds
        h0 = mu lag, the work to be done before growth, the same at every temperature.

    Notes
    -----
    Source: derived from the two differential equations of Baranyi & Roberts 1994; holds while the lag
    follows the same mu(T). Checked against scipy, mpmath and R's deSolve. The first fixed-grid value after the start:

    >>> ten = 2.302585092994046
    >>> round(baranyi_history(earned_efolds=1.0, start=3 * ten, ceiling=9 * ten, lag_efolds=2.0) / ten, 8)
    3.09080239
    """
    earned, work = not_negative("earned_efolds", earned_efolds), not_negative("lag_efolds", lag_efolds)
    return plain(_history(earned, finite("start", start), finite("ceiling", ceiling), work))


def baranyi_efolds_to_share(*, share: Number, start: Number, ceiling: Number, lag_efolds: Number) -> FloatOrArray:
    """Return M, the integral of mu dt, at which a share of the ceiling is reached; 0 when it is so at once.

    M = ln[1 + (E - 1) exp(h0)],  E - 1 = (r - 1)/(1 - share),  r = share Nmax/N0.

    Raises
    ------
    ValueError
        When ``share`` is not between 0 and 1 (the ceiling is never quite reached), or the start is
        not below the ceiling.

    Notes
    -----
    Source: derived from Baranyi & Roberts 1994; check P5, half of the ceiling:

    >>> ten = 2.302585092994046
    >>> round(baranyi_efolds_to_share(share=0.5, start=6 * ten, ceiling=8 * ten, lag_efolds=1.2) / 0.4, 6)
    14.47009
    """
    part, first, last = finite("share", share), finite("start", start), finite("ceiling", ceiling)
    work = not_negative("lag_efolds", lag_efolds)
    if np.any((part <= 0) | (part >= 1)):
        seen = _first(part, (part <= 0) | (part >= 1))
        message = f"share is {seen}; it lies between 0 and 1, both left out. Half of the ceiling is 0.5."
        raise ValueError(message)
    if np.any(first >= last):
        seen = _first(first, first >= last)
        message = f"start is {seen}, not below its ceiling; growth needs room. Check the two logarithms."
        raise ValueError(message)
    grown = np.log(part) + (last - first)
    needed = _log_expm1(grown) - np.log1p(-part) + work
    return plain(np.asarray(np.logaddexp(0.0, needed)))


def baranyi_hours_to_share(
    *, share: Number, start: Number, ceiling: Number, rate_per_hour: Number, lag_hours: Number
) -> FloatOrArray:
    """Return the hours until a share of the ceiling is reached at one temperature; 0 when it is there from the start.

    t = ln[1 + (E - 1) exp(h0)]/mu, the inverse of ``baranyi`` (derived; check P5).

    >>> ten = 2.302585092994046
    >>> round(baranyi_hours_to_share(share=0.9, start=6 * ten, ceiling=8 * ten, rate_per_hour=0.4, lag_hours=3), 6)
    19.9789
    """
    rate, lag = positive("rate_per_hour", rate_per_hour), not_negative("lag_hours", lag_hours)
    efolds = baranyi_efolds_to_share(share=share, start=start, ceiling=ceiling, lag_efolds=rate * lag)
    return plain(np.asarray(efolds / rate))


def awake_fraction(*, lag_efolds: Number) -> FloatOrArray:
    """Return the share of cells that would grow at once to give the same lag: alpha0 = exp(-h0).

    Source: Baranyi & Roberts 1994; check P7. A lag and dead cells look the same in a rise curve: a share s alive adds
    ln(1/s) to h0.

    >>> round(awake_fraction(lag_efolds=1.2), 8)
    0.30119421
    """
    return plain(np.asarray(np.exp(-not_negative("lag_efolds", lag_efolds))))


def dead_as_lag_efolds(*, alive_fraction: Number) -> FloatOrArray:
    """Return the lag, in e-folds, that hides a share of dead cells: h0 = ln(1/s) (derived from Baranyi & Roberts 1994).

    >>> round(dead_as_lag_efolds(alive_fraction=0.30119421), 6)
    1.2
    """
    alive = positive("alive_fraction", alive_fraction)
    if np.any(alive > 1):
        message = f"alive_fraction is {_first(alive, alive > 1)}; it is at most 1. Write 80 % as 0.8."
        raise ValueError(message)
    return plain(np.asarray(-np.log(alive)))


def _history(earned: Array, start: Array, ceiling: Array, work: Array) -> Array:
    """Return ln N in logarithms throughout, so that a long ferment cannot overflow."""
    log_grown = _log_expm1(np.minimum(earned, _ENDLESS)) - np.minimum(work, _ENDLESS)  # ln(E - 1)
    most = np.maximum(log_grown, 0.0)  # taken off both terms, or a huge E would swallow the levels
    left = log_grown - most
    return np.asarray(ceiling + np.logaddexp(-most, left) - np.logaddexp(left, ceiling - start - most))


_ENDLESS = 1e300  # e-folds; keeps infinity minus infinity out


def _log_expm1(x: Array) -> Array:
    """Return ln(exp(x) - 1), and minus infinity for x <= 0 (nothing has grown yet)."""
    above = x > 0
    safe = np.where(above, x, 1.0)
    return np.asarray(np.where(above, safe + np.log(-np.expm1(-safe)), -np.inf))


def _first(numbers: Array, wrong: npt.NDArray[np.bool_]) -> str:
    return f"{float(np.broadcast_to(numbers, wrong.shape)[wrong][0]):g}"
