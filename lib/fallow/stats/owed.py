"""The debt W that one peak shows: its interval as measured, and the chance that it is small, from draws of the culture."""

from __future__ import annotations

import numpy as np
from scipy.special import ndtri

from fallow.maths.arguments import Array
from fallow.maths.draws import even_shares
from fallow.stats.clock_posterior import Believed

# Our choice, for the chance only: before a peak is seen, a debt is exponential with a mean of one doubling.
PRIOR_MEAN_DOUBLINGS = 1.0
CHUNK = 400


def measured(*, cost: Array, earned_low: Array, earned_high: Array, believed: Believed) -> tuple[Array, Array, Array]:
    """Return low, middle and high (5, 50 and 95 %) of W = pace * earned(at peak) - log2(D) - c - error, a number per feed.

    The middle takes the peak to lie anywhere between the two looks. The ends are those of a test of each W by where the
    looks put the peak, half of that chance counted as beyond it (mid-P: Lancaster 1961, J. Am. Stat. Assoc. 56:223-234,
    memory): the peak at either look, each for half of the draws. A W that lies near a look then is still held, as it
    is not when peaks are spread evenly between the looks (``coverage_debt``). W may come out below zero: a measured debt
    has an error like any measurement. A peak not yet seen gives its low end only: middle NaN, high inf. Derived.
    """
    even = even_shares(count=len(believed.pace), columns=2, seed=4)
    where, error = even[:, 0], believed.error_sd * ndtri(even[:, 1])
    low, middle, high = (np.full(len(cost), np.nan) for _ in range(3))
    for first in range(0, len(cost), CHUNK):
        at = slice(first, first + CHUNK)
        level = cost[at][:, None] + believed.ripening + error
        seen = np.isfinite(earned_high[at])
        late = np.where(seen, earned_high[at], earned_low[at])
        from_, to = believed.pace * earned_low[at][:, None] - level, believed.pace * late[:, None] - level
        ends = np.quantile(np.concatenate([from_, to], axis=1), [0.05, 0.95], axis=1)
        low[at] = ends[0]
        middle[at] = np.where(seen, np.median(from_ + (to - from_) * where, axis=1), np.nan)
        high[at] = np.where(seen, ends[1], np.inf)
    return low, middle, high


def chance_at_most(
    *, limit_doublings: float, cost: Array, earned_low: Array, earned_high: Array, believed: Believed
) -> Array:
    """Return the chance that each feed's W is at most ``limit_doublings``, knowing that no culture owes less than nothing.

    Each draw of pace, c and error turns the looks into bounds a < W < b; the prior density exp(-w), w >= 0, between them
    is in closed form, and draws count by the share of it they leave: sum of (e^-a - e^-min(b, limit)) over sum of
    (e^-a - e^-b), bounds cut at 0. Derived. A peak earlier than any draw allows is a debt of nothing: chance 1.
    """
    even = even_shares(count=len(believed.pace), columns=1, seed=5)
    error = believed.error_sd * ndtri(even[:, 0])
    chance = np.full(len(cost), np.nan)
    for first in range(0, len(cost), CHUNK):
        at = slice(first, first + CHUNK)
        level = cost[at][:, None] + believed.ripening + error
        a = np.maximum(believed.pace * earned_low[at][:, None] - level, 0.0)
        b = np.maximum(believed.pace * earned_high[at][:, None] - level, 0.0)
        whole = _mass(a, b).sum(axis=1)
        part = _mass(a, np.minimum(b, limit_doublings)).sum(axis=1)
        known = ~np.isnan(cost[at] + earned_low[at] + earned_high[at])
        chance[at] = np.where(known, np.where(whole > 0, part / np.where(whole > 0, whole, 1.0), 1.0), np.nan)
    return chance


def _mass(a: Array, b: Array) -> Array:
    return np.maximum(np.exp(-a / PRIOR_MEAN_DOUBLINGS) - np.exp(-b / PRIOR_MEAN_DOUBLINGS), 0.0)
