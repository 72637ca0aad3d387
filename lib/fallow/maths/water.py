"""Water itself: density and heat capacity of the tap's share of a feed, from 0 to 40 or 60 degC."""

from __future__ import annotations

import numpy as np

from fallow.maths.arguments import Array, FloatOrArray, Number, finite, plain

_HEAT_COEFFICIENTS = (4.2193546, -0.0033811037, 0.00011533407, -2.1434231e-06, 2.2807664e-08, -1.0210705e-10)


def water_density_kg_per_m3(*, temp_c: Number) -> FloatOrArray:
    """Return the density of pure water at one atmosphere, 0 to 40 degC.

    rho = 999.97495 [1 - (t - 3.983035)^2 (t + 301.797)/(522528.9 (t + 69.34881))].

    Source: Tanaka, Girard, Davis, Peuto & Bignell 2001, Metrologia 38:301-309 (the CIPM formula; constants from
    memory). Check H1: within 0.002 kg/m3 of IAPWS-95.

    >>> round(water_density_kg_per_m3(temp_c=20), 3)
    998.207
    """
    t = _liquid(temp_c, hottest_c=40.0)
    return plain(999.97495 * (1.0 - (t - 3.983035) ** 2 * (t + 301.797) / (522528.9 * (t + 69.34881))))


def water_heat_capacity_kj_per_kg_k(*, temp_c: Number) -> FloatOrArray:
    """Return the heat capacity of pure water at one atmosphere, 0 to 60 degC: a fifth-order polynomial in degC.

    Source: our own least-squares fit to IAPWS-95, off by less than 0.0001 kJ/(kg K). Check H2. Taking it as
    constant misses a mix of 5 and 60 degC water by 0.02 degC, so the mixing rules do.

    >>> round(water_heat_capacity_kj_per_kg_k(temp_c=25), 4)
    4.1813
    """
    t = _liquid(temp_c, hottest_c=60.0)
    return plain(np.asarray(np.polynomial.polynomial.polyval(t, _HEAT_COEFFICIENTS)))


def _liquid(temp_c: Number, *, hottest_c: float) -> Array:
    t = finite("temp_c", temp_c)
    outside = (t < 0) | (t > hottest_c)
    if np.any(outside):
        seen = float(t[outside].flat[0])
        message = f"temp_c is {seen:g}; this formula holds from 0 to {hottest_c:g} °C. Ask within it."
        raise ValueError(message)
    return t
