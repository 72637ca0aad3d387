"""How the debt falls from feed to feed, over all jars of a record, with the doubt about c that they share."""

from __future__ import annotations

import numpy as np
import pandas as pd
from scipy.stats import t as student

from fallow.maths.arguments import Array
from fallow.stats.cold import ColdFit

SHARES = (0.05, 0.95)
FEWEST_PAIRS = 2


def owed_by_feed(fit: ColdFit) -> pd.DataFrame:
    """Return the mean W of the jars seen at each recovery feed, and how much of it the next feed took in the same jars.

    Mean W: over draws of pace and c, each with another sample of the jars, so that its interval holds both the shared doubt and
    the spread between jars. The fall is the mean difference between a jar's two feeds in a row, where c cancels:
    Student's t over jars, 90 %. Jars back in form are often fed no further, so later feeds show the slower jars; read the
    fall, not two means. A peak not seen past counts in ``not_seen`` only, and so makes the means too small. Our choice.

    Returns
    -------
    DataFrame: feed, jars, not_seen, owed_doublings, owed_low, owed_high, pairs, fell_doublings, fell_low, fell_high (of the
    feed to the next; NaN with fewer than two pairs).
    """
    feeds = fit.feeds[~fit.feeds["culture"].isin(fit.only_differences)]
    rows = [_row(fit, feeds, int(feed)) for feed in np.sort(feeds["feed"].unique())]
    names = ["feed", "jars", "not_seen", "owed_doublings", "owed_low", "owed_high"]
    return pd.DataFrame(rows, columns=[*names, "pairs", "fell_doublings", "fell_low", "fell_high"])


def _row(fit: ColdFit, feeds: pd.DataFrame, feed: int) -> tuple[float, ...]:
    mine = feeds[feeds["feed"] == feed].set_index("jar")["owed_doublings"]
    after = feeds[feeds["feed"] == feed + 1].set_index("jar")["owed_doublings"]
    seen = feeds[(feeds["feed"] == feed) & feeds["owed_doublings"].notna()]
    fell = (mine - after).dropna().to_numpy()
    return feed, len(seen), int(mine.isna().sum()), *_mean(fit, seen), len(fell), *_fall(fell)


def _mean(fit: ColdFit, seen: pd.DataFrame) -> tuple[float, float, float]:
    """Give the mean W with its interval: each draw of the cultures' clocks with another sample of the jars."""
    if seen.empty:
        return float("nan"), float("nan"), float("nan")
    earned = ((seen["earned_low"] + seen["earned_high"]) / 2).to_numpy(float)
    pace, ripening = (
        np.stack([getattr(fit.believed[name], part) for name in seen["culture"]]) for part in ("pace", "ripening")
    )
    owed = pace * earned[:, None] - seen["cost_doublings"].to_numpy(float)[:, None] - ripening
    again = np.random.default_rng(1).integers(0, len(seen), owed.shape)
    means: Array = np.take_along_axis(owed, again, axis=0).mean(axis=0)
    low, high = np.quantile(means, SHARES)
    return float(seen["owed_doublings"].mean()), float(low), float(high)


def _fall(fell: Array) -> tuple[float, float, float]:
    if len(fell) < FEWEST_PAIRS:
        return float("nan"), float("nan"), float("nan")
    middle = float(fell.mean())
    reach = float(student.ppf(SHARES[1], len(fell) - 1)) * float(fell.std(ddof=1)) / np.sqrt(len(fell))
    return middle, middle - reach, middle + reach
