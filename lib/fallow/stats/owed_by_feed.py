"""How the debt falls from feed to feed, over all jars of a record, with the doubt about the clock that they share."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pandas as pd

from fallow.maths.arguments import Array
from fallow.stats.clocks_pooled import CLOCKS, REACH, clock_of, pooled
from fallow.stats.cold import ColdFit
from fallow.stats.intervals import IntervalLine, fit_interval_line

FEWEST = 3
ENDS = ["earned_low", "earned_high"]
NOT_TOLD = (float("nan"),) * 3


def owed_by_feed(fit: ColdFit) -> pd.DataFrame:
    """Return the mean W of the jars at each recovery feed, and how much of it the next feed took in the same jars.

    Both by interval likelihood: a jar's W lies between what its two looks allow (open where no look came past its peak),
    jars spread normally about the mean, and the fit is made for each of a few draws of pace and c and pooled, so that the
    interval holds the spread between jars and the doubt they share. The fall is that of a jar's two feeds in a row, where c
    cancels. Jars back in form are often fed no further, so later feeds show the slower jars; read the fall, not two
    means. Our choice.

    Returns
    -------
    DataFrame: feed, jars, not_seen (of these, still rising at the last look), owed_doublings, owed_low, owed_high, pairs
    (jars with this feed and the next, at least one of the two seen past its peak), fell_doublings, fell_low, fell_high (of
    the feed to the next). NaN with fewer than three, or where the looks are so far apart that one number would do for all.
    """
    feeds = fit.feeds[~fit.feeds["culture"].isin(fit.only_differences)].dropna(subset=["cost_doublings", *ENDS])
    rows = [_row(fit, feeds, int(feed)) for feed in np.sort(feeds["feed"].unique())]
    names = ["feed", "jars", "not_seen", "owed_doublings", "owed_low", "owed_high"]
    return pd.DataFrame(rows, columns=[*names, "pairs", "fell_doublings", "fell_low", "fell_high"])


def _row(fit: ColdFit, feeds: pd.DataFrame, feed: int) -> tuple[float, ...]:
    mine, after = (feeds[feeds["feed"] == number] for number in (feed, feed + 1))
    both = mine.merge(after[["jar", "cost_doublings", *ENDS]], on="jar", suffixes=("", "_after"))
    both = both[np.isfinite(both["earned_high"]) | np.isfinite(both["earned_high_after"])]
    still = int((~np.isfinite(mine["earned_high"])).sum())

    def owed(clock: int) -> tuple[Array, Array]:
        pace, ripening = clock_of(fit, mine["culture"], clock=clock)
        needed = mine["cost_doublings"].to_numpy(float) + ripening
        low, high = (pace * mine[end].to_numpy(float) - needed for end in ENDS)
        return low, high

    def fell(clock: int) -> tuple[Array, Array]:
        pace, _ = clock_of(fit, both["culture"], clock=clock)
        more = (both["cost_doublings"] - both["cost_doublings_after"]).to_numpy(float)
        low = pace * (both["earned_low"] - both["earned_high_after"]).to_numpy(float) - more
        return low, pace * (both["earned_high"] - both["earned_low_after"]).to_numpy(float) - more

    return feed, len(mine), still, *_mean(owed, len(mine)), len(both), *_mean(fell, len(both))


def _mean(ends: Callable[[int], tuple[Array, Array]], count: int) -> tuple[float, float, float]:
    """Give the mean of what lies between the ends, with its 90 % interval; nothing where it cannot be told."""
    if count < FEWEST:
        return NOT_TOLD
    try:
        lines = [_line(*ends(clock)) for clock in range(CLOCKS)]
    except ValueError:  # the looks are so far apart that one number lies between all of them
        return NOT_TOLD
    middle, covariance = pooled(lines, jars=count)
    reach = REACH * float(np.sqrt(covariance[0, 0]))
    return float(middle[0]), float(middle[0]) - reach, float(middle[0]) + reach


def _line(low: Array, high: Array) -> IntervalLine:
    return fit_interval_line(design=np.ones((len(low), 1)), low=low, high=high)
