"""Cardinal models: a rate from three temperatures (or pH values) a grower can picture: lowest, best, highest."""

from __future__ import annotations

import numpy as np

from fallow.maths.arguments import Array, FloatOrArray, Number, finite, plain, positive


def cardinal_rate(*, temp_c: Number, min_c: Number, opt_c: Number, max_c: Number, opt_per_hour: Number) -> FloatOrArray:
    """Return the growth rate per hour at a temperature from the three cardinal temperatures.

    mu = mu_opt (T-Tmax)(T-Tmin)^2 / {(Topt-Tmin) [(Topt-Tmin)(T-Topt) - (Topt-Tmax)(Topt+Tmin-2T)]}, 0 outside.

    Parameters
    ----------
    temp_c
        Temperature, degC.
    min_c, opt_c, max_c
        No growth at or below, fastest growth, no growth at or above, degC.
    opt_per_hour
        Growth rate at the optimum, per hour (natural log).

    Raises
    ------
    ValueError
        When the three are not in order, or ``opt_c`` lies in the lower half: the formula then has a pole in its range.

    Notes
    -----
    Source: Rosso, Lobry & Flandrois 1993, J. Theor. Biol. 162:447-463; the check value is S1.

    >>> round(cardinal_rate(temp_c=20, min_c=4, opt_c=30, max_c=40, opt_per_hour=1), 6)
    0.615385
    """
    best = positive("opt_per_hour", opt_per_hour)
    share = _cardinal(finite("temp_c", temp_c), low=min_c, best=opt_c, high=max_c, power=2, names=_TEMPERATURES)
    return plain(np.asarray(best * share))


def cardinal_ph(*, ph: Number, min_ph: Number, opt_ph: Number, max_ph: Number) -> FloatOrArray:
    """Return what share (0 to 1) of the best growth rate is left at a pH.

    gamma = (pH-pHmin)(pH-pHmax) / [(pH-pHmin)(pH-pHmax) - (pH-pHopt)^2], 0 outside.

    Source: Rosso, Lobry, Bajard & Flandrois 1995, Appl. Environ. Microbiol. 61:610-616; the check value is S4, for
    F. sanfranciscensis in the laboratory (3.9, 5.25, 6.7: Gaenzle 1998). Growth stops before souring does.

    >>> round(cardinal_ph(ph=4.5, min_ph=3.9, opt_ph=5.25, max_ph=6.7), 5)
    0.7012
    """
    share = _cardinal(finite("ph", ph), low=min_ph, best=opt_ph, high=max_ph, power=1, names=_ACIDITIES)
    return plain(share)


def cardinal_general(*, value: Number, low: Number, best: Number, high: Number, power: Number) -> FloatOrArray:
    """Return what share (0 to 1) of the best growth rate is left, for any factor with three cardinal values.

    gamma = (X-Xmax)(X-Xmin)^n / {(Xopt-Xmin)^(n-1) [(Xopt-Xmin)(X-Xopt) - (Xopt-Xmax)((n-1)Xopt + Xmin - nX)]}.

    Parameters
    ----------
    value, low, best, high
        The factor (temperature, pH, water activity ...), and where growth stops, is fastest and stops again.
    power
        n, 1 or more: 2 gives ``cardinal_rate``, 1 gives ``cardinal_ph``.

    Raises
    ------
    ValueError
        When the three are not in order, or ``best`` < (low + (n-1) high)/n, where a pole enters the range (derived).

    Notes
    -----
    Source: Rosso, Lobry, Bajard & Flandrois 1995, Appl. Environ. Microbiol. 61:610-616.

    >>> round(cardinal_general(value=20, low=4, best=30, high=40, power=2), 6)
    0.615385
    """
    return plain(_cardinal(finite("value", value), low=low, best=best, high=high, power=power, names=_GENERAL))


_TEMPERATURES = ("min_c", "opt_c", "max_c")
_ACIDITIES = ("min_ph", "opt_ph", "max_ph")
_GENERAL = ("low", "best", "high")
_ROUNDING = 1e-12  # a middle worked out in floats may fall short of the middle by this share of the range


def _cardinal(
    value: Array, *, low: Number, best: Number, high: Number, power: Number, names: tuple[str, str, str]
) -> Array:
    lowest, optimum, highest = (finite(name, given) for name, given in zip(names, (low, best, high), strict=True))
    n = positive("power", power)
    _refuse_disorder(lowest, optimum, highest, n, names)
    return share_of_best(value, lowest, optimum, highest, n)


def share_of_best(value: Array, lowest: Array, optimum: Array, highest: Array, n: Array) -> Array:
    """Return the share without checking anything: for curves whose numbers were checked when they were made."""
    inside = (value > lowest) & (value < highest)
    x = np.where(inside, value, optimum)
    rise, fall = optimum - lowest, highest - optimum
    # In shares of the two distances nothing can overflow, and the denominator (straight in x) is above zero inside;
    # the maximum undoes rounding only, for the check above has refused every denominator that could fall below zero.
    up, down, tilt = (x - lowest) / rise, (highest - x) / fall, rise / fall - n
    return np.asarray(np.where(inside, down * up**n / (np.maximum(1.0 + tilt, 0.0) - tilt * up), 0.0))


def _refuse_disorder(low: Array, best: Array, high: Array, n: Array, names: tuple[str, str, str]) -> None:
    first, second, third = names
    wrong = ~((low < best) & (best < high))
    if np.any(wrong):
        three = ", ".join(f"{float(np.broadcast_to(each, wrong.shape)[wrong][0]):g}" for each in (low, best, high))
        message = f"{first}, {second}, {third} are {three}; each must lie above the one before. Put them in order."
        raise ValueError(message)
    lowest_best = (low + (n - 1.0) * high) / n
    early = best < lowest_best - _ROUNDING * (high - low)
    if np.any(early):
        seen, rule = (float(np.broadcast_to(each, early.shape)[early][0]) for each in (best, lowest_best))
        message = (
            f"{second} is {seen:g}; for these ends the formula holds from {rule:g} up (below, it has a pole in its "
            "range). Check the three values, or take another curve."
        )
        raise ValueError(message)
