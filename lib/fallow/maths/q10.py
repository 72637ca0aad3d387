"""One number for how temperature speeds things up: Arrhenius and Q10. Neither knows an optimum."""

from __future__ import annotations

import numpy as np

from fallow.maths.arguments import Array, FloatOrArray, Number, finite, plain, positive

GAS_CONSTANT_J_PER_MOL_K = 8.31446261815324  # CODATA 2018, exact
ZERO_C_IN_K = 273.15


def kelvin(name: str, temp_c: Number) -> Array:
    """Return a temperature in kelvin, or refuse one at or below absolute zero (the unit's definition).

    >>> float(kelvin("temp_c", 25))
    298.15
    """
    temp_k = finite(name, temp_c) + ZERO_C_IN_K
    if np.any(temp_k <= 0):
        message = (
            f"{name} is {float(temp_k.min()) - ZERO_C_IN_K:g}; nothing is colder than -273.15 °C. Check the number."
        )
        raise ValueError(message)
    return np.asarray(temp_k)


def arrhenius_rate(
    *, temp_c: Number, reference_per_hour: Number, reference_c: Number, activation_kj_per_mol: Number
) -> FloatOrArray:
    """Return a rate per hour at a temperature from a rate known at another.

    mu = mu_ref exp[Ea/R (1/Tref - 1/T)], temperatures in kelvin.

    Source: Arrhenius' law (textbook), R 8.314462618 J/(mol K) (CODATA 2018). No optimum: only well below it. Check S8:

    >>> rate = arrhenius_rate(temp_c=30, reference_per_hour=1, reference_c=20, activation_kj_per_mol=60)
    >>> round(rate, 4)
    2.2525
    """
    known = positive("reference_per_hour", reference_per_hour)
    energy = positive("activation_kj_per_mol", activation_kj_per_mol) * 1000.0 / GAS_CONSTANT_J_PER_MOL_K
    steps = 1.0 / kelvin("reference_c", reference_c) - 1.0 / kelvin("temp_c", temp_c)
    return plain(np.asarray(known * np.exp(energy * steps)))


def arrhenius_q10(*, temp_c: Number, activation_kj_per_mol: Number) -> FloatOrArray:
    """Return the factor from ``temp_c`` to 10 degC above it: exp[Ea/R (1/T - 1/(T+10))].

    Source: Arrhenius' law (textbook); check value S8. The same energy gives another Q10 at another temperature:

    >>> [round(float(q), 4) for q in arrhenius_q10(temp_c=[20, 4], activation_kj_per_mol=60)]
    [2.2525, 2.4763]
    """
    warmer = finite("temp_c", temp_c) + 10.0
    return arrhenius_rate(
        temp_c=warmer, reference_per_hour=1.0, reference_c=temp_c, activation_kj_per_mol=activation_kj_per_mol
    )


def q10_rate(*, temp_c: Number, reference_per_hour: Number, reference_c: Number, q10: Number) -> FloatOrArray:
    """Return a rate per hour at a temperature from a rate known at another: mu = mu_ref Q10^((T - Tref)/10).

    Source: van 't Hoff's rule (textbook). The trade's 10 % per degC is Q10 2.59 and holds near 23 degC only for a
    starter's yeast.

    >>> round(q10_rate(temp_c=24, reference_per_hour=1, reference_c=14, q10=2.59), 2)
    2.59
    """
    steps = (finite("temp_c", temp_c) - finite("reference_c", reference_c)) / 10.0
    return plain(np.asarray(positive("reference_per_hour", reference_per_hour) * positive("q10", q10) ** steps))


def q10_from_rates(*, cold_c: Number, cold_per_hour: Number, warm_c: Number, warm_per_hour: Number) -> FloatOrArray:
    """Return the Q10 between two rates: (mu2/mu1)^(10/(T2 - T1)).

    Source: van 't Hoff's rule (textbook). Death of brewing yeast between 1 and 5 degC (McCaig & Bendiak
    1985) has 6.2:

    >>> round(q10_from_rates(cold_c=1, cold_per_hour=0.0121, warm_c=5, warm_per_hour=0.0251), 1)
    6.2
    """
    low, high = finite("cold_c", cold_c), finite("warm_c", warm_c)
    if np.any(low == high):
        message = (
            f"cold_c and warm_c are both {float(np.ravel(low)[0]):g}; two temperatures are needed. Measure at another."
        )
        raise ValueError(message)
    ratio = positive("warm_per_hour", warm_per_hour) / positive("cold_per_hour", cold_per_hour)
    return plain(np.asarray(ratio ** (10.0 / (high - low))))
