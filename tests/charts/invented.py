"""A plan of two feeds with plain straight lines, so that what a picture must show is known without the library."""

from __future__ import annotations

import numpy as np
import pandas as pd

from fallow.charts.ledger_rows import Ledger
from fallow.charts.time_axis import Fold, TimeAxis

# Doublings per hour, so that feed 1 (3 + 1.6 + 1.4 doublings) is ripe at hour 10 and feed 2 (2 + 0 + 1.4) at hour 16.8.
PACES = {"feed 1": 0.6, "feed 2": 0.5}
FEEDS = pd.DataFrame(
    {
        "feed": ["feed 1", "feed 2"],
        "at_hours": [0.0, 12.0],
        "until_hours": [12.0, 22.0],
        "dilution_doublings": [3.0, 2.0],
        "owed_doublings": [1.6, 0.0],
        "ripening_doublings": [1.4, 1.4],
        "grams": ["14 g seed · 49 g flour · 49 g water", "42 g seed · 63 g flour · 63 g water"],
        "place": ["warm box, 28 °C", "kitchen, 22 °C"],
        "ripe_hours": [10.0, 18.8],
        "ripe_low_hours": [8.5, 17.5],
        "ripe_high_hours": [11.6, np.inf],
        "sour_hours": [9.0, np.inf],
        "sour_doublings": [4.4, 3.4],
    }
)


def two_feeds(*, looks: pd.DataFrame | None = None, folds: tuple[Fold, ...] = (), hours: float = 22.0) -> Ledger:
    """Return the tables of the picture."""
    axis = TimeAxis(start=pd.Timestamp("2026-05-16 10:30"), hours=hours, folds=folds)
    parts = []
    for feed in FEEDS.itertuples():
        since = np.linspace(0, feed.until_hours - feed.at_hours, 30)
        earned = PACES[str(feed.feed)] * since
        ends = {"yeast_low": 0.8 * earned, "yeast_high": 1.2 * earned, "sour": 1.1 * earned}
        parts.append(pd.DataFrame({"feed": feed.feed, "hours": feed.at_hours + since, "yeast": earned, **ends}))
    asleep = pd.DataFrame({"from_hours": [12.0], "to_hours": [20.5]})
    more = {} if looks is None else {"looks": looks}
    return Ledger(axis=axis, feeds=FEEDS, earned=pd.concat(parts), asleep=asleep, **more)
