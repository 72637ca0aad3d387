"""The three-number curves of Zwietering 1990, for anything additive that rises and levels off, such as a jar."""

from __future__ import annotations

import numpy as np

from fallow.maths.arguments import Array, FloatOrArray, Number, finite, plain, positive

_BEYOND = 700.0  # exp(-exp(700)) is zero in a float, as at any larger number


def gompertz(*, hours: Number, rise: Number, rate_per_hour: Number, lag_hours: Number) -> FloatOrArray:
    """Return how far a response has risen after ``hours``: y = A exp{-exp[mu e (lag - t)/A + 1]}.

    Parameters
    ----------
    hours, lag_hours
        Time, and where the steepest tangent cuts zero, hours.
    rise
        A, the whole rise, in any unit (mm, log10, ln).
    rate_per_hour
        mu, the steepest slope, in that unit per hour.

    Notes
    -----
    Source: Zwietering, Jongenburger, Rombouts & van 't Riet 1990, Appl. Environ. Microbiol. 56:1875-1881. y(0) is not
    zero. It is scipy's gumbel_r, not its gompertz. Check P1 (A 10, mu 1, lag 3): at the steepest point y is A/e.

    >>> round(gompertz(hours=3 + 10 / np.e, rise=10, rate_per_hour=1, lag_hours=3), 6)
    3.678794
    """
    top, ahead = _ahead(hours, rise, rate_per_hour, lag_hours)
    with np.errstate(over="ignore"):  # an infinite exponent means: not begun, or done
        return plain(np.asarray(top * np.exp(-np.exp(np.minimum(np.e * ahead + 1.0, _BEYOND)))))


def logistic(*, hours: Number, rise: Number, rate_per_hour: Number, lag_hours: Number) -> FloatOrArray:
    """Return how far a response has risen after ``hours``: y = A/{1 + exp[4 mu (lag - t)/A + 2]}.

    Arguments as in ``gompertz``. Source: Zwietering et al. 1990, Appl. Environ. Microbiol. 56:1875-1881. y(0) is far
    from zero. Check P2 (A 10, mu 1, lag 3): at the steepest point, 8 h, y is A/2.

    >>> round(logistic(hours=8, rise=10, rate_per_hour=1, lag_hours=3), 6)
    5.0
    """
    top, ahead = _ahead(hours, rise, rate_per_hour, lag_hours)
    with np.errstate(over="ignore"):  # an infinite exponent means: not begun, or done
        return plain(np.asarray(top * np.exp(-np.logaddexp(0.0, 4.0 * ahead + 2.0))))


def richards(*, hours: Number, rise: Number, rate_per_hour: Number, lag_hours: Number, shape: Number) -> FloatOrArray:
    """Return how far a response has risen after ``hours``, with a free shape.

    y = A {1 + nu exp(1 + nu) exp[(mu/A)(1 + nu)^(1 + 1/nu) (lag - t)]}^(-1/nu).

    Arguments as in ``gompertz``; ``shape`` nu is above zero: 1 gives ``logistic``, towards 0 it becomes ``gompertz``.
    Source: Zwietering et al. 1990, Appl. Environ. Microbiol. 56:1875-1881. Check (A 10, mu 1, lag 3, nu 2): y at the
    steepest point.

    >>> round(richards(hours=8.773503, rise=10, rate_per_hour=1, lag_hours=3, shape=2), 6)
    5.773503
    """
    top, ahead = _ahead(hours, rise, rate_per_hour, lag_hours)
    nu = positive("shape", shape)
    with np.errstate(over="ignore"):  # an infinite exponent means: not begun, or done
        steep = (1.0 + nu) * np.exp(np.log1p(nu) / nu)
        inner = np.log(nu) + 1.0 + nu + steep * ahead
        return plain(np.asarray(top * np.exp(-np.logaddexp(0.0, inner) / nu)))


def _ahead(hours: Number, rise: Number, rate_per_hour: Number, lag_hours: Number) -> tuple[Array, Array]:
    """Return A, and mu (lag - t)/A: the lag still ahead, in rises."""
    top, rate = positive("rise", rise), positive("rate_per_hour", rate_per_hour)
    with np.errstate(over="ignore"):  # an infinite exponent means: not begun, or done
        ahead = rate * (finite("lag_hours", lag_hours) - finite("hours", hours)) / top
    return top, np.asarray(ahead)
