"""A culture as a record's fit has it: pace and ripening constant with their spreads, and how far the two move together."""

from __future__ import annotations

import math
from statistics import NormalDist

import numpy as np

from fallow.maths.defaults import Spread
from fallow.plans.draws import Carried, Culture
from fallow.stats.carried import CarriedShare
from fallow.stats.cold import ColdFit

_HALF_90 = NormalDist().inv_cdf(0.95)


def fitted_culture(fit: ColdFit, *, culture: str) -> Culture:
    """Return a culture of the fit: middles, standard deviations from the 90 % intervals, their correlation, its own rise.

    Few dilutions tell pace from c badly and what a peak needs well: kept apart, the two would make the hours of ripe many
    times as wide as the fit has them. Derived.

    Raises
    ------
    ValueError
        When the fit has too few feeds in form of it to tell its pace.
    """
    rows = fit.cultures.set_index("culture")
    if culture not in rows.index or rows["only_differences"][culture]:
        message = f"culture is {culture!r}; the fit tells no pace of it. Record at least three feeds in form first."
        raise ValueError(message)
    row = rows.to_dict("index")[culture]
    return Culture(
        pace=spread(middle=row["pace"], low=row["pace_low"], high=row["pace_high"]),
        ripening_doublings=spread(middle=row["ripening_doublings"], low=row["ripening_low"], high=row["ripening_high"]),
        pace_ripening_correlation=fit.believed[culture].pace_ripening_correlation,
        rise_ratio=rise_ratio(fit, culture=culture),
    )


def spread(*, middle: float, low: float, high: float) -> Spread:
    """Return a number with the standard deviation that its 90 % interval has.

    >>> round(spread(middle=1.0, low=0.8, high=1.2).sd, 4)
    0.1216
    """
    return Spread(
        middle=float(middle), sd=(float(high) - float(low)) / (2 * _HALF_90), source="the culture's own record"
    )


def rise_ratio(fit: ColdFit, *, culture: str) -> float:
    """Return height at the peak over height after the feed, as the culture's feeds in form show it; the usual where none does."""
    rows = fit.cultures.set_index("culture")
    rise = float(rows["rise_fraction"][culture]) if culture in rows.index else math.nan
    return Culture().rise_ratio if math.isnan(rise) else 1.0 + rise


def carried_over(share: CarriedShare) -> Carried:
    """Return the share of the debt a ripe feed leaves as a plan draws it: what is believed of the middling jar, and this jar's own.

    Normal on the logit scale with the variance of both (derived).
    """
    spread_squared = float(np.var(share.middle_logit)) + float(np.mean(share.spread_logit**2))
    return Carried(middle_logit=float(np.mean(share.middle_logit)), sd_logit=math.sqrt(spread_squared))
