"""When a feed is ripe, with its interval, its clock and its story about the cold."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fallow.maths.arguments import Array, Number, not_negative
from fallow.maths.cold import READING_HALF_STEP_C, ColdScenario, StatedCurve
from fallow.maths.draws import CultureDraws, interval, intervals
from fallow.maths.ledger import hours_to_ripe, running_doublings
from fallow.maths.profile import Profile
from fallow.maths.published import GAENZLE_1998_LAB, GAENZLE_1998_YEAST


@dataclass(frozen=True, kw_only=True)
class RipeForecast:
    """Hours from the mix to ripe: the median of the draws and their 90 % interval; inf is 'not within the profile'."""

    clock: str
    hours: float
    low_hours: float
    high_hours: float
    ripe_chance: float
    cold: ColdScenario
    crosses_cold: bool
    extrapolated: bool

    def __str__(self) -> str:
        """Say it as a sentence, with the word for the cold wherever cold hours count."""
        high = "later than looked at" if np.isinf(self.high_hours) else f"{self.high_hours:.1f} h"
        if np.isinf(self.low_hours):
            said = "not ripe within these hours"
        elif np.isinf(self.hours):
            said = f"probably not ripe within these hours, at the earliest after {self.low_hours:.1f} h"
        else:
            said = f"ripe after about {self.hours:.1f} h ({self.low_hours:.1f} to {high})"
        return f"{self.clock}: {said}{f'; in the cold: {self.cold.word}' if self.crosses_cold else ''}"


@dataclass(frozen=True, kw_only=True)
class EarnedBand:
    """Doublings earned by each hour: pace times the running total, median and 90 % interval over the draws."""

    clock: str
    hours: Array
    doublings: Array
    low_doublings: Array
    high_doublings: Array


def yeast_forecast(
    *,
    dilution: float,
    profile: Profile,
    draws: CultureDraws,
    cold: ColdScenario,
    published: StatedCurve = GAENZLE_1998_YEAST,
) -> RipeForecast:
    """Return when the yeast clock says the feed is ripe: pace * earned = log2(D) + W + c over all draws.

    Examples
    --------
    A 1:1:1 feed at 26 degC peaks at about 5 h (common practice, no source; the default c is chosen so):

    >>> from fallow.maths.cold import CREEP
    >>> from fallow.maths.draws import culture_draws
    >>> kitchen = Profile.constant(temp_c=26, hours=24)
    >>> draws = culture_draws(count=500, seed=7)
    >>> print(yeast_forecast(dilution=3, profile=kitchen, draws=draws, cold=CREEP))
    yeast clock: ripe after about 5.0 h (3.7 to 6.5 h)
    """
    hours = hours_to_ripe(
        dilution=dilution,
        profile=profile,
        curve=cold.curve(published),
        ripening_doublings=draws.ripening_doublings,
        owed_doublings=draws.owed_doublings,
        pace=draws.pace,
        offset_c=draws.offset_c,
    )
    return _summed_up("yeast clock", hours, profile, cold, published)


def sour_forecast(
    *,
    dilution: float,
    profile: Profile,
    draws: CultureDraws,
    cold: ColdScenario,
    published: StatedCurve = GAENZLE_1998_LAB,
) -> RipeForecast:
    """Return when the acid bacteria's clock says the feed is ripe: pace_lab * earned = log2(D) + c_lab.

    The debt acts on the yeast only; c_lab has no published number (design law).

    >>> from fallow.maths.cold import STOP
    >>> from fallow.maths.draws import culture_draws
    >>> fridge = Profile.cooling(start_c=26, ambient_c=4, time_constant_hours=2, hours=240)
    >>> draws = culture_draws(count=200, seed=7)
    >>> sour_forecast(dilution=11, profile=fridge, draws=draws, cold=STOP).crosses_cold
    True
    """
    hours = hours_to_ripe(
        dilution=dilution,
        profile=profile,
        curve=cold.curve(published),
        ripening_doublings=draws.lab_ripening_doublings,
        pace=draws.lab_pace,
        offset_c=draws.offset_c,
    )
    return _summed_up("sour clock", hours, profile, cold, published)


def yeast_band(
    *,
    hours: Number,
    profile: Profile,
    draws: CultureDraws,
    cold: ColdScenario,
    published: StatedCurve = GAENZLE_1998_YEAST,
) -> EarnedBand:
    """Return what the yeast earns by each hour, with its 90 % band.

    pace * earned; the band is the draws' middle 90 % (design law).

    >>> from fallow.maths.cold import CREEP
    >>> from fallow.maths.draws import culture_draws
    >>> kitchen = Profile.constant(temp_c=26, hours=10)
    >>> band = yeast_band(hours=[0, 5], profile=kitchen, draws=culture_draws(count=400, seed=7), cold=CREEP)
    >>> band.doublings.round()
    array([0., 3.])
    """
    return _band("yeast clock", hours, profile, draws.pace, draws.offset_c, cold.curve(published))


def sour_band(
    *,
    hours: Number,
    profile: Profile,
    draws: CultureDraws,
    cold: ColdScenario,
    published: StatedCurve = GAENZLE_1998_LAB,
) -> EarnedBand:
    """Return what the acid bacteria earn by each hour, with their 90 % band.

    pace_lab * earned; the band is the draws' middle 90 % (design law).

    >>> from fallow.maths.cold import CREEP
    >>> from fallow.maths.draws import culture_draws
    >>> kitchen = Profile.constant(temp_c=26, hours=10)
    >>> band = sour_band(hours=[0, 5], profile=kitchen, draws=culture_draws(count=400, seed=7), cold=CREEP)
    >>> band.doublings.round()
    array([0., 3.])
    """
    return _band("sour clock", hours, profile, draws.lab_pace, draws.offset_c, cold.curve(published))


def _band(clock: str, hours: Number, profile: Profile, pace: Array, offset_c: Array, curve: StatedCurve) -> EarnedBand:
    when = np.atleast_1d(not_negative("hours", hours))
    earned = running_doublings(hours=when[:, None], profile=profile, curve=curve, offset_c=offset_c)
    low, middle, high = intervals(earned * pace)
    return EarnedBand(clock=clock, hours=when, doublings=middle, low_doublings=low, high_doublings=high)


def _summed_up(clock: str, hours: Array, profile: Profile, cold: ColdScenario, published: StatedCurve) -> RipeForecast:
    low, middle, high = interval(hours)
    coldest, hottest = profile.range_c(until_hours=min(middle, profile.total_hours))
    outside = published.extrapolated(temp_c=np.array([coldest, hottest]))
    return RipeForecast(
        clock=clock,
        hours=middle,
        low_hours=low,
        high_hours=high,
        ripe_chance=float(np.mean(np.isfinite(hours))),
        cold=cold,
        crosses_cold=coldest <= published.no_growth_below_c + READING_HALF_STEP_C,
        extrapolated=bool(np.any(outside)),
    )
