"""Square-root models: the root of a growth rate is a straight line in the cold, and bends down past the optimum."""

from __future__ import annotations

import numpy as np

from fallow.maths.arguments import Array, FloatOrArray, Number, finite, plain, positive


def square_root_rate(*, temp_c: Number, slope: Number, min_c: Number) -> FloatOrArray:
    """Return the growth rate per hour on the cold side of the optimum: sqrt(mu) = b (T - Tmin), 0 at or below Tmin.

    Parameters
    ----------
    temp_c
        Temperature, degC; the line holds below the optimum only, and nothing here says where that is.
    slope
        b, in 1/(degC sqrt(hour)).
    min_c
        Tmin, degC: where the line meets zero, normally 2 to 3 degC below the true lowest temperature of growth.

    Notes
    -----
    Source: Ratkowsky, Olley, McMeekin & Ball 1982, J. Bacteriol. 149:1-5. Check value S7, a line through two rates read
    for L. plantarum (7 degC 0.0042, 13 degC 0.0498):

    >>> round(square_root_rate(temp_c=10, slope=0.02639, min_c=4.54), 4)
    0.0208
    """
    warm = np.maximum(finite("temp_c", temp_c) - finite("min_c", min_c), 0.0)
    return plain(np.asarray((positive("slope", slope) * warm) ** 2))


def square_root_from_rates(
    *, cold_c: Number, cold_per_hour: Number, warm_c: Number, warm_per_hour: Number
) -> tuple[FloatOrArray, FloatOrArray]:
    """Return (slope, min_c) of the square-root line through two rates.

    b = (sqrt(mu2) - sqrt(mu1))/(T2 - T1), Tmin = T1 - sqrt(mu1)/b   (derived from Ratkowsky 1982).

    >>> line = square_root_from_rates(cold_c=7, cold_per_hour=0.0042, warm_c=13, warm_per_hour=0.0498)
    >>> [round(number, 4) for number in line]
    [0.0264, 4.5444]
    """
    low, high = finite("cold_c", cold_c), finite("warm_c", warm_c)
    slow, fast = positive("cold_per_hour", cold_per_hour), positive("warm_per_hour", warm_per_hour)
    if np.any((high <= low) | (fast <= slow)):
        message = (
            f"the rates are {np.ravel(slow)[0]:g} at {np.ravel(low)[0]:g} °C and {np.ravel(fast)[0]:g} at "
            f"{np.ravel(high)[0]:g} °C; the warmer must be the faster. Stay below the optimum, the colder first."
        )
        raise ValueError(message)
    slope = (np.sqrt(fast) - np.sqrt(slow)) / (high - low)
    return plain(np.asarray(slope)), plain(np.asarray(low - np.sqrt(slow) / slope))


def ratkowsky_rate(*, temp_c: Number, slope: Number, min_c: Number, hot_slope: Number, max_c: Number) -> FloatOrArray:
    """Return the growth rate per hour over the whole range: sqrt(mu) = b (T-Tmin) {1 - exp[c (T-Tmax)]}, 0 outside.

    Parameters
    ----------
    temp_c, min_c, max_c
        Temperature and the two where growth stops, degC.
    slope
        b, in 1/(degC sqrt(hour)).
    hot_slope
        c, per degC: how sharply growth falls near ``max_c``.

    Notes
    -----
    Source: Ratkowsky, Lowry, McMeekin, Stokes & Chandler 1983, J. Bacteriol. 154:1222-1226. A form of 1991 squares only
    the first bracket; the numbers of one do not fit the other. Check value (parameters from memory):

    >>> round(ratkowsky_rate(temp_c=34.8926, slope=0.0377, min_c=3.29, hot_slope=0.247, max_c=43.7), 4)
    1.1154
    """
    temp, low, high = finite("temp_c", temp_c), finite("min_c", min_c), finite("max_c", max_c)
    b, c = positive("slope", slope), positive("hot_slope", hot_slope)
    _refuse_order(low, high)
    inside = (temp > low) & (temp < high)
    x = np.where(inside, temp, low)
    return plain(np.asarray(np.where(inside, (b * (x - low) * -np.expm1(c * (x - high))) ** 2, 0.0)))


def ratkowsky_optimum_c(*, min_c: Number, hot_slope: Number, max_c: Number) -> FloatOrArray:
    """Return the temperature in degC at which ``ratkowsky_rate`` is highest.

    Topt = [W(exp(c (Tmax - Tmin) + 1)) + c Tmin - 1]/c, with W the Lambert function.

    Source: setting the slope of Ratkowsky 1983 to zero; the closed form is in the vignettes of the R package biogrowth.
    Check value: 34.8926 degC. W(exp(x)) is computed as Wright's omega, so that no exp can overflow.

    >>> round(ratkowsky_optimum_c(min_c=3.29, hot_slope=0.247, max_c=43.7), 4)
    34.8926
    """
    from scipy.special import wrightomega  # here, since scipy.special takes a third of a second to load

    low, c, high = finite("min_c", min_c), positive("hot_slope", hot_slope), finite("max_c", max_c)
    _refuse_order(low, high)
    return plain(np.asarray(low + (wrightomega(c * (high - low) + 1.0) - 1.0) / c))


def _refuse_order(low: Array, high: Array) -> None:
    if np.any(high <= low):
        seen = f"max_c is {np.ravel(high)[0]:g} and min_c {np.ravel(low)[0]:g}"
        message = f"{seen}; max_c must be the higher. Put them in order."
        raise ValueError(message)
