"""The record itself, feed by feed, before any model: how many were at risk, how many recovered, what share is left."""

from __future__ import annotations

import numpy as np
import pandas as pd


def life_table(table: pd.DataFrame) -> pd.DataFrame:
    """Count a risk table by feed: at_risk, events, hazard, ready (share recovered by then) and its standard error.

    h_j = e_j/n_j; ready_j = 1 - prod(1 - h_i); standard error (1 - ready_j) sqrt(sum h_i/(n_i (1 - h_i))), Greenwood
    1926. Once every jar has recovered the standard error is zero. Sources: Singer & Willett 2003 ch. 10 (memory);
    checked on its teachers' table.

    >>> life_table(pd.DataFrame({"feed": [1, 1, 1, 2, 2], "recovered": [1, 0, 0, 1, 0]}))["ready"].round(3).tolist()
    [0.333, 0.667]
    """
    counted = table.groupby("feed")["recovered"].agg(["size", "sum"]).set_axis(["at_risk", "events"], axis=1)
    hazard = counted["events"] / counted["at_risk"]
    left = (1 - hazard).cumprod()
    with np.errstate(divide="ignore", invalid="ignore"):
        spread = np.sqrt(np.cumsum(hazard / (counted["at_risk"] * (1 - hazard))))
    error = np.where(left > 0, left * spread, 0.0)
    return counted.assign(hazard=hazard, ready=1 - left, se=error).reset_index()


def median_feeds(counts: pd.DataFrame) -> float:
    """Give when half have recovered, by a straight line between the feeds around it; infinite when fewer ever did.

    m + (S(m) - 1/2)/(S(m) - S(m + 1)) with S the share not yet recovered (Miller 1981, memory).

    >>> median_feeds(pd.DataFrame({"feed": [1, 2], "ready": [0.25, 0.75]}))
    1.5
    """
    feed, ready = np.r_[0.0, counts["feed"]], np.r_[0.0, counts["ready"]]
    passed = np.flatnonzero(ready >= 0.5)
    if not len(passed):
        return float("inf")
    after = int(passed[0])
    share = (0.5 - ready[after - 1]) / (ready[after] - ready[after - 1])
    return float(feed[after - 1] + share * (feed[after] - feed[after - 1]))
