"""What the cold takes: loss of living cells over days, and the only published rates there are, as a labelled prior."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fallow.maths.arguments import FloatOrArray, Number, finite, not_negative, plain, positive
from fallow.maths.q10 import kelvin


def weibull_log10_loss(*, days: Number, delta_days: Number, shape: Number) -> FloatOrArray:
    """Return how many powers of ten are lost after ``days``: (t/delta)^p.

    Parameters
    ----------
    days
        Days in the cold, zero or more.
    delta_days
        Days to the first tenfold loss.
    shape
        p: 1 is first order, below 1 leaves a tail, above 1 starts with a shoulder.

    Notes
    -----
    Source: Mafart, Couvert, Gaillard & Leguerinel 2002, Int. J. Food Microbiol. 72:107-113. At ``delta_days`` the
    loss is 1 for every shape (D4). Check (delta 92 days):

    >>> round(weibull_log10_loss(days=180, delta_days=92, shape=2), 3)
    3.828
    """
    power = positive("shape", shape)
    with np.errstate(over="ignore"):  # an endless loss is a true answer here
        share = not_negative("days", days) / positive("delta_days", delta_days)
        return plain(np.asarray(share**power))


def first_order_surviving_fraction(*, days: Number, per_day: Number) -> FloatOrArray:
    """Return the share alive after ``days`` when each day takes the same share of the rest: exp(-k t).

    Source: first-order decay (textbook). Check (brewing yeast at 5 degC):

    >>> round(first_order_surviving_fraction(days=30, per_day=0.02514), 2)
    0.47
    """
    with np.errstate(over="ignore"):  # after an endless time nothing is left
        lost = not_negative("days", days) * not_negative("per_day", per_day)
    return plain(np.asarray(np.exp(-lost)))


def rate_from_loss(*, lost_fraction: Number, days: Number) -> FloatOrArray:
    """Return the first-order rate per day behind a loss: k = -ln(1 - lost)/t.

    Source: first-order decay (textbook). Check D5, 14 % lost in 6 days (McCaig & Bendiak 1985):

    >>> round(rate_from_loss(lost_fraction=0.14, days=6), 5)
    0.02514
    """
    lost = not_negative("lost_fraction", lost_fraction)
    if np.any(lost >= 1):
        message = f"lost_fraction is {float(lost[lost >= 1].flat[0]):g}; it is below 1. Write 14 % as 0.14."
        raise ValueError(message)
    return plain(np.asarray(-np.log1p(-lost) / positive("days", days)))


def half_life_days(*, per_day: Number) -> FloatOrArray:
    """Return the days in which half is lost: ln 2/k (derived; check D5).

    >>> round(half_life_days(per_day=0.02514), 1)
    27.6
    """
    return plain(np.asarray(np.log(2.0) / positive("per_day", per_day)))


def tenfold_days(*, per_day: Number) -> FloatOrArray:
    """Return the days in which nine tenths are lost: ln 10/k (derived; check D5).

    >>> round(tenfold_days(per_day=0.02514), 1)
    91.6
    """
    return plain(np.asarray(np.log(10.0) / positive("per_day", per_day)))


@dataclass(frozen=True, kw_only=True)
class ColdLossPrior:
    """A guess to start from, never a finding: k(T) = k_ref Q10^((T - T_ref)/10) per day, with whose numbers they are.

    Parameters
    ----------
    label
        What a page must say beside every number that rests on it.
    reference_per_day, reference_c, q10
        k at one temperature, and its Q10.
    measured_c, measured_days
        Temperatures (lowest, highest) and the longest time it was measured over.
    source
        Where it comes from.
    """

    label: str
    reference_per_day: float
    reference_c: float
    q10: float
    measured_c: tuple[float, float]
    measured_days: float
    source: str

    def per_day(self, *, temp_c: Number) -> FloatOrArray:
        """Return the loss rate k per day at a temperature.

        >>> round(BREWING_YEAST_PRIOR.per_day(temp_c=5), 4)
        0.0251
        """
        steps = (kelvin("temp_c", temp_c) - kelvin("reference_c", self.reference_c)) / 10.0
        return plain(np.asarray(self.reference_per_day * self.q10**steps))

    def surviving_fraction(self, *, days: Number, temp_c: Number) -> FloatOrArray:
        """Return the share alive after ``days`` at a temperature.

        >>> round(BREWING_YEAST_PRIOR.surviving_fraction(days=30, temp_c=1), 2)
        0.7
        """
        return first_order_surviving_fraction(days=days, per_day=self.per_day(temp_c=temp_c))

    def lost_doublings(self, *, days: Number, temp_c: Number) -> FloatOrArray:
        """Return the doublings needed to make good what died: k t/ln 2 (derived).

        >>> round(BREWING_YEAST_PRIOR.lost_doublings(days=56, temp_c=1), 2)
        0.98
        """
        return plain(np.asarray(not_negative("days", days) * self.per_day(temp_c=temp_c) / np.log(2.0)))

    def extrapolated(self, *, days: Number, temp_c: Number) -> FloatOrArray:
        """Return whether the days or the temperature lie outside what was measured.

        >>> BREWING_YEAST_PRIOR.extrapolated(days=30, temp_c=4)
        True
        """
        low, high = self.measured_c
        temp = finite("temp_c", temp_c)
        return plain((temp < low) | (temp > high) | (not_negative("days", days) > self.measured_days))


BREWING_YEAST_PRIOR = ColdLossPrior(
    label="a guess from brewing yeast kept 6 days at 1 to 5 °C; no series of a sourdough culture was found",
    reference_per_day=0.0121,
    reference_c=1.0,
    q10=6.2,
    measured_c=(1.0, 5.0),
    measured_days=6.0,
    source="McCaig & Bendiak 1985, Yeast handling studies II (abstract): 7 % lost at 1 °C, 14 % at 5 °C, in 6 days",
)
