"""The one law: a feed is ripe when the culture has doubled as often as the feed diluted it, plus what it owes, plus c.

    ripe when   pace * earned = log2(D) + W + c        earned = (1/ln 2) * integral of mu(T(t)) dt

Source: the project's own law (DEVELOPERS.md); its late phase equals Baranyi & Roberts 1994 below the ceiling.
Flour, stiffness and salt move no clock here: no published number does.
"""

from __future__ import annotations

import numpy as np

from fallow.maths.arguments import Array, FloatOrArray, Number, finite, not_negative, plain, positive
from fallow.maths.cuts import Curve, Index
from fallow.maths.earnings import Earnings, earnings
from fallow.maths.profile import Profile


def earned_doublings(*, profile: Profile, curve: Curve, offset_c: Number = 0.0) -> FloatOrArray:
    """Return how many doublings the whole of ``profile`` earns under ``curve``.

    earned = (1/ln 2) * integral of mu(T(t) + offset) dt   (design law)

    Parameters
    ----------
    profile
        The culture's own temperature from the mix on.
    curve
        Any object with ``per_hour(temp_c=)``: the yeast's published curve, the acid bacteria's, or your own.
    offset_c
        Degrees added to the whole history; an array gives an array.

    Examples
    --------
    Cooling from 26 to 4 degC within 24 h, time constant 2 h, earns the yeast 0.86 doublings (computed apart):

    >>> from fallow.maths.rates import GAENZLE_1998_YEAST
    >>> jar = Profile.cooling(start_c=26, ambient_c=4, time_constant_hours=2, hours=24)
    >>> round(earned_doublings(profile=jar, curve=GAENZLE_1998_YEAST), 2)
    0.86
    """
    asked = finite("offset_c", offset_c)
    table, row = _for_offsets(profile, curve, asked)
    return plain(table.totals_doublings[row])


def running_doublings(*, hours: Number, profile: Profile, curve: Curve, offset_c: Number = 0.0) -> FloatOrArray:
    """Return the doublings earned from the mix until each hour; hours and offsets broadcast.

    Raises
    ------
    ValueError
        When an hour lies outside the profile.

    Examples
    --------
    >>> from fallow.maths.rates import GAENZLE_1998_YEAST
    >>> kitchen = Profile.constant(temp_c=26, hours=10)
    >>> running_doublings(hours=[0, 5, 10], profile=kitchen, curve=GAENZLE_1998_YEAST).round(2)
    array([0.  , 2.99, 5.98])
    """
    when = not_negative("hours", hours)
    if np.any(when > profile.total_hours * (1 + 1e-12)):
        message = (
            f"hours is {when.max():g}; the profile runs from 0 to {profile.total_hours:g} h. "
            "Ask within it, or add to it with .then()."
        )
        raise ValueError(message)
    table, row = _for_offsets(profile, curve, finite("offset_c", offset_c))
    return plain(table.until(hours=when, row=row))


def hours_to_ripe(
    *,
    dilution: Number,
    profile: Profile,
    curve: Curve,
    ripening_doublings: Number,
    owed_doublings: Number = 0.0,
    pace: Number = 1.0,
    offset_c: Number = 0.0,
) -> FloatOrArray:
    """Return the hour at which a feed is ripe: the first with pace * earned = log2(dilution) + owed + ripening.

    Parameters
    ----------
    dilution
        Total mass after the feed over old starter in it, 1 or more.
    ripening_doublings, owed_doublings, pace
        c, W (zero or more) and the culture's pace (above zero). For the acid bacteria's clock owed is 0.
    offset_c
        Degrees added to the whole history. All numbers may be arrays (draws) and broadcast.

    Returns
    -------
    Hours since the mix; inf where the feed is not ripe within the profile, 0 where nothing is needed.

    Examples
    --------
    A 1:1:1 feed at 26 degC peaks at about 5 h when c is 1.4 (common practice, no source):

    >>> from fallow.maths.rates import GAENZLE_1998_YEAST
    >>> kitchen = Profile.constant(temp_c=26, hours=24)
    >>> round(hours_to_ripe(dilution=3, profile=kitchen, curve=GAENZLE_1998_YEAST, ripening_doublings=1.4), 2)
    4.99
    """
    need = needed_doublings(dilution=dilution, owed_doublings=owed_doublings, ripening_doublings=ripening_doublings)
    table, row = _for_offsets(profile, curve, finite("offset_c", offset_c))
    with np.errstate(over="ignore"):  # a pace of next to nothing is never ripe, and inf says so
        earned = np.asarray(need / positive("pace", pace))
    return plain(table.when(doublings=earned, row=row))


def needed_doublings(*, dilution: Number, owed_doublings: Number = 0.0, ripening_doublings: Number) -> FloatOrArray:
    """Return what a feed needs to be ripe: log2(dilution) + owed + ripening (design law).

    >>> needed_doublings(dilution=8, owed_doublings=0.5, ripening_doublings=1.4)
    4.9
    """
    cost = np.log2(_dilution(dilution))
    owed, ripening = not_negative("owed_doublings", owed_doublings), finite("ripening_doublings", ripening_doublings)
    return plain(np.asarray(cost + owed + ripening))


def ripe_fraction(
    *,
    earned: Number,
    dilution: Number,
    ripening_doublings: Number,
    owed_doublings: Number = 0.0,
    pace: Number = 1.0,
) -> FloatOrArray:
    """Return how far a feed has come, in doublings (not in height): pace * earned / (log2 D + W + c).

    >>> round(ripe_fraction(earned=2.2, dilution=8, ripening_doublings=1.4), 2)
    0.5
    """
    need = needed_doublings(dilution=dilution, owed_doublings=owed_doublings, ripening_doublings=ripening_doublings)
    come = positive("pace", pace) * not_negative("earned", earned)
    return plain(np.asarray(come / positive("doublings needed", need)))


def owed_after(*, owed_doublings: Number, dilution: Number, earned: Number, pace: Number = 1.0) -> FloatOrArray:
    """Return what is still owed after a feed: max(0, W + log2(D) - pace * earned)   (design law).

    A feed left until it is ripe repays everything; one cut short leaves or deepens the debt.

    >>> owed_after(owed_doublings=1.5, dilution=4, earned=3.0)
    0.5
    """
    owed = not_negative("owed_doublings", owed_doublings) + np.log2(_dilution(dilution))
    repaid = positive("pace", pace) * not_negative("earned", earned)
    return plain(np.asarray(np.maximum(0.0, owed - repaid)))


def _for_offsets(profile: Profile, curve: Curve, offset_c: Array) -> tuple[Earnings, Index]:
    """Return one row of earnings for each different offset, and which row each offset has."""
    offsets, row = np.unique(offset_c, return_inverse=True)
    return earnings(profile=profile, curve=curve, offsets_c=offsets), row.reshape(offset_c.shape)


def _dilution(dilution: Number) -> Array:
    value = finite("dilution", dilution)
    if np.any(value < 1):
        message = (
            f"dilution is {float(value[value < 1].flat[0]):g}; it is total grams over grams of seed, 1 or more. "
            "Give Feed(...).dilution."
        )
        raise ValueError(message)
    return value
