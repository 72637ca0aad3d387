"""A culture as a record's fit has it: pace and ripening constant with their spreads, and how far the two move together."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from statistics import NormalDist

import numpy as np

from fallow.maths.defaults import Spread
from fallow.plans.draws import Carried, Culture
from fallow.stats.carried import WITH_RYE_FROM, CarriedShare, share_fed
from fallow.stats.cold import ColdFit

_HALF_90 = NormalDist().inv_cdf(0.95)


@dataclass(frozen=True, kw_only=True, eq=False)
class OnRecord:
    """A culture with its record's fit, which also tells what share of a debt its feeds leave, by their flours."""

    culture: Culture
    fit: ColdFit

    def fed(self, flours: Mapping[str, float]) -> Culture:
        """Return the culture as feeds of such flours leave it: with the share of the debt that such feeds on record left."""
        share = self._share(flours)
        return self.culture if share is None else replace(self.culture, carried=carried_over(share))

    def told(self, flours: Mapping[str, float]) -> str:
        """Say what a ripe feed of such flours is taken to leave of the debt, and by what."""
        share, kind = self._share(flours), "with rye" if has_rye(flours) else "without rye"
        if share is None:
            return f"No two feeds {kind} in a row are on record, so a ripe feed is taken to repay all that is owed."
        low, middle, high = (f"{100 * end:.0f}" for end in carried_over(share).interval)
        return f"A ripe feed leaves {middle} % of what is owed ({low} to {high} % from jar to jar), by {share.jars} jars fed {kind}."

    def _share(self, flours: Mapping[str, float]) -> CarriedShare | None:
        return self._with_rye if has_rye(flours) else self._without

    @cached_property
    def _with_rye(self) -> CarriedShare | None:
        return share_fed(self.fit, rye=True)

    @cached_property
    def _without(self) -> CarriedShare | None:
        return share_fed(self.fit, rye=False)


def has_rye(flours: Mapping[str, float]) -> bool:
    """Say whether flours (shares) are a tenth of rye or more, as records are told apart.

    >>> has_rye({"bread": 0.8, "rye": 0.2}), has_rye({"white": 1.0})
    (True, False)
    """
    return sum(share for name, share in flours.items() if name.endswith("rye")) >= WITH_RYE_FROM


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
